"""Degree days of one day, by two published ways, and their sum over many days with its gaps told.

The sum since midwinter stands for how far spring has come. A day's degree days are never below 0.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date

from field.core.errors import BadInput
from field.core.weather import Day, Sum, add_up

GROWTH_BASE_C = 5.0  # forestry's usual base: Murray, Cannell and Smith 1989, J. Appl. Ecol. 26:693 [seen: abstract]


def average_degree_days(tmin_c: float, tmax_c: float, lower_c: float, upper_c: float | None = None) -> float:
    """Return the degree days of the day's mean above a threshold, which understate a day that crosses it.

    Args:
        tmin_c, tmax_c: of the day; the lower first.
        lower_c: below it nothing counts.
        upper_c: above it nothing more counts (horizontal cut-off); None: no limit.
    Source: the simple average of every extension text, as UC IPM tells it [seen].
    """
    _check(lower_c, upper_c)
    mean = (tmin_c + tmax_c) / 2
    return max(0.0, (mean if upper_c is None else min(mean, upper_c)) - lower_c)


def sine_degree_days(tmin_c: float, tmax_c: float, lower_c: float, upper_c: float | None = None) -> float:
    """Return the degree days under one sine wave through the day's lowest and highest temperature.

    Args: as `average_degree_days`.
    Accuracy: 1e-6 against numerical integration (tests/reference/test_heat.py).
    Source: Baskerville and Emin 1969, Ecology 50:514-517; the upper threshold by a horizontal cut-off, which is the
        degree days above the lower one less those above the upper one.
    """
    _check(lower_c, upper_c)
    above = _sine_above(tmin_c, tmax_c, lower_c)
    return above if upper_c is None else max(0.0, above - _sine_above(tmin_c, tmax_c, upper_c))


def sum_degree_days(
    days: Iterable[Day], since: date, until: date, lower_c: float = GROWTH_BASE_C, upper_c: float | None = None
) -> Sum:
    """Return the single-sine degree days from `since` to `until`, both inclusive; see `weather.Sum` for gaps."""
    _check(lower_c, upper_c)
    return add_up(days, since, until, lambda low, high: sine_degree_days(low, high, lower_c, upper_c))


def _sine_above(tmin_c: float, tmax_c: float, base_c: float) -> float:
    mean, swing = (tmin_c + tmax_c) / 2, (tmax_c - tmin_c) / 2
    if tmin_c >= base_c:
        return mean - base_c
    if tmax_c <= base_c:
        return 0.0
    angle = math.asin(max(-1.0, min(1.0, (base_c - mean) / swing)))
    return max(0.0, ((mean - base_c) * (math.pi / 2 - angle) + swing * math.cos(angle)) / math.pi)


def _check(lower_c: float, upper_c: float | None) -> None:
    if upper_c is not None and not lower_c < upper_c:
        raise BadInput("The upper threshold must lie above the lower one.", "Look whether they were swapped.", "upper")
