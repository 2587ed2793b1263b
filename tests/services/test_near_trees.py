"""Which trees a photo is offered, wherever on the Earth: laid out by the outside library of geodesics."""

from __future__ import annotations

import pytest
from geographiclib.geodesic import Geodesic

from field.services.place_photos import NEAR_TREE_M, plan_placed


def trees_around(lat: float, lon: float, metres: float) -> list[dict]:
    """Return trees so far from a place in sixteen directions."""
    spots = [Geodesic.WGS84.Direct(lat, lon, azimuth, metres) for azimuth in range(0, 360, 23)]
    return [
        {
            "id": f"{metres} {n}",
            "tag": None,
            "species": None,
            "lat": spot["lat2"],
            "lon": spot["lon2"],
            "accuracy_m": 1.0,
        }
        for n, spot in enumerate(spots)
    ]


@pytest.mark.parametrize(
    ("lat", "lon"), [(0.0, 0.0), (55.4, -3.4), (-43.5, 172.6), (64.1, 179.99999), (-16.5, -180.0), (89.9999, 20.0)]
)
def test_every_tree_within_fifteen_metres_is_offered_and_none_beyond(lat: float, lon: float) -> None:
    photo = {"lat": lat, "lon": lon, "accuracy_m": 1.0, "placed_by": "photo"}
    inside, beyond = trees_around(lat, lon, NEAR_TREE_M - 0.01), trees_around(lat, lon, NEAR_TREE_M + 0.01)
    away = [{**beyond[0], "id": "away", "lat": -lat, "lon": lon / 2}]
    (plan,) = plan_placed({"photos": [photo]}, [*inside, *beyond, *(away if lat else [])])
    assert {one["tree"] for one in plan["near"]} == {tree["id"] for tree in inside}
