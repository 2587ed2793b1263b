"""Pick the few tags that matter out of a metadata block, and hand them over as a small sound block of their own.

A directory in a photo may claim 65,535 entries of four gigabytes each, point at itself or past the end. The library
that decodes the values takes such claims at their word. So the directories are walked here, each claim is held
against the bytes there are, and only whole values of wanted tags are copied: what is decoded afterwards is small,
has no loops, and nothing in it was read from beyond the block.
Source: TIFF 6.0, sections 2; Exif 3.0, 4.6.2 and 4.6.6.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

MOST_ENTRIES = 2000  # in one directory; real ones have below 200; common practice
MOST_VALUE = 4096  # bytes of one wanted value; the longest real ones are names of cameras

EXIF_POINTER = 0x8769
GPS_POINTER = 0x8825
IMAGE_TAGS = frozenset({0x010F, 0x0110, 0x0112, EXIF_POINTER, GPS_POINTER})  # make, model, orientation
EXIF_TAGS = frozenset({0x9003, 0x9011, 0x9291, GPS_POINTER})  # date of taking, its offset, its fraction
GPS_TAGS = frozenset({1, 2, 3, 4, 5, 6, 7, 9, 11, 16, 17, 18, 29, 31})
POSITION_TAGS = frozenset({2, 4})  # latitude, longitude
TYPE_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}


@dataclass(frozen=True, slots=True)
class Picked:
    """The wanted tags of a block."""

    clean: bytes | None  # a TIFF block with these tags alone; None: there was none to pick
    damage: tuple[str, ...]  # what was wrong with the rest, as words for a sentence
    gps_damaged: bool  # part of the satellite directory was lost


@dataclass(frozen=True, slots=True)
class _Entry:
    tag: int
    kind: int
    count: int
    value: bytes
    at: int | None  # where the value stands in the block; None: in the entry itself


class _Walk:
    def __init__(self, block: BinaryIO, order: str) -> None:
        self.block = block
        self.order = order
        self.damage: list[str] = []
        self.gps_damaged = False

    def read(self, offset: int, size: int) -> bytes:
        self.block.seek(offset)
        return self.block.read(size)

    def directory(self, offset: int, wanted: frozenset[int], name: str) -> list[_Entry]:
        """Return the wanted entries of the directory at a place, those that are whole."""
        head = self.read(offset, 2) if offset >= 8 else b""
        if len(head) < 2:
            self._lost(name, f"the {name} data lies outside the file")
            return []
        count = struct.unpack(self.order + "H", head)[0]
        if count > MOST_ENTRIES:
            self._lost(name, f"the {name} data claims {count} entries")
            count = MOST_ENTRIES
        table = self.read(offset + 2, 12 * count)
        if len(table) < 12 * count:
            self._lost(name, f"the {name} data is cut off")
        entries: dict[int, _Entry] = {}
        for place in range(0, len(table) - 11, 12):
            tag, kind, number = struct.unpack_from(self.order + "HHI", table, place)
            if tag not in wanted or tag in entries:
                continue
            size = TYPE_SIZES.get(kind, 0) * number
            if kind not in TYPE_SIZES or size > MOST_VALUE:
                self._lost(name, f"a value in the {name} data claims an impossible size")
                continue
            at = None if size <= 4 else struct.unpack_from(self.order + "I", table, place + 8)[0]
            value = table[place + 8 : place + 8 + size] if at is None else self.read(at, size)
            if len(value) < size:
                self._lost(name, f"a value in the {name} data lies outside the file")
                continue
            entries[tag] = _Entry(tag, kind, number, value, at)
        return list(entries.values())

    def _lost(self, name: str, words: str) -> None:
        self.gps_damaged = self.gps_damaged or name == "satellite"
        if words not in self.damage:
            self.damage.append(words)

    def pointer(self, entries: list[_Entry], tag: int, name: str) -> int | None:
        """Return where a pointer among entries points, None if there is no such pointer."""
        for entry in entries:
            if entry.tag != tag:
                continue
            # A pointer is LONG or IFD; as SHORT or SLONG it means the same and is seen in the wild.
            if entry.kind in (3, 4, 9, 13) and entry.count == 1:
                return int(struct.unpack(self.order + ("H" if entry.kind == 3 else "I"), entry.value)[0])
            self._lost(name, f"where the {name} data stands is not written as a place")
        return None

    def hold_apart(self, entries: list[_Entry]) -> None:
        """Report satellite values that share bytes with the position: then one of them is read from another's place."""
        spans = [(e.at, e.at + len(e.value), e.tag) for e in entries if e.at is not None]
        for start, end, tag in spans:
            if tag not in POSITION_TAGS:
                continue
            if any(other != tag and start < stop and begin < end for begin, stop, other in spans):
                self._lost("satellite", "two values stand in one place")


