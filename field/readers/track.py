"""A recorded track as flat arrays, and its figures: length, climb, time span, bounds, stops, the thinned line.

A point costs 36 bytes: a day's walk of 20,000 points is smaller than one thumbnail. Missing heights and times are
NaN inside the arrays and None outside of them.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from field.core.geodesy import distance_m, metres_per_degree, wrap_lon
from field.readers.trouble import Trouble

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

# Heights of receivers without a barometer wander by some metres while standing still: a rise counts once it is
# more than this above the lowest point since the last fall. Common practice; the plain sum is always more.
CLIMB_NOISE_M = 5.0
LOWEST_LAND_M, HIGHEST_LAND_M = -450.0, 8900.0  # heights beyond any dry land are left out of the climb

THIN_M = 2.0  # how far the phone's line may lie from the recorded one
MOST_AT_ONCE = 500  # points thinned at once: the cost of a part can grow with the square of its points
STOP_RADIUS_M, STOP_S = 20.0, 300.0  # staying within this for at least so long is a stop; common practice


@dataclass(frozen=True, slots=True)
class Waypoint:
    """A single marked point of a file."""

    lat: float
    lon: float
    height_m: float | None
    at: datetime | None
    name: str | None


@dataclass(frozen=True, slots=True)
class Route:
    """A planned line: positions without times."""

    name: str | None
    lats: array[float]
    lons: array[float]


@dataclass(frozen=True, slots=True)
class Stop:
    """A stay in one place."""

    lat: float
    lon: float
    starts_at: datetime
    ends_at: datetime


@dataclass(slots=True)
class Track:
    """All that was kept of one file."""

    version: str | None = None
    track_names: list[str | None] = field(default_factory=list)
    lats: array[float] = field(default_factory=lambda: array("d"))
    lons: array[float] = field(default_factory=lambda: array("d"))  # -180 <= lon < 180
    heights: array[float] = field(default_factory=lambda: array("d"))  # metres, NaN: not known
    times: array[float] = field(default_factory=lambda: array("d"))  # seconds since 1970, UTC; NaN: not known
    lines: array[int] = field(default_factory=lambda: array("I"))  # of each point in the file
    segment_starts: array[int] = field(default_factory=lambda: array("I"))  # index of the first point of each
    waypoints: list[Waypoint] = field(default_factory=list)
    routes: list[Route] = field(default_factory=list)
    times_rise: bool = False  # True: every point has a time, and none steps back; False: not known
    unsure_times: frozenset[int] = frozenset()  # indices of points whose clock was wrong: never matched by
    bad_points: int = 0
    is_cut_off: bool = False
    troubles: list[Trouble] = field(default_factory=list)

    @property
    def points(self) -> int:
        """Return how many track points were kept."""
        return len(self.lats)

    @property
    def name(self) -> str | None:
        """Return the first name that a track of the file has."""
        return next((name for name in self.track_names if name), None)

    def segments(self) -> Iterator[range]:
        """Yield the indices of the points of each segment, empty ones too."""
        for start, end in pairwise([*self.segment_starts, self.points]):
            yield range(start, end)


def length_m(track: Track) -> float:
    """Return the length of the recorded line in metres, heights not counted; segments are not joined.

    Accuracy: 0.01 m and 1e-6 of the length (tests/reference/test_gpx.py).
    """
    lats, lons = track.lats, track.lons
    legs = (distance_m(lats[i - 1], lons[i - 1], lats[i], lons[i]) for segment in track.segments() for i in segment[1:])
    return math.fsum(legs)


def climb_m(track: Track) -> float | None:
    """Return the metres climbed: the sum of the rises of more than CLIMB_NOISE_M, within segments.

    Returns: None when no segment has two points with a height, for then nothing is known of the climb.
    """
    total = 0.0
    known = False
    for segment in track.segments():
        heights = [h for h in track.heights[segment.start : segment.stop] if LOWEST_LAND_M <= h <= HIGHEST_LAND_M]
        known = known or len(heights) > 1
        total += _risen(heights)
    return total if known else None


def _risen(heights: list[float]) -> float:
    """Return the sum of the rises, each from a low to the high after it, that overcome the noise."""
    if not heights:
        return 0.0
    total = 0.0
    low = high = heights[0]
    for height in heights:
        if height > high:
            high = height
        elif high - height > CLIMB_NOISE_M:
            # A real fall: what rose before it is settled.
            if high - low > CLIMB_NOISE_M:
                total += high - low
            low = high = height
        elif height < low:
            low = high = height
    return total + (high - low if high - low > CLIMB_NOISE_M else 0.0)


def time_span(track: Track) -> tuple[datetime, datetime] | None:
    """Return the first and the last moment of the track, UTC; None if no point has a time.

    Times of a clock that was not set count only where there are no others.
    """
    unsure = track.unsure_times
    sure = [t for i, t in enumerate(track.times) if t == t and i not in unsure] if unsure else None
    times = sure or [t for t in track.times if t == t]
    if not times:
        return None
    return instant_of(min(times)), instant_of(max(times))


def instant_of(seconds: float) -> datetime:
    """Return the UTC instant of seconds since 1970, to the microsecond."""
    return EPOCH + timedelta(seconds=seconds)


def bounds(track: Track) -> list[float] | None:
    """Return [west, south, east, north] of the track points; west > east where it crosses the 180th meridian."""
    if not track.points:
        return None
    turn = 0.0
    here = west = east = track.lons[0]
    for lon in track.lons:
        step = lon + turn - here
        if step > 180.0:
            turn -= 360.0
        elif step < -180.0:
            turn += 360.0
        here = lon + turn
        if here < west:
            west = here
        elif here > east:
            east = here
    if east - west >= 360.0:
        west, east = -180.0, 180.0
    # Wound back by whole turns only, so that the figures are those of the file to the last digit.
    return [_unwound(west, track.lons), min(track.lats), _unwound(east, track.lons), max(track.lats)]


def _unwound(lon: float, lons: array[float]) -> float:
    """Return a wound longitude as it stands in the file: adding a turn and taking it off loses the last digits."""
    plain = wrap_lon(lon)
    if plain in (-180.0, 180.0) or plain == lon:
        return plain
    return min(lons, key=lambda known: abs(known - plain))


def thin_line(track: Track, within_m: float = THIN_M) -> list[list[list[float]]]:
    """Return each segment as a short line that lies within some metres of the recorded one.

    Args:
        within_m: how far a left-out point may lie from the line.
    Returns: for each segment with points a list of [lon, lat], rounded to 6 digits (0.1 m); GeoJSON order.
    Source: Douglas and Peucker 1973, doi:10.3138/FM57-6770-U75U-7727, without recursion.
    """
    lines = []
    for segment in track.segments():
        if not segment:
            continue
        keep: dict[int, None] = {}
        for start in range(segment.start, segment.stop, MOST_AT_ONCE):
            # Neighbouring parts share a point, so that the line stays whole.
            keep.update(
                dict.fromkeys(_kept(track, range(start, min(start + MOST_AT_ONCE + 1, segment.stop)), within_m))
            )
        lines.append([[round(track.lons[i], 6), round(track.lats[i], 6)] for i in keep])
    return lines


def _kept(track: Track, segment: range, within_m: float) -> list[int]:
    """Return the indices that a thinned segment keeps, first and last always among them."""
    lats, lons = track.lats, track.lons
    # A plane through the segment's first point: over the few km of a walk its scale is off by well under 1 %.
    north_m, east_m = metres_per_degree(lats[segment.start])
    lat0, lon0 = lats[segment.start], lons[segment.start]
    xs = array("d", (wrap_lon(lons[i] - lon0) * east_m for i in segment))
    ys = array("d", ((lats[i] - lat0) * north_m for i in segment))
    last = len(segment) - 1
    keep = {0, last}
    spans = [(0, last)]
    while spans:
        first, final = spans.pop()
        if final - first < 2:
            continue
        at, off = _farthest(xs, ys, first, final)
        if off > within_m:
            keep.add(at)
            spans += [(first, at), (at, final)]
    return [segment.start + i for i in sorted(keep)]


def _farthest(xs: array[float], ys: array[float], first: int, final: int) -> tuple[int, float]:
    """Return which point between two lies farthest from the leg that joins them, and how far."""
    x1, y1 = xs[first], ys[first]
    dx, dy = xs[final] - x1, ys[final] - y1
    long2 = dx * dx + dy * dy
    best, worst2 = first, -1.0
    for i in range(first + 1, final):
        px, py = xs[i] - x1, ys[i] - y1
        along = 0.0 if long2 == 0.0 else (px * dx + py * dy) / long2
        if along > 1.0:
            along = 1.0
        elif along < 0.0:
            along = 0.0
        ox, oy = px - along * dx, py - along * dy
        off2 = ox * ox + oy * oy
        if off2 > worst2:
            best, worst2 = i, off2
    return best, math.sqrt(max(0.0, worst2))


def find_stops(track: Track) -> list[Stop]:
    """Return the stays of at least STOP_S seconds within STOP_RADIUS_M of where they began, in file order."""
    stops: list[Stop] = []
    for segment in track.segments():
        timed = [i for i in segment if track.times[i] == track.times[i] and i not in track.unsure_times]
        at = 0
        while at < len(timed):
            first = timed[at]
            end, moved = at + 1, None
            while end < len(timed) and (off_m := _apart_m(track, first, timed[end])) <= STOP_RADIUS_M:
                if moved is None and off_m > STOP_RADIUS_M / 2:
                    moved = end
                end += 1
            last = timed[end - 1]
            if track.times[last] - track.times[first] >= STOP_S:
                span = instant_of(track.times[first]), instant_of(track.times[last])
                stops.append(Stop(track.lats[first], track.lons[first], *span))
                at = end
            else:
                # Start again half a radius or half the points on, not at the very next one: else a long rest, or a
                # clock that stands still, costs the square of its points.
                at = end if moved is None else max(moved, (at + end) // 2)
    return stops


def _apart_m(track: Track, one: int, other: int) -> float:
    lats, lons = track.lats, track.lons
    return distance_m(lats[one], lons[one], lats[other], lons[other])
