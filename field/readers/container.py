"""Find the metadata block of a photo, whatever kind of file it stands in.

The kind is told by the content and never by the name. Only headers are read, piece by piece with a limit: to find
the block of a 12-megapixel photo a few hundred bytes are enough. Kinds: JPEG (APP1), HEIC and AVIF (item 'Exif'),
JPEG XL (box 'Exif'), PNG (eXIf), WebP (EXIF), and TIFF with its kin (DNG and other raw files), which is its own block.
Sources: Exif 3.0 (CIPA DC-008), ISO 23008-12 annex A, PNG third edition, the WebP container specification, TIFF 6.0.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import BinaryIO

from field.readers import boxes

MOST_PIECES = 4000  # segments or chunks walked before giving up; common practice, real photos have below 200
MOST_BLOCK = 4 * 1024 * 1024  # bytes of metadata held in memory at most; a JPEG's is at most 64 kB
TIFF_MAGIC = {b"II*\0", b"MM\0*", b"IIRO", b"IIRS", b"IIU\0"}  # the last three: raw files that are TIFF otherwise
BIG_TIFF_MAGIC = {b"II+\0", b"MM\0+"}  # 64-bit offsets: another form, for pictures over 4 GB
XMP_WORDS = b"http://ns.adobe.com/xap/1.0/\0"  # before an XMP packet in a JPEG; XMP specification part 3
PREFIX = b"Exif\0"  # followed by one more byte, 0 by the standard, anything in the wild

MEDIA_TYPES = {
    "jpeg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "heic": "image/heic",
    "avif": "image/avif",
    "jxl": "image/jxl",
    "tiff": "image/tiff",
}


@dataclass(frozen=True, slots=True)
class Found:
    """A photo's kind and where its metadata stands."""

    kind: str | None  # a key of MEDIA_TYPES; None: no photo
    block: BinaryIO | None  # from the TIFF header on, offset 0 = its first byte; None: there is none
    size: int  # bytes in the block
    cut: bool  # the file ends inside the block, or inside the structures that lead to it
    picture_cut: bool = False  # the block is whole, but the file ends before the picture begins
    unread: str | None = None  # code of the trouble, where the form of the metadata is known and not read here
    xmp: tuple[int, int] | None = None  # where an XMP packet stands in the file, and its length


NO_PHOTO = Found(None, None, 0, False)


class Window(io.RawIOBase):
    """A stretch of another stream seen as a stream of its own; reads past its end come back short."""

    def __init__(self, stream: BinaryIO, start: int, size: int) -> None:
        super().__init__()
        self._stream = stream
        self._start = start
        self._size = size
        self._at = 0

    def readable(self) -> bool:
        """Return True: this is for reading."""
        return True

    def seekable(self) -> bool:
        """Return True: any place may be read."""
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place in the stretch; return it."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        self._at = max(0, base + offset)
        return self._at

    def tell(self) -> int:
        """Return the place in the stretch."""
        return self._at

    def readinto(self, buffer: memoryview, /) -> int:  # type: ignore[override]
        """Fill a buffer as far as the stretch goes; return how many bytes that were."""
        want = min(len(buffer), max(0, self._size - self._at))
        self._stream.seek(self._start + self._at)
        got = self._stream.read(want)
        buffer[: len(got)] = got
        self._at += len(got)
        return len(got)


def find_metadata(stream: BinaryIO) -> Found:
    """Return which kind of photo a file is, and its metadata block.

    Args:
        stream: the whole file, opened for reading bytes; must be able to seek. Its place is changed.
    Returns: NO_PHOTO for anything else, an empty file included.
    Raises: OSError if the stream itself cannot be read; nothing for what is in it.
    """
    stream.seek(0, io.SEEK_END)
    end = stream.tell()
    head = _at(stream, 0, 64)
    if head[:2] == b"\xff\xd8":
        return _in_jpeg(stream, end)
    if head[:4] in TIFF_MAGIC:
        return Found("tiff", _window(stream, 0, end), end, False)
    if head[:4] in BIG_TIFF_MAGIC:
        return Found("tiff", None, 0, False, unread="big-tiff")
    if head[:8] == b"\x89PNG\r\n\x1a\n":
        return _in_png(stream, end)
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return _in_webp(stream, end)
    if head[4:8] == b"ftyp" or head[4:12] == b"JXL \r\n\x87\n":
        return _in_boxes(stream, end)
    return NO_PHOTO


def _at(stream: BinaryIO, offset: int, size: int) -> bytes:
    stream.seek(offset)
    return stream.read(size)


def _window(stream: BinaryIO, start: int, size: int) -> BinaryIO:
    return io.BufferedReader(Window(stream, start, size), 4096)


