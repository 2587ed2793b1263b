"""Distances, bearings and positions against geodesics from outside: tests/vectors/geodesic.json.

That file: C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 43-55 (2013); computed by geographiclib 2.1, and
cross-checked with PROJ 9.5.1. The plane for near distances and the geodesic library for far ones are both held to it.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest
from pyproj import Geod

from field.core.geodesy import bearing_deg, distance_m, length_m, point_at, wrap_lon

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "geodesic.json").read_text(encoding="utf-8"))
PROJ = Geod(ellps="WGS84")
STEEP_LAT = 72  # beyond, every distance is that of the geodesic library


def tolerance_m(want_m: float, lat: float) -> float:
    """What the docstring of distance_m promises."""
    if want_m > 20_000 or abs(lat) > STEEP_LAT:
        return 1e-6 + 1e-9 * want_m
    return 0.001 if want_m < 1_000 else 0.01 if want_m < 5_000.1 else 0.1


@pytest.mark.parametrize("row", FILE["inverse"], ids=lambda row: row["id"])
def test_distance(row: dict) -> None:
    got_m = distance_m(row["lat1"], row["lon1"], row["lat2"], row["lon2"])
    assert abs(got_m - row["distance_m"]) <= tolerance_m(row["distance_m"], (row["lat1"] + row["lat2"]) / 2)


@pytest.mark.parametrize("row", [row for row in FILE["inverse"] if row["distance_m"] > 1000], ids=lambda row: row["id"])
def test_a_sphere_would_not_pass(row: dict) -> None:
    # The comparison must be able to fail: the haversine figures of the file are refused by the same tolerance.
    want_m = row["distance_m"]
    assert abs(row["haversine_R6371008_8_m"] - want_m) > tolerance_m(want_m, (row["lat1"] + row["lat2"]) / 2)


@pytest.mark.parametrize("row", FILE["inverse"], ids=lambda row: row["id"])
def test_bearing(row: dict) -> None:
    got = bearing_deg(row["lat1"], row["lon1"], row["lat2"], row["lon2"])
    if row["azi1_deg"] is None:
        assert got is None
        return
    assert got is not None
    # Ends are rounded to 0.1 mm, so the bearing of a short hop is less sure: see the file.
    assert abs(wrap_lon(got - row["azi1_deg"])) < (1e-6 if row["distance_m"] > 100 else 0.001)


@pytest.mark.parametrize("row", FILE["direct"], ids=lambda row: row["id"])
def test_position_by_bearing_and_distance(row: dict) -> None:
    lat, lon = point_at(row["lat1"], row["lon1"], row["azi1_deg"], row["distance_m"])
    assert abs(lat - row["lat2"]) < 1e-9
    assert abs(wrap_lon(lon - row["lon2"])) < 1e-9


def test_published_line() -> None:
    # ICSM, Geocentric Datum of Australia Technical Manual, worked example; WGS 84 gives the same to 0.1 mm.
    row = FILE["published"][0]

    def degrees(dms: str) -> float:
        d, m, s = dms.split()
        return (-1 if d.startswith("-") else 1) * (abs(int(d)) + int(m) / 60 + float(s) / 3600)

    ends = [degrees(row[name]) for name in ("lat1_dms", "lon1_dms", "lat2_dms", "lon2_dms")]
    assert abs(distance_m(*ends) - row["distance_m"]) < 0.001
    assert abs(bearing_deg(*ends) - degrees(row["azi1_dms"])) < 0.02 / 3600


@pytest.mark.parametrize("row", FILE["polygons"], ids=lambda row: row["id"])
def test_length_of_a_ring(row: dict) -> None:
    # Edges up to 14 km; 0.01 m a leg below 5 km, 0.1 m beyond.
    got_m = length_m((lat, lon) for lon, lat in row["ring_lonlat"])
    assert abs(got_m - row["perimeter_m"]) < (0.04 if row["perimeter_m"] < 20_000 else 0.3)


@pytest.mark.parametrize("far_m", [1, 30, 999, 4_999, 19_000])
def test_the_plane_holds_its_promise_up_to_75_degrees(far_m: float) -> None:
    rng = random.Random(20270214)
    worst = 0.0
    for _ in range(400):
        lat, lon, bearing = rng.uniform(-74, 74), rng.uniform(-180, 180), rng.uniform(0, 360)
        lon2, lat2, _ = PROJ.fwd(lon, lat, bearing, far_m)
        if abs(lat + lat2) / 2 > STEEP_LAT:
            continue
        worst = max(worst, abs(distance_m(lat, lon, lat2, lon2) - far_m))
    assert 0 <= worst < tolerance_m(far_m, 0), worst


def test_no_step_where_the_plane_hands_over() -> None:
    # Just under and just over 20 km the two ways must agree as well as the plane promises.
    for bearing in range(0, 360, 15):
        for far_m in (19_999.9, 20_000.1):
            lon2, lat2, _ = PROJ.fwd(-3.4, 55.4, bearing, far_m)
            assert math.isclose(distance_m(55.4, -3.4, lat2, lon2), far_m, abs_tol=0.1, rel_tol=0)
