"""Random ground of 0.1 to 20 km at any latitude, positions in and around it, and how far they truly are from its edge.

The oracle is PROJ's geodesic and nothing else: every edge is cut into many spots that are straight in longitude and
latitude (RFC 7946, section 3.1.1), all are measured, and the cutting goes on around the nearest spot of each edge.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from pyproj import Geod

PROJ = Geod(ellps="WGS84")
CUTS = 256  # spots an edge, in each of the rounds
ROUNDS = 4  # the spots end 20 km / (128 ** 3 * 256), far below a millimetre, apart


@dataclass(frozen=True)
class Question:
    """One position beside one piece of ground."""

    geometry: dict
    lat: float
    lon: float
    wound: tuple[tuple[tuple[float, float], ...], ...]  # the rings again, with longitudes that run on past 180


def true_distance_m(rings: tuple, lat: float, lon: float) -> float:
    """Return the shortest distance from a position to rings of (lon, lat), by PROJ; metres."""
    ends = np.array([(*start, *end) for ring in rings for start, end in pairwise(ring)])
    low, high = np.zeros(len(ends)), np.ones(len(ends))
    best = math.inf
    for _ in range(ROUNDS):
        share = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, CUTS + 1)[None, :]
        lons = ends[:, 0, None] + share * (ends[:, 2] - ends[:, 0])[:, None]
        lats = ends[:, 1, None] + share * (ends[:, 3] - ends[:, 1])[:, None]
        _, _, away = PROJ.inv(np.full(lons.shape, lon), np.full(lons.shape, lat), lons, lats)
        nearest = away.argmin(axis=1)
        best = min(best, float(away.min()))
        rows = np.arange(len(ends))
        low, high = share[rows, np.maximum(nearest - 1, 0)], share[rows, np.minimum(nearest + 1, CUTS)]
    return best


def wrapped(lon: float) -> float:
    """Return a longitude within -180 to 180."""
    return (lon + 180.0) % 360.0 - 180.0


def a_ring(rng: random.Random, lat: float, lon: float, size_m: float, corners: int) -> list[tuple[float, float]]:
    """Return a ring around a middle, laid out by PROJ, with longitudes that run on; none of it goes round a pole."""
    ring = []
    for i in range(corners):
        bearing = 360.0 * (i + rng.uniform(0.1, 0.9)) / corners
        x, y, _ = PROJ.fwd(lon, lat, bearing, size_m / 2 * rng.uniform(0.4, 1.0))
        ring.append((lon + wrapped(x - lon), y))
    return [*ring, ring[0]]


def questions(seed: str, count: int) -> list[Question]:
    """Return random questions, always the same for a seed: latitudes to 89 either way, many near poles and 180."""
    rng = random.Random(seed)
    made: list[Question] = []
    while len(made) < count:
        size_m = 10 ** rng.uniform(2, math.log10(20_000))
        lat = rng.choice([rng.uniform(-89, 89), rng.uniform(80, 89) * rng.choice([-1, 1])])
        lon = rng.choice([rng.uniform(-180, 180), rng.uniform(179.9, 180.1)])
        outer = a_ring(rng, lat, lon, size_m, rng.randint(3, 9))
        if max(x for x, _ in outer) - min(x for x, _ in outer) > 170:
            continue  # round the pole, or nearly: refused by the reader, and asked about elsewhere
        rings = [outer, a_ring(rng, lat, lon, size_m * 0.3, 4)] if rng.random() < 0.4 else [outer]
        far_m = rng.choice(
            [size_m * rng.uniform(0, 0.7), 10 ** rng.uniform(0, math.log10(20_000)), rng.uniform(0, 25_000)]
        )
        x, y, _ = PROJ.fwd(lon, lat, rng.uniform(0, 360), far_m)
        geometry = {"type": "Polygon", "coordinates": [[[wrapped(a), b] for a, b in ring] for ring in rings]}
        made.append(Question(geometry, y, wrapped(x), tuple(tuple(ring) for ring in rings)))
    return made
