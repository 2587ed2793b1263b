"""How much winter a tree has had: chill hours, Utah units and chill days.

Hours are best taken from hourly readings. Where only the day's lowest and highest are known, a sine wave stands in:
coldest at 3 h, warmest at 15 h of local time, read at the middle of each hour. That is a convention and no measurement.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable
from datetime import date

from field.core.weather import Day, Sum, add_up, season_start

# 32 to 45 °F with both ends in: Bennett 1949, Weinberger 1950 [seen]. Some texts leave the ends out; this one does not.
CHILL_LOW_C, CHILL_HIGH_C = 0.0, 7.2
# Upper end of each band and its units; the end belongs to the band. Richardson, Seeley and Walker 1974, HortScience
# 9:331-332, as two model packages carry it in °C [seen].
UTAH_ENDS_C = (1.4, 2.4, 9.1, 12.4, 15.9, 18.0)
UTAH_UNITS = (0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0)
CHILL_DAY_C = 5.0  # mean at or below: Cannell and Smith 1983; Murray et al. 1989 [seen: abstract]
CHILL_SINCE_MONTH = 11  # 1 November, the same; six months later in the south
WARMEST_H = 15.0  # convention, common practice


def chill_hours(hourly_c: Iterable[float]) -> int:
    """Return how many of the hours lie from 0 to 7.2 °C, both ends in."""
    return sum(CHILL_LOW_C <= one <= CHILL_HIGH_C for one in hourly_c)


def utah_units(hourly_c: Iterable[float]) -> float:
    """Return the Utah chill units of hourly temperatures; warm hours take away.

    The model is not recommended in warm climates.
    """
    return sum(UTAH_UNITS[bisect_left(UTAH_ENDS_C, one)] for one in hourly_c)


def hours_of_day(tmin_c: float, tmax_c: float) -> list[float]:
    """Return 24 hourly temperatures along a sine wave between the day's lowest and highest."""
    mean, swing = (tmin_c + tmax_c) / 2, (tmax_c - tmin_c) / 2
    return [mean + swing * math.cos(2 * math.pi * (hour + 0.5 - WARMEST_H) / 24) for hour in range(24)]


def sum_chill_hours(days: Iterable[Day], since: date, until: date) -> Sum:
    """Return the chill hours from `since` to `until` by the sine of each day; see `weather.Sum` for gaps."""
    return add_up(days, since, until, lambda low, high: float(chill_hours(hours_of_day(low, high))))


def sum_utah_units(days: Iterable[Day], since: date, until: date) -> Sum:
    """Return the Utah units from `since` to `until` by the sine of each day; see `weather.Sum` for gaps."""
    return add_up(days, since, until, lambda low, high: utah_units(hours_of_day(low, high)))


def chill_days(days: Iterable[Day], until: date, *, south: bool = False) -> Sum:
    """Return the days with a mean of 5 °C or less since 1 November (1 May in the south), until a day inclusive."""
    since = season_start(until, CHILL_SINCE_MONTH, south=south)
    return add_up(days, since, until, lambda low, high: float((low + high) / 2 <= CHILL_DAY_C))
