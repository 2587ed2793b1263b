"""When the sun rises and sets at a place, and how much daylight is left there.

Times are those of a level horizon: hills around make the evening shorter, never longer. They are for planning a day,
not for navigation or rescue.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from field.core.errors import BadInput
from field.core.geodesy import RADIANS, read_position
from field.core.units import read_measure, round_half_up

SUNSET_DEG = -0.8333  # centre of the sun: refraction 34', half the disc 16' (NOAA, and the almanacs)
DUSK_DEG = -6.0  # civil, by definition: without regard to height
# Dip of the sea horizon with its refraction: 1.76' for each square root of a metre (Bowditch, American Practical
# Navigator, table 12).
DIP_DEG = 1.76 / 60
FIRST_YEAR, LAST_YEAR = 1000, 3000  # what the short series is good for
MOST_HEIGHT_M = 9000.0  # the highest ground there is
DAY_S = 86_400
HALF_DAY_S = 43_200
J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
STEPS = 24  # halvings of half a day: to 3 ms


@dataclass(frozen=True, slots=True)
class SunTimes:
    """One day of the sun at a place; aware UTC, whole seconds; None where it does not happen that day."""

    sunrise: datetime | None
    solar_noon: datetime
    sunset: datetime | None
    civil_dusk: datetime | None


@dataclass(frozen=True, slots=True)
class Daylight:
    """What is left of the day; minutes are whole and rounded down."""

    state: str  # 'day', 'dawn', 'dusk' (sun down, still light enough to see the ground) or 'night'
    sunset: datetime | None  # of the day that now belongs to
    civil_dusk: datetime | None
    to_sunset_min: int | None  # None: it is past, it is night, or the sun does not set
    to_dusk_min: int | None  # None: it is night, or it does not get dark


def sun_times(on: date, lat: float, lon: float, height_m: float = 0.0) -> SunTimes:
    """Return sunrise, solar noon, sunset and civil dusk of a day at a place.

    Args:
        on: the local date. It is taken in local mean solar time (longitude / 15 hours), so that noon belongs to it
            whatever the clocks of the country say.
        lat, lon: degrees, WGS 84.
        height_m: how far the place stands above what bounds its view; 0 is a level horizon. It lowers the horizon by
            1.76' times the square root of the metres, so the sun rises earlier and sets later. That holds for a summit
            above open sea or plain; in a valley leave it 0. Civil dusk does not change with it.
    Returns: instants between the midnights before and after that solar noon. Under the midnight sun and in the polar
        night sunrise and sunset are None, dusk too where it never gets, or never stops being, that dark.
    Raises: BadInput for what is no position, a negative or impossible height, or a year before 1000 or after 3000.
    Accuracy: within 60 s of the exact position of the sun below 60 degrees, 120 s to 66 and 300 s above
        (tests/reference/test_sun.py). Air of another temperature alone can move sunset by a minute.
    Source: NOAA Global Monitoring Laboratory, solar calculation details, after Meeus, Astronomical Algorithms, 25.
    """
    lat, lon = read_position(lat, lon)
    height = read_measure(height_m, "The height", "height_m")
    if height is None or height > MOST_HEIGHT_M:
        raise BadInput("The height is no height on the ground.", "Give metres, 0 to 9000.", "height_m")
    if not FIRST_YEAR <= on.year <= LAST_YEAR:
        raise BadInput(f"The sun is not reckoned for the year {on.year}.", "Give a year from 1000 to 3000.", "on")
    noon_s = _noon_s(on, lon)
    horizon_deg = SUNSET_DEG - DIP_DEG * math.sqrt(height)
    return SunTimes(
        sunrise=_instant(_crossing_s(noon_s, -HALF_DAY_S, lat, lon, horizon_deg)),
        solar_noon=_whole_second(noon_s),
        sunset=_instant(_crossing_s(noon_s, HALF_DAY_S, lat, lon, horizon_deg)),
        civil_dusk=_instant(_crossing_s(noon_s, HALF_DAY_S, lat, lon, DUSK_DEG)),
    )


def daylight_left(now: datetime, lat: float, lon: float) -> Daylight:
    """Return how much daylight is left at a place, for a level horizon.

    Args:
        now: aware.
        lat, lon: degrees, WGS 84.
    Raises: BadInput as `sun_times`.
    Accuracy: as `sun_times`; near hills much less is left.
    """
    lat, lon = read_position(lat, lon)
    on = solar_date(now, lon)
    times = sun_times(on, lat, lon)
    now_s = (now - J2000).total_seconds()
    elevation = elevation_deg(now_s, lat, lon)
    if elevation >= SUNSET_DEG:
        state = "day"
    elif elevation >= DUSK_DEG:
        state = "dawn" if now < times.solar_noon else "dusk"
    else:
        state = "night"
    return Daylight(
        state=state,
        sunset=times.sunset,
        civil_dusk=times.civil_dusk,
        to_sunset_min=_minutes(now, times.sunset) if state in ("dawn", "day") else None,
        to_dusk_min=None if state == "night" else _minutes(now, times.civil_dusk),
    )


def solar_date(now: datetime, lon: float) -> date:
    """Return the day between whose solar midnights an instant lies: the `on` of `sun_times`.

    Args:
        now: aware.
        lon: degrees.
    """
    try:
        near = (now.astimezone(UTC) + timedelta(hours=lon / 15)).date()
        for on in (near, near - timedelta(days=1), near + timedelta(days=1)):
            if abs((now - J2000).total_seconds() - _noon_s(on, lon)) <= HALF_DAY_S:
                return on
    except OverflowError:
        raise BadInput("That moment is outside the calendar.", "Check the clock.", "now") from None
    return near  # between two solar days, which are a few seconds longer than the clock's


def elevation_deg(at_s: float, lat: float, lon: float) -> float:
    """Return how high the centre of the sun stands, without refraction.

    Args:
        at_s: seconds since 2000-01-01 12:00 UTC.
        lat, lon: degrees.
    Returns: degrees, negative below the level horizon.
    """
    declination, equation_s = _sun(at_s)
    hour_angle = ((at_s + equation_s) / DAY_S * 360.0 + lon) * RADIANS
    sine = math.sin(lat * RADIANS) * math.sin(declination) + math.cos(lat * RADIANS) * math.cos(declination) * math.cos(
        hour_angle
    )
    return math.asin(max(-1.0, min(1.0, sine))) / RADIANS


def _sun(at_s: float) -> tuple[float, float]:
    """Return the declination (radians) and the equation of time (seconds, sun before clock)."""
    t = at_s / (DAY_S * 36525.0)  # centuries
    mean_lon = (280.46646 + t * (36000.76983 + t * 0.0003032)) * RADIANS
    anomaly = (357.52911 + t * (35999.05029 - 0.0001537 * t)) * RADIANS
    e = 0.016708634 - t * (0.000042037 + 0.0000001267 * t)
    centre = (
        math.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + math.sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + math.sin(3 * anomaly) * 0.000289
    ) * RADIANS
    node = (125.04 - 1934.136 * t) * RADIANS
    apparent_lon = mean_lon + centre - (0.00569 + 0.00478 * math.sin(node)) * RADIANS
    tilt = (
        23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60) / 60 + 0.00256 * math.cos(node)
    ) * RADIANS
    y = math.tan(tilt / 2) ** 2
    equation = (
        y * math.sin(2 * mean_lon)
        - 2 * e * math.sin(anomaly)
        + 4 * e * y * math.sin(anomaly) * math.cos(2 * mean_lon)
        - 0.5 * y * y * math.sin(4 * mean_lon)
        - 1.25 * e * e * math.sin(2 * anomaly)
    )
    return math.asin(math.sin(tilt) * math.sin(apparent_lon)), equation / (2 * math.pi) * DAY_S


def _noon_s(on: date, lon: float) -> float:
    """Return the instant of the sun's upper transit, in seconds since J2000."""
    mean_noon_s = (on - J2000.date()).days * DAY_S - lon / 360.0 * DAY_S
    noon_s = mean_noon_s
    for _ in range(3):  # the equation of time moves by 30 s a day at most
        noon_s = mean_noon_s - _sun(noon_s)[1]
    return noon_s


def _crossing_s(noon_s: float, span_s: float, lat: float, lon: float, elevation: float) -> float | None:
    """Return when the sun passes an elevation between noon and a midnight, or None if it does not."""
    high, low = noon_s, noon_s + span_s
    if elevation_deg(high, lat, lon) < elevation or elevation_deg(low, lat, lon) >= elevation:
        return None
    for _ in range(STEPS):
        middle = (high + low) / 2
        if elevation_deg(middle, lat, lon) >= elevation:
            high = middle
        else:
            low = middle
    return (high + low) / 2


def _instant(at_s: float | None) -> datetime | None:
    return None if at_s is None else _whole_second(at_s)


def _whole_second(at_s: float) -> datetime:
    return J2000 + timedelta(seconds=round_half_up(at_s))


def _minutes(now: datetime, then: datetime | None) -> int | None:
    if then is None or then < now:
        return None
    return math.floor((then - now).total_seconds() / 60)
