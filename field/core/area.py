"""The ground a leave or a site covers: inside, outside or on the line, and how far to the boundary.

An area is read from a GeoJSON Polygon or MultiPolygon (RFC 7946), with holes and any number of parts. Rings are
unwound, so that longitudes run on past 180 where a ring crosses that line. Parts that meet along the 180th meridian,
as RFC 7946 asks of whoever writes such an area, are one piece of ground: the line between them is no boundary.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from geographiclib.geodesic import Geodesic

from field.core.errors import BadShape
from field.core.geodesy import metres_per_degree
from field.core.nearest_edge import Edge, NearestEdge

INSIDE = "inside"
OUTSIDE = "outside"
ON_LINE = "on"

ON_LINE_M = 0.001  # a tenth of what the usual eight decimals of a degree tell apart
BOX_SLACK_DEG = 1e-6  # 0.11 m northwards, and more than 1 mm eastwards up to BOX_LAT
BOX_LAT = 89.0
LINE_180 = 180.0

Ring = tuple[tuple[float, float], ...]  # (lon, lat), first equal to last, longitudes unwound
Span = tuple[float, float]  # from, to: latitudes along the 180th meridian


@dataclass(frozen=True, slots=True)
class Piece:
    """Parts of an area that hang together: one polygon, or several that meet along the 180th meridian."""

    parts: tuple[tuple[Ring, ...], ...]  # each: outer ring, then holes; all in one run of longitudes
    edges: tuple[Edge, ...]  # the true boundary: no edge along a seam
    seam_lon: float  # the 180th meridian in this piece's run of longitudes
    seams: tuple[Span, ...]  # where it is crossed on the inside, from part to part
    bounds: tuple[float, float, float, float]  # west, south, east, north
    nearest: NearestEdge  # the same edges, for how far they are


@dataclass(frozen=True, slots=True)
class Area:
    """A checked area, ready to be asked."""

    pieces: tuple[Piece, ...]
    rings: tuple[tuple[Ring, ...], ...]  # as read, part by part
    box: tuple[float, float, float, float]  # west, south, east, north: nothing beyond is on it; infinite near 180


def read_area(geometry: object, where: str = "area") -> Area:
    """Return a checked area from a GeoJSON geometry.

    Args:
        geometry: Polygon or MultiPolygon as plain JSON; `[lon, lat]` positions, a third number is passed over. A ring
            that crosses the 180th meridian may jump from 179 to -179 or run on to 181.
        where: place of the geometry in the input, for the sentence of the error.
    Raises: BadShape if it is of another type, or a ring is open, has fewer than 4 positions or fewer than 3 different
        ones, holds something that is no position, goes round a pole, or is wider than half the earth.
    """
    cure = "Draw the area again."
    if not isinstance(geometry, Mapping):
        raise BadShape("The area is not a Polygon or MultiPolygon.", cure, where)
    kind = geometry.get("type")
    if kind not in ("Polygon", "MultiPolygon"):
        raise BadShape(f"The area must be a Polygon or MultiPolygon, not {_named(kind)}.", cure, f"{where}.type")
    inside = f"{where}.coordinates"
    coordinates = _read_list(geometry.get("coordinates"), "The area has no list of rings.", inside)
    if kind == "Polygon":
        parts = [_read_part(coordinates, inside)]
    else:
        parts = [
            _read_part(_read_list(part, "A part of the area is no list of rings.", f"{inside}[{i}]"), f"{inside}[{i}]")
            for i, part in enumerate(coordinates)
        ]
    if not parts:
        raise BadShape("The area has no parts.", cure, inside)
    pieces = _join_parts(parts)
    return Area(pieces, tuple(parts), _box_around(pieces))


def covers(area: Area, lat: float, lon: float) -> str:
    """Return whether a position is on the ground of an area: 'inside', 'outside' or 'on' its boundary line.

    Args:
        area: from `read_area`.
        lat, lon: degrees, checked (`geodesy.read_position`).
    Accuracy: 'on' within 1 mm of the line.
    """
    # Of all sites a position is far from nearly all: the answer to those has to cost next to nothing.
    west, south, east, north = area.box
    if not (south <= lat <= north and west <= lon <= east):
        return OUTSIDE
    answer = OUTSIDE
    for piece in area.pieces:
        got = _piece_covers(piece, lat, lon)
        if got == INSIDE:
            return INSIDE
        if got == ON_LINE:
            answer = ON_LINE
    return answer


def boundary_distance_m(area: Area, lat: float, lon: float) -> float:
    """Return the shortest distance from a position to the boundary of an area, from either side.

    Args:
        area: from `read_area`.
        lat, lon: degrees, checked.
    Returns: metres, never negative; 0.0 on the line. Inside or outside is not told: see `covers`.
        Edges are straight in longitude and latitude, as RFC 7946 has them. Where parts overlap, it is the part whose
        boundary is farthest from a position inside it that counts.
    Accuracy: within 2 mm up to 20 km from the boundary, however long its edges, at every latitude and across the 180th
        meridian (tests/reference/test_far_ground.py); 0.1 m up to 200 km.
    """
    found = [(_piece_covers(piece, lat, lon), piece) for piece in area.pieces]
    around = [piece for where, piece in found if where == INSIDE]
    if around:
        return max(piece.nearest.distance_m(lat, lon) for piece in around)
    if any(where == ON_LINE for where, _ in found):
        return 0.0
    return min(piece.nearest.distance_m(lat, lon) for piece in area.pieces)


def area_m2(area: Area) -> float:
    """Return the ground of an area in square metres, its holes left out; edges taken as geodesics."""
    total = 0.0
    for outer, *holes in area.rings:
        total += _ring_m2(outer) - math.fsum(_ring_m2(hole) for hole in holes)
    return total


def bounds(area: Area) -> tuple[float, float, float, float]:
    """Return west, south, east, north in degrees; one of the sides is beyond 180 where the area crosses that line."""
    first = area.pieces[0].bounds
    boxes = []
    for west, south, east, north in (piece.bounds for piece in area.pieces):
        # Pieces on both sides of the 180th meridian are told side by side, not with the whole earth between.
        by_deg = 360.0 * _turns((first[0] + first[2] - west - east) / 2)
        boxes.append((west + by_deg, south, east + by_deg, north))
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


# --- reading -------------------------------------------------------------------------------------------------------


def _named(kind: object) -> str:
    return f'"{kind}"' if isinstance(kind, str) else "something without a type"


def _read_list(value: object, sentence: str, where: str) -> Sequence[object]:
    if not isinstance(value, (list, tuple)):
        raise BadShape(sentence, "Draw the area again.", where)
    return value


def _read_part(coordinates: Sequence[object], where: str) -> tuple[Ring, ...]:
    if not coordinates:
        raise BadShape("The area has no ring.", "Draw the area again.", where)
    outer, *holes = [_read_ring(ring, f"{where}[{i}]") for i, ring in enumerate(coordinates)]
    middle = _middle_lon(outer)
    # A hole is brought into the same run of longitudes as the ring around it.
    return (outer, *(_shifted(hole, 360.0 * _turns(middle - _middle_lon(hole))) for hole in holes))


def _read_ring(value: object, where: str) -> Ring:
    cure = "Draw the area again."
    raw = _read_list(value, "A ring of the area is no list of positions.", where)
    if len(raw) < 4:
        raise BadShape("A ring of the area has fewer than 4 positions.", cure, where)
    given = [_read_vertex(vertex, f"{where}[{i}]") for i, vertex in enumerate(raw)]
    ring = [given[0]]
    turns = 0
    for (before, _), (lon, lat) in pairwise(given):
        # A step of more than half the earth is a step over the 180th meridian.
        turns += (before - lon > 180.0) - (lon - before > 180.0)
        ring.append((lon + 360.0 * turns, lat))
    if ring[-1] != ring[0]:
        same_spot = given[-1] == given[0]
        raise BadShape(
            "A ring of the area goes round a pole." if same_spot else "A ring of the area is open.",
            "Draw it without the pole." if same_spot else "End it where it began.",
            where,
        )
    if len(set(ring)) < 3:
        raise BadShape("A ring of the area has fewer than 3 different positions.", cure, where)
    west, east = min(lon for lon, _ in ring), max(lon for lon, _ in ring)
    if east - west >= 180.0:
        raise BadShape("A ring of the area is wider than half the earth.", "Check the longitudes.", where)
    beyond = any(abs(lon) > 180.0 for lon, _ in given)
    if beyond and not (west <= 180.0 <= east or west <= -180.0 <= east):
        raise BadShape("A longitude of the area must lie between -180 and 180 degrees.", "Check the longitudes.", where)
    clean = [vertex for i, vertex in enumerate(ring) if i == 0 or vertex != ring[i - 1]]
    return tuple(clean)


def _read_vertex(value: object, where: str) -> tuple[float, float]:
    numbers = value[:2] if isinstance(value, (list, tuple)) else ()
    if len(numbers) < 2 or any(isinstance(n, bool) or not isinstance(n, (int, float)) for n in numbers):
        raise BadShape("A position of the area is not a longitude and a latitude.", "Draw the area again.", where)
    lon, lat = numbers
    # So written that NaN is refused too. Longitudes up to 360 are for rings that cross the 180th meridian.
    if not abs(lat) <= 90:
        raise BadShape("A latitude of the area must lie between -90 and 90 degrees.", "Check the latitudes.", where)
    if not abs(lon) <= 360:
        raise BadShape("A longitude of the area must lie between -180 and 180 degrees.", "Check the longitudes.", where)
    return float(lon), float(lat)


def _middle_lon(ring: Ring) -> float:
    return (min(lon for lon, _ in ring) + max(lon for lon, _ in ring)) / 2


def _turns(degrees: float) -> int:
    """Return the number of whole turns nearest to an angle."""
    return math.floor(degrees / 360.0 + 0.5)


def _shifted(ring: Ring, by_deg: float) -> Ring:
    return tuple((lon + by_deg, lat) for lon, lat in ring) if by_deg else ring


# --- parts that meet along the 180th meridian ----------------------------------------------------------------------


def _join_parts(parts: Sequence[tuple[Ring, ...]]) -> tuple[Piece, ...]:
    """Return the pieces of ground that parts make up."""
    # Each part is wound so that the meridian, if it touches it, is at 180 and not at -180.
    wound = [_to_line_180(part) for part in parts]
    touches = [_seam_spans(part) for part in wound]
    group = list(range(len(parts)))
    seams: list[list[Span]] = [[] for _ in parts]
    for i, (west_i, east_i) in enumerate(touches):
        for j in range(i):
            west_j, east_j = touches[j]
            shared = _overlaps(west_i, east_j) + _overlaps(west_j, east_i)
            if shared:
                seams[i] += shared
                old, new = group[i], group[j]
                group = [new if mark == old else mark for mark in group]
    pieces = []
    for mark in sorted(set(group)):
        members = [i for i, other in enumerate(group) if other == mark]
        spans = _merged([span for i in members for span in seams[i]])
        pieces.append(_make_piece([wound[i] for i in members], spans))
    return tuple(pieces)


def _to_line_180(part: tuple[Ring, ...]) -> tuple[Ring, ...]:
    touches_minus = any(lon == -LINE_180 for lon, _ in part[0])
    return tuple(_shifted(ring, 360.0) for ring in part) if touches_minus else part


def _seam_spans(part: tuple[Ring, ...]) -> tuple[list[Span], list[Span]]:
    """Return where a part runs along the 180th meridian: with its ground on the west side, then on the east."""
    west: list[Span] = []
    east: list[Span] = []
    for number, ring in enumerate(part):
        # The ground is on the left of an outer ring that runs against the clock; holes are the other way about.
        ground_on_left = (_signed(ring) > 0) == (number == 0)
        for (lon1, lat1), (lon2, lat2) in pairwise(ring):
            if lon1 == lon2 == LINE_180 and lat1 != lat2:
                side = west if (lat2 > lat1) == ground_on_left else east
                side.append((min(lat1, lat2), max(lat1, lat2)))
    return _merged(west), _merged(east)


def _signed(ring: Ring) -> float:
    lon0, lat0 = ring[0]
    return math.fsum(
        (lon1 - lon0) * (lat2 - lat0) - (lon2 - lon0) * (lat1 - lat0) for (lon1, lat1), (lon2, lat2) in pairwise(ring)
    )


def _merged(spans: Sequence[Span]) -> list[Span]:
    joined: list[Span] = []
    for low, high in sorted(spans):
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def _overlaps(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    found = [(max(a[0], b[0]), min(a[1], b[1])) for a in some for b in others]
    return [span for span in found if span[0] < span[1]]


def _make_piece(parts: Sequence[tuple[Ring, ...]], seams: Sequence[Span]) -> Piece:
    edges: list[Edge] = []
    for ring in (ring for part in parts for ring in part):
        for (lon1, lat1), (lon2, lat2) in pairwise(ring):
            if lon1 == lon2 == LINE_180 and seams:
                edges += [(LINE_180, low, LINE_180, high) for low, high in _without(lat1, lat2, seams)]
            else:
                edges.append((lon1, lat1, lon2, lat2))
    lons = [lon for part in parts for lon, _ in part[0]]
    lats = [lat for part in parts for _, lat in part[0]]
    bounds_of_all = (min(lons), min(lats), max(lons), max(lats))
    return Piece(tuple(parts), tuple(edges), LINE_180, tuple(seams), bounds_of_all, NearestEdge(edges))


def _without(lat1: float, lat2: float, seams: Sequence[Span]) -> list[Span]:
    """Return what is left of an edge along the meridian after its seams are taken out."""
    low, high = min(lat1, lat2), max(lat1, lat2)
    left = []
    for seam_low, seam_high in seams:
        if seam_high <= low or seam_low >= high:
            continue
        if seam_low > low:
            left.append((low, seam_low))
        low = max(low, seam_high)
    if low < high:
        left.append((low, high))
    return left


def _box_around(pieces: Sequence[Piece]) -> tuple[float, float, float, float]:
    """Return a box of plain longitudes with room for the line itself; an infinite one where there is none so plain."""
    west = min(piece.bounds[0] for piece in pieces) - BOX_SLACK_DEG
    south = min(piece.bounds[1] for piece in pieces) - BOX_SLACK_DEG
    east = max(piece.bounds[2] for piece in pieces) + BOX_SLACK_DEG
    north = max(piece.bounds[3] for piece in pieces) + BOX_SLACK_DEG
    # A longitude may be told as one on the other side of the 180th meridian only if the area comes near that line.
    if west <= -LINE_180 or east >= LINE_180 or south <= -BOX_LAT or north >= BOX_LAT:
        return -math.inf, -math.inf, math.inf, math.inf
    return west, south, east, north


# --- asking --------------------------------------------------------------------------------------------------------


def _near_lon(piece: Piece, lon: float) -> float:
    """Return a longitude in the piece's run of longitudes, on its nearer side."""
    off = (piece.bounds[0] + piece.bounds[2]) / 2 - lon
    return lon if -180.0 <= off < 180.0 else lon + 360.0 * _turns(off)


