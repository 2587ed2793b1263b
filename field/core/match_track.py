"""Where on a recorded track a photo was taken, by time; and how far the camera's clock was off.

A track is only believed between two of its points that are near each other in time and on the ground: beyond that
nobody knows where the walker was, and the photo stays unplaced with the reason. A clock is only called known when
enough photos agree on it and no other answer fits nearly as well.
"""

from __future__ import annotations

import math
from array import array
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from operator import le
from statistics import fmean, median

from field.core.geodesy import distance_m, metres_per_degree, wrap_lon

MOST_GAP_S = 120.0  # design, section 5
MOST_GAP_M = 60.0
ANOTHER_DAY_S = 6 * 3600.0  # a longer gap is no gap: nothing was recorded then
RECEIVER_M = 10.0  # 68 % radius of a handheld receiver's point among trees; common practice
SCALED_MAD = 1.4826  # normal law: 1 / Φ⁻¹(3/4)

FAR_OUT = 2.5  # spreads from the median, beyond which an offset is left out of the mean; common practice

LEAST_PHOTOS = 3  # fewer cannot contradict each other
LEAST_SHARE = 0.6  # of the photos near the track must agree on one clock error
RIVAL_SHARE = 0.7  # another clock error that this share of those fits as well makes it undecided
RIVAL_S = 90.0  # errors nearer to each other than this are one answer
MOST_SPREAD_S = 60.0
MOST_SIGHTINGS = 200  # photos used for the estimate, evenly chosen: more do not make it better
BURST_S = 10.0  # photos within this are taken as one
NEAR_M = 25.0  # how far off the track a photo's own position may lie
TIGHT_M = 3.0  # a pass lasts while the walker is within this of its nearest
NARROW_S = 20.0  # a pass shorter than this tells the moment; a longer one is a stay
CELL_M = 100.0  # of the grid of the track: more than NEAR_M + MOST_GAP_M / 2


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a track in which time never steps back; all four of one length."""

    times: Sequence[float]  # seconds since 1970, UTC
    lats: Sequence[float]
    lons: Sequence[float]
    heights: Sequence[float]  # NaN: not known


@dataclass(frozen=True, slots=True)
class TimedLine:
    """All runs of all tracks, by their first time."""

    runs: tuple[Run, ...]
    starts: tuple[float, ...]  # first time of each run
    latest: tuple[float, ...]  # the latest time in this run or any before it


@dataclass(frozen=True, slots=True)
class Placed:
    """A place found on a track."""

    lat: float
    lon: float
    height_m: float | None
    accuracy_m: float  # 68 %
    gap_s: float  # between the two points it lies between
    gap_m: float


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Why no place was found."""

    code: str  # no-track-then, gap-time, gap-distance or two-places
    value: float | None  # the gap in s or m; None for no-track-then


@dataclass(frozen=True, slots=True)
class Sighting:
    """A photo that tells both its place and its camera's time."""

    camera_s: float  # the camera's time read as if it were UTC, seconds since 1970
    lat: float
    lon: float
    gps_s: float | None  # the satellites' time, if the photo has it


@dataclass(frozen=True, slots=True)
class ClockGuess:
    """How far a camera's clock is off."""

    offset_s: float | None  # to add to the camera's time to get UTC; None: cannot be told
    spread_s: float | None  # scaled MAD of the photos that agree
    photos: int  # that agree
    of: int  # that could have told
    source: str | None  # gps-times or track
    code: str  # found, too-few or contradicting


def rise(times: Sequence[float]) -> bool:
    """Return whether there are times and each of them is known and not before the one before."""
    return len(times) > 0 and times[0] == times[0] and all(map(le, times, islice(times, 1, None)))


def make_timed_line(
    tracks: Iterable[tuple[Sequence[float], ...]],
    unsure: Iterable[frozenset[int]],
    rising: Iterable[bool] | None = None,
) -> TimedLine:
    """Return tracks made ready for placing photos by time.

    Args:
        tracks: of each (times, lats, lons, heights); a time of NaN leaves the point out.
        unsure: for each the indices of points whose clock was wrong; left out too.
        rising: for each whether `rise` is known to hold of its times; None: looked at here.
    """
    runs: list[Run] = []
    tracks = list(tracks)
    known = [False] * len(tracks) if rising is None else rising
    for (times, lats, lons, heights), wrong, rises in zip(tracks, unsure, known, strict=True):
        if not wrong and (rises or rise(times)):
            runs.append(Run(times, lats, lons, heights))
            continue
        kept = [i for i, t in enumerate(times) if t == t and i not in wrong]
        cuts = [n for n in range(1, len(kept)) if times[kept[n]] < times[kept[n - 1]]]
        for start, end in pairwise([0, *cuts, len(kept)] if kept else []):
            part = kept[start:end]
            runs.append(Run(*(array("d", (values[i] for i in part)) for values in (times, lats, lons, heights))))
    runs.sort(key=lambda run: run.times[0])
    latest: list[float] = []
    for run in runs:
        latest.append(max(run.times[-1], latest[-1] if latest else -math.inf))
    return TimedLine(tuple(runs), tuple(run.times[0] for run in runs), tuple(latest))


