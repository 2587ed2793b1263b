"""Figures of a track, on small ones whose answers can be worked out by hand."""

from __future__ import annotations

import itertools
from array import array

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from field.readers.track import Track, bounds, climb_m, find_stops, length_m, thin_line, time_span

NAN = float("nan")


def a_track(*segments: list[tuple], unsure: frozenset[int] = frozenset()) -> Track:
    """Return a track; a point is (lat, lon[, height[, time]])."""
    track = Track(unsure_times=unsure)
    for segment in segments:
        track.segment_starts.append(track.points)
        for point in segment:
            lat, lon, height, time = (*point, NAN, NAN)[:4]
            track.lats.append(lat)
            track.lons.append(lon)
            track.heights.append(height)
            track.times.append(time)
            track.lines.append(1)
    return track


def heights(*values: float) -> Track:
    return a_track([(54.0, -3.0, height) for height in values])


def test_length_joins_points_only_inside_a_segment() -> None:
    # one degree of longitude on the equator: a * pi / 180 = 111,319.491 m (a = 6,378,137 m)
    track = a_track([(0.0, 0.0), (0.0, 1.0)], [(0.0, 50.0), (0.0, 51.0)])
    assert abs(length_m(track) - 2 * 111_319.491) < 0.01


def test_length_of_nothing_and_of_one_point_is_zero() -> None:
    assert length_m(Track()) == 0.0
    assert length_m(a_track([(54.0, -3.0)])) == 0.0


@given(st.lists(st.tuples(st.floats(-89, 89), st.floats(-180, 179)), min_size=2, max_size=6))
def test_length_is_that_of_the_geodesics(points: list[tuple[float, float]]) -> None:
    legs = itertools.pairwise(points)
    want_m = sum(Geodesic.WGS84.Inverse(*here, *there)["s12"] for here, there in legs)
    # 0.1 m a leg is what the near formula promises; the far one is exact
    assert abs(length_m(a_track(points)) - want_m) <= 0.1 * len(points) + 1e-9 * want_m


@pytest.mark.parametrize(
    ("values", "climb"),
    [
        ((100.0, 105.0, 100.0), 0.0),  # 5 m are noise
        ((100.0, 105.1, 100.0), 5.1),
        ((100.0, 103.0, 106.0, 109.0), 9.0),  # small steps add up to one rise
        ((100.0, 110.0, 106.0, 120.0), 20.0),  # a dip of 4 m inside a rise is noise
        ((100.0, 110.0, 104.0, 120.0), 26.0),  # one of 6 m is not: 10 and 16
        ((120.0, 100.0), 0.0),
        ((100.0, 99_999.0, 100.0), 0.0),  # no height at all
        ((NAN, 100.0, NAN, 110.0), 10.0),
    ],
)
def test_climb_counts_rises_beyond_the_noise(values: tuple[float, ...], climb: float) -> None:
    got = climb_m(heights(*values))
    assert got is not None
    assert abs(got - climb) < 1e-9


def test_climb_is_not_known_without_heights() -> None:
    assert climb_m(a_track([(54.0, -3.0), (54.0, -3.1)])) is None
    assert climb_m(Track()) is None


def test_climb_does_not_join_segments() -> None:
    assert climb_m(a_track([(54.0, -3.0, 100.0), (54.0, -3.0, 100.0)], [(54.0, -3.0, 900.0)])) == 0.0


@given(st.lists(st.floats(0, 2000), min_size=2, max_size=30))
def test_climb_is_never_more_than_the_plain_rises(values: list[float]) -> None:
    got = climb_m(heights(*values))
    assert got is not None
    assert 0.0 <= got <= sum(max(0.0, b - a) for a, b in itertools.pairwise(values)) + 1e-6


