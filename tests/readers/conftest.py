"""A small TIFF writer for photos with odd metadata, and the containers they stand in."""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

BYTE, ASCII, SHORT, LONG, RATIONAL, SRATIONAL = 1, 2, 3, 4, 5, 10
SIZES = {BYTE: 1, ASCII: 1, SHORT: 2, LONG: 4, RATIONAL: 8, SRATIONAL: 8}
Tag = tuple[int, Any]  # type, value: text, numbers, or pairs of numerator and denominator

NORTH_WEST: Mapping[int, Tag] = {
    1: (ASCII, "N"),
    2: (RATIONAL, [(54, 1), (27, 1), (39, 1)]),
    3: (ASCII, "W"),
    4: (RATIONAL, [(3, 1), (5, 1), (18, 1)]),
}


@dataclass
class Photo:
    """The tags of a photo to be written; without a word it is a sound one at 54°27'39" N, 3°05'18" W."""

    image: dict[int, Tag] = field(default_factory=dict)
    exif: dict[int, Tag] = field(default_factory=lambda: {0x9003: (ASCII, "2027:02:14 10:30:00")})
    gps: dict[int, Tag] = field(default_factory=lambda: dict(NORTH_WEST))

    def tiff(self, order: str = "<") -> bytes:
        """Return the block."""
        head = (b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, 8)
        pointers = {0x8769: (LONG, [0]), 0x8825: (LONG, [0])}
        image = directory(order, 8, {**self.image, **pointers})
        exif_at = 8 + len(image)
        exif = directory(order, exif_at, self.exif)
        pointers = {0x8769: (LONG, [exif_at]), 0x8825: (LONG, [exif_at + len(exif)])}
        image = directory(order, 8, {**self.image, **pointers})
        return head + image + exif + directory(order, exif_at + len(exif), self.gps)

    def jpeg(self, order: str = "<") -> bytes:
        """Return the block in a JPEG that ends where its picture would begin."""
        return jpeg(self.tiff(order))


def directory(order: str, at: int, tags: Mapping[int, Tag]) -> bytes:
    """Return one directory with its values, to stand at a place."""
    table, values = struct.pack(order + "H", len(tags)), b""
    values_at = at + 2 + 12 * len(tags) + 4
    for tag, (kind, value) in sorted(tags.items()):
        data = packed(order, kind, value)
        table += struct.pack(order + "HHI", tag, kind, len(data) // SIZES[kind])
        if len(data) <= 4:
            table += data.ljust(4, b"\0")
        else:
            table += struct.pack(order + "I", values_at + len(values))
            values += data
    return table + bytes(4) + values


def packed(order: str, kind: int, value: str | Sequence[Any]) -> bytes:
    if isinstance(value, str):
        return value.encode("latin-1") + b"\0"
    if kind in (RATIONAL, SRATIONAL):
        letter = "II" if kind == RATIONAL else "ii"
        return b"".join(struct.pack(order + letter, *pair) for pair in value)
    return b"".join(struct.pack(order + {BYTE: "B", SHORT: "H", LONG: "I"}[kind], one) for one in value)


def jpeg(block: bytes, before: bytes = b"") -> bytes:
    """Return a JPEG whose APP1 holds a block, other segments before it."""
    app1 = b"\xff\xe1" + struct.pack(">H", len(block) + 8) + b"Exif\0\0" + block
    return b"\xff\xd8" + before + app1 + b"\xff\xda\0\x02\0\0\xff\xd9"


@pytest.fixture
def a_photo() -> Callable[..., Photo]:
    """Return the maker of a photo: the tags named are put in, those given as None are left out."""

    def make(gps: Mapping[int, Tag | None] | None = None, **directories: Mapping[int, Tag | None]) -> Photo:
        photo = Photo()
        for name, tags in {"gps": gps or {}, **directories}.items():
            kept = {**getattr(photo, name), **tags}
            setattr(photo, name, {tag: value for tag, value in kept.items() if value is not None})
        return photo

    return make
