"""Make the demo's walks: the days told from today, a track past the trees, and the photos taken on the way."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import gpxpy.gpx

from field.core.errors import BadInput

PACE_M_S = 0.9  # an easy walk over rough ground
STAY_S = 240  # at each tree
STEP_S = 12
METRES_A_DEGREE = 111_200.0  # good enough for a drawing

DAY = re.compile(r"(?:(?P<anchor>lift|\d+y \d\d-\d\d))? ?(?P<days>[+-]\d+d)?")


def read_day(text: str | None, today: date, lifted_on: date | None = None) -> date | None:
    """Return the date that a day of a demo site means, told from the day it is loaded.

    Args:
        text: '-12d', '+30d', '2y 03-14' (the last 14 March gone by, two years earlier), either with days added
            ('2y 03-14 +60d'), or 'lift+30d'. None stays None.
        today: the day of loading.
        lifted_on: what 'lift' stands for.
    Raises: BadInput for anything else.
    """
    if text is None:
        return None
    got = DAY.fullmatch(text)
    if got is None or not any(got.groups()):
        raise BadInput(f"{text!r} is no day of a demo site.", where="demo")
    start = today
    anchor = got["anchor"]
    if anchor == "lift":
        if lifted_on is None:
            raise BadInput(f"{text!r} hangs on a lift that is not there.", where="demo")
        start = lifted_on
    elif anchor:
        years, month_day = anchor.split("y ")
        month, day = (int(part) for part in month_day.split("-"))
        start = date(today.year, month, day)
        if start > today:
            start = date(today.year - 1, month, day)
        start = date(start.year - int(years), month, day)
    return start + timedelta(days=int(got["days"][:-1]) if got["days"] else 0)


def at_local(day: date, clock: time, zone: str) -> datetime:
    """Return the instant (aware UTC) of a wall-clock time on a day in a zone."""
    return datetime.combine(day, clock, ZoneInfo(zone)).astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Stop:
    """A stay at one tree: when it began and where the walker stood."""

    tag: str
    from_at: datetime
    lat: float
    lon: float


@dataclass(frozen=True, slots=True)
class Walk:
    gpx: gpxpy.gpx.GPX
    stops: tuple[Stop, ...]


def _metres(a: Sequence[float], b: Sequence[float]) -> float:
    return math.hypot((b[0] - a[0]), (b[1] - a[1]) * math.cos(math.radians(a[0]))) * METRES_A_DEGREE


def make_walk(
    name: str,
    gate: Sequence[float],
    trees: Sequence[Mapping[str, object]],
    start_at: datetime,
    height_m: float,
) -> Walk:
    """Return a track from the gate past each tree and back, a point every 12 s, with the stops on it.

    Args:
        gate: lat, lon where the walk begins and ends.
        trees: mappings with 'tag' and 'at' (lat, lon), in the order they are visited.
        start_at: aware UTC.
    """
    dice = random.Random(f"{name}:{start_at:%Y-%m-%d}")  # settled by name and day
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "Fellside demo"
    gpx.name = name
    track = gpxpy.gpx.GPXTrack(name=name)
    segment = gpxpy.gpx.GPXTrackSegment()
    track.segments.append(segment)
    gpx.tracks.append(track)
    now = start_at
    stops = []

    def put(lat: float, lon: float, climb: float) -> None:
        wander = dice.gauss(0, 1.2) / METRES_A_DEGREE
        segment.points.append(
            gpxpy.gpx.GPXTrackPoint(
                round(lat + wander, 7), round(lon + wander, 7), round(height_m + climb + dice.gauss(0, 0.6), 1), now
            )
        )

    here = list(gate)
    for place in [*trees, None]:
        goal = list(gate) if place is None else list(place["at"])  # type: ignore[call-overload]
        steps = max(1, round(_metres(here, goal) / PACE_M_S / STEP_S))
        for step in range(steps):
            part = step / steps
            put(here[0] + (goal[0] - here[0]) * part, here[1] + (goal[1] - here[1]) * part, 40 * math.sin(part * 3))
            now += timedelta(seconds=STEP_S)
        here = goal
        if place is not None:
            stops.append(Stop(str(place["tag"]), now, goal[0], goal[1]))
            for _ in range(STAY_S // STEP_S):
                put(here[0], here[1], 0)
                now += timedelta(seconds=STEP_S)
    put(here[0], here[1], 0)
    return Walk(gpx, tuple(stops))
