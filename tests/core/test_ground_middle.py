"""The middle of an area: a position on its ground, whatever its form."""

from __future__ import annotations

from builders import SQUARE

from field.core.area import read_area
from field.core.ground_middle import middle_of


def square(west: float, south: float, side: float) -> list[list[float]]:
    return [[west, south], [west + side, south], [west + side, south + side], [west, south + side], [west, south]]


def test_the_middle_of_a_square_and_of_a_ring() -> None:
    area = read_area(SQUARE)
    lat, lon = middle_of(area)
    assert abs(lat - 55.4025) < 1e-6
    assert abs(lon + 3.395) < 1e-6
    hollow = read_area({"type": "Polygon", "coordinates": [square(0, 50, 0.03), square(0.01, 50.01, 0.01)]})
    lat, lon = middle_of(hollow)
    assert not (0.01 < lon < 0.02 and 50.01 < lat < 50.02)  # not in the hole
    assert 0 < lon < 0.03


def test_the_middle_of_a_bent_area_lies_on_it() -> None:
    bent = [[0, 50], [0.03, 50], [0.03, 50.003], [0.003, 50.003], [0.003, 50.03], [0, 50.03], [0, 50]]
    area = read_area({"type": "Polygon", "coordinates": [bent]})
    lat, lon = middle_of(area)
    assert (0 < lon < 0.003 and 50 < lat < 50.03) or (0 < lon < 0.03 and 50 < lat < 50.003)


def test_the_middle_of_several_parts_is_that_of_the_largest() -> None:
    area = read_area({"type": "MultiPolygon", "coordinates": [[square(0, 50, 0.01)], [square(1, 50, 0.02)]]})
    lat, lon = middle_of(area)
    assert abs(lat - 50.01) < 1e-9
    assert abs(lon - 1.01) < 1e-9


def test_the_middle_of_an_area_across_the_180th_meridian_is_a_longitude_as_all_others() -> None:
    across = [[179.99, -17], [180.01, -17], [180.01, -16.99], [179.99, -16.99], [179.99, -17]]
    lat, lon = middle_of(read_area({"type": "Polygon", "coordinates": [across]}))
    assert abs(abs(lon) - 180) < 1e-9
    assert -180 <= lon <= 180
    assert abs(lat + 16.995) < 1e-9
