"""Distances and bearings: what must hold anywhere. Values from outside are in tests/reference/test_geodesy.py."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core import geodesy
from field.core.errors import BadInput

LATS = st.floats(-90, 90)
LONS = st.floats(-180, 180)


@given(LATS, LONS, LATS, LONS)
def test_there_is_as_far_as_back(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    there, back = geodesy.distance_m(lat1, lon1, lat2, lon2), geodesy.distance_m(lat2, lon2, lat1, lon1)
    assert there >= 0
    assert abs(there - back) < 1e-6


@given(LATS, LONS)
def test_a_spot_is_no_distance_from_itself(lat: float, lon: float) -> None:
    assert geodesy.distance_m(lat, lon, lat, lon) == 0
    assert geodesy.bearing_deg(lat, lon, lat, lon) is None


@given(st.floats(-70, 70), st.floats(-180, 180), st.floats(0, 360), st.floats(1, 19_000))
def test_going_out_and_measuring_back_agree(lat: float, lon: float, bearing: float, far_m: float) -> None:
    there = geodesy.point_at(lat, lon, bearing, far_m)
    assert abs(geodesy.distance_m(lat, lon, *there) - far_m) < 0.1
    told = geodesy.bearing_deg(lat, lon, *there)
    assert told is not None
    assert abs(geodesy.wrap_lon(told - bearing)) < 0.001


@given(st.floats(-74, 74), st.floats(-0.05, 0.05), st.floats(-0.1, 0.1), st.integers(-3, 3))
def test_turning_the_earth_changes_no_distance(lat: float, d_lat: float, d_lon: float, turn: int) -> None:
    at_home = geodesy.distance_m(lat, 0.0, lat + d_lat, d_lon)
    turned = geodesy.distance_m(lat, 180.0 + 360.0 * turn, lat + d_lat, -180.0 + d_lon)
    assert abs(at_home - turned) < 1e-4


@pytest.mark.parametrize(
    ("lon", "wrapped"),
    [(0, 0), (180, 180), (-180, -180), (181, -179), (-181, 179), (360, 0), (370, 10), (-540.5, 179.5), (900, 180)],
)
def test_longitudes_are_wrapped(lon: float, wrapped: float) -> None:
    assert abs(geodesy.wrap_lon(lon)) == abs(wrapped) == 180 or geodesy.wrap_lon(lon) == wrapped


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf"), 90.0001, 1e6])
def test_no_distance_to_a_latitude_that_there_is_not(bad: float) -> None:
    with pytest.raises(BadInput):
        geodesy.distance_m(bad, 0.0, 89.9, 0.0)
    with pytest.raises(BadInput):
        geodesy.distance_m(50.0, 0.0, bad, 0.0)


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_no_distance_to_a_longitude_that_there_is_not(bad: float) -> None:
    with pytest.raises(BadInput):
        geodesy.distance_m(50.0, bad, 50.0, 0.0)
    with pytest.raises(BadInput):
        geodesy.bearing_deg(50.0, 0.0, 50.0, bad)


def test_a_position_is_read() -> None:
    assert geodesy.read_position(0, -0.0) == (0.0, 0.0)
    assert geodesy.read_position(90, -180) == (90.0, -180.0)


@pytest.mark.parametrize(
    ("lat", "lon", "where"),
    [
        (None, 0, "here.lat"),
        (0, None, "here.lon"),
        ("1", 0, "here.lat"),
        (True, 0, "here.lat"),
        (90.0001, 0, "here.lat"),
        (-91, 0, "here.lat"),
        (float("nan"), 0, "here.lat"),
        (0, 180.5, "here.lon"),
        (0, float("-inf"), "here.lon"),
        (0, 10**400, "here.lon"),
    ],
)
def test_what_is_no_position_is_refused(lat: object, lon: object, where: str) -> None:
    with pytest.raises(BadInput) as refused:
        geodesy.read_position(lat, lon, "here")
    assert refused.value.where == where


def test_a_line_is_as_long_as_its_legs() -> None:
    line = [(55.0, -3.0), (55.001, -3.0), (55.001, -3.002)]
    legs = geodesy.distance_m(*line[0], *line[1]) + geodesy.distance_m(*line[1], *line[2])
    assert abs(geodesy.length_m(line) - legs) < 1e-9
    assert geodesy.length_m([]) == geodesy.length_m(line[:1]) == 0.0
