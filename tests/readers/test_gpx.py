"""The track reader, trait by trait, and against gpxpy where that reads the same file."""

from __future__ import annotations

import io
import random
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import gpxpy
import gpxpy.gpx
import pytest

from field.readers.gpx import MOST_TOLD, PIECE, looks_like_xml, read_track
from field.readers.gpx_time import read_time
from field.readers.photo_time import show_instant
from field.readers.track import Track, instant_of

POINT = '<trkpt lat="54.4609" lon="-3.0886"><ele>100</ele><time>2027-02-14T09:00:00Z</time></trkpt>'


def gpx(inside: str, attributes: str = 'version="1.1" xmlns="http://www.topografix.com/GPX/1/1"') -> bytes:
    return f"<gpx {attributes}>{inside}</gpx>".encode()


def read(data: bytes) -> Track:
    return read_track(io.BytesIO(data))


def codes(track: Track) -> list[str]:
    return [t.code for t in track.troubles]


def walk(points: int, seed: int = 7) -> gpxpy.gpx.GPX:
    """Return a walk of a few segments written by gpxpy, some points without height or time."""
    rng = random.Random(seed)
    made = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack(name="walk & <back>")
    made.tracks.append(track)
    lat, lon, at = 55.31, -3.42, datetime(2027, 2, 14, 9, 0, tzinfo=UTC)
    for n in range(points):
        if n % 97 == 0:
            track.segments.append(gpxpy.gpx.GPXTrackSegment())
        lat, lon, at = lat + rng.gauss(0, 1e-4), lon + rng.gauss(0, 1e-4), at + timedelta(seconds=rng.randint(0, 30))
        height = None if n % 13 == 0 else round(rng.uniform(200, 400), 1)
        time = None if n % 29 == 0 else at
        track.segments[-1].points.append(gpxpy.gpx.GPXTrackPoint(round(lat, 7), round(lon, 7), height, time))
    return made


def test_gpxpy_and_this_reader_see_the_same_points() -> None:
    made = walk(500)
    got = read(made.to_xml().encode())
    oracle = gpxpy.parse(made.to_xml())
    points = [point for track in oracle.tracks for segment in track.segments for point in segment.points]
    assert [len(s) for s in got.segments()] == [len(s.points) for t in oracle.tracks for s in t.segments]
    assert got.track_names == [track.name for track in oracle.tracks]
    assert list(zip(got.lats, got.lons, strict=True)) == [(p.latitude, p.longitude) for p in points]
    assert [h if h == h else None for h in got.heights] == [p.elevation for p in points]
    assert [instant_of(t) if t == t else None for t in got.times] == [p.time for p in points]
    assert got.troubles == []


def test_file_longer_than_one_piece_is_read_whole() -> None:
    data = gpx("<trk><trkseg>" + POINT * 4000 + "</trkseg></trk>")
    assert len(data) > PIECE
    assert read(data).points == 4000


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1", "windows-1252", "cp437", "shift_jis", "gb18030"])
def test_file_is_read_in_the_encoding_it_declares(encoding: str) -> None:
    name = {"shift_jis": "山", "gb18030": "山"}.get(encoding, "Kåfjord")
    text = (
        f'<?xml version="1.0" encoding="{encoding}"?>'
        + gpx(f"<trk><name>{name}</name><trkseg>{POINT}</trkseg></trk>").decode()
    )
    got = read(text.encode(encoding))
    assert (got.name, got.points, got.troubles) == (name, 1, [])


def test_unknown_encoding_is_refused_by_its_name() -> None:
    got = read(b'<?xml version="1.0" encoding="x-stone"?>' + gpx(""))
    assert codes(got) == ["unknown-encoding"]
    assert "x-stone" in got.troubles[0].text


@pytest.mark.parametrize("inside", ["trk", "wpt", "rte", "metadata"])
def test_points_in_other_places_are_passed_over(inside: str) -> None:
    assert read(gpx(f"<{inside}>{POINT}</{inside}>")).points == 0


def test_foreign_element_of_the_same_name_is_passed_over() -> None:
    foreign = f'<x:trkpt lat="1" lon="1"/><trkpt xmlns="urn:other" lat="2" lon="2"/>{POINT}'
    got = read(gpx(f'<trk><trkseg xmlns:x="urn:x">{foreign}</trkseg></trk>'))
    assert list(got.lats) == [54.4609]


def test_namespace_bound_twice_is_the_same_namespace() -> None:
    uri = "http://www.topografix.com/GPX/1/1"
    got = read(gpx(f"<g:trk><trkseg>{POINT}</trkseg></g:trk>", f'version="1.1" xmlns="{uri}" xmlns:g="{uri}"'))
    assert got.points == 1


def test_prefix_that_is_nowhere_bound_does_not_lose_the_file() -> None:
    hung = POINT.replace("</trkpt>", "<extensions><h:hr>90</h:hr></extensions></trkpt>")
    assert read(gpx(f"<trk><trkseg>{hung}</trkseg></trk>")).points == 1


