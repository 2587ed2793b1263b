"""Chill by the sine of a day: its hours stay between its ends, and the winter is turned in the south."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.chill import chill_days, hours_of_day, sum_chill_hours, sum_utah_units
from field.core.weather import Day


def a_month(first: date, low: float, high: float, days: int = 30) -> list[Day]:
    return [Day(first + timedelta(days=n), low, high) for n in range(days)]


@settings(max_examples=50)
@given(st.floats(-30, 30), st.floats(0, 30))
def test_hours_of_a_day_lie_between_its_ends_and_keep_its_mean(low: float, span: float) -> None:
    hours = hours_of_day(low, low + span)
    assert len(hours) == 24
    assert low - 1e-9 <= min(hours) <= max(hours) <= low + span + 1e-9
    assert sum(hours) / 24 == pytest.approx(low + span / 2, abs=1e-6)


def test_the_warmest_hours_are_around_three_in_the_afternoon() -> None:
    hours = hours_of_day(0, 10)
    assert sorted(sorted(range(24), key=hours.__getitem__)[-2:]) == [14, 15]
    assert sorted(sorted(range(24), key=hours.__getitem__)[:2]) == [2, 3]


def test_days_that_stay_cool_count_all_their_hours() -> None:
    days = a_month(date(2026, 1, 1), 3, 6)
    assert sum_chill_hours(days, date(2026, 1, 1), date(2026, 1, 30)).filled == 720
    assert sum_utah_units(days, date(2026, 1, 1), date(2026, 1, 30)).filled == 720


def test_hot_days_take_utah_units_away() -> None:
    days = a_month(date(2026, 1, 1), 19, 25, 2)
    assert sum_utah_units(days, date(2026, 1, 1), date(2026, 1, 2)).logged == -48


def test_a_mean_of_exactly_five_degrees_is_a_chill_day_and_a_little_more_is_none() -> None:
    assert chill_days(a_month(date(2025, 11, 1), 0, 10), date(2025, 11, 30)).filled == 30
    assert chill_days(a_month(date(2025, 11, 1), 0, 10.4), date(2025, 11, 30)).filled == 0


def test_chill_is_counted_from_november_and_in_the_south_from_may() -> None:
    days = a_month(date(2025, 10, 1), 0, 5, 62)  # October and November
    assert chill_days(days, date(2025, 11, 30)).days_known == 30
    days = a_month(date(2026, 4, 1), 0, 5, 61)  # April and May
    assert chill_days(days, date(2026, 5, 31), south=True).days_known == 31
