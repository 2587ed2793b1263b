"""Directories that lie: what is picked out of them, and that it costs nothing."""

from __future__ import annotations

import io
import struct

import pytest

from field.readers.tiff import MOST_VALUE, pick_tags


def block(*entries: tuple[int, int, int, int], tail: bytes = b"", claimed: int | None = None) -> bytes:
    """Return a block of one directory: of each entry tag, type, count, value as it stands in the entry."""
    table = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return (
        b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries) if claimed is None else claimed) + table + bytes(4) + tail
    )


def picked(data: bytes):
    return pick_tags(io.BytesIO(data))


def test_sound_block_has_no_damage(a_photo) -> None:
    got = picked(a_photo().tiff())
    assert got.damage == ()
    assert not got.gps_damaged


def test_picked_block_picks_to_itself(a_photo) -> None:
    once = picked(a_photo(image={0x010F: (2, "Invented Optics")}).tiff())
    assert once.clean is not None
    assert picked(once.clean).clean == once.clean


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"II*\0",
        b"XX*\0\x08\0\0\0",
    ],
)
def test_what_is_no_block_gives_nothing(data: bytes) -> None:
    assert picked(data).clean is None


@pytest.mark.parametrize(
    "data",
    [
        block((0x0110, 2, 2**32 - 1, 8)),
        block((0x0110, 2, MOST_VALUE + 1, 8), tail=bytes(9000)),
        block((0x0110, 2, 40, 2**32 - 1)),
        block((0x0110, 99, 1, 0)),
        block((0x0112, 3, 1, 1), claimed=65535),
        block((0x8825, 4, 1, 0)),
        block((0x8825, 4, 1, 4)),
        block((0x8825, 4, 1, 8)),
        block((0x8825, 2, 1, 8)),
        b"II*\0" + struct.pack("<I", 2**32 - 1),
        b"II*\0" + struct.pack("<I", 0),
    ],
)
def test_impossible_claim_is_told_and_its_value_left_out(data: bytes) -> None:
    got = picked(data)
    assert len(got.damage) >= 1
    assert got.clean is not None
    assert len(got.clean) < 200


def test_longest_value_is_still_picked() -> None:
    got = picked(block((0x0110, 2, MOST_VALUE, 26), tail=bytes(MOST_VALUE)))
    assert got.damage == ()


def test_tags_nobody_asked_for_are_left_out_whatever_they_claim() -> None:
    got = picked(block((0x927C, 7, 2**32 - 1, 8), (0x0112, 3, 1, 6)))
    assert got.damage == ()
    assert got.clean is not None
    assert len(got.clean) == 8 + 2 + 12 + 4


def test_satellite_directory_hung_on_the_camera_directory_is_found(a_photo) -> None:
    photo = a_photo()
    data = photo.tiff()
    gps_at = data.index(struct.pack("<HHI", 1, 2, 2)) - 2
    # the pointer in the first directory becomes a tag that nobody asks for; one in the camera's own takes its place
    hung = data.replace(struct.pack("<HHI", 0x8825, 4, 1), struct.pack("<HHI", 0x8826, 4, 1))
    exif = struct.pack("<H", 1) + struct.pack("<HHII", 0x8825, 4, 1, gps_at) + bytes(4)
    at = hung.index(struct.pack("<HHI", 0x8769, 4, 1)) + 8
    hung = hung[:at] + struct.pack("<I", len(hung)) + hung[at + 4 :] + exif
    got = picked(hung)
    assert not got.gps_damaged
    assert got.clean is not None
    assert struct.pack("<HHI", 2, 5, 3) in got.clean