def test_heights_and_times_inside_extensions_are_passed_over() -> None:
    point = '<trkpt lat="54" lon="-3"><extensions><ele>9</ele><time>2027-02-14T09:00:00Z</time></extensions></trkpt>'
    got = read(gpx(f"<trk><trkseg>{point}</trkseg></trk>"))
    assert got.heights[0] != got.heights[0]
    assert got.times[0] != got.times[0]


def test_many_bad_points_are_told_one_by_one_up_to_a_limit() -> None:
    got = read(gpx("<trk><trkseg>" + '<trkpt lat="x" lon="0"/>' * (MOST_TOLD + 5) + "</trkseg></trk>"))
    assert got.bad_points == MOST_TOLD + 5
    assert codes(got) == ["bad-point"] * MOST_TOLD + ["bad-points-more"]
    assert got.troubles[-1].text.endswith(": 5.")


@pytest.mark.parametrize("attribute", ["lat", "lon"])
@pytest.mark.parametrize("value", ["", "nan", "-inf", "1_0", "1,0", "0x10", "१०", "1e400", "ten"])
def test_what_is_no_decimal_number_is_a_bad_point(attribute: str, value: str) -> None:
    point = POINT.replace(f'{attribute}="', f'{attribute}="{value}" was="')
    got = read(gpx(f"<trk><trkseg>{point}</trkseg></trk>"))
    assert (got.points, got.bad_points) == (0, 1)


@pytest.mark.parametrize(("lat", "kept"), [("90", 1), ("-90", 1), ("90.0000001", 0), ("-90.0000001", 0)])
def test_latitude_ends_at_the_poles(lat: str, kept: int) -> None:
    assert read(gpx(f'<trk><trkseg><trkpt lat="{lat}" lon="1"/></trkseg></trk>')).points == kept


@pytest.mark.parametrize(("lon", "kept"), [("180", -180.0), ("-180", -180.0), ("180.0000001", None)])
def test_180_is_read_as_its_other_name(lon: str, kept: float | None) -> None:
    got = read(gpx(f'<trk><trkseg><trkpt lat="1" lon="{lon}"/></trkseg></trk>'))
    assert list(got.lons) == ([] if kept is None else [kept])


@pytest.mark.parametrize(
    ("text", "utc", "remark"),
    [
        # xsd:dateTime (XML Schema part 2, 3.2.7), each worked out by hand
        ("2027-02-14T09:00:00Z", "2027-02-14T09:00:00Z", None),
        ("2027-02-14T10:30:00+01:30", "2027-02-14T09:00:00Z", None),
        ("2027-02-14T00:30:00+01:00", "2027-02-13T23:30:00Z", None),
        ("2027-02-14T09:00:00.5Z", "2027-02-14T09:00:00.5Z", None),
        ("2027-02-14T09:00:00.123456789Z", "2027-02-14T09:00:00.123456Z", None),
        ("2027-02-14T24:00:00Z", "2027-02-15T00:00:00Z", None),
        ("2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z", "time-leap-second"),
        ("2027-02-14T09:00:00", "2027-02-14T09:00:00Z", "time-no-zone"),
        # RFC 3339, 5.6: a blank for the T, and small letters
        ("2027-02-14 09:00:00Z", "2027-02-14T09:00:00Z", None),
        ("2027-02-14t09:00:00z", "2027-02-14T09:00:00Z", None),
        ("2027-02-14 10:30:00+01:30", "2027-02-14T09:00:00Z", None),
    ],
)
def test_time_is_read_as_utc(text: str, utc: str, remark: str | None) -> None:
    got = read_time(text)
    assert got is not None
    assert (show_instant(instant_of(got[0])), got[1]) == (utc, remark)


@pytest.mark.parametrize(
    "text",
    ["", "2027-02-14", "20270214T090000Z", "2027-W06-7T09:00:00Z", "2027-02-30T09:00:00Z", "2027-02-14T25:00:00Z",
     "2027-02-14T24:00:01Z", "2027-02-14  9:00:00Z", "14/02/2027 09:00", "2027-02-14T09:00:61Z", "０２-14T09:00:00Z"],
)  # fmt: skip
def test_what_is_no_time_is_none(text: str) -> None:
    assert read_time(text) is None


def test_times_of_one_minute_are_each_read_by_themselves() -> None:
    # 14 February 2027, 09:00 UTC = 1802595600 s since 1970; 15 February 00:00 = 1802649600 s
    times = {
        "2027-02-14T09:00:07Z": 1802595607.0,
        "2027-02-14T09:00:59Z": 1802595659.0,
        "2027-02-14T09:00:08.5Z": 1802595608.5,
        "2027-02-14T09:00:61Z": None,
        "2027-02-14T09:00:60Z": 1802595660.0,
        "2027-02-14T09:00:1Z": None,
        "2027-02-14T10:00:09+01:00": 1802595609.0,
        "2027-02-14T09:01:00Z": 1802595660.0,
        "2027-02-14T24:00:00Z": 1802649600.0,
        "2027-02-14T24:00:05Z": None,
    }
    inside = "".join(f'<trkpt lat="54.{n}" lon="-3"><time>{t}</time></trkpt>' for n, t in enumerate(times))
    got = read(gpx(f"<trk><trkseg>{inside}</trkseg></trk>"))
    assert [None if t != t else t for t in got.times] == list(times.values())


