"""A position in the middle of an area, on its ground: what a letter names the place by.

The phone has the same in static/js/core/ground_middle.js, so that the letter that is sent and the letter that is signed
at the gate name one place.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from field.core.area import Area
from field.core.geodesy import wrap_lon

Spot = tuple[float, float]  # lon, lat in degrees


def middle_of(area: Area) -> tuple[float, float]:
    """Return a position in the middle of an area, on its ground: lat, lon in degrees.

    The centroid of the largest part; where that lies in a hole or outside, the middle of the widest stretch of ground
    on its parallel. Reckoned in longitude and latitude: for naming a place, not for measuring.
    """
    parts = [part for piece in area.pieces for part in piece.parts]
    largest = max(parts, key=lambda part: abs(_centroid(part[0])[2]))
    lon, lat, _ = _centroid(largest[0])
    cuts = sorted(lon for ring in largest for lon in _crossings(ring, lat))
    stretches = list(zip(cuts[::2], cuts[1::2], strict=True))
    if stretches and not any(west <= lon <= east for west, east in stretches):
        west, east = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
        lon = (west + east) / 2
    return lat, wrap_lon(lon)


def _centroid(ring: Sequence[Spot]) -> tuple[float, float, float]:
    """Return the centroid of a ring and its signed area, in degrees; of a ring without ground its first corner."""
    lon0, lat0 = ring[0]
    total = x = y = 0.0
    for (x1, y1), (x2, y2) in pairwise(ring):
        cross = (x1 - lon0) * (y2 - lat0) - (x2 - lon0) * (y1 - lat0)
        total += cross
        x += (x1 + x2 - 2 * lon0) * cross
        y += (y1 + y2 - 2 * lat0) * cross
    if total == 0:
        return lon0, lat0, 0.0
    return lon0 + x / (3 * total), lat0 + y / (3 * total), total / 2


def _crossings(ring: Sequence[Spot], lat: float) -> list[float]:
    """Return the longitudes at which a ring crosses a parallel: an even number of them."""
    return [
        x1 + (lat - y1) / (y2 - y1) * (x2 - x1) for (x1, y1), (x2, y2) in pairwise(ring) if (y1 > lat) != (y2 > lat)
    ]