def _piece_covers(piece: Piece, lat: float, lon: float) -> str:
    west, south, east, north = piece.bounds
    if lat < south - BOX_SLACK_DEG or lat > north + BOX_SLACK_DEG:
        return OUTSIDE
    x = _near_lon(piece, lon)
    if (x < west - BOX_SLACK_DEG or x > east + BOX_SLACK_DEG) and -BOX_LAT <= lat <= BOX_LAT:
        return OUTSIDE
    north_m, east_m = metres_per_degree(lat)
    slack_y = ON_LINE_M / north_m
    # At the very pole all longitudes are one spot, and no box can be narrow enough.
    slack_x = ON_LINE_M / east_m if east_m > ON_LINE_M else 360.0
    if not (west - slack_x <= x <= east + slack_x and south - slack_y <= lat <= north + slack_y):
        return OUTSIDE
    low, high = lat - slack_y, lat + slack_y
    for lon1, lat1, lon2, lat2 in piece.edges:
        if (lat1 < low and lat2 < low) or (lat1 > high and lat2 > high):
            continue
        if min(lon1, lon2) - slack_x <= x <= max(lon1, lon2) + slack_x:
            spot = _nearest_spot(x, lat, (lon1, lat1, lon2, lat2), north_m, east_m)
            if math.hypot((spot[0] - x) * east_m, (spot[1] - lat) * north_m) <= ON_LINE_M:
                return ON_LINE
    if x == piece.seam_lon and any(low <= lat <= high for low, high in piece.seams):
        return INSIDE
    if any(_in_ring(outer, lat, x) and not any(_in_ring(h, lat, x) for h in holes) for outer, *holes in piece.parts):
        return INSIDE
    return OUTSIDE