def test_time_in_a_rolled_over_week_is_kept_out_of_matching_and_later_ones_are_not() -> None:
    # 1024 weeks = 7168 days; 14 February 2027 less that is 1 July 2007
    times = ["2007-07-01T09:00:00Z", "2007-07-01T09:00:10Z", "2027-02-14T09:00:20Z", "2027-02-14T09:00:30Z"]
    inside = "".join(f'<trkpt lat="54.{n}" lon="-3"><time>{t}</time></trkpt>' for n, t in enumerate(times))
    got = read(gpx(f"<trk><trkseg>{inside}</trkseg></trk>"))
    assert got.unsure_times == {0, 1}
    assert "week-rollover" in codes(got)


def test_walks_years_apart_are_no_rollover() -> None:
    times = ["2007-09-01T09:00:00Z", "2027-02-14T09:00:20Z", "2027-02-14T09:00:30Z"]
    inside = "".join(f'<trkpt lat="54.{n}" lon="-3"><time>{t}</time></trkpt>' for n, t in enumerate(times))
    assert read(gpx(f"<trk><trkseg>{inside}</trkseg></trk>")).unsure_times == frozenset()


def test_file_cut_at_any_byte_keeps_the_points_before_and_says_so() -> None:
    data = walk(6).to_xml().encode()
    ends = [at + len(b"</trkpt>") for at in range(len(data)) if data[at:].startswith(b"</trkpt>")]
    assert len(ends) == 6
    for end in range(len(data) - 1):
        got = read(data[:end])
        assert got.points == sum(at <= end for at in ends)
        assert any(t.refused for t in got.troubles)


def test_damage_in_the_middle_keeps_what_came_before_with_its_line() -> None:
    data = f"<gpx>\n<trk><trkseg>\n{POINT}\n{POINT}\n<trkpt lat='1' lon='1'><</trkpt></trkseg></trk></gpx>".encode()
    got = read(data)
    assert got.points == 2
    assert codes(got) == ["malformed"]
    assert "line 5" in got.troubles[0].text


def test_entity_is_refused_before_anything_is_expanded() -> None:
    bomb = '<!ENTITY a0 "x">' + "".join(f'<!ENTITY a{n} "' + f"&a{n - 1};" * 10 + '">' for n in range(1, 40))
    got = read(f"<!DOCTYPE gpx [{bomb}]><gpx><trk><name>&a39;</name></trk></gpx>".encode())
    assert codes(got) == ["entity-declaration"]


def test_one_endless_tag_is_refused() -> None:
    got = read(b"<gpx><trk><trkseg><trkpt lat='" + b"1" * 5_000_000)
    assert codes(got) == ["huge-piece"]


def test_long_text_is_no_endless_tag() -> None:
    got = read(gpx(f"<trk><desc>{'word ' * 600_000}</desc><trkseg>{POINT}</trkseg></trk>"))
    assert (got.points, got.troubles) == (1, [])


def test_whatever_is_read_again_is_told_once() -> None:
    data = gpx(f"<trk><name>K\xe5fjord</name><trkseg>{POINT}<trkpt lat='x' lon='1'/></trkseg></trk>")
    got = read(data.decode().encode("latin-1"))
    assert got.name == "K\N{REPLACEMENT CHARACTER}fjord"
    assert sorted(codes(got)) == ["bad-point", "damaged-text"]
    assert (got.points, got.bad_points) == (1, 1)


@pytest.mark.parametrize(
    ("head", "is_xml"),
    [(b"<gpx", True), (b"\xef\xbb\xbf \n<?xml", True), ("<gpx".encode("utf-16"), True), (b"", False), (b"gpx<", False)],
)
def test_xml_is_known_by_its_first_sign(head: bytes, is_xml: bool) -> None:
    assert looks_like_xml(head) is is_xml


def test_memory_is_the_arrays_and_little_else(an_hour_of_points: Callable[[int], bytes]) -> None:
    got = read(an_hour_of_points(20_000))
    arrays = (got.lats, got.lons, got.heights, got.times, got.lines)
    # 36 bytes a point, and room that an array holds ready for growing (an eighth)
    assert sum(sys.getsizeof(one) for one in arrays) <= 20_000 * 36 * 1.2


@pytest.fixture
def an_hour_of_points() -> Callable[[int], bytes]:
    def make(points: int) -> bytes:
        start = datetime(2027, 2, 14, 9, 0, tzinfo=UTC)
        inside = "".join(
            f'<trkpt lat="{54 + n * 1e-6:.6f}" lon="-3"><ele>{n % 50}</ele>'
            f"<time>{show_instant(start + timedelta(seconds=n))}</time></trkpt>"
            for n in range(points)
        )
        return gpx(f"<trk><trkseg>{inside}</trkseg></trk>")

    return make
