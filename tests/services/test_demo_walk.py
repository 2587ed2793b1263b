"""The demo's days and walks. Days counted by hand on a calendar; distances against the ellipsoid (geographiclib)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic

from field.core.errors import BadInput
from field.services.demo_walk import make_walk, read_day

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "expect"),
    [
        ("-12d", date(2026, 11, 13)),
        ("+30d", date(2026, 12, 25)),
        ("0y 11-25", date(2026, 11, 25)),
        ("0y 11-26", date(2025, 11, 26)),
        ("2y 03-14", date(2024, 3, 14)),
        ("2y 03-14 +60d", date(2024, 5, 13)),
        ("lift+30d", date(2026, 3, 31)),
        ("lift-1d", date(2026, 2, 28)),
    ],
)
def test_day_is_told_from_today(text: str, expect: date) -> None:
    assert read_day(text, TODAY, date(2026, 3, 1)) == expect


def test_no_day_stays_no_day() -> None:
    assert read_day(None, TODAY) is None


@pytest.mark.parametrize("text", ["", "soon", "12d", "y 03-14", "lift+3d"])
def test_a_word_that_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(BadInput):
        read_day(text, TODAY)


def test_walk_stops_at_each_tree_and_its_track_passes_there() -> None:
    trees = [{"tag": "A1", "at": [55.3120, -3.0480]}, {"tag": "A2", "at": [55.3135, -3.0460]}]
    start = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
    walk = make_walk("a walk", [55.3100, -3.0440], trees, start, 300.0)
    assert [stop.tag for stop in walk.stops] == ["A1", "A2"]
    points = walk.gpx.tracks[0].segments[0].points
    times = [point.time for point in points]
    assert times[0] == start
    assert all(later - earlier == timedelta(seconds=12) for earlier, later in pairwise(times))
    for stop, tree in zip(walk.stops, trees, strict=True):
        nearest = min(points, key=lambda point: abs(point.time - stop.from_at))
        line = Geodesic.WGS84.Inverse(nearest.latitude, nearest.longitude, *tree["at"])
        assert line["s12"] < 8.0  # metres: the wander of the drawn receiver is 1.2 m a step
