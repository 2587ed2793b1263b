"""The letters of the papers: which font has which letter, and how letters of one font join.

The fonts come from installed packages. Each style has a chain of them: the first that holds a letter draws it. Joining
is HarfBuzz's; embedding, and the part of a font that a paper needs, reportlab's.
"""

from __future__ import annotations

import functools
import importlib
import itertools
import threading
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PLAIN = "plain"
BOLD = "bold"
WEIGHTS = {PLAIN: 400, BOLD: 700}
NO_WIDTH = "\N{ZERO WIDTH SPACE}"
NO_SHAPE = "\N{REPLACEMENT CHARACTER}"  # stands where no font has a letter; Noto Sans holds it

# Package and file, in the order they are asked. Noto Sans holds Latin, Greek, Cyrillic, Vietnamese and Devanagari. The
# Arabic one has a glyph for each letter with its dots, so that what is copied out of a paper is what was written.
NOTO = ("fontpkg_noto_sans", "NotoSans[wdth,wght].ttf")
HEBREW = ("fontpkg_heebo", "Heebo[wght].ttf")
THAI = ("fontpkg_noto_sans_thai", "NotoSansThai[wdth,wght].ttf")
ARABIC = "fontpkg_ibm_plex_sans_arabic"
# Chinese, Japanese and Korean in one, Han letters as in Japan; large, so installed by whoever needs it.
EAST_ASIA = ("noto_cjk_sans_jp_regular", "NotoSansCJKjp-Regular.otf")
HEADINGS = ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Bold.ttf")
CHAINS = {
    PLAIN: (NOTO, HEBREW, (ARABIC, "IBMPlexSansArabic-Regular.ttf"), THAI, EAST_ASIA),
    BOLD: (HEADINGS, NOTO, HEBREW, (ARABIC, "IBMPlexSansArabic-Bold.ttf"), THAI, EAST_ASIA),
}

_LOADING = threading.Lock()


@dataclass(frozen=True, eq=False, slots=True)
class Face:
    """One font at one weight."""

    name: str  # as reportlab knows it
    font: Any  # an EmbeddedFont
    hb_font: Any
    letters: frozenset[int]
    scale: float  # font units -> thousandths of the letter size
    outlined: bool = False  # its letters are drawn as areas, under hidden ones of `font` that tell them


@dataclass(frozen=True, slots=True)
class Piece:
    """Glyphs that are drawn together."""

    shown: Any  # reportlab's ShapedStr: a code for each glyph, and where it is drawn
    told: str | None  # the letters, where the codes do not tell them
    width: float  # thousandths of the letter size
    areas: tuple[tuple[int, float, float], ...] = ()  # glyphs to be drawn as areas, and where


def chain(style: str) -> Iterator[Face]:
    """Yield the fonts of a style, PLAIN or BOLD, in the order they are asked for a letter; each is read when asked."""
    for package, file in CHAINS[style]:
        with _LOADING:
            face = _load(package, file, WEIGHTS[style])
        if face is not None:
            yield face


@functools.cache
def _load(package: str, file: str, weight: int) -> Face | None:
    import uharfbuzz as hb  # here: what makes no paper should not wait for them
    from reportlab.pdfbase import pdfmetrics

    from field.papers.embedded_font import EmbeddedFont

    if (package, file) == EAST_ASIA:
        return _load_outlined(package, file)
    path = Path(str(importlib.import_module(package).__file__)).parent / "files" / file
    data, name = path.read_bytes(), path.stem
    axes = hb.Face(hb.Blob(data)).axis_infos
    if axes:
        name = f"{path.stem.split('[')[0]}-{weight}"
    if any(axis.tag == "wght" and axis.default_value != weight for axis in axes):
        data = _at_weight(data, weight)
    pdfmetrics.registerFont(EmbeddedFont(name, data))
    font = pdfmetrics.getFont(name)
    return Face(name, font, hb.Font(font.hbFace), font.letters, 1000 / font.hbFace.upem)


def _load_outlined(package: str, file: str) -> Face | None:
    import uharfbuzz as hb

    try:
        path = Path(str(importlib.import_module(package).__file__)).parent / file
    except ModuleNotFoundError:
        return None
    face = hb.Face(hb.Blob.from_file_path(str(path)))
    hidden = _load(*NOTO, WEIGHTS[PLAIN])
    assert hidden is not None
    return Face(hidden.name, hidden.font, hb.Font(face), frozenset(face.unicodes), 1000 / face.upem, outlined=True)


def _at_weight(data: bytes, weight: int) -> bytes:
    """Return a variable font worked into one of a single weight, for reportlab knows no variations."""
    import uharfbuzz as hb

    face = hb.Face(hb.Blob(data))
    wanted = hb.SubsetInput()
    wanted.keep_everything()
    for axis in face.axis_infos:
        if axis.tag == "wght":
            wanted.pin_axis_location(face, axis.tag, float(weight))
        else:
            wanted.pin_axis_to_default(face, axis.tag)
    return bytes(wanted.subset(face).blob.data)