def place_photo(line: TimedLine, at_s: float, clock_spread_s: float = 0.0) -> Placed | Unplaced:
    """Return where on the tracks somebody was at a moment.

    Args:
        line: the tracks, made ready.
        at_s: the moment, seconds since 1970, UTC.
        clock_spread_s: how unsure the moment is; at the pace of that leg it makes the place unsure too.
    Returns: the place between the two points around the moment, if these are at most MOST_GAP_S and MOST_GAP_M
        apart; exactly on a point's time, that point. Else the reason. Of several tracks the nearest gap counts,
        unless they put it in two places.
    Accuracy: stated as the hypotenuse of three parts: RECEIVER_M; the distance to the nearer of the two points, since
        the walker may have stood there; the pace times `clock_spread_s`.
    """
    found: list[Placed] = []
    why: Unplaced | None = None
    runs, latest = line.runs, line.latest
    n = bisect_right(line.starts, at_s)
    while n and latest[n - 1] >= at_s:
        n -= 1
        run = runs[n]
        if run.times[-1] < at_s:
            continue
        got = _place_in(run, at_s, clock_spread_s)
        if isinstance(got, Placed):
            found.append(got)
        else:
            why = why or got
    if not found:
        return why or Unplaced("no-track-then", None)
    if len(found) == 1:
        return found[0]
    best = min(found, key=lambda place: (place.accuracy_m, place.gap_s))
    apart_m = max(distance_m(best.lat, best.lon, other.lat, other.lon) for other in found)
    return Unplaced("two-places", apart_m) if apart_m > MOST_GAP_M else best


def _place_in(run: Run, at_s: float, clock_spread_s: float) -> Placed | Unplaced:
    """Return the place in a run whose first and last time lie around the moment."""
    times, lats, lons = run.times, run.lats, run.lons
    after = bisect_right(times, at_s)
    before = after - 1
    t1, lat1, lon1 = times[before], lats[before], lons[before]
    if t1 == at_s:
        return Placed(lat1, lon1, _height(run.heights[before]), RECEIVER_M, 0.0, 0.0)
    lat2, lon2 = lats[after], lons[after]
    gap_s, gap_m = times[after] - t1, distance_m(lat1, lon1, lat2, lon2)
    if gap_s > MOST_GAP_S:
        return Unplaced("no-track-then", None) if gap_s > ANOTHER_DAY_S else Unplaced("gap-time", gap_s)
    if gap_m > MOST_GAP_M:
        return Unplaced("gap-distance", gap_m)
    share = (at_s - t1) / gap_s
    h1, h2 = run.heights[before], run.heights[after]
    nearer = share if share < 0.5 else 1.0 - share
    accuracy_m = math.hypot(RECEIVER_M, nearer * gap_m, gap_m / gap_s * clock_spread_s)
    lon, height = lon1 + (lon2 - lon1) * share, h1 + (h2 - h1) * share
    if not (-180.0 <= lon2 - lon1 <= 180.0 and lon < 180.0):  # the leg crosses the 180th meridian, or ends on it
        lon = wrap_lon(lon1 + wrap_lon(lon2 - lon1) * share)
        lon = -180.0 if lon == 180.0 else lon
    return Placed(lat1 + (lat2 - lat1) * share, lon, height if height == height else None, accuracy_m, gap_s, gap_m)


def _height(height: float) -> float | None:
    return height if height == height else None


def clock_from_reading(camera_s: float, shown_s: float) -> float:
    """Return the seconds to add to a camera's time, from its photo of a clock.

    Args:
        camera_s: the time the camera gave that photo, read as if it were UTC, seconds since 1970.
        shown_s: the true moment that the clock in the photo shows, UTC, seconds since 1970.
    """
    return shown_s - camera_s


