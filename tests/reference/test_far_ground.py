"""How far the edge of a site is, against PROJ 9.5 (pyproj.Geod): sites up to 20 km across, at every latitude.

The goal, 0.1 m, is set by the issue the rule was built for; the docstrings promise 2 mm, and that is what is held here.
The phone is held to the same questions in tests/browser/test_twins_ground.py.
"""

from __future__ import annotations

import far_ground
import pytest
from pyproj import Geod

from field.core.area import boundary_distance_m, read_area
from field.core.geodesy import arc_m, distance_m, place_in_space

PROMISED_M = 0.002
FARTHEST_M = 20_000


@pytest.fixture(scope="module")
def asked() -> list[tuple[far_ground.Question, float]]:
    made = far_ground.questions("far ground", 250)
    return [(one, far_ground.true_distance_m(one.wound, one.lat, one.lon)) for one in made]


def test_the_edge_of_a_site_is_as_far_as_proj_says(asked: list[tuple[far_ground.Question, float]]) -> None:
    near = [(one, want_m) for one, want_m in asked if want_m <= FARTHEST_M]
    assert len(near) > 200
    for one, want_m in near:
        got_m = boundary_distance_m(read_area(one.geometry), one.lat, one.lon)
        assert abs(got_m - want_m) < PROMISED_M, (one, got_m, want_m)


def test_the_questions_are_spread_as_they_say(asked: list[tuple[far_ground.Question, float]]) -> None:
    assert any(want_m < 1 for _, want_m in asked)
    assert sum(abs(one.lat) > 80 for one, _ in asked) > 50
    assert sum(want_m > 5_000 for _, want_m in asked) > 20
    over_180 = [one for one, _ in asked if any(abs(lon) > 180 for ring in one.wound for lon, _ in ring)]
    assert len(over_180) > 50


def test_a_plane_would_not_pass(asked: list[tuple[far_ground.Question, float]]) -> None:
    # The comparison must be able to fail: edges taken as geodesics instead of straight in degrees are far off.
    # By hand: of 20 km along the parallel of 60 degrees the middle is L^2 tan(lat) / 8R = 13.6 m beside the geodesic.
    ring = ((0.0, 60.0), (0.3592, 60.0), (0.3592, 59.9), (0.0, 59.9), (0.0, 60.0))
    want_m = far_ground.true_distance_m((ring,), 60.0001, 0.1796)
    assert abs(want_m - 11.14) < 0.01  # 0.0001 degrees of the meridian at 60 degrees
    area = read_area({"type": "Polygon", "coordinates": [[list(spot) for spot in ring]]})
    assert abs(boundary_distance_m(area, 60.0001, 0.1796) - want_m) < PROMISED_M


@pytest.mark.parametrize("lat", [0, 45, 72.5, 89, 89.9999, 90, -90])
@pytest.mark.parametrize(("far_m", "promised_m"), [(20, 0.0001), (20_000, 0.001), (200_000, 0.1)])
def test_a_straight_line_in_space_bends_to_the_geodesic(lat: float, far_m: float, promised_m: float) -> None:
    for bearing in range(0, 360, 20):
        lon2, lat2, _ = Geod(ellps="WGS84").fwd(179.9, lat, bearing, far_m)
        (x1, y1, z1), (x2, y2, z2) = place_in_space(lat, 179.9), place_in_space(lat2, lon2)
        straight_m = ((x2 - x1) ** 2 + (y2 - y1) ** 2 + (z2 - z1) ** 2) ** 0.5
        assert abs(arc_m(straight_m) - far_m) < promised_m, bearing
        assert abs(distance_m(lat, 179.9, lat2, lon2) - far_m) < 0.1


def test_a_corner_at_the_pole_itself_is_measured() -> None:
    # By hand: from 0.001 degrees short of the pole, on the far side, the nearest corner is the pole: 0.001 degrees of
    # the meridian there are a²/b x pi/180 000 = 111.694 m (a²/b = 6 399 593.6 m).
    wedge = {"type": "Polygon", "coordinates": [[[0, 89.99], [60, 89.99], [60, 90], [0, 90], [0, 89.99]]]}
    assert abs(boundary_distance_m(read_area(wedge), 89.999, -150) - 111.694) < PROMISED_M
