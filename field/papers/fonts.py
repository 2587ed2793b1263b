"""The letters of the papers: which font has which letter, how letters join, and the part of a font a paper needs.

The fonts come from installed packages. Each style has a chain of them: the first that holds a letter draws it.
"""

from __future__ import annotations

import functools
import importlib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PLAIN = "plain"
BOLD = "bold"
WEIGHTS = {PLAIN: 400, BOLD: 700}
NO_SHAPE = "\N{REPLACEMENT CHARACTER}"  # stands where no font has a letter; Noto Sans holds it

# Package and file, in the order they are asked. Noto Sans holds Latin, Greek, Cyrillic, Vietnamese and Devanagari. The
# Arabic one has a glyph for each letter with its dots, so that what is copied out of a paper is what was written.
NOTO = ("fontpkg_noto_sans", "NotoSans[wdth,wght].ttf")
HEBREW = ("fontpkg_heebo", "Heebo[wght].ttf")
THAI = ("fontpkg_noto_sans_thai", "NotoSansThai[wdth,wght].ttf")
ARABIC = "fontpkg_ibm_plex_sans_arabic"
HEADINGS = ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Bold.ttf")
CHAINS = {
    PLAIN: (NOTO, HEBREW, (ARABIC, "IBMPlexSansArabic-Regular.ttf"), THAI),
    BOLD: (HEADINGS, NOTO, HEBREW, (ARABIC, "IBMPlexSansArabic-Bold.ttf"), THAI),
}

# What a PDF reader draws a glyph from; the rest of a font only makes the file larger.
DRAWN_BY = frozenset(("glyf", "loca", "head", "hhea", "hmtx", "maxp", "cvt ", "fpgm", "prep"))


@dataclass(frozen=True, slots=True)
class Glyph:
    """One glyph where it is drawn; lengths in thousandths of the letter size."""

    gid: int
    cluster: int  # place in the text of the first letter it stands for
    advance: float
    dx: float
    dy: float


@dataclass(frozen=True, eq=False, slots=True)
class Face:
    """One font at one weight."""

    name: str  # PostScript name, without blanks
    weight: int
    axes: tuple[str, ...]
    hb_face: Any
    hb_font: Any
    letters: frozenset[int]
    scale: float  # font units -> thousandths
    ascent: float  # thousandths
    descent: float  # thousandths, negative
    bounds: tuple[int, int, int, int]


@functools.cache
def chain(style: str) -> tuple[Face, ...]:
    """Return the fonts of a style, PLAIN or BOLD, in the order they are asked for a letter."""
    return tuple(_load(package, file, WEIGHTS[style]) for package, file in CHAINS[style])


@functools.cache
def _load(package: str, file: str, weight: int) -> Face:
    import uharfbuzz as hb  # here: what makes no paper should not wait for it

    path = Path(str(importlib.import_module(package).__file__)).parent / "files" / file
    face = hb.Face(hb.Blob.from_file_path(str(path)))
    font = hb.Font(face)
    axes = tuple(axis.tag for axis in face.axis_infos)
    if "wght" in axes:
        font.set_variations({"wght": weight})
    scale = 1000 / face.upem
    head = bytes(face.reference_table("head").data)
    west, south, east, north = (int.from_bytes(head[at : at + 2], "big", signed=True) for at in (36, 38, 40, 42))
    extents = font.get_font_extents("ltr")
    return Face(
        name=f"{path.name.split('[')[0].removesuffix('.ttf')}{'' if not axes else f'-{weight}'}",
        weight=weight,
        axes=axes,
        hb_face=face,
        hb_font=font,
        letters=frozenset(face.unicodes),
        scale=scale,
        ascent=extents.ascender * scale,
        descent=extents.descender * scale,
        bounds=(round(west * scale), round(south * scale), round(east * scale), round(north * scale)),
    )


def faces_for(text: str, style: str) -> list[Face | None]:
    """Return the font of each letter of a text, None where none has it.

    A word stays in one font if any has all of it, so that no letter of a name looks odd; marks go with what they stand
    on. The headings' own font is left out where it lacks any letter, or a name would change its look from word to word.
    """
    fonts = chain(style)
    if all(ord(one) in fonts[0].letters for one in text):
        return [fonts[0]] * len(text)
    if style == BOLD:
        fonts = fonts[1:]
    found: list[Face | None] = []
    for word in _words(text):
        whole = next((face for face in fonts if all(ord(one) in face.letters for one in word)), None)
        if whole is not None:
            found += [whole] * len(word)
            continue
        last: Face | None = None
        for one in word:
            if last is None or not (_clings(one) and ord(one) in last.letters):
                last = next((face for face in fonts if ord(one) in face.letters), None)
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


@functools.lru_cache(maxsize=8192)
def shape(face: Face, text: str, *, rightwards: bool) -> tuple[Glyph, ...]:
    """Return the glyphs of a text in one font, from left to right, joined and kerned as the font says.

    Args:
        rightwards: False for text that runs from right to left.
    """
    import uharfbuzz as hb

    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "ltr" if rightwards else "rtl"
    hb.shape(face.hb_font, buffer)
    by = face.scale
    return tuple(
        Glyph(info.codepoint, info.cluster, place.x_advance * by, place.x_offset * by, place.y_offset * by)
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    )


def width_of(glyphs: Iterable[Glyph]) -> float:
    """Return how wide glyphs are together, in thousandths of the letter size."""
    return sum(glyph.advance for glyph in glyphs)


def own_width(face: Face, gid: int) -> float:
    """Return the advance of a glyph by itself, in thousandths."""
    return float(face.hb_font.get_glyph_h_advance(gid)) * face.scale


def subset(face: Face, gids: Iterable[int]) -> bytes:
    """Return a TrueType font with only these glyphs, at the face's weight; each keeps its number."""
    import uharfbuzz as hb

    wanted = hb.SubsetInput()
    wanted.flags = hb.SubsetFlags.RETAIN_GIDS | hb.SubsetFlags.NO_HINTING | hb.SubsetFlags.NOTDEF_OUTLINE
    wanted.glyph_set.update({0, *gids})
    # "drop" to the library means: do not keep; variations are worked into the outlines by pinning.
    kept = DRAWN_BY | {"fvar", "gvar", "avar", "HVAR"}
    wanted.drop_table_tag_set.update(int.from_bytes(tag.encode()) for tag in face.hb_face.table_tags if tag not in kept)
    for tag in face.axes:
        if tag == "wght":
            wanted.pin_axis_location(face.hb_face, tag, float(face.weight))
        else:
            wanted.pin_axis_to_default(face.hb_face, tag)
    return bytes(wanted.subset(face.hb_face).blob.data)
