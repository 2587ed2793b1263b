"""Where the metadata block stands in each kind of file. The files are put together here, byte by byte."""

from __future__ import annotations

import io
import struct
import zlib

import pytest

from field.readers.container import find_metadata
from field.readers.exif import read_photo


def box(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content) + 8) + name + content


def full_box(name: bytes, content: bytes, version: int = 0) -> bytes:
    return box(name, struct.pack(">I", version << 24) + content)


def heic(
    item: bytes, *, brand: bytes = b"heic", in_idat: bool = False, iloc_version: int = 1, halves: int = 1
) -> bytes:
    """Return a HEIC file with one Exif item, in as many pieces as asked for."""
    ftyp = box(b"ftyp", brand + bytes(4) + b"mif1heic")
    infe = full_box(b"infe", struct.pack(">HH4sB", 7, 0, b"Exif", 0), version=2)
    iinf = full_box(b"iinf", struct.pack(">H", 1) + infe)
    size = len(item) // halves
    pieces = [(n * size, size if n < halves - 1 else len(item) - n * size) for n in range(halves)]

    def iloc(base: int) -> bytes:
        method = struct.pack(">H", int(in_idat)) if iloc_version else b""
        extents = b"".join(struct.pack(">II", base + at, length) for at, length in pieces)
        head = struct.pack(">BBH", 0x44, 0x00, 1)
        return full_box(
            b"iloc", head + struct.pack(">H", 7) + method + struct.pack(">HH", 0, halves) + extents, iloc_version
        )

    def meta(base: int) -> bytes:
        idat = box(b"idat", item) if in_idat else b""
        return full_box(b"meta", full_box(b"hdlr", bytes(4) + b"pict" + bytes(13)) + iinf + iloc(base) + idat)

    if in_idat:
        return ftyp + meta(0)
    base = len(ftyp) + len(meta(0)) + 8
    return ftyp + meta(base) + box(b"mdat", item)


def png(*chunks: tuple[bytes, bytes]) -> bytes:
    out = b"\x89PNG\r\n\x1a\n"
    for name, content in ((b"IHDR", bytes(13)), *chunks, (b"IEND", b"")):
        out += struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
    return out


