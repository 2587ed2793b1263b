"""A map sketch of the ground of a leave: its boundary, the site around it, north, a scale bar. Drawing commands only.

The ground is laid flat around the middle of what is shown, north upwards. A sketch shows where, not how far: over a
site it is true to a thousandth, which is less than the line is wide.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from field.core.area import Area, area_m2, bounds, read_area
from field.core.errors import BadShape
from field.core.geodesy import metres_per_degree

SITE = "site"
AREA = "area"
MARK = "mark"
BAR = "bar"
NORTH = "north"

MARGIN = 14.0  # around the ground, points
FOOT = 30.0  # below it, for the bar
BAR_PART = 0.3  # the bar is no longer than this part of the width
LEAST_WIDE_M = 20.0  # ground smaller than this is not drawn larger
LETTER_WIDE, WORD_HIGH = 5.0, 8.0  # of the words beside marks, roughly
FORM_POINTS = 400  # corners of a ring that are drawn; more cannot be told apart on paper

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """Lines or an area: rings of points, inner rings are holes."""

    kind: str  # SITE, AREA, MARK, BAR or NORTH
    rings: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Word:
    """A word beside a shape; x, y of its middle or its beginning on the baseline."""

    text: str
    x: float
    y: float
    centred: bool


@dataclass(frozen=True, slots=True)
class Sketch:
    """A sketch: points of 1/72 inch from its upper left corner, y downwards."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    words: tuple[Word, ...]
    bar_m: float  # length of the scale bar on the ground
    points_per_m: float
    trouble: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Mark:
    """A place to be marked, as where a tree was lifted."""

    lat: float
    lon: float
    word: str


def find_area(geometry: object) -> Area | None:
    """Return the area of a geometry, None where there is none or it cannot be used."""
    try:
        return None if geometry is None else read_area(geometry)
    except BadShape:
        return None


def hectares(area: Area) -> float:
    """Return the ground of an area in hectares, holes left out."""
    return area_m2(area) / 10_000


def draw_sketch(
    site: object, area: object, marks: Sequence[Mark] = (), width: float = 360.0, height: float = 230.0
) -> Sketch | None:
    """Return the sketch of a leave's ground, None where neither site nor area can be drawn.

    Args:
        site, area: GeoJSON Polygon or MultiPolygon; area None for the whole site.
        marks: places to be marked, in the order they are drawn.
        width, height: of the sketch, points; the ground is fitted into it.
    """
    whole, part = find_area(site), find_area(area)
    trouble = tuple(
        f"The boundary of the {name} cannot be drawn."
        for name, given, read in (("site", site, whole), ("leave’s area", area, part))
        if given is not None and read is None
    )
    ground = part or whole
    if ground is None:
        return None
    plane = _Plane(ground, whole, marks, width, height)
    shapes = []
    if whole is not None and part is not None:
        shapes.append(Shape(SITE, plane.rings(whole)))
    shapes.append(Shape(AREA, plane.rings(ground)))
    words: list[Word] = []
    for mark in marks:
        x, y = plane.place(mark.lon, mark.lat)
        shapes.append(Shape(MARK, (_circle(x, y, 3.2),)))
        words.append(_beside(mark.word, x, y, words))
    bar_m = round_length(width * BAR_PART / plane.scale)
    shapes += [_bar(MARGIN, height - 12, bar_m * plane.scale), *_north(width - MARGIN - 6, height - 10)]
    words.append(Word(_length_words(bar_m), MARGIN + bar_m * plane.scale + 6, height - 9, centred=False))
    words.append(Word("N", width - MARGIN - 6, height - 34, centred=True))
    return Sketch(width, height, tuple(shapes), tuple(words), bar_m, plane.scale, trouble)


def round_length(most_m: float) -> float:
    """Return the longest round length that is no longer: 1, 2 or 5 times a power of ten, in metres."""
    power = 10.0 ** math.floor(math.log10(most_m))
    return max(step * power for step in (1, 2, 5) if step * power <= most_m * (1 + 1e-9))


