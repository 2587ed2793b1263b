"""A place's seasons side by side: degree days since midwinter, and each winter's frosts and chill, gaps told.

A season is named by the year in which it begins. Degree days run from 1 January (1 July in the south) for a year; a
winter from 1 July to 30 June, in the south the calendar year.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from field.core.chill import CHILL_SINCE_MONTH, chill_days, sum_chill_hours, sum_utah_units
from field.core.frost import Frosts, find_frosts, winter_of
from field.core.heat import GROWTH_BASE_C, average_degree_days, sine_degree_days, sum_degree_days
from field.core.heat_forecast import HEAT_SINCE_MONTH
from field.core.weather import FILL_REACH_DAYS, Day, Sum, add_up, fill_days, season_start

CHILL_MONTHS = 5  # from 1 November to 31 March, when buds of the temperate zone have had it; common practice
CURVE_STEP_DAYS = 7
MOST_SEASONS = 10


@dataclass(frozen=True, slots=True)
class Heat:
    """The degree days of one season."""

    since: date
    until: date  # of the running season today
    whole: Sum  # from `since` to `until`
    simple: Sum  # `by_now` by the day's mean alone, which understates days about the threshold
    by_now: Sum  # to the day of that season that today is of the running one
    curve: tuple[
        tuple[int, float], ...
    ]  # day of the season from 1, sum to its end; it ends where a gap cannot be filled


@dataclass(frozen=True, slots=True)
class Winter:
    """The frosts and the chill of one winter, as far as it has come."""

    since: date
    until: date
    frosts: Frosts
    chill_since: date
    chill_until: date  # before `chill_since` where none of it has come yet
    chill_hours: Sum
    utah: Sum
    chill_days: Sum


def heat_seasons(days: Iterable[Day], today: date, *, south: bool = False) -> list[Heat]:
    """Return the degree days of each season that has a whole day, the running one first; ten at most.

    Args:
        days: of one place, each once, in any order; later ones than today are passed over.
        today: the last day that counts.
        south: the place is south of the equator.
    """
    known = sorted((day for day in days if day.is_whole and day.on <= today), key=lambda day: day.on)
    running = season_start(today, HEAT_SINCE_MONTH, south=south)
    found = []
    for year in _years({season_start(day.on, HEAT_SINCE_MONTH, south=south).year for day in known}, running.year):
        since = running.replace(year=year)
        until = min(today, since.replace(year=year + 1) - timedelta(days=1))
        near = _near(known, since, until)
        now = _same_day(today, today.year - running.year + year)
        found.append(
            Heat(
                since=since,
                until=until,
                whole=sum_degree_days(near, since, until),
                simple=add_up(near, since, now, lambda low, high: average_degree_days(low, high, GROWTH_BASE_C)),
                by_now=sum_degree_days(near, since, now),
                curve=_curve(near, since, until),
            )
        )
    return found


def winters(days: Iterable[Day], today: date, *, south: bool = False) -> list[Winter]:
    """Return the frosts and chill of each winter of which a night is known, the running one first; ten at most.

    Args: as `heat_seasons`.
    """
    known = sorted((day for day in days if day.on <= today), key=lambda day: day.on)
    running = winter_of(today, south=south)[0]
    cold = {winter_of(day.on, south=south)[0].year for day in known if day.tmin_c is not None}
    found = []
    for year in _years(cold, running.year):
        first, last = winter_of(running.replace(year=year), south=south)
        until = min(today, last)
        near = _near(known, first, until)
        chill_since = season_start(last, CHILL_SINCE_MONTH, south=south)
        chill_until = min(today, _month_later(chill_since, CHILL_MONTHS) - timedelta(days=1))
        found.append(
            Winter(
                since=first,
                until=until,
                frosts=find_frosts(near, first, until, south=south),
                chill_since=chill_since,
                chill_until=chill_until,
                chill_hours=sum_chill_hours(near, chill_since, chill_until),
                utah=sum_utah_units(near, chill_since, chill_until),
                chill_days=chill_days(near, chill_until, south=south)
                if chill_until >= chill_since
                else sum_chill_hours((), chill_since, chill_until),
            )
        )
    return found


def _years(known: set[int], running: int) -> list[int]:
    return sorted((year for year in known if year <= running), reverse=True)[:MOST_SEASONS]


def _near(known: Sequence[Day], since: date, until: date) -> Sequence[Day]:
    """Return the days of a span, with those about it that help to fill a gap at its ends."""
    reach = timedelta(days=FILL_REACH_DAYS)
    lower = bisect.bisect_left(known, since - reach, key=lambda day: day.on)
    return known[lower : bisect.bisect_right(known, until + reach, key=lambda day: day.on)]


def _same_day(today: date, year: int) -> date:
    """Return the day of another year; of 29 February the last of that month."""
    is_leap_day = (today.month, today.day) == (2, 29)
    return date(year, 3, 1) - timedelta(days=1) if is_leap_day else today.replace(year=year)


def _month_later(first: date, months: int) -> date:
    month = first.month - 1 + months
    return date(first.year + month // 12, month % 12 + 1, 1)


def _curve(near: Sequence[Day], since: date, until: date) -> tuple[tuple[int, float], ...]:
    points: list[tuple[int, float]] = []
    total = 0.0
    heats = fill_days(near, since, until, lambda low, high: sine_degree_days(low, high, GROWTH_BASE_C))
    for number, one in enumerate(heats, 1):
        if one is None:
            if number > 1 and (not points or points[-1][0] != number - 1):
                points.append((number - 1, total))
            break
        total += one
        if number % CURVE_STEP_DAYS == 0 or number == len(heats):
            points.append((number, total))
    return tuple(points)