def _block(kind: str, stream: BinaryIO, start: int, size: int, end: int) -> Found:
    """Return a block found at a place, without the 'Exif' words that some writers put before the TIFF header."""
    cut = start + size > end
    head = _at(stream, start, min(10, size))
    if head[:5] == PREFIX:
        start, size = start + 6, size - 6
        head = head[6:]
    if not cut and head[:4] not in TIFF_MAGIC:
        # What stands there is no TIFF header: damaged, and told so by the reader that finds nothing in it.
        return Found(kind, io.BytesIO(head), len(head), False)
    size = max(0, min(size, end - start, MOST_BLOCK))
    return Found(kind, io.BytesIO(_at(stream, start, size)), size, cut)


def _in_jpeg(stream: BinaryIO, end: int) -> Found:
    """Walk the segments for the APP1 that holds Exif, up to the start of the picture data.

    Of several the first that begins as it should counts: some writers leave an empty one in front.
    """
    found: Found | None = None
    sound = False
    xmp: tuple[int, int] | None = None
    place = 2
    for _ in range(MOST_PIECES):
        head = _at(stream, place, 10)
        if len(head) < 4:
            return Found("jpeg", None, 0, True) if found is None else replace(found, picture_cut=True)
        if head[0] != 0xFF or head[1] in (0xD9, 0xDA):
            break
        if head[1] == 0xFF:  # a fill byte before a marker
            place += 1
            continue
        if head[1] == 0x01 or 0xD0 <= head[1] <= 0xD8:  # markers without a length
            place += 2
            continue
        size = int.from_bytes(head[2:4], "big")
        if not sound and head[1] == 0xE1 and size >= 8 and PREFIX.startswith(head[4:9]):
            one = _block("jpeg", stream, place + 4, size - 2, end)
            if one.cut:
                return one
            sound = one.block is not None and _begins_well(one.block)
            found = one if sound or found is None else found
        elif head[1] == 0xE1 and XMP_WORDS.startswith(head[4:10]) and xmp is None:
            xmp = (place + 4, size - 2)
        if size < 2:
            break
        place += 2 + size
    return replace(found or Found("jpeg", None, 0, False), xmp=xmp)


def _begins_well(block: BinaryIO) -> bool:
    begins = block.read(4) in TIFF_MAGIC
    block.seek(0)
    return begins


def tells_position_in_xmp(stream: BinaryIO, found: Found) -> bool:
    """Return whether the XMP packet beside a photo's metadata names a position; it is not read for where that is."""
    return found.xmp is not None and b"GPSLatitude" in _at(stream, *found.xmp)


def _in_png(stream: BinaryIO, end: int) -> Found:
    """Walk the chunks to eXIf, which may stand before or after the picture data."""
    place = 8
    for _ in range(MOST_PIECES):
        head = _at(stream, place, 8)
        if len(head) < 8:
            return Found("png", None, 0, True)
        size = int.from_bytes(head[:4], "big")
        if head[4:] == b"eXIf":
            return _block("png", stream, place + 8, size, end)
        if head[4:] == b"IEND":
            break
        place += 12 + size
    return Found("png", None, 0, False)


def _in_webp(stream: BinaryIO, end: int) -> Found:
    """Walk the chunks to EXIF; its content may begin with 'Exif' or with the TIFF header."""
    place = 12
    for _ in range(MOST_PIECES):
        head = _at(stream, place, 8)
        if len(head) < 8:
            break
        size = int.from_bytes(head[4:], "little")
        if head[:4] == b"EXIF":
            return _block("webp", stream, place + 8, size, end)
        place += 8 + size + (size & 1)
    return Found("webp", None, 0, place > end + 1)


def _in_boxes(stream: BinaryIO, end: int) -> Found:
    """Return the Exif item of a HEIC or AVIF file, or the Exif box of a JPEG XL one."""
    item = boxes.find_exif(stream, end, MOST_BLOCK)
    if item is None:
        return NO_PHOTO
    if item.content is None:
        return Found(item.kind, None, 0, item.cut, unread="packed-metadata" if item.packed else None)
    start = _tiff_start(item.content)
    if start is None:
        return Found(item.kind, io.BytesIO(item.content[:16]), min(16, len(item.content)), item.cut)
    content = item.content[start:]
    return Found(item.kind, io.BytesIO(content), len(content), item.cut)


def _tiff_start(content: bytes) -> int | None:
    """Return where the TIFF header stands in an Exif item.

    By the standard the first four bytes say how far behind them it is; the words 'Exif' may or may not stand in
    between, and some writers leave the four bytes out or give 0 with the words there: so both are looked at.
    """
    told = 4 + int.from_bytes(content[:4], "big")
    for start in (told, 4, 10, 6, 0):
        if content[start : start + 4] in TIFF_MAGIC:
            return start
    return None
