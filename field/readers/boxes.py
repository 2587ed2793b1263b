"""Find the Exif item in a file made of boxes: HEIC and AVIF (ISO 14496-12, 23008-12), JPEG XL (ISO 18181-2).

Every size and offset in such a file is only a claim; each is held against the bytes there are before it is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

MOST_BOXES = 2000  # boxes walked on one level; common practice
MOST_META = 4 * 1024 * 1024  # bytes of the 'meta' box; those of large grids have some 100 kB
MOST_EXTENTS = 64  # pieces of one item
BRANDS = {
    b"heic": "heic",
    b"heix": "heic",
    b"heim": "heic",
    b"heis": "heic",
    b"hevc": "heic",
    b"hevx": "heic",
    b"avif": "avif",
    b"avis": "avif",
    b"mif1": "heic",
    b"mif2": "heic",
    b"msf1": "heic",
    b"jxl ": "jxl",
}


@dataclass(frozen=True, slots=True)
class ExifItem:
    """What a file of boxes holds of Exif."""

    kind: str  # heic, avif or jxl
    content: bytes | None  # as stored, the offset field and any prefix in front; None: no such item
    cut: bool  # the file ends before the item does
    packed: bool = False  # it is there, but compressed (JPEG XL's box 'brob')


@dataclass(frozen=True, slots=True)
class Box:
    """One box: its type and the stretch of its content."""

    name: bytes
    start: int
    end: int  # as claimed; may lie beyond what there is


class _Short(Exception):
    """A structure claims more bytes than there are."""


class _Bytes:
    """A reader of whole numbers over bytes that never gives back fewer than asked for."""

    def __init__(self, data: bytes, at: int = 0) -> None:
        self.data = data
        self.at = at

    def take(self, size: int) -> bytes:
        got = self.data[self.at : self.at + size]
        if len(got) < size:
            raise _Short
        self.at += size
        return got

    def number(self, size: int) -> int:
        return int.from_bytes(self.take(size), "big")


def find_exif(stream: BinaryIO, end: int, most: int) -> ExifItem | None:
    """Return the Exif item of a file of boxes, None if it is no picture (a film, say).

    Args:
        stream: the whole file.
        end: its length in bytes.
        most: bytes of an item that are read at most.
    """
    kind = None
    cut = False
    for box in _boxes_in(stream, end):
        cut = cut or box.end > end
        if box.name == b"ftyp":
            kind = _kind_of(_read(stream, box.start, min(box.end, end, box.start + 1024)))
        elif box.name == b"JXL ":
            kind = "jxl"
        elif box.name == b"Exif" and kind == "jxl":
            return ExifItem(kind, _read(stream, box.start, min(box.end, end, box.start + most)), box.end > end)
        elif box.name == b"brob" and kind == "jxl" and _read(stream, box.start, min(box.start + 4, end)) == b"Exif":
            return ExifItem(kind, None, False, packed=True)
        elif box.name == b"meta" and kind in ("heic", "avif"):
            if box.end > end or box.end - box.start > MOST_META:
                return ExifItem(kind, None, True)
            try:
                return _in_meta(stream, end, box, kind, most)
            except _Short:
                return ExifItem(kind, None, True)
    return None if kind is None else ExifItem(kind, None, cut)


def _read(stream: BinaryIO, start: int, end: int) -> bytes:
    if start >= end:  # a claimed place may be beyond what a seek can take
        return b""
    stream.seek(start)
    return stream.read(end - start)


def _boxes_in(stream: BinaryIO, end: int) -> Iterator[Box]:
    place = 0
    for _ in range(MOST_BOXES):
        head = _read(stream, place, min(place + 16, end))
        if len(head) < 8:
            return
        size, inner = int.from_bytes(head[:4], "big"), 8
        if size == 1:
            if len(head) < 16:
                return
            size, inner = int.from_bytes(head[8:16], "big"), 16
        elif size == 0:
            size = end - place
        if size < inner:
            return
        yield Box(head[4:8], place + inner, place + size)
        place += size


def _boxes_of(data: bytes, at: int) -> Iterator[tuple[bytes, bytes]]:
    """Yield name and content of the boxes inside bytes already read."""
    reader = _Bytes(data, at)
    while reader.at + 8 <= len(data):
        size, name, inner = reader.number(4), reader.take(4), 8
        if size == 1:
            size, inner = reader.number(8), 16
        elif size == 0:
            size = len(data) - reader.at + inner
        if size < inner:
            raise _Short
        yield name, reader.take(size - inner)


def _kind_of(ftyp: bytes) -> str | None:
    """Return the kind of picture that the brands name: the major one first, then the compatible ones."""
    brands = [ftyp[:4], *(ftyp[i : i + 4] for i in range(8, len(ftyp) - 3, 4))]
    known = [BRANDS[brand] for brand in brands if brand in BRANDS]
    if brands[0] in (b"mif1", b"msf1", b"mif2") and "avif" in known:
        return "avif"
    return known[0] if known else None


def _in_meta(stream: BinaryIO, end: int, meta: Box, kind: str, most: int) -> ExifItem:
    parts = dict(_boxes_of(_read(stream, meta.start, meta.end), 4))
    items = _exif_ids(parts.get(b"iinf", b""))
    for item in items:
        extents = _extents(parts.get(b"iloc", b""), item)
        if extents is None:
            continue
        content = bytearray()
        cut = False
        for in_idat, start, size in extents:
            if in_idat:
                idat = parts.get(b"idat", b"")
                piece = idat[start : start + size] if size else idat[start:]
            else:
                piece = _read(stream, start, min(start + size if size else end, end, start + most))
            cut = cut or len(piece) < size
            content += piece
            if len(content) >= most:
                break
        return ExifItem(kind, bytes(content[:most]), cut)
    return ExifItem(kind, None, False)


def _exif_ids(iinf: bytes) -> list[int]:
    """Return the ids of the items of type 'Exif'."""
    if not iinf:
        return []
    reader = _Bytes(iinf)
    version = reader.number(4) >> 24
    reader.number(4 if version else 2)
    found = []
    for name, content in _boxes_of(iinf, reader.at):
        if name != b"infe":
            continue
        infe = _Bytes(content)
        version = infe.number(4) >> 24
        if version < 2:
            continue
        item = infe.number(4 if version >= 3 else 2)
        infe.number(2)  # protection
        if infe.take(4) == b"Exif":
            found.append(item)
    return found


def _extents(iloc: bytes, wanted: int) -> list[tuple[bool, int, int]] | None:
    """Return the pieces of one item as (inside 'idat', offset, size); None if the item is not located.

    A size of 0 stands for 'to the end'.
    """
    if not iloc:
        return None
    reader = _Bytes(iloc)
    version = reader.number(4) >> 24
    sizes = reader.number(2)
    offset_size, length_size = sizes >> 12, sizes >> 8 & 15
    base_size, index_size = sizes >> 4 & 15, sizes & 15 if version in (1, 2) else 0
    for _ in range(reader.number(4 if version == 2 else 2)):
        item = reader.number(4 if version == 2 else 2)
        method = reader.number(2) & 15 if version in (1, 2) else 0
        reader.number(2)  # which file: this one, or it could not be read here
        base = reader.number(base_size)
        count = reader.number(2)
        if index_size + offset_size + length_size == 0:
            # Such extents take no bytes: a few bytes could claim billions of them, and all are the same.
            count = min(count, 1)
        pieces: list[tuple[bool, int, int]] = []
        for _ in range(count):
            reader.number(index_size)
            offset, size = reader.number(offset_size), reader.number(length_size)
            if item == wanted and len(pieces) < MOST_EXTENTS:
                pieces.append((method == 1, base + offset, size))
        if item == wanted:
            return pieces if method in (0, 1) else None
    return None
