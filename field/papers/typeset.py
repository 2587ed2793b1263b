"""Lines of letters: a text broken to a width, each line as runs of glyphs from left to right.

Lengths are points; places run upwards from the baseline, as in a PDF.
"""

from __future__ import annotations

import functools
import itertools
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from field.papers.fonts import NO_SHAPE, PLAIN, Face, Piece, faces_for, fonts_for, shape
from field.papers.reading_order import plain_text, visual_order

LEADING = 1.38  # line height as a part of the letter size: common practice for letters


@dataclass(frozen=True, slots=True)
class Run:
    """Letters of one font and direction that stand together."""

    face: Face
    pieces: tuple[Piece, ...]
    width: float  # thousandths of the letter size


@dataclass(frozen=True, slots=True)
class Line:
    """One line; its runs from left to right."""

    runs: tuple[Run, ...]
    width: float


@dataclass(frozen=True, slots=True)
class Style:
    """How letters look."""

    size: float
    weight: str = PLAIN
    grey: float = 0.0  # 0 black to 1 white

    @property
    def height(self) -> float:
        """Return the height of a line."""
        return self.size * LEADING


def shapeless(text: str, style: str = PLAIN) -> str:
    """Return the letters of a text that no font here has, each once, in order."""
    text = plain_text(text)
    found = zip(text, faces_for(text, fonts_for(text, style)), strict=True)
    return "".join(dict.fromkeys(one for one, face in found if face is None))


def set_line(text: str, style: Style) -> Line:
    """Return a text as one line, however wide."""
    return _Paragraph(text, style).line(0, None)


def set_text(text: str, style: Style, width: float) -> list[Line]:
    """Return a text as lines no wider than a width; a word that is wider is broken. At least one line, maybe empty."""
    paragraph = _Paragraph(text, style)
    return [paragraph.line(start, end) for start, end in paragraph.breaks(width)]


@functools.lru_cache(maxsize=8192)
def _runs(text: str, fonts: tuple[str, int]) -> tuple[tuple[Run, ...], float]:
    """Return the runs of a text from left to right, and how wide they are in thousandths of the letter size."""
    found = []
    for part, rightwards in visual_order(text):
        runs = []
        faces = faces_for(part, fonts)
        for face, some in itertools.groupby(range(len(part)), key=faces.__getitem__):
            if face is not None:
                places = list(some)
                pieces = shape(face, part[places[0] : places[-1] + 1], rightwards=rightwards)
                runs.append(Run(face, pieces, sum(piece.width for piece in pieces)))
        found += runs if rightwards else runs[::-1]
    return tuple(found), sum(run.width for run in found)


@functools.lru_cache(maxsize=1024)
def _drawable(text: str, weight: str) -> tuple[str, tuple[str, int]]:
    """Return a text as it can be drawn, and in which fonts."""
    plain = plain_text(text)
    faces = faces_for(plain, fonts_for(plain, weight))
    if None in faces:
        # A visible mark stands where a letter has no shape: nothing is dropped without being seen.
        plain = "".join(NO_SHAPE if face is None else one for one, face in zip(plain, faces, strict=True))
    return plain, fonts_for(plain, weight)


class _Paragraph:
    def __init__(self, text: str, style: Style) -> None:
        self.text, self.fonts = _drawable(text, style.weight)
        self.size = style.size

    def width(self, start: int, end: int) -> float:
        return _runs(self.text[start:end], self.fonts)[1] * self.size / 1000

    def line(self, start: int, end: int | None) -> Line:
        runs, width = _runs(self.text[start:end].rstrip(" "), self.fonts)
        return Line(runs, width * self.size / 1000)

    def breaks(self, width: float) -> list[tuple[int, int]]:
        lines: list[tuple[int, int]] = []
        start = end = 0  # of the line so far
        used = 0.0
        for first, last in self._words():
            wide = self.width(first, last)
            gap = self.width(end, first) if end > start else 0.0
            if end > start and used + gap + wide > width:
                lines.append((start, end))
                start, used, gap = first, 0.0, 0.0
            while wide > width:
                cut = self._fitting(first, last, width)
                lines.append((first, cut))
                first = start = cut
                wide = self.width(first, last)
            used += gap + wide
            end = last
        lines.append((start, len(self.text)))
        return lines

    def _words(self) -> Iterator[tuple[int, int]]:
        at = 0
        for place, one in enumerate(self.text):
            if one == " ":
                if place > at:
                    yield at, place
                at = place + 1
        if at < len(self.text):
            yield at, len(self.text)

    def _fitting(self, start: int, end: int, width: float) -> int:
        """Return where a word that is too wide is broken: before a letter that clings to none, one letter at least."""
        best = start
        for place in range(start + 1, end):
            if unicodedata.category(self.text[place]).startswith("M"):
                continue
            if best > start and self.width(start, place) > width:
                break
            best = place
        return max(best, start + 1)
