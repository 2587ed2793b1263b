"""How far a position is from the nearest of many edges, in space: true at every latitude, and over the 180th meridian.

An edge is straight in longitude and latitude (RFC 7946), so on the ground it bends: of 20 km along the parallel of 60
degrees, the middle lies 14 m beside the shortest way. Each edge is first taken as the straight chord between its ends,
with a bound on how far the edge leaves that chord; where the bound is too coarse to decide, the edge is halved. The
phone has the same in static/js/core/nearest_edge.js.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from field.core.geodesy import RADIANS, arc_m, place_in_space

Edge = tuple[float, float, float, float]  # lon, lat, lon, lat in degrees, longitudes unwound
Space = tuple[float, float, float]
# Start, step to the end, square of the chord's length, greatest way off the chord; all metres in space.
Chord = tuple[float, float, float, float, float, float, float, float]

SURE_M = 0.001  # edges are halved until the distance is known to this
# The greatest radius of curvature of WGS 84 is a²/b = 6 399 593.6 m, at the poles.
WIDEST_M = 6_399_594.0


class NearestEdge:
    """Edges that can be asked how far a position is from them; made ready when they are asked first."""

    __slots__ = ("_chords", "_edges", "_most_bend_m")

    def __init__(self, edges: Sequence[Edge]) -> None:
        self._edges = tuple(edges)
        self._chords: list[Chord] | None = None
        self._most_bend_m = 0.0

    def distance_m(self, lat: float, lon: float) -> float:
        """Return the shortest distance from a position to any of the edges.

        Args:
            lat, lon: degrees, checked.
        Returns: metres along the ground, never negative.
        Accuracy: within 2 mm up to 20 km and 0.1 m up to 200 km, at every latitude; farther off within 0.5 %
            up to 10 000 km (tests/reference/test_far_ground.py).
        """
        if self._chords is None:
            self._chords = [_chord(*edge) for edge in self._edges]
            self._most_bend_m = max(chord[7] for chord in self._chords)
        px, py, pz = place_in_space(lat, lon)
        room = 2.0 * self._most_bend_m + SURE_M
        found: list[tuple[float, int]] = []
        shortest2 = limit2 = math.inf
        for number, (x, y, z, dx, dy, dz, long2, _) in enumerate(self._chords):
            # The vector from the position to the nearest spot of the chord, written out: this is done for every edge.
            ax, ay, az = x - px, y - py, z - pz
            down = -(ax * dx + ay * dy + az * dz)
            if down > 0.0:  # the nearest spot is not the first end; so the chord has a length
                along = down / long2 if down < long2 else 1.0
                ax += along * dx
                ay += along * dy
                az += along * dz
            away2 = ax * ax + ay * ay + az * az
            if away2 <= limit2:
                found.append((away2, number))
                if away2 < shortest2:
                    shortest2 = away2
                    limit2 = (math.sqrt(away2) + room) ** 2
        best = math.inf
        for away2, number in sorted(found):
            if away2 > limit2:
                break
            best = _closest_m(self._edges[number], (px, py, pz), best)
        return arc_m(best)


def _chord(lon1: float, lat1: float, lon2: float, lat2: float) -> Chord:
    return _chord_between(place_in_space(lat1, lon1), place_in_space(lat2, lon2), lat2 - lat1, lon2 - lon1)


def _chord_between(start: Space, end: Space, d_lat: float, d_lon: float) -> Chord:
    dx, dy, dz = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    # A curve leaves its chord by at most an eighth of its greatest second derivative. Here that has three parts: along
    # the meridian, along the parallel, and both together. No parallel that the edge crosses is wider than that of an
    # end by more than the edge runs north.
    north, east = abs(d_lat) * RADIANS, abs(d_lon) * RADIANS
    radius = min(WIDEST_M, max(math.hypot(start[0], start[1]), math.hypot(end[0], end[1])) + WIDEST_M * north)
    bend = (WIDEST_M * north * (north + 2.0 * east) + radius * east * east) / 8.0
    return (*start, dx, dy, dz, dx * dx + dy * dy + dz * dz, bend)


def _closest_m(edge: Edge, here: Space, best: float) -> float:
    """Return the straight way in space from a position to an edge, or `best` where the edge does not come nearer."""
    lon1, lat1, lon2, lat2 = edge
    pieces = [(lon1, lat1, place_in_space(lat1, lon1), lon2, lat2, place_in_space(lat2, lon2))]
    while pieces:
        lon1, lat1, start, lon2, lat2, end = pieces.pop()
        x, y, z, dx, dy, dz, long2, bend = _chord_between(start, end, lat2 - lat1, lon2 - lon1)
        x, y, z = x - here[0], y - here[1], z - here[2]
        down = -(x * dx + y * dy + z * dz)
        along = 0.0 if down <= 0.0 else min(1.0, down / long2)
        chord_m = math.sqrt((x + along * dx) ** 2 + (y + along * dy) ** 2 + (z + along * dz) ** 2)
        if chord_m - bend >= best - SURE_M:
            continue
        spot = place_in_space(lat1 + along * (lat2 - lat1), lon1 + along * (lon2 - lon1))
        best = min(best, math.dist(spot, here))
        if chord_m - bend >= best - SURE_M:
            continue
        lat, lon = (lat1 + lat2) / 2, (lon1 + lon2) / 2
        middle = place_in_space(lat, lon)
        pieces.append((lon, lat, middle, lon2, lat2, end))
        pieces.append((lon1, lat1, start, lon, lat, middle))
    return best
