"""Compare the two questions about ground with shapely, one position a call as on the hill.

Which site am I on: 200 sites of 500 corners, an STRtree kept ready by shapely; ours once with every site asked, once
with the boxes of all sites looked at first, as a caller with many sites would. How far to the boundary: one of these
sites, positions within and around it; shapely answers in degrees of a plane, ours in metres on the ellipsoid.
Needs shapely. Goals: at most 2 x shapely for the site, at most 30 x for the distance.
"""

from __future__ import annotations

import math
import random

import shapely
from timing import Case, compare, judge, tell_machine

from field.core.area import INSIDE, Area, boundary_distance_m, covers, read_area
from field.core.geodesy import metres_per_degree

SITES, CORNERS = 200, 500
POSITIONS, NEAR_POSITIONS = 2000, 200


def made_ring(rng: random.Random) -> list[list[float]]:
    """Return a closed ring of some kilometres, wavy, as [lon, lat]."""
    lon, lat, ripple = rng.uniform(-4, -2), rng.uniform(54, 56), rng.uniform(0, math.tau)
    ring = []
    for corner in range(CORNERS):
        turn = math.tau * corner / CORNERS
        out = 0.03 * (1 + 0.2 * math.sin(6 * turn + ripple) + rng.uniform(-0.01, 0.01))
        ring.append([lon + out * math.cos(turn), lat + 0.6 * out * math.sin(turn)])
    return [*ring, ring[0]]


def sites_around(areas: list[Area], lat: float, lon: float) -> set[int]:
    """Return which of the sites a position is on."""
    return {number for number, area in enumerate(areas) if covers(area, lat, lon) == INSIDE}


def sites_by_box(boxed: list[tuple[float, float, float, float, Area]], lat: float, lon: float) -> set[int]:
    """Return the same, but ask only the sites whose box a position is in."""
    return {
        number
        for number, (west, south, east, north, area) in enumerate(boxed)
        if south <= lat <= north and west <= lon <= east and covers(area, lat, lon) == INSIDE
    }


def main() -> None:
    """Check that both give the same answers, then time them."""
    tell_machine()
    rng = random.Random(11)
    rings = [made_ring(rng) for _ in range(SITES)]
    areas = [read_area({"type": "Polygon", "coordinates": [ring]}) for ring in rings]
    shapes = [shapely.Polygon(ring) for ring in rings]
    tree = shapely.STRtree(shapes)
    boxed = [(*area.box, area) for area in areas]
    positions = [(rng.uniform(54, 56), rng.uniform(-4, -2)) for _ in range(POSITIONS)]

    def theirs(lat: float, lon: float) -> set[int]:
        return {int(number) for number in tree.query(shapely.Point(lon, lat), predicate="intersects")}

    hits = 0
    for lat, lon in positions:
        assert sites_around(areas, lat, lon) == sites_by_box(boxed, lat, lon) == theirs(lat, lon)
        hits += len(theirs(lat, lon))
    print(f"{SITES} sites of {CORNERS} corners, {POSITIONS} positions, {hits} on a site")
    took = compare(
        "Which site am I on",
        {
            "shapely, tree ready, one position a call": Case(lambda _: [theirs(*here) for here in positions]),
            "ours, every site asked": Case(lambda _: [sites_around(areas, *here) for here in positions]),
            "ours, boxes first": Case(lambda _: [sites_by_box(boxed, *here) for here in positions]),
        },
        POSITIONS,
        "position",
        7,
    )
    peer = took["shapely, tree ready, one position a call"]
    judge("which site, every site asked / shapely", took["ours, every site asked"] / peer, 2)
    judge("which site, boxes first / shapely", took["ours, boxes first"] / peer, 2)

    edge = shapes[0].exterior
    middle = edge.centroid
    near = [(middle.y + rng.uniform(-0.03, 0.03), middle.x + rng.uniform(-0.05, 0.05)) for _ in range(NEAR_POSITIONS)]
    for lat, lon in near:
        # In a plane whose units are metres at this latitude both must say the same, to what the plane is worth.
        north_m, east_m = metres_per_degree(lat)
        flat = shapely.transform(edge, lambda xy, scale=(east_m, north_m): xy * scale)
        expected = flat.distance(shapely.Point(lon * east_m, lat * north_m))
        assert abs(boundary_distance_m(areas[0], lat, lon) - expected) < 0.002 * expected + 0.01
    took = compare(
        f"Distance to a boundary of {CORNERS} edges",
        {
            "shapely, one position a call": Case(
                lambda _: [edge.distance(shapely.Point(lon, lat)) for lat, lon in near]
            ),
            "ours": Case(lambda _: [boundary_distance_m(areas[0], lat, lon) for lat, lon in near]),
        },
        NEAR_POSITIONS,
        "position",
        7,
    )
    judge("boundary distance / shapely", took["ours"] / took["shapely, one position a call"], 30)


if __name__ == "__main__":
    main()