class _Plane:
    """The ground laid flat and fitted into the sketch."""

    def __init__(self, ground: Area, whole: Area | None, marks: Sequence[Mark], width: float, height: float) -> None:
        west, south, east, north = bounds(ground)
        self.lon0, self.lat0 = (west + east) / 2, (south + north) / 2
        self.north_m, self.east_m = metres_per_degree(self.lat0)
        flat = [self._flat(west, south), self._flat(east, north)]
        flat += [self._flat(mark.lon, mark.lat) for mark in marks]
        if whole is not None and whole is not ground:
            # The site around it is shown as far as it helps: no more than twice as far as the leave's own ground.
            reach = max(flat[1][0] - flat[0][0], flat[1][1] - flat[0][1], LEAST_WIDE_M)
            site = bounds(whole)
            for corner in (self._flat(site[0], site[1]), self._flat(site[2], site[3])):
                flat.append((max(-reach, min(reach, corner[0])), max(-reach, min(reach, corner[1]))))
        xs, ys = [x for x, _ in flat], [y for _, y in flat]
        wide, high = max(max(xs) - min(xs), LEAST_WIDE_M), max(max(ys) - min(ys), LEAST_WIDE_M)
        inner_w, inner_h = width - 2 * MARGIN, height - 2 * MARGIN - FOOT
        self.scale = min(inner_w / wide, inner_h / high)
        self.x0 = MARGIN + inner_w / 2 - self.scale * (max(xs) + min(xs)) / 2
        self.y0 = MARGIN + inner_h / 2 + self.scale * (max(ys) + min(ys)) / 2
        self.limits = (0.0, 0.0, width, height)  # what is cut off lies on the frame, and draws no edge of its own

    def _flat(self, lon: float, lat: float) -> Point:
        turned = lon - self.lon0
        return (turned - 360 * round(turned / 360)) * self.east_m, (lat - self.lat0) * self.north_m

    def place(self, lon: float, lat: float) -> Point:
        x, y = self._flat(lon, lat)
        return self.x0 + x * self.scale, self.y0 - y * self.scale

    def rings(self, area: Area) -> tuple[tuple[Point, ...], ...]:
        found = []
        for part in area.rings:
            for ring in part:
                step = max(1, len(ring) // FORM_POINTS)
                points = [self.place(lon, lat) for lon, lat in ring[:-1:step]]
                cut = _clip(points, self.limits)
                if len(cut) >= 3:
                    found.append(tuple(cut))
        return tuple(found)


def _clip(points: list[Point], limits: tuple[float, float, float, float]) -> list[Point]:
    """Return what of a ring lies within limits (Sutherland and Hodgman 1974)."""
    for axis, limit, keep_below in (
        (0, limits[0], False),
        (0, limits[2], True),
        (1, limits[1], False),
        (1, limits[3], True),
    ):
        found: list[Point] = []
        for at, here in enumerate(points):
            before = points[at - 1]
            inside, was = ((one[axis] <= limit) if keep_below else (one[axis] >= limit) for one in (here, before))
            if inside != was:
                part = (limit - before[axis]) / (here[axis] - before[axis])
                cut = [before[0] + part * (here[0] - before[0]), before[1] + part * (here[1] - before[1])]
                cut[axis] = limit
                found.append((cut[0], cut[1]))
            if inside:
                found.append(here)
        points = found
    return points


def _beside(text: str, x: float, y: float, words: Sequence[Word]) -> Word:
    """Return a word beside a mark, where it covers none of the others if there is such a place."""
    wide = LETTER_WIDE * len(text)
    for left, up in ((6, 3), (-6 - wide, 3), (-wide / 2, -6), (-wide / 2, 13), (8, -5), (8, 11), (-8 - wide, -5)):
        word = Word(text, x + left, y + up, centred=False)
        if not any(
            abs(word.y - other.y) < WORD_HIGH
            and word.x < other.x + LETTER_WIDE * len(other.text)
            and other.x < word.x + wide
            for other in words
        ):
            return word
    return Word(text, x + 6, y + 3, centred=False)


def _circle(x: float, y: float, radius: float) -> tuple[Point, ...]:
    turns = [math.tau * step / 16 for step in range(16)]
    return tuple((x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns)


def _bar(x: float, y: float, wide: float) -> Shape:
    half = wide / 2
    left = ((x, y - 3), (x + half, y - 3), (x + half, y), (x, y))
    right = ((x + half, y - 3), (x + wide, y - 3), (x + wide, y), (x + half, y))
    return Shape(BAR, (left, right))


def _north(x: float, y: float) -> list[Shape]:
    return [
        Shape(NORTH, (((x, y - 22), (x - 4.5, y), (x, y - 5)),)),
        Shape(NORTH, (((x, y - 22), (x + 4.5, y), (x, y - 5)),)),
    ]


def _length_words(metres: float) -> str:
    return f"{metres / 1000:g} km" if metres >= 1000 else f"{metres:g} m"
