"""Tracks of many makers, and broken ones, against figures that came from elsewhere.

Source of every figure: tests/vectors/gpx_answers.json, a copy of the project's outside check vectors; computed there
by reading the XML with lxml 6.1.3 and summing WGS 84 geodesics with geographiclib 2.1. The broken tracks stand in
tests/files/gpx; the real ones are other people's and are not part of the project.
Tolerances: counts, times and names exact; lengths 0.01 m and 1e-6 of the length. The climb has a threshold against
noise, so the plain sum of rises is its upper limit.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from field.readers import track as figures_of
from field.readers.gpx import read_track
from field.readers.photo_time import show_instant
from field.readers.track import Track, Waypoint

TESTS = Path(__file__).resolve().parent.parent
ANSWERS = json.loads((TESTS / "vectors" / "gpx_answers.json").read_text(encoding="utf-8"))
BAD = {case["file"].removeprefix("bad/"): case for case in ANSWERS["bad"]}
REAL = {case["file"]: case for case in ANSWERS["files"]}


def read(path: Path) -> Track:
    with path.open("rb") as stream:
        return read_track(stream)


def close(got_m: float, want_m: float) -> bool:
    return abs(got_m - want_m) <= 0.01 + 1e-6 * want_m


def waypoint(one: Waypoint) -> dict[str, Any]:
    at = None if one.at is None else show_instant(one.at)
    return {"name": one.name, "lat": one.lat, "lon": one.lon, "ele": one.height_m, "time": at}


@pytest.mark.parametrize("name", sorted(REAL))
def test_real_track_has_the_counts_times_and_bounds_of_the_answers(name: str, real_files: Path) -> None:
    got, want = read(real_files / "gpx" / name), REAL[name]["answer"]
    span, box = figures_of.time_span(got), figures_of.bounds(got)
    assert got.version == want["version"]
    assert [len(segment) for segment in got.segments()] == want["points_per_segment"]
    assert got.track_names == want["track_names"]
    assert (got.points, len(got.waypoints), len(got.routes)) == (
        want["track_points"],
        want["waypoints"],
        want["routes"],
    )
    assert sum(len(route.lats) for route in got.routes) == want["route_points"]
    assert sum(t == t for t in got.times) == want["points_with_time"]
    assert sum(h == h for h in got.heights) == want["points_with_elevation"]
    assert (
        [None, None]
        if span is None
        else [show_instant(at) for at in span]
        == [
            want["start_time"],
            want["end_time"],
        ]
    )
    corners = ("min_lon", "min_lat", "max_lon", "max_lat")
    assert box == (None if want["bounds"] is None else [want["bounds"][corner] for corner in corners])
    assert [waypoint(one) for one in got.waypoints[: len(want["waypoint_list"])]] == want["waypoint_list"]


@pytest.mark.parametrize("name", sorted(REAL))
def test_real_track_is_as_long_as_its_geodesics(name: str, real_files: Path) -> None:
    assert close(figures_of.length_m(read(real_files / "gpx" / name)), REAL[name]["answer"]["length_2d_m"])


@pytest.mark.parametrize("name", sorted(REAL))
def test_climb_of_a_real_track_is_never_more_than_its_plain_rises(name: str, real_files: Path) -> None:
    climb_m, plain_m = figures_of.climb_m(read(real_files / "gpx" / name)), REAL[name]["answer"]["raw_climb_m"]
    if plain_m is None:
        assert climb_m is None
    else:
        assert climb_m is not None
        assert 0.0 <= climb_m <= plain_m + 1e-6


@pytest.mark.parametrize("name", sorted(BAD))
def test_broken_track_keeps_its_good_points(name: str) -> None:
    got, want = read(TESTS / "files" / "gpx" / name), BAD[name]
    assert got.points >= want.get("min_good_points", 0)
    assert got.points == want.get("good_points", got.points)
    assert got.bad_points == want.get("bad_points", got.bad_points)
    assert got.name == want.get("name", got.name)
    if "length_2d_m" in want:
        assert close(figures_of.length_m(got), want["length_2d_m"])


@pytest.mark.parametrize("name", sorted(name for name, case in BAD.items() if case.get("bad_points")))
def test_bad_point_is_told_with_its_line(name: str) -> None:
    told = [t for t in read(TESTS / "files" / "gpx" / name).troubles if t.code == "bad-point"]
    assert len(told) == 1
    assert f"line {BAD[name]['bad_line']} " in told[0].text


@pytest.mark.parametrize(
    ("name", "code", "refused"),
    [
        # what "expect" of the answers asks for in words
        ("truncated-mid-point.gpx", "cut-off", True),
        ("truncated-mid-tag.gpx", "cut-off", True),
        ("empty.gpx", "empty", True),
        ("not-xml.gpx", "not-gpx", True),
        ("html.gpx", "web-page", True),
        ("other-root.gpx", "other-xml", True),
        ("gpx-without-content.gpx", "nothing-in-it", False),
        ("billion-laughs.gpx", "entity-declaration", True),
        ("quadratic-blowup.gpx", "entity-declaration", True),
        ("xxe-file.gpx", "entity-declaration", True),
        ("xxe-parameter-entity.gpx", "entity-declaration", True),
        ("latin1-declared-as-utf8.gpx", "damaged-text", False),
        ("utf16-declared-is-utf8.gpx", "wrong-encoding", False),
        ("leading-whitespace.gpx", "leading-space", False),
        ("nul-bytes-at-end.gpx", "after-the-end", False),
        ("ele-nan.gpx", "bad-height", True),
        ("ele-text.gpx", "bad-height", True),
        ("ele-absurd.gpx", "odd-height", False),
        ("time-bad-month.gpx", "bad-time", True),
        ("time-date-only.gpx", "bad-time", True),
        ("time-no-zone.gpx", "time-no-zone", False),
        ("time-leap-second.gpx", "time-leap-second", False),
        ("time-1980.gpx", "clock-not-set", True),
        ("time-week-rollover.gpx", "week-rollover", True),
        ("times-backwards.gpx", "time-backwards", False),
        ("time-jump-back-once.gpx", "time-backwards", False),
        ("wrong-namespace.gpx", "unknown-namespace", False),
        ("version-2.gpx", "unknown-version", False),
        ("bare-ampersand.gpx", "malformed-empty", True),
        ("name-control-char.gpx", "malformed-empty", True),
    ],
)
def test_broken_track_says_what_is_wrong(name: str, code: str, refused: bool) -> None:
    told = {t.code: t for t in read(TESTS / "files" / "gpx" / name).troubles}
    assert code in told
    assert told[code].refused is refused


@pytest.mark.parametrize(
    ("name", "line"), [("bare-ampersand.gpx", 3), ("name-control-char.gpx", 3), ("time-1980.gpx", 6)]
)
def test_trouble_names_its_line(name: str, line: int) -> None:
    assert any(f"line {line}" in t.text for t in read(TESTS / "files" / "gpx" / name).troubles)


@pytest.mark.parametrize("name", ["control-good.gpx", "utf8-bom.gpx", "prefixed-namespace.gpx", "wpt-rte-trk.gpx"])
def test_sound_track_has_no_trouble(name: str) -> None:
    assert read(TESTS / "files" / "gpx" / name).troubles == []


def test_text_of_another_file_never_appears(tmp_path: Path) -> None:
    secret = "a word that stands in another file"
    (tmp_path / "other.txt").write_text(secret, encoding="utf-8")
    canary = (TESTS / "files" / "gpx" / "canary.txt").read_text(encoding="utf-8")
    lured = tmp_path / "lured.gpx"
    text = (TESTS / "files" / "gpx" / "xxe-file.gpx").read_text(encoding="utf-8")
    assert "canary.txt" in text
    lured.write_text(text.replace("canary.txt", (tmp_path / "other.txt").as_uri()), encoding="utf-8")
    for path, word in ((lured, secret), (TESTS / "files" / "gpx" / "xxe-file.gpx", canary.strip())):
        got = read(path)
        assert word not in repr(got)
        assert got.points == 0


def test_track_over_the_180th_meridian_has_west_greater_than_east() -> None:
    box = figures_of.bounds(read(TESTS / "files" / "gpx" / "antimeridian.gpx"))
    # the file's own figures: longitudes 179.9990 to -179.9989, latitude -16.8
    assert box == [179.999, -16.8, -179.9989, -16.8]


def test_time_of_another_zone_is_turned_to_utc() -> None:
    got = read(TESTS / "files" / "gpx" / "time-offset.gpx")
    assert show_instant(figures_of.instant_of(got.times[2])) == BAD["time-offset.gpx"]["time"]


@pytest.mark.parametrize("name", ["no-elevations.gpx", "single-point.gpx"])
def test_climb_is_not_known_without_two_heights(name: str) -> None:
    assert figures_of.climb_m(read(TESTS / "files" / "gpx" / name)) is None


@pytest.mark.parametrize("name", ["time-1980.gpx", "time-week-rollover.gpx"])
def test_point_whose_clock_was_wrong_is_kept_and_not_matched_by(name: str) -> None:
    got = read(TESTS / "files" / "gpx" / name)
    assert got.points == 5
    assert got.unsure_times == {2}


def test_long_name_is_cut_for_display() -> None:
    name = read(TESTS / "files" / "gpx" / "name-long.gpx").name
    assert name is not None
    assert len(name) == 200