def pick_tags(block: BinaryIO) -> Picked:
    """Return the wanted tags of a metadata block as a small block of their own.

    Args:
        block: from its TIFF header on; offset 0 is the first byte of the header. Only what is asked for is read.
    Returns: also what was damaged; never raises for what is in the block.
    """
    block.seek(0)
    head = block.read(8)
    if len(head) < 8 or head[:2] not in (b"II", b"MM"):
        return Picked(None, ("it does not begin as it should",), False)
    order = "<" if head[:2] == b"II" else ">"
    walk = _Walk(block, order)
    first = struct.unpack(order + "I", head[4:])[0]
    image = walk.directory(first, IMAGE_TAGS, "picture")
    exif_at = walk.pointer(image, EXIF_POINTER, "camera")
    exif = [] if exif_at is None else walk.directory(exif_at, EXIF_TAGS, "camera")
    # By the standard the satellite data hangs on the first directory; some writers hang it on the camera's.
    gps_at = walk.pointer(image, GPS_POINTER, "satellite")
    if gps_at is None:
        gps_at = walk.pointer(exif, GPS_POINTER, "satellite")
    gps: list[_Entry] = []
    if gps_at is not None and gps_at in (first, exif_at):
        walk.gps_damaged = True
        walk.damage.append("the satellite data points at another part of the file")
    elif gps_at is not None:
        gps = walk.directory(gps_at, GPS_TAGS, "satellite")
        walk.hold_apart(gps)
    return Picked(_written(order, image, exif, gps), tuple(walk.damage), walk.gps_damaged)


def _written(order: str, image: list[_Entry], exif: list[_Entry], gps: list[_Entry]) -> bytes:
    """Return a TIFF block with three directories, each pointed at from the first one."""
    image = [e for e in image if e.tag not in (EXIF_POINTER, GPS_POINTER)]
    exif = [e for e in exif if e.tag != GPS_POINTER]
    extra = (2 if exif or gps else 0) * 12
    out = bytearray((b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, 8))
    first = _directory(order, 8, image, room_for=extra)
    if not extra:
        return bytes(out + first)
    exif_at = 8 + len(first)
    second = _directory(order, exif_at, exif)
    gps_at = exif_at + len(second)
    pointers = [
        _Entry(EXIF_POINTER, 4, 1, struct.pack(order + "I", exif_at), None),
        _Entry(GPS_POINTER, 4, 1, struct.pack(order + "I", gps_at), None),
    ]
    out += _directory(order, 8, [*image, *pointers]) + second + _directory(order, gps_at, gps)
    return bytes(out)


def _directory(order: str, at: int, entries: list[_Entry], room_for: int = 0) -> bytes:
    """Return one directory and its values, meant to stand at a place; `room_for`: bytes of entries still to come."""
    values_at = at + 2 + 12 * len(entries) + room_for + 4
    table, values = bytearray(struct.pack(order + "H", len(entries))), bytearray()
    for entry in entries:
        table += struct.pack(order + "HHI", entry.tag, entry.kind, entry.count)
        if len(entry.value) <= 4:
            table += entry.value.ljust(4, b"\0")
        else:
            table += struct.pack(order + "I", values_at + len(values))
            values += entry.value + b"\0" * (len(entry.value) & 1)
    return bytes(table + bytes(room_for) + bytes(4) + values)
