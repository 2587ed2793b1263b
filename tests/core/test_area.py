"""Areas: inside, outside, on the line; the nearest boundary; and what is no area."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from field.core.area import INSIDE, ON_LINE, OUTSIDE, area_m2, boundary_distance_m, bounds, covers, read_area
from field.core.errors import BadShape

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
FILE = json.loads((VECTORS / "area.json").read_text(encoding="utf-8"))
CASES = FILE["cases"]
FIELD = CASES[0]["geometry"]
WITH_HOLE = next(case["geometry"] for case in CASES if case["name"] == "ground by the hole")
OVER_180 = next(case["geometry"] for case in CASES if case["name"] == "on the seam")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_a_position_is_inside_outside_or_on_the_line(case: dict) -> None:
    assert covers(read_area(case["geometry"]), case["lat"], case["lon"]) == case["covers"]


@pytest.mark.parametrize(
    "case", [case for case in CASES if case["distance_m"] is not None], ids=lambda case: case["name"]
)
def test_the_nearest_boundary_is_so_far(case: dict) -> None:
    got_m = boundary_distance_m(read_area(case["geometry"]), case["lat"], case["lon"])
    assert abs(got_m - case["distance_m"]) < 0.01


@pytest.mark.parametrize("bad", FILE["bad"], ids=lambda bad: bad["name"])
def test_what_is_no_area_is_refused_with_its_place(bad: dict) -> None:
    with pytest.raises(BadShape) as refused:
        read_area(bad["geometry"])
    assert refused.value.where == bad["where"]
    assert bad["says"] in refused.value.message


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf"), 10**400])
@pytest.mark.parametrize("place", [0, 1])
def test_numbers_that_are_none_are_refused(bad: float, place: int) -> None:
    spoilt = [list(vertex) for vertex in FIELD["coordinates"][0]]
    spoilt[2][place] = bad
    with pytest.raises(BadShape):
        read_area({"type": "Polygon", "coordinates": [spoilt]})


def test_the_foot_of_the_perpendicular_counts() -> None:
    # By hand: at the equator the two sides are 1 105.74 m and 1 113.19 m long, so the height of the triangle of the
    # rest, 0.002 degrees each way, is 221.15 x 222.64 / hypot(221.15, 222.64) = 156.90 m.
    slope = next(case for case in CASES if case["name"] == "the foot of the perpendicular on a slope")
    assert abs(boundary_distance_m(read_area(slope["geometry"]), 0.004, 0.004) - 156.90) < 0.01


# --- what must hold for any area ------------------------------------------------------------------------------------

SPOTS = st.tuples(st.floats(55.398, 55.407), st.floats(-3.402, -3.388))


def rings(geometry: dict) -> list:
    return geometry["coordinates"] if geometry["type"] == "Polygon" else [r for p in geometry["coordinates"] for r in p]


def turned(ring: list, start: int, backwards: bool) -> list:
    open_ring = ring[:-1]
    open_ring = open_ring[start % len(open_ring) :] + open_ring[: start % len(open_ring)]
    if backwards:
        open_ring = open_ring[::-1]
    return [*open_ring, open_ring[0]]


@given(SPOTS, st.integers(0, 3), st.booleans(), st.booleans())
def test_where_a_ring_begins_and_which_way_it_runs_does_not_matter(
    spot: tuple[float, float], start: int, outer_back: bool, hole_back: bool
) -> None:
    outer, hole = rings(WITH_HOLE)
    other = {"type": "Polygon", "coordinates": [turned(outer, start, outer_back), turned(hole, start, hole_back)]}
    one, two = read_area(WITH_HOLE), read_area(other)
    assert covers(one, *spot) == covers(two, *spot)
    assert abs(boundary_distance_m(one, *spot) - boundary_distance_m(two, *spot)) < 1e-6


@given(SPOTS, st.floats(-180, 180))
def test_turning_the_earth_under_an_area_changes_nothing(spot: tuple[float, float], by_deg: float) -> None:
    def wrapped(lon: float) -> float:
        return (lon + 180.0) % 360.0 - 180.0

    moved = {
        "type": "Polygon",
        "coordinates": [[[wrapped(lon + by_deg), lat] for lon, lat in ring] for ring in rings(WITH_HOLE)],
    }
    one, two = read_area(WITH_HOLE), read_area(moved)
    lat, lon = spot
    here_m = boundary_distance_m(one, lat, lon)
    assume(here_m > 0.01)  # on the very line the last digit of the turned longitudes decides
    assert covers(one, lat, lon) == covers(two, lat, wrapped(lon + by_deg))
    assert abs(here_m - boundary_distance_m(two, lat, wrapped(lon + by_deg))) < 0.001


@given(st.floats(-16.5045, -16.5005), st.floats(0.0, 0.0045))
def test_the_seam_is_nowhere_felt(lat: float, off_deg: float) -> None:
    west, east = rings(OVER_180)
    whole = read_area(
        {
            "type": "Polygon",
            "coordinates": [[[179.995, -16.505], [180.005, -16.505], [180.005, -16.5], [179.995, -16.5], west[0]]],
        }
    )
    joined = read_area(OVER_180)
    assert east[0][0] == -180.0
    for lon in (180.0 - off_deg, -180.0 + off_deg):
        assert covers(joined, lat, lon) == covers(whole, lat, lon) == INSIDE
        assert abs(boundary_distance_m(joined, lat, lon) - boundary_distance_m(whole, lat, lon)) < 0.001


@given(st.integers(0, 3), st.floats(0, 1))
def test_every_place_on_an_edge_is_on_the_line(edge: int, share: float) -> None:
    area = read_area(
        {"type": "Polygon", "coordinates": [[[-3.4, 55.4], [-3.39, 55.401], [-3.392, 55.406], [-3.4, 55.4]]]}
    )
    ring = area.rings[0][0]
    (lon1, lat1), (lon2, lat2) = ring[edge % 3], ring[edge % 3 + 1]
    lat, lon = lat1 + share * (lat2 - lat1), lon1 + share * (lon2 - lon1)
    assert covers(area, lat, lon) == ON_LINE
    assert boundary_distance_m(area, lat, lon) < 0.001


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=9), st.integers(1, 39))
def test_walking_off_an_area_ends_outside(corners: list[tuple[int, int]], row: int) -> None:
    ring = [[-3.4 + x / 10000, 55.4 + y / 10000] for x, y in corners]
    assume(len({tuple(vertex) for vertex in ring}) >= 3)
    area = read_area({"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
    west, south, east, north = bounds(area)
    assert covers(area, 55.4 + row / 10000 + 0.00003, east + 0.001) == OUTSIDE
    assert covers(area, north + 0.001, (west + east) / 2) == OUTSIDE
    assert boundary_distance_m(area, south - 0.001, west) > 100


def test_bounds_are_those_of_the_outer_ring() -> None:
    assert bounds(read_area(FIELD)) == (-3.4, 55.4, -3.39, 55.405)


def test_bounds_over_180_run_on() -> None:
    assert bounds(read_area(OVER_180)) == pytest.approx((179.995, -16.505, 180.005, -16.5), abs=1e-9)


def test_bounds_of_two_parts_beside_180_are_narrow() -> None:
    west = [[179.99, 0], [179.995, 0], [179.995, 1], [179.99, 0]]
    east = [[-179.99, 0], [-179.98, 0], [-179.98, 1], [-179.99, 0]]
    box = bounds(read_area({"type": "MultiPolygon", "coordinates": [[west], [east]]}))
    assert box == pytest.approx((179.99, 0, 180.02, 1), abs=1e-9)


def test_a_hole_is_left_out_of_the_ground() -> None:
    whole = area_m2(read_area({"type": "Polygon", "coordinates": rings(WITH_HOLE)[:1]}))
    hole = area_m2(read_area({"type": "Polygon", "coordinates": rings(WITH_HOLE)[1:]}))
    assert abs(area_m2(read_area(WITH_HOLE)) - (whole - hole)) < 0.01
