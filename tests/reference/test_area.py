"""Areas against general-purpose libraries: GEOS (shapely) for inside and nearest place, PROJ for metres.

The oracle lays a flat map around the position itself (azimuthal equidistant, PROJ), in which all distances from that
position are true, cuts every edge into short pieces that are straight in longitude and latitude, and lets GEOS find
the nearest. Figures of ground: tests/vectors/geodesic.json.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest
import shapely
from pyproj import Transformer

from field.core.area import INSIDE, area_m2, boundary_distance_m, covers, read_area
from field.core.errors import BadShape

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "geodesic.json").read_text(encoding="utf-8"))


def oracle_distance_m(lines: list, lat: float, lon: float) -> float:
    """Return the shortest distance from a position to some lines of (lon, lat), by PROJ and GEOS."""
    to_flat = Transformer.from_crs(
        "EPSG:4326", f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m", always_xy=True
    )
    best = math.inf
    for line in lines:
        cut = shapely.get_coordinates(shapely.segmentize(shapely.LineString(line), 0.00005))
        flat = to_flat.transform(cut[:, 0], cut[:, 1])
        best = min(best, shapely.distance(shapely.LineString(list(zip(*flat, strict=True))), shapely.Point(0, 0)))
    return best


def a_shape(rng: random.Random, lat: float, lon: float, corners: int, size_deg: float) -> list[list[float]]:
    """Return a star-shaped ring of a few corners around a middle."""
    wide = size_deg / math.cos(math.radians(lat))
    ring = []
    for i in range(corners):
        turn = 2 * math.pi * (i + rng.uniform(0.05, 0.95)) / corners
        far = rng.uniform(0.3, 1.0)
        ring.append([lon + wide * far * math.cos(turn), lat + size_deg * far * math.sin(turn)])
    return [*ring, ring[0]]


@pytest.mark.parametrize("lat", [0.0, 23.0, -41.0, 55.4, 69.9, -74.0])
def test_inside_and_nearest_boundary(lat: float) -> None:
    rng = random.Random(f"area {lat}")
    asked = 0
    for _ in range(8):
        size = rng.choice([0.0005, 0.003, 0.008])
        outer = a_shape(rng, lat, -3.4, rng.randint(3, 14), size)
        hole = a_shape(rng, lat, -3.4, rng.randint(3, 7), size * 0.2)
        other = a_shape(rng, lat + 3 * size, -3.4, rng.randint(3, 9), size)
        geometry = {"type": "MultiPolygon", "coordinates": [[outer, hole], [other]]}
        ours = read_area(geometry)
        theirs = shapely.geometry.shape(geometry)
        if not theirs.is_valid:
            continue  # a hole that sticks out of its ring is no ground that can be asked about
        asked += 1
        for _ in range(12):
            y = lat + size * rng.uniform(-1.3, 4.3)
            x = -3.4 + size / math.cos(math.radians(lat)) * rng.uniform(-1.3, 1.3)
            want_m = oracle_distance_m([outer, hole, other], y, x)
            assert abs(boundary_distance_m(ours, y, x) - want_m) < 0.01, (geometry, y, x)
            if want_m > 0.01:
                assert (covers(ours, y, x) == INSIDE) == theirs.contains(shapely.Point(x, y))
    assert asked >= 4


def test_a_wrong_distance_would_be_seen() -> None:
    # The oracle must be able to disagree: a sphere of the mean radius is 0.3 % off east to west at 55 degrees.
    ring = [[-3.4, 55.3], [-3.39, 55.3], [-3.39, 55.5], [-3.4, 55.5], [-3.4, 55.3]]
    want_m = oracle_distance_m([ring], 55.4, -3.402)
    sphere_m = 0.002 * math.radians(1) * 6371008.8 * math.cos(math.radians(55.4))
    assert abs(sphere_m - want_m) > 0.3
    assert abs(boundary_distance_m(read_area({"type": "Polygon", "coordinates": [ring]}), 55.4, -3.402) - want_m) < 0.01


@pytest.mark.parametrize(
    "row", [row for row in FILE["polygons"] if row["id"] != "around-north-pole"], ids=lambda row: row["id"]
)
def test_square_metres(row: dict) -> None:
    rings = [row["ring_lonlat"], *row.get("holes_lonlat", [])]
    want_m2 = row.get("net_area_m2", row["area_m2"])
    got_m2 = area_m2(read_area({"type": "Polygon", "coordinates": rings}))
    assert abs(got_m2 - want_m2) < max(0.01, 1e-6 * want_m2)


def test_an_area_around_a_pole_is_refused() -> None:
    row = next(row for row in FILE["polygons"] if row["id"] == "around-north-pole")
    with pytest.raises(BadShape):
        read_area({"type": "Polygon", "coordinates": [row["ring_lonlat"]]})