@pytest.mark.parametrize(
    ("lons", "west", "east"),
    [
        ([-3.0, -2.0], -3.0, -2.0),
        ([-2.0, -3.0], -3.0, -2.0),
        ([179.5, -179.5], 179.5, -179.5),
        ([-179.5, 179.5], 179.5, -179.5),
        ([179.5, -179.5, 179.0], 179.0, -179.5),
        ([0.0, 100.0, -160.0, -60.0, 40.0], -180.0, 180.0),
        ([5.25], 5.25, 5.25),
    ],
)
def test_bounds_follow_the_walk_around_the_earth(lons: list[float], west: float, east: float) -> None:
    assert bounds(a_track([(54.0, lon) for lon in lons])) == [west, 54.0, east, 54.0]


def test_bounds_of_nothing_are_none() -> None:
    assert bounds(Track()) is None


def test_times_of_an_unset_clock_count_only_where_there_are_no_others() -> None:
    points = [(54.0, -3.0, NAN, 315_964_800.0), (54.0, -3.0, NAN, 1_800_000_000.0)]
    mixed = time_span(a_track(points, unsure=frozenset({0})))
    alone = time_span(a_track(points[:1], unsure=frozenset({0})))
    assert mixed is not None
    assert mixed[0].year == 2027
    assert alone is not None
    assert alone[0].isoformat() == "1980-01-06T00:00:00+00:00"


METRE = 1 / 111_194.9  # degrees of latitude about the equator, near enough to tell 1.9 m from 2.1 m


@pytest.mark.parametrize(("off_m", "kept"), [(1.9, 2), (2.1, 3)])
def test_thinning_keeps_a_point_that_lies_over_two_metres_off(off_m: float, kept: int) -> None:
    line = thin_line(a_track([(0.0, 0.0), (off_m * METRE, 0.001), (0.0, 0.002)]))
    assert len(line[0]) == kept


def test_thinned_line_keeps_segments_apart_and_is_lon_lat() -> None:
    line = thin_line(a_track([(54.0, -3.0), (54.0, -3.5), (54.0, -4.0)], [], [(55.0, -3.0)]))
    assert line == [[[-3.0, 54.0], [-4.0, 54.0]], [[-3.0, 55.0]]]


def test_thinned_line_over_the_180th_meridian_is_straight() -> None:
    assert thin_line(a_track([(0.0, 179.0), (0.0, -180.0), (0.0, -179.0)])) == [[[179.0, 0.0], [-179.0, 0.0]]]


@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=1, max_size=60))
def test_every_left_out_point_lies_within_two_metres(steps: list[tuple[int, int]]) -> None:
    points = [(y * METRE, x * METRE) for x, y in steps]
    kept = thin_line(a_track(points))[0]
    for x, y in steps:
        legs = list(itertools.pairwise(kept)) or [(kept[0], kept[0])]
        # 2 m, and 0.2 m for the line's own rounding and the scale of a degree (0.7 % of 50 m)
        assert min(_off_m(x, y, *leg) for leg in legs) <= 2.0 + 0.5


def _off_m(x: float, y: float, first: list[float], last: list[float]) -> float:
    (x1, y1), (x2, y2) = ([value / METRE for value in end] for end in (first, last))
    long2 = (x2 - x1) ** 2 + (y2 - y1) ** 2
    along = 0.0 if long2 == 0 else max(0.0, min(1.0, ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / long2))
    return float(((x - x1 - along * (x2 - x1)) ** 2 + (y - y1 - along * (y2 - y1)) ** 2) ** 0.5)


def test_stay_of_five_minutes_is_a_stop_and_one_second_less_is_not() -> None:
    def stay(seconds: float) -> Track:
        there = [(54.0, -3.0, NAN, 1.8e9), (54.00001, -3.0, NAN, 1.8e9 + seconds)]
        return a_track([*there, (54.01, -3.0, NAN, 1.8e9 + seconds + 600)])

    assert len(find_stops(stay(300.0))) == 1
    assert find_stops(stay(299.0)) == []


def test_long_rest_with_a_standing_clock_costs_no_square() -> None:
    track = a_track([(54.0 + (n % 2) * 0.00011, -3.0, NAN, 1.8e9) for n in range(30_000)])
    assert find_stops(track) == []


def test_arrays_hold_doubles() -> None:
    assert Track().lats == array("d")