def webp(*chunks: tuple[bytes, bytes]) -> bytes:
    body = b"".join(
        name + struct.pack("<I", len(content)) + content + b"\0" * (len(content) & 1) for name, content in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def jxl(block: bytes) -> bytes:
    return box(b"JXL ", b"\r\n\x87\n") + box(b"ftyp", b"jxl " + bytes(4) + b"jxl ") + box(b"Exif", bytes(4) + block)


def segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def photo_files(block: bytes) -> dict[str, tuple[str, bytes]]:
    """Return the same block in every kind of file, by what is special about it: (kind, the file)."""
    prefixed = b"Exif\0\0" + block
    app1 = segment(0xE1, prefixed)
    end = b"\xff\xda\0\x02\0\0\xff\xd9"
    xmp = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x/>")
    return {
        "jpeg": ("jpeg", b"\xff\xd8" + app1 + end),
        "jpeg, block behind others": ("jpeg", b"\xff\xd8" + segment(0xE0, b"JFIF\0") + xmp + app1 + end),
        "jpeg, an empty one in front": ("jpeg", b"\xff\xd8" + segment(0xE1, b"Exif\0\0") + app1 + end),
        "jpeg, another behind": ("jpeg", b"\xff\xd8" + app1 + segment(0xE1, prefixed[:40]) + end),
        "jpeg, a second picture behind": ("jpeg", b"\xff\xd8" + app1 + segment(0xE2, b"MPF\0II*\0") + end + end),
        "jpeg, fill bytes": ("jpeg", b"\xff\xd8\xff\xff\xff" + app1[1:] + end),
        "jpeg, odd sixth byte": ("jpeg", b"\xff\xd8" + segment(0xE1, b"Exif\0\xff" + block) + end),
        "png before the picture": ("png", png((b"eXIf", block), (b"IDAT", b"x" * 9))),
        "png behind the picture": ("png", png((b"IDAT", b"x" * 70000), (b"eXIf", block))),
        "webp plain": ("webp", webp((b"VP8X", bytes(10)), (b"VP8 ", b"x" * 7), (b"EXIF", block))),
        "webp with words": ("webp", webp((b"VP8X", bytes(10)), (b"EXIF", prefixed))),
        "heic without words": ("heic", heic(bytes(4) + block)),
        "heic with words": ("heic", heic(struct.pack(">I", 6) + prefixed)),
        "heic, words not counted": ("heic", heic(bytes(4) + prefixed)),
        "heic, item inside idat": ("heic", heic(bytes(4) + block, in_idat=True)),
        "heic, first location table": ("heic", heic(bytes(4) + block, iloc_version=0)),
        "heic, item in three pieces": ("heic", heic(bytes(4) + block, halves=3)),
        "avif": ("avif", heic(bytes(4) + block, brand=b"avif")),
        "jxl": ("jxl", jxl(block)),
        "tiff": ("tiff", block),
    }


KINDS = sorted(photo_files(b""))


@pytest.mark.parametrize("which", KINDS)
def test_block_is_found_in_every_kind_of_file(a_photo, which: str) -> None:
    kind, data = photo_files(a_photo().tiff())[which]
    facts = read_photo(data)
    assert facts is not None
    assert facts.kind == kind
    # 54°27'39" N, 3°05'18" W as the fixture writes it
    assert (facts.lat, facts.lon) == (pytest.approx(54.4608333333, abs=2e-7), pytest.approx(-3.0883333333, abs=2e-7))
    assert facts.troubles == ()


@pytest.mark.parametrize("which", KINDS)
def test_file_cut_at_any_byte_gives_the_whole_position_or_none(a_photo, which: str) -> None:
    _, data = photo_files(a_photo().tiff())[which]
    whole = read_photo(data)
    assert whole is not None
    for end in [*range(0, len(data), 7), len(data) - 1]:
        facts = read_photo(data[:end])
        if facts is None:
            assert end < 24  # not even the first words that tell the kind are there
        elif facts.lat is None:
            assert facts.troubles != ()
        else:
            assert (facts.lat, facts.lon) == (whole.lat, whole.lon)


def test_no_photo_is_found_in_other_files() -> None:
    film = box(b"ftyp", b"isom" + bytes(4) + b"isommp42") + box(b"moov", b"")
    for data in (b"", b"\xff", b"hello", b"GIF89a", b"<?xml version='1.0'?><gpx/>", film, b"RIFF\0\0\0\0WAVE"):
        assert find_metadata(io.BytesIO(data)).kind is None


@pytest.mark.parametrize("data", [png(), webp((b"VP8 ", b"x")), heic(b"")[:40], b"\xff\xd8\xff\xda\0\x02\xff\xd9"])
def test_photo_without_metadata_says_so(data: bytes) -> None:
    facts = read_photo(data)
    assert facts is not None
    assert {t.code for t in facts.troubles} <= {"no-metadata", "cut-off-photo"}
    assert len(facts.troubles) == 1


def test_claim_of_countless_pieces_ends_at_once() -> None:
    # a location table of 4,000 items, each claiming 65,535 pieces of no bytes
    item = struct.pack(">HHHH", 9, 0, 0, 65535)
    iloc = full_box(b"iloc", struct.pack(">BBH", 0, 0, 4000) + item * 4000, version=1)
    infe = full_box(b"infe", struct.pack(">HH4sB", 7, 0, b"Exif", 0), version=2)
    meta = full_box(b"meta", full_box(b"iinf", struct.pack(">H", 1) + infe) + iloc)
    found = find_metadata(io.BytesIO(box(b"ftyp", b"heic" + bytes(4)) + meta))
    assert (found.kind, found.block) == ("heic", None)


def test_box_beyond_all_places_is_no_error() -> None:
    far = struct.pack(">I4sQ", 1, b"free", 2**64 - 1)
    assert find_metadata(io.BytesIO(box(b"ftyp", b"heic" + bytes(4)) + far)).kind == "heic"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"II+\0\x08\0\0\0" + bytes(24), "big-tiff"),
        (b"MM\0+\0\x08\0\0" + bytes(24), "big-tiff"),
        (jxl(b"")[:-12] + box(b"brob", b"Exif" + bytes(9)), "packed-metadata"),
    ],
)
def test_form_that_is_not_read_is_named_in_words(data: bytes, code: str) -> None:
    facts = read_photo(data)
    assert facts is not None
    assert [(t.code, t.refused) for t in facts.troubles] == [(code, True)]
    assert facts.lat is None


def test_other_compressed_boxes_are_passed_over(a_photo) -> None:
    data = jxl(a_photo().tiff())
    start = data.index(b"ftyp") + 16
    facts = read_photo(data[:start] + box(b"brob", b"xml " + bytes(9)) + data[start:])
    assert facts is not None
    assert facts.has_position


XMP = b"http://ns.adobe.com/xap/1.0/\0<x exif:GPSLatitude='54,27.65N' exif:GPSLongitude='3,5.3W'/>"


def test_position_in_xmp_alone_is_told_and_not_taken(a_photo) -> None:
    start, end = b"\xff\xd8" + segment(0xE1, XMP), b"\xff\xda\0\x02\0\0\xff\xd9"
    alone = read_photo(start + end)
    assert alone is not None
    assert [t.code for t in alone.troubles] == ["no-position", "xmp-position"]
    without = a_photo({1: None, 2: None, 3: None, 4: None}).tiff()
    beside = read_photo(start + segment(0xE1, b"Exif\0\0" + without) + end)
    assert beside is not None
    assert "xmp-position" in [t.code for t in beside.troubles]
    assert (alone.lat, beside.lat) == (None, None)
    both = read_photo(start + segment(0xE1, b"Exif\0\0" + a_photo().tiff()) + end)
    assert both is not None
    assert both.troubles == ()


def test_xmp_without_a_position_says_nothing() -> None:
    plain = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x/>")
    facts = read_photo(b"\xff\xd8" + plain + b"\xff\xda\0\x02\0\0\xff\xd9")
    assert facts is not None
    assert [t.code for t in facts.troubles] == ["no-metadata"]
