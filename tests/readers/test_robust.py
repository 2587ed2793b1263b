"""Whatever the bytes are: no reader raises, and what it says is possible."""

from __future__ import annotations

import io
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from field.readers import track as figures_of
from field.readers.exif import read_photo
from field.readers.gpx import read_track

FILES = Path(__file__).resolve().parent.parent / "files"
PHOTOS = [path.read_bytes() for path in sorted((FILES / "exif").iterdir()) if path.stat().st_size < 4000]
TRACKS = [path.read_bytes() for path in sorted((FILES / "gpx").glob("*.gpx")) if path.stat().st_size < 4000]
HEADS = [b"", b"\xff\xd8\xff\xe1", b"II*\0\x08\0\0\0", b"\x89PNG\r\n\x1a\n", b"\0\0\0\x18ftypheic", b"<gpx>", b"<?xml "]

bites = st.lists(st.tuples(st.integers(0, 4000), st.binary(min_size=1, max_size=6)), max_size=6)


def bitten(data: bytes, places: list[tuple[int, bytes]], end: int) -> bytes:
    """Return bytes with pieces overwritten and the end cut off."""
    out = bytearray(data)
    for at, piece in places:
        if out:
            start = at % len(out)
            out[start : start + len(piece)] = piece
    return bytes(out[: len(out) - end % (len(out) + 1)])


def check_photo(data: bytes) -> None:
    facts = read_photo(data)
    if facts is None:
        return
    assert (facts.lat is None) == (facts.lon is None)
    if facts.lat is not None and facts.lon is not None:
        assert -90 <= facts.lat <= 90
        assert -180 <= facts.lon < 180
    elif facts.has_position:
        raise AssertionError("no position, and it is said to be there")
    else:
        assert facts.troubles != ()
    assert facts.direction_deg is None or 0 <= facts.direction_deg < 360
    assert facts.accuracy_m is None or facts.accuracy_m > 0
    assert facts.orientation is None or 1 <= facts.orientation <= 8
    assert all(t.text.isprintable() and t.text.endswith(".") for t in facts.troubles)


def check_track(data: bytes) -> None:
    track = read_track(io.BytesIO(data))
    assert all(-90 <= lat <= 90 for lat in track.lats)
    assert all(-180 <= lon < 180 for lon in track.lons)
    assert sum(len(segment) for segment in track.segments()) == track.points
    assert figures_of.length_m(track) >= 0
    climb_m = figures_of.climb_m(track)
    assert climb_m is None or climb_m >= 0
    span = figures_of.time_span(track)
    assert span is None or span[0] <= span[1]
    box = figures_of.bounds(track)
    assert (box is None) == (track.points == 0)
    assert sum(len(line) for line in figures_of.thin_line(track)) <= track.points
    assert all(t.text.isprintable() and t.text.endswith(".") for t in track.troubles)
    if not (track.points or track.waypoints or track.routes):
        assert track.troubles != []


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(PHOTOS), bites, st.one_of(st.just(0), st.integers(0, 4000)))
def test_damaged_photo_never_raises(data: bytes, places: list[tuple[int, bytes]], end: int) -> None:
    check_photo(bitten(data, places, end))


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(TRACKS), bites, st.one_of(st.just(0), st.integers(0, 4000)))
def test_damaged_track_never_raises(data: bytes, places: list[tuple[int, bytes]], end: int) -> None:
    check_track(bitten(data, places, end))


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(HEADS), st.binary(max_size=400))
def test_any_bytes_never_raise(head: bytes, rest: bytes) -> None:
    check_photo(head + rest)
    check_track(head + rest)