def in_hole(area: Area, lat: float, lon: float) -> bool:
    """Return whether a position lies in a piece that was left out of an area, and on none of its ground.

    Args: as `covers`.
    """
    if covers(area, lat, lon) != OUTSIDE:
        return False
    return any(
        _in_ring(outer, lat, x) and any(_in_ring(hole, lat, x) for hole in holes)
        for piece in area.pieces
        for x in (_near_lon(piece, lon),)
        for outer, *holes in piece.parts
    )


def _in_ring(ring: Ring, lat: float, x: float) -> bool:
    """Return whether a position off the line is within a ring, by the count of edges east of it."""
    inside = False
    lon1, lat1 = ring[0]
    for lon2, lat2 in ring[1:]:
        if (lat1 > lat) != (lat2 > lat) and x < lon1 + (lat - lat1) * (lon2 - lon1) / (lat2 - lat1):
            inside = not inside
        lon1, lat1 = lon2, lat2
    return inside


def _nearest_spot(x: float, lat: float, edge: Edge, north_m: float, east_m: float) -> tuple[float, float]:
    """Return the (lon, lat) on an edge that is nearest in the plane of the position."""
    lon1, lat1, lon2, lat2 = edge
    dx, dy = (lon2 - lon1) * east_m, (lat2 - lat1) * north_m
    square = dx * dx + dy * dy
    if square == 0.0:
        return lon1, lat1
    along = ((x - lon1) * east_m * dx + (lat - lat1) * north_m * dy) / square
    along = min(1.0, max(0.0, along))
    return lon1 + along * (lon2 - lon1), lat1 + along * (lat2 - lat1)


def _ring_m2(ring: Ring) -> float:
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in ring[:-1]:
        polygon.AddPoint(lat, lon)
    return abs(float(polygon.Compute(False, True)[2]))
