"""Lines of letters: a text broken to a width, each line as runs of glyphs from left to right.

Lengths are points; places run upwards from the baseline, as in a PDF.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from field.papers.fonts import NO_SHAPE, PLAIN, Face, Glyph, faces_for, shape, width_of
from field.papers.reading_order import levels_of, plain_text, visual_order

LEADING = 1.38  # line height as a part of the letter size: common practice for letters


@dataclass(frozen=True, slots=True)
class Run:
    """Letters of one font and direction that stand together."""

    text: str
    face: Face
    rightwards: bool
    glyphs: tuple[Glyph, ...]
    width: float  # points


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
    found = zip(text, faces_for(text, style), strict=True)
    return "".join(dict.fromkeys(one for one, face in found if face is None))


def set_line(text: str, style: Style) -> Line:
    """Return a text as one line, however wide."""
    return _Paragraph(text, style).line(0, None)


def set_text(text: str, style: Style, width: float) -> list[Line]:
    """Return a text as lines no wider than a width; a word that is wider is broken. At least one line, maybe empty."""
    paragraph = _Paragraph(text, style)
    return [paragraph.line(start, end) for start, end in paragraph.breaks(width)]


class _Paragraph:
    def __init__(self, text: str, style: Style) -> None:
        plain = plain_text(text)
        faces = faces_for(plain, style.weight)
        if None in faces:
            # A visible mark stands where a letter has no shape: nothing is dropped without being seen.
            plain = "".join(NO_SHAPE if face is None else one for one, face in zip(plain, faces, strict=True))
            faces = faces_for(plain, style.weight)
        self.text = plain
        self.faces: Sequence[Face | None] = faces
        self.levels = levels_of(plain)
        self.size = style.size

    def runs(self, start: int, end: int) -> Iterator[tuple[int, Run]]:
        at = start
        for place in range(start + 1, end + 1):
            if place < end and (self.faces[place], self.levels[place]) == (self.faces[at], self.levels[at]):
                continue
            face, level = self.faces[at], self.levels[at]
            if face is not None:
                text = self.text[at:place]
                glyphs = shape(face, text, rightwards=level % 2 == 0)
                yield level, Run(text, face, level % 2 == 0, glyphs, width_of(glyphs) * self.size / 1000)
            at = place

    def width(self, start: int, end: int) -> float:
        return sum(run.width for _, run in self.runs(start, end))

    def line(self, start: int, end: int | None) -> Line:
        end = len(self.text) if end is None else end
        while end > start and self.text[end - 1] == " ":
            end -= 1
        found = list(self.runs(start, end)) if end > start else []
        runs = tuple(found[place][1] for place in visual_order([level for level, _ in found]))
        return Line(runs, sum(run.width for run in runs))

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