def fonts_for(text: str, style: str) -> tuple[str, int]:
    """Return which fonts a text is set in: the chain of a style, and how many of its first ones are left out.

    The headings' own font is left out where it lacks any letter, or a name would change its look from word to word.
    """
    first = next(chain(style))
    return style, int(style == BOLD and not all(ord(one) in first.letters for one in text))


def faces_for(text: str, fonts: tuple[str, int]) -> list[Face | None]:
    """Return the font of each letter of a text, None where none has it.

    A word stays in one font if any has all of it, so that no letter of a name looks odd; marks go with what they stand
    on.

    Args:
        fonts: see `fonts_for`.
    """

    def asked() -> Iterator[Face]:
        return itertools.islice(chain(fonts[0]), fonts[1], None)

    found: list[Face | None] = []
    for word in _words(text):
        whole = next((face for face in asked() if all(ord(one) in face.letters for one in word)), None)
        if whole is not None:
            found += [whole] * len(word)
            continue
        last: Face | None = None
        for one in word:
            if last is None or not (_clings(one) and ord(one) in last.letters):
                last = next((face for face in asked() if ord(one) in face.letters), None)
            found.append(last)
    return found


def _words(text: str) -> Iterable[str]:
    at = 0
    for end in range(1, len(text) + 1):
        if end == len(text) or (text[end] == " ") != (text[end - 1] == " "):
            yield text[at:end]
            at = end


def _clings(one: str) -> bool:
    return unicodedata.combining(one) > 0 or unicodedata.category(one) in ("Mn", "Mc", "Me", "Cf")


def shape(face: Face, text: str, *, rightwards: bool) -> tuple[Piece, ...]:
    """Return a text in one font as pieces from left to right, joined and kerned as the font says.

    Args:
        text: in the order in which it is read.
        rightwards: False for text that runs from right to left.
    """
    import uharfbuzz as hb

    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "ltr" if rightwards else "rtl"
    hb.shape(face.hb_font, buffer)
    glyphs = list(zip(buffer.glyph_infos, buffer.glyph_positions, strict=True))
    starts = sorted({info.cluster for info, _ in glyphs})
    ends = dict(zip(starts, [*starts[1:], len(text)], strict=True))
    groups = []  # of glyphs that stand for the same letters
    for start, some in itertools.groupby(glyphs, key=lambda glyph: glyph[0].cluster):
        groups.append(_Group(face, text[start : ends[start]], list(some), rightwards=rightwards))
    return tuple(_pieces(groups, rightwards=rightwards))


class _Group:
    """Glyphs that stand for the same letters, and whether their codes tell these letters."""

    def __init__(self, face: Face, text: str, glyphs: Sequence[tuple[Any, Any]], *, rightwards: bool) -> None:
        from reportlab.pdfbase.ttfonts import ShapeData

        self.text = text
        self.tells = len(glyphs) == 1
        by = face.scale
        self.codes, self.places = "", []
        self.drawn = [info.codepoint for info, _ in glyphs] if face.outlined else []
        hidden = face.font.face.charToGlyph[ord("M")]  # no blank: readers leave out letters of no size
        # Readers turn a line that runs to the left round letter by letter, the letters of one glyph too.
        letters = text if rightwards else text[::-1]
        for info, at in glyphs:
            width = face.hb_font.get_glyph_h_advance(info.codepoint) * by
            self.codes += face.font.code_for(hidden if face.outlined else info.codepoint, letters, width)
            self.places.append(ShapeData(0, at.x_advance * by, 0, at.x_offset * by, at.y_offset * by, width))
            letters = NO_WIDTH  # of the glyphs after the first one, where readers know no ActualText


def _pieces(groups: Iterable[_Group], *, rightwards: bool) -> Iterator[Piece]:
    """Yield groups that tell their letters together, and others with the letters beside them.

    Letters that stand beside their glyphs do so for a whole word: a reader may take a part of a word for a word. Of
    text that runs to the left readers turn the order round themselves: there each group stands by itself.
    """
    from reportlab.pdfbase.ttfonts import ShapedStr

    if rightwards:
        words = [list(some) for _, some in itertools.groupby(groups, key=lambda group: group.text == " ")]
    else:
        words = [[group] for group in groups]
    for tells, some in itertools.groupby(words, key=lambda word: all(group.tells for group in word)):
        for word in [list(itertools.chain.from_iterable(some))] if tells else some:
            places = [place for group in word for place in group.places]
            codes = "".join(group.codes for group in word)
            told = None if tells else "".join(group.text for group in word)
            width = sum(place.x_advance for place in places)
            yield Piece(ShapedStr(codes, places), told, width, tuple(_areas(word)))


def _areas(groups: Iterable[_Group]) -> Iterator[tuple[int, float, float]]:
    across = 0.0
    for group in groups:
        for place, gid in itertools.zip_longest(group.places, group.drawn):
            if gid is not None:
                yield gid, across + place.x_offset, place.y_offset
            across += place.x_advance
