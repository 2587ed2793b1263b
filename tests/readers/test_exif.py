"""One trait at a time: what a photo's tags may hold, and what is made of it. Values are written here, so known."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta

import pytest

from field.readers.exif import PhotoFacts, read_photo

BYTE, ASCII, SHORT, LONG, RATIONAL, SRATIONAL = 1, 2, 3, 4, 5, 10


def read(photo) -> PhotoFacts:
    facts = read_photo(photo.jpeg())
    assert facts is not None
    return facts


def codes(facts: PhotoFacts) -> list[str]:
    return [t.code for t in facts.troubles]


@pytest.mark.parametrize("order", ["<", ">"])
def test_sound_photo_gives_its_position_in_either_byte_order(a_photo, order: str) -> None:
    facts = read_photo(a_photo().jpeg(order))
    assert facts is not None
    assert facts.lat == pytest.approx(54 + 27 / 60 + 39 / 3600, abs=1e-12)
    assert facts.lon == pytest.approx(-(3 + 5 / 60 + 18 / 3600), abs=1e-12)
    assert facts.has_position
    assert facts.troubles == ()


@pytest.mark.parametrize(
    ("tags", "code"),
    [
        ({2: None}, "position-incomplete"),
        ({4: None}, "position-incomplete"),
        ({1: (ASCII, "")}, "position-no-ref"),
        ({3: (ASCII, "N")}, "position-bad-ref"),
        ({2: (RATIONAL, [(90, 1), (0, 1), (1, 1000)])}, "position-out-of-range"),
        ({4: (RATIONAL, [(180, 1), (0, 1), (1, 1000)])}, "position-out-of-range"),
        ({2: (RATIONAL, [(4294967295, 1), (0, 1), (0, 1)])}, "position-out-of-range"),
        ({2: (RATIONAL, [(54, 1), (60, 1), (0, 1)])}, "position-minutes"),
        ({2: (RATIONAL, [(54, 1), (27, 1), (6001, 100)])}, "position-minutes"),
        ({2: (RATIONAL, [(54, 1), (27, 0), (39, 1)])}, "position-zero-denominator"),
        ({2: (SRATIONAL, [(-54, 1), (27, 1), (39, 1)])}, "position-negative"),
        ({2: (RATIONAL, [(54, 1), (27, 1)])}, "position-form"),
        ({2: (ASCII, "54.4609")}, "position-form"),
    ],
)
def test_position_in_doubt_is_reported_and_not_used(a_photo, tags: dict, code: str) -> None:
    facts = read(a_photo(tags))
    assert (facts.lat, facts.lon) == (None, None)
    assert code in codes(facts)
    assert all(t.refused for t in facts.troubles if t.code == code)


def test_pole_and_the_180th_meridian_are_positions(a_photo) -> None:
    south_pole = {1: (ASCII, "S"), 2: (RATIONAL, [(90, 1), (0, 1), (0, 1)])}
    date_line = {3: (ASCII, "E"), 4: (RATIONAL, [(180, 1), (0, 1), (0, 1)])}
    facts = read(a_photo({**south_pole, **date_line}))
    assert (facts.lat, facts.lon) == (-90.0, -180.0)


def test_zero_position_is_told_and_is_no_position(a_photo) -> None:
    nought = (RATIONAL, [(0, 1), (0, 1), (0, 1)])
    facts = read(a_photo({2: nought, 4: nought}))
    assert (facts.lat, facts.lon) == (0.0, 0.0)
    assert not facts.has_position
    assert "zero-position" in codes(facts)


def test_equator_away_from_the_zero_meridian_is_a_position(a_photo) -> None:
    facts = read(a_photo({2: (RATIONAL, [(0, 1), (0, 1), (0, 1)])}))
    assert facts.lat == 0.0
    assert facts.has_position


@pytest.mark.parametrize(
    ("ref", "value", "height_m", "code"),
    [
        ((BYTE, [0]), (RATIONAL, [(4123, 10)]), 412.3, None),
        ((BYTE, [1]), (RATIONAL, [(4123, 10)]), -412.3, None),
        ((ASCII, "1"), (RATIONAL, [(4123, 10)]), -412.3, None),
        ((BYTE, [2]), (RATIONAL, [(4123, 10)]), 412.3, "height-ellipsoid"),
        ((BYTE, [3]), (RATIONAL, [(30, 1)]), -30.0, "height-ellipsoid"),
        ((BYTE, [7]), (RATIONAL, [(4123, 10)]), None, "height-bad-ref"),
        (None, (RATIONAL, [(4123, 10)]), 412.3, "height-no-ref"),
        ((BYTE, [0]), (RATIONAL, [(0, 1)]), 0.0, "height-zero"),
        ((BYTE, [1]), (RATIONAL, [(451, 1)]), -451.0, "height-odd"),
        ((BYTE, [0]), (RATIONAL, [(8901, 1)]), 8901.0, "height-odd"),
        ((BYTE, [0]), (RATIONAL, [(4294966884, 1000)]), None, "height-out-of-range"),
        ((BYTE, [0]), (RATIONAL, [(1, 0)]), None, "height-zero-denominator"),
        ((BYTE, [1]), (SRATIONAL, [(-30, 1)]), None, "height-negative"),
        ((BYTE, [0]), (ASCII, "412 m"), None, "height-form"),
    ],
)
def test_height_with_its_reference(a_photo, ref, value, height_m: float | None, code: str | None) -> None:
    facts = read(a_photo({5: ref, 6: value}))
    assert facts.height_m == height_m
    assert codes(facts) == ([] if code is None else [code])


@pytest.mark.parametrize(
    ("value", "direction", "code"),
    [
        ([(35999, 100)], 359.99, None),
        ([(360, 1)], 0.0, None),
        ([(36001, 100)], None, "direction-out-of-range"),
        ([(90, 0)], None, "direction-zero-denominator"),
    ],
)
def test_direction_is_within_the_circle(a_photo, value, direction: float | None, code: str | None) -> None:
    facts = read(a_photo({16: (ASCII, "T"), 17: (RATIONAL, value)}))
    assert facts.direction_deg == direction
    assert codes(facts) == ([] if code is None else [code])


@pytest.mark.parametrize(("ref", "code"), [((ASCII, "M"), "direction-magnetic"), (None, "direction-no-ref")])
def test_direction_of_another_north_is_kept_and_told(a_photo, ref, code: str) -> None:
    facts = read(a_photo({16: ref, 17: (RATIONAL, [(90, 1)])}))
    assert facts.direction_deg == 90.0
    assert codes(facts) == [code]


@pytest.mark.parametrize(
    ("value", "accuracy_m", "code"),
    [
        ([(5, 1)], 5.0, None),
        ([(0, 1)], None, "accuracy-zero"),
        ([(5, 0)], None, "accuracy-zero-denominator"),
        ([(4294967295, 1)], None, "accuracy-out-of-range"),
    ],
)
def test_accuracy_of_nothing_is_not_known(a_photo, value, accuracy_m: float | None, code: str | None) -> None:
    facts = read(a_photo({31: (RATIONAL, value)}))
    assert facts.accuracy_m == accuracy_m
    assert codes(facts) == ([] if code is None else [code])


@pytest.mark.parametrize("datum", ["WGS-84", "WGS84", "wgs 84 ", "WGS-84\0\0\0"])
def test_every_spelling_of_wgs84_passes(a_photo, datum: str) -> None:
    assert codes(read(a_photo({18: (ASCII, datum)}))) == []


@pytest.mark.parametrize(
    ("text", "camera_at"),
    [
        ("2027:02:14 10:30:00", datetime(2027, 2, 14, 10, 30)),  # noqa: DTZ001 a camera's clock has no zone
        ("2027-02-14T10:30:00", datetime(2027, 2, 14, 10, 30)),  # noqa: DTZ001
        ("2028:02:29 23:59:60", datetime(2028, 3, 1)),  # noqa: DTZ001
        ("2027:02:29 10:30:00", None),
        ("2027:02:14 24:00:00", None),
        ("2027:02:14", None),
        ("0000:00:00 00:00:00", None),
        ("    :  :     :  :  ", None),
        ("yesterday", None),
        ("２０２７:02:14 10:30:00".encode().decode("latin-1"), None),
    ],
)
def test_date_of_taking(a_photo, text: str, camera_at: datetime | None) -> None:
    facts = read(a_photo(exif={0x9003: (ASCII, text)}))
    assert facts.camera_at == camera_at
    assert (camera_at is None) == bool({"date-unknown", "date-impossible"} & set(codes(facts)))


@pytest.mark.parametrize(
    ("text", "offset"),
    [
        ("+01:00", timedelta(hours=1)),
        ("-03:30", -timedelta(hours=3, minutes=30)),
        ("+14:00", timedelta(hours=14)),
        ("Z", timedelta(0)),
        ("+14:01", None),
        ("+01:60", None),
        ("1:00", None),
        ("   :  ", None),
    ],
)
def test_offset_of_the_camera_clock(a_photo, text: str, offset: timedelta | None) -> None:
    facts = read(a_photo(exif={0x9011: (ASCII, text)}))
    assert facts.offset == offset
    assert (offset is None) == bool({"offset-unknown", "offset-impossible"} & set(codes(facts)))


@pytest.mark.parametrize(
    ("text", "microseconds"), [("7", 700000), ("045", 45000), ("935476", 935476), ("9354769", 935476), ("45  ", 450000)]
)
def test_sub_seconds_stand_behind_the_point(a_photo, text: str, microseconds: int) -> None:
    facts = read(a_photo(exif={0x9291: (ASCII, text)}))
    assert facts.camera_at is not None
    assert facts.camera_at.microsecond == microseconds


def test_sub_seconds_that_are_no_digits_are_told(a_photo) -> None:
    facts = read(a_photo(exif={0x9291: (ASCII, "4x")}))
    assert facts.camera_at == datetime(2027, 2, 14, 10, 30)  # noqa: DTZ001
    assert codes(facts) == ["sub-second-form"]


CLOCK = (RATIONAL, [(9, 1), (30, 1), (1025, 100)])


@pytest.mark.parametrize(
    ("date", "clock", "gps_at", "code"),
    [
        ("2027:02:14", CLOCK, datetime(2027, 2, 14, 9, 30, 10, 250000, tzinfo=UTC), None),
        ("2027-02-14", CLOCK, datetime(2027, 2, 14, 9, 30, 10, 250000, tzinfo=UTC), None),
        ("2027:02:14 23:00:00", CLOCK, datetime(2027, 2, 14, 9, 30, 10, 250000, tzinfo=UTC), None),
        (None, CLOCK, None, "gps-time-no-date"),
        ("0000:00:00", CLOCK, None, "gps-date-unknown"),
        ("2027:13:01", CLOCK, None, "gps-date-impossible"),
        ("2027:02:14", None, None, "gps-date-no-time"),
        ("2027:02:14", (RATIONAL, [(24, 1), (0, 1), (0, 1)]), None, "gps-time-out-of-range"),
        ("2027:02:14", (RATIONAL, [(9, 1), (30, 0), (0, 1)]), None, "gps-time-zero-denominator"),
        ("2027:02:14", (ASCII, "09:30:10"), None, "gps-time-form"),
        ("1980:01:06", CLOCK, None, "gps-clock-not-set"),
        # 1024 weeks are 7168 days: 14 February 2027 less that is 1 July 2007
        ("2007:07:01", CLOCK, None, "gps-clock-not-set"),
    ],
)
def test_satellite_time(a_photo, date, clock, gps_at: datetime | None, code: str | None) -> None:
    facts = read(a_photo({7: clock, 29: None if date is None else (ASCII, date)}))
    assert facts.gps_at == gps_at
    assert codes(facts) == ([] if code is None else [code])
    assert facts.has_position


def test_garbled_satellite_time_takes_the_position_with_it(a_photo) -> None:
    facts = read(a_photo({7: (RATIONAL, [(0, 1), (1950679091, 1), (18, 1)]), 29: (ASCII, "2027:02:14")}))
    assert facts.lat is None
    assert codes(facts) == ["damaged-gps"]


def test_two_values_in_one_place_are_damage(a_photo) -> None:
    photo = a_photo({7: CLOCK})
    block = bytearray(photo.tiff())
    entry = {2: None, 7: None}
    for at in range(len(block) - 12):
        for tag in entry:
            if block[at : at + 8] == bytes([tag, 0, 5, 0, 3, 0, 0, 0]):
                entry[tag] = at
    block[entry[7] + 8 : entry[7] + 12] = block[entry[2] + 8 : entry[2] + 12]
    facts = read_photo(bytes(block))
    assert facts is not None
    assert facts.lat is None
    assert "damaged-gps" in codes(facts)


@pytest.mark.parametrize(("value", "orientation"), [(0, None), (1, 1), (8, 8), (9, None)])
def test_orientation_is_one_of_eight(a_photo, value: int, orientation: int | None) -> None:
    facts = read(a_photo(image={0x0112: (SHORT, [value])}))
    assert facts.orientation == orientation
    assert ("orientation-out-of-range" in codes(facts)) == (orientation is None)


def test_maker_and_model_are_read(a_photo) -> None:
    facts = read(a_photo(image={0x010F: (ASCII, "Invented Optics "), 0x0110: (ASCII, "Model T")}))
    assert (facts.make, facts.model) == ("Invented Optics", "Model T")


def test_photo_is_not_read_beyond_its_metadata(a_photo) -> None:
    class Counting(io.BytesIO):
        read_bytes = 0

        def read(self, size: int | None = -1, /) -> bytes:
            got = super().read(size)
            self.read_bytes += len(got)
            return got

    picture = a_photo().jpeg()[:-2] + bytes(8_000_000)
    stream = Counting(picture)
    facts = read_photo(stream)
    assert facts is not None
    assert facts.has_position
    assert stream.read_bytes < 4096


def test_facts_of_a_stream_are_those_of_its_bytes(a_photo) -> None:
    data = a_photo({31: (RATIONAL, [(5, 1)])}).jpeg()
    assert read_photo(io.BytesIO(data)) == read_photo(data)