def estimate_clock(sightings: Sequence[Sighting], line: TimedLine) -> ClockGuess:
    """Return how far one camera's clock is off, from its photos that know their place.

    Photos that have the satellites' time, within the tracks', tell it directly; the others by when the track passes
    their place. Each photo allows the clock errors of each of its passes; the error that most photos allow is the
    answer, made finer by the mean of those that passed without staying, outliers set aside.

    Args:
        sightings: of one camera; those off the track tell nothing.
        line: the tracks, made ready.
    Returns: also when it cannot be told: with too few photos, or when they contradict each other.
    """
    # Photos of one burst, or copies of one photo, are one piece of evidence.
    sightings = list({s.camera_s // BURST_S: s for s in sightings}.values())
    direct = [s.gps_s - s.camera_s for s in sightings if s.gps_s is not None and _was_recorded(line, s.gps_s)]
    if len(direct) >= LEAST_PHOTOS:
        return _from_direct(direct)
    chosen = sightings[:: math.ceil(len(sightings) / MOST_SIGHTINGS)] if len(sightings) > MOST_SIGHTINGS else sightings
    passes = [p for p in _passes(chosen, line) if p]
    if len(passes) < LEAST_PHOTOS:
        return ClockGuess(None, None, 0, len(passes), None, "too-few")
    coarse = _most_allowed([[(p.first_s, p.last_s) for p in one] for one in passes])
    if coarse is None:
        return ClockGuess(None, None, 0, len(passes), None, "contradicting")
    # Only the passes that allow that answer, now by when the walker was nearest.
    lowest, highest = coarse
    agreeing = [[p for p in one if p.first_s <= highest and p.last_s >= lowest] for one in passes]
    agreeing = [one for one in agreeing if one]
    narrow = [
        p.nearest_s for one in agreeing if len(one) == 1 for p in one if p.tight_last_s - p.tight_first_s <= NARROW_S
    ]
    if len(narrow) >= LEAST_PHOTOS:
        offset, spread = _middle(narrow)
    else:
        low, high = _most_covered([[(p.tight_first_s, p.tight_last_s) for p in one] for one in agreeing])
        offset = (low + high) / 2
        spread = (high - low) / 2
    if spread > MOST_SPREAD_S:
        return ClockGuess(None, None, len(agreeing), len(passes), None, "contradicting")
    return ClockGuess(offset, spread, len(agreeing), len(passes), "track", "found")


def _was_recorded(line: TimedLine, at_s: float) -> bool:
    """Return whether a moment lies between the first and last time of a run."""
    last = bisect_right(line.starts, at_s)
    return last > 0 and line.latest[last - 1] >= at_s


def _from_direct(offsets: Sequence[float]) -> ClockGuess:
    offset, spread = _middle(offsets)
    agreeing = sum(abs(o - offset) <= RIVAL_S for o in offsets)
    if agreeing < LEAST_SHARE * len(offsets) or spread > MOST_SPREAD_S:
        return ClockGuess(None, None, agreeing, len(offsets), None, "contradicting")
    return ClockGuess(offset, spread, agreeing, len(offsets), "gps-times", "found")


def _middle(offsets: Sequence[float]) -> tuple[float, float]:
    """Return the mean of those not far out, and the spread of all (scaled MAD about their median)."""
    centre = median(offsets)
    spread = SCALED_MAD * median(abs(o - centre) for o in offsets)
    return fmean(o for o in offsets if abs(o - centre) <= FAR_OUT * spread), spread


@dataclass(frozen=True, slots=True)
class _Pass:
    """One time that a track came by a photo's place, as the clock errors that it allows."""

    first_s: float  # within NEAR_M
    last_s: float
    nearest_s: float
    tight_first_s: float  # within TIGHT_M of the nearest
    tight_last_s: float


@dataclass(frozen=True, slots=True)
class _Leg:
    """Two neighbouring points of a run as seen from a photo's place, in metres east and north of it."""

    run: int
    at: int  # index of its first point
    t1: float
    t2: float
    x: float
    y: float
    dx: float
    dy: float

    def nearest(self) -> tuple[float, float]:
        """Return how near the leg comes in metres, and when."""
        long2 = self.dx * self.dx + self.dy * self.dy
        share = 0.0 if long2 == 0.0 else min(1.0, max(0.0, -(self.x * self.dx + self.y * self.dy) / long2))
        off_m = math.hypot(self.x + share * self.dx, self.y + share * self.dy)
        return off_m, self.t1 + share * (self.t2 - self.t1)

    def within(self, radius_m: float) -> tuple[float, float] | None:
        """Return from when to when the leg is within a radius; None if it never is."""
        a = self.dx * self.dx + self.dy * self.dy
        b = self.x * self.dx + self.y * self.dy
        c = self.x * self.x + self.y * self.y - radius_m * radius_m
        if a == 0.0:
            return (self.t1, self.t2) if c <= 0.0 else None
        root2 = b * b - a * c
        if root2 < 0.0:
            return None
        first, last = max(0.0, (-b - math.sqrt(root2)) / a), min(1.0, (-b + math.sqrt(root2)) / a)
        span = self.t2 - self.t1
        return (self.t1 + first * span, self.t1 + last * span) if first <= last else None


def _passes(sightings: Sequence[Sighting], line: TimedLine) -> list[list[_Pass]]:
    """Return for each sighting when the tracks come by its place."""
    if not sightings:
        return []
    # One scale for the whole grid, from the place farthest from the equator: its cells are the narrowest.
    steepest = min(85.0, max(abs(s.lat) for s in sightings))
    tall, wide = CELL_M / metres_per_degree(0.0)[0], CELL_M / metres_per_degree(steepest)[1]
    lon0 = sightings[0].lon

    def cell(lat: float, lon: float) -> tuple[int, int]:
        return int(lat // tall), int(wrap_lon(lon - lon0) // wide)

    wanted: dict[tuple[int, int], list[int]] = {}
    for n, s in enumerate(sightings):
        row, column = cell(s.lat, s.lon)
        for up in (-1, 0, 1):
            for right in (-1, 0, 1):
                wanted.setdefault((row + up, column + right), []).append(n)
    legs: list[dict[tuple[int, int], _Leg | None]] = [{} for _ in sightings]
    for r, run in enumerate(line.runs):
        last = len(run.times) - 1
        for i, (lat, lon) in enumerate(zip(run.lats, run.lons, strict=True)):
            for n in wanted.get(cell(lat, lon), ()):
                for at in (i - 1, i):
                    if 0 <= at < last and (r, at) not in legs[n]:
                        legs[n][r, at] = _leg(run, r, at, sightings[n])
    return [_as_passes([own[key] for key in sorted(own)], s.camera_s) for own, s in zip(legs, sightings, strict=True)]


def _leg(run: Run, r: int, at: int, here: Sighting) -> _Leg | None:
    """Return a leg of a run as seen from a photo; None if its gap is too wide to be believed or it stays away."""
    north_m, east_m = metres_per_degree(here.lat)
    t1, t2 = run.times[at], run.times[at + 1]
    x = wrap_lon(run.lons[at] - here.lon) * east_m
    y = (run.lats[at] - here.lat) * north_m
    dx = wrap_lon(run.lons[at + 1] - run.lons[at]) * east_m
    dy = (run.lats[at + 1] - run.lats[at]) * north_m
    if t2 - t1 > MOST_GAP_S or math.hypot(dx, dy) > MOST_GAP_M:
        return None
    leg = _Leg(r, at, t1, t2, x, y, dx, dy)
    return leg if leg.nearest()[0] <= NEAR_M else None


def _as_passes(legs: Sequence[_Leg | None], camera_s: float) -> list[_Pass]:
    """Return neighbouring legs joined to passes, their moments turned into clock errors."""
    groups: list[list[_Leg]] = []
    for leg in legs:
        if leg is None:
            continue
        if groups and groups[-1][-1].run == leg.run and groups[-1][-1].at == leg.at - 1:
            groups[-1].append(leg)
        else:
            groups.append([leg])
    passes = []
    for group in groups:
        off_m, nearest_t = min(leg.nearest() for leg in group)
        near = [span for leg in group if (span := leg.within(NEAR_M)) is not None]
        # A little more than asked for, so that rounding never leaves the nearest point itself outside.
        tight = [span for leg in group if (span := leg.within(off_m + TIGHT_M)) is not None]
        passes.append(
            _Pass(
                near[0][0] - camera_s if near else nearest_t - camera_s,
                near[-1][1] - camera_s if near else nearest_t - camera_s,
                nearest_t - camera_s,
                tight[0][0] - camera_s,
                tight[-1][1] - camera_s,
            )
        )
    return passes


def _most_allowed(photos: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float] | None:
    """Return the stretch of clock errors that most photos allow; None if too few do, or another fits nearly as well."""
    stretches = _coverage(photos)
    most = max(count for count, _, _ in stretches)
    if most < max(LEAST_PHOTOS, LEAST_SHARE * len(photos)):
        return None
    lowest, highest = next((low, high) for count, low, high in stretches if count == most)
    for count, low, high in stretches:
        if count >= RIVAL_SHARE * most and (low > highest + RIVAL_S or high < lowest - RIVAL_S):
            return None
    return lowest, highest


def _most_covered(photos: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float]:
    """Return the first stretch that most photos allow."""
    stretches = _coverage(photos)
    most = max(count for count, _, _ in stretches)
    return next((low, high) for count, low, high in stretches if count == most)


def _coverage(photos: Sequence[Sequence[tuple[float, float]]]) -> list[tuple[int, float, float]]:
    """Return stretches as (how many photos allow it, from, to), in order; a photo counts once in each."""
    edges: list[tuple[float, int]] = []
    for spans in photos:
        low, high = None, -math.inf
        for first, last in sorted(spans):
            if low is None or first > high:
                if low is not None:
                    edges += [(low, -1), (high, 1)]
                low, high = first, last
            else:
                high = max(high, last)
        if low is not None:
            edges += [(low, -1), (high, 1)]
    # -1 opens and 1 closes, so that at one place all open before any closes: touching stretches do meet.
    edges.sort()
    stretches = []
    count = 0
    for (here, kind), (there, _) in pairwise(edges):
        count -= kind
        stretches.append((count, here, there))
    return stretches
