"""The phone's distances to the edge of a site, against PROJ: the questions of tests/reference/test_far_ground.py."""

from __future__ import annotations

import far_ground
import pytest
from playwright.sync_api import Page
from pyproj import Geod

from field.core.area import boundary_distance_m, covers, read_area

PROMISED_M = 0.002
FARTHEST_M = 20_000

ASK_ALL = """async (rows) => {
  const m = await import('/static/js/core/area.js');
  return rows.map(([geometry, lat, lon]) => {
    const area = m.readArea(geometry);
    return [m.covers(area, lat, lon), m.boundaryDistanceM(area, lat, lon)];
  });
}"""


@pytest.fixture(scope="module")
def asked() -> list[far_ground.Question]:
    return far_ground.questions("far ground", 250)


def test_the_edge_of_a_site_is_as_far_on_the_phone_as_proj_says(blank: Page, asked: list[far_ground.Question]) -> None:
    answers = blank.evaluate(ASK_ALL, [[one.geometry, one.lat, one.lon] for one in asked])
    near = 0
    for one, (where, got_m) in zip(asked, answers, strict=True):
        area = read_area(one.geometry)
        assert where == covers(area, one.lat, one.lon), one
        assert abs(got_m - boundary_distance_m(area, one.lat, one.lon)) < 1e-6, one
        want_m = far_ground.true_distance_m(one.wound, one.lat, one.lon)
        if want_m <= FARTHEST_M:
            near += 1
            assert abs(got_m - want_m) < PROMISED_M, (one, got_m, want_m)
    assert near > 200


def test_distances_and_bearings_near_the_poles_are_true_on_the_phone(blank: Page) -> None:
    proj = Geod(ellps="WGS84")
    lines = []
    for lat in (0, 60, 80, 89.5, -89.99):
        for bearing in range(5, 360, 30):
            for far_m in (10, 3_000, 20_000):
                lon2, lat2, _ = proj.fwd(179.9, lat, bearing, far_m)
                lines.append((lat, 179.9, lat2, lon2, far_m, bearing))
    ask = "async (rows) => { const m = await import('/static/js/core/geodesy.js');"
    ask += " return rows.map(([a, b, c, d]) => [m.distanceM(a, b, c, d), m.bearingDeg(a, b, c, d)]); }"
    for line, (got_m, got_deg) in zip(lines, blank.evaluate(ask, lines), strict=True):
        assert abs(got_m - line[4]) < 0.001, line
        assert abs((got_deg - line[5] + 180) % 360 - 180) < 0.01, line
