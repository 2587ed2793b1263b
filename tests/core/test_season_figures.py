"""Seasons side by side: figures worked by hand on days of one temperature, for which every way of reckoning agrees."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from field.core.season_figures import heat_seasons, winters
from field.core.weather import Day


def run(first: date, last: date, low: float, high: float | None = None) -> Iterator[Day]:
    for n in range((last - first).days + 1):
        yield Day(first + timedelta(days=n), low, low if high is None else high)


def test_each_year_is_told_whole_and_to_the_same_day_as_this_one() -> None:
    today = date(2026, 1, 20)
    days = [*run(date(2025, 1, 1), date(2025, 12, 31), 6), *run(date(2026, 1, 1), today, 15)]
    this, last = heat_seasons(days, today)
    assert (this.since, this.until) == (date(2026, 1, 1), today)
    assert (this.whole.filled, this.by_now.filled) == (200, 200)  # 20 days of 10 above 5
    assert (last.whole.filled, last.by_now.filled) == (365, 20)  # 1 a day
    assert this.curve == ((7, 70), (14, 140), (20, 200))
    assert last.curve[-1] == (365, 365)
    assert len(last.curve) == 53  # 52 weeks, and the last day


def test_the_mean_of_a_day_alone_tells_less_heat_than_its_wave() -> None:
    today = date(2026, 1, 10)
    (season,) = heat_seasons(run(date(2026, 1, 1), today, 0, 10), today)
    assert season.simple.filled == 0  # a mean of 5 is not above 5
    # Half a sine wave of 5 °C above its middle has a mean of 5 / pi over the day.
    assert season.by_now.filled == pytest.approx(10 * 5 / math.pi)


def test_a_line_ends_where_a_gap_cannot_be_filled_and_the_sum_says_so() -> None:
    today = date(2026, 2, 28)
    days = [*run(date(2026, 1, 1), date(2026, 1, 10), 15), *run(date(2026, 2, 10), today, 15)]
    (season,) = heat_seasons(days, today)
    assert season.whole.filled is None
    assert season.whole.logged == 290  # 10 and 19 days of 10
    assert season.curve == ((7, 70), (14, 140), (17, 170))  # a week past the last known day it is filled
    assert "30 days are missing" in season.whole.words()


def test_a_season_that_was_logged_from_its_middle_has_no_line() -> None:
    (season,) = heat_seasons(run(date(2026, 6, 1), date(2026, 6, 30), 15), date(2026, 6, 30))
    assert season.curve == ()
    assert season.whole.days_known == 30


def test_in_the_south_the_season_begins_in_july() -> None:
    today = date(2027, 1, 10)
    days = [*run(date(2025, 7, 1), date(2026, 6, 30), 6), *run(date(2026, 7, 1), today, 15)]
    this, last = heat_seasons(days, today, south=True)
    assert (this.since, this.whole.filled) == (date(2026, 7, 1), 1940)  # 194 days of 10
    assert (last.until, last.whole.filled, last.by_now.filled) == (date(2026, 6, 30), 365, 194)


def test_a_leap_day_is_set_beside_the_last_of_february() -> None:
    today = date(2028, 2, 29)
    days = [*run(date(2027, 1, 1), date(2027, 12, 31), 6), *run(date(2028, 1, 1), today, 6)]
    this, last = heat_seasons(days, today)
    assert (this.by_now.filled, last.by_now.filled) == (60, 59)


def test_frosts_and_chill_stand_under_their_winter() -> None:
    today = date(2026, 4, 30)
    days = [*run(date(2025, 7, 1), date(2025, 10, 31), 15), *run(date(2025, 11, 1), today, 5)]
    days = [Day(one.on, -1, 11) if one.on in (date(2025, 11, 9), date(2026, 4, 2)) else one for one in days]
    (winter,) = winters(days, today)
    assert (winter.since, winter.until) == (date(2025, 7, 1), today)
    assert (winter.frosts.first_on, winter.frosts.last_on, winter.frosts.nights) == (
        date(2025, 11, 9),
        date(2026, 4, 2),
        2,
    )
    assert (winter.chill_since, winter.chill_until) == (date(2025, 11, 1), date(2026, 3, 31))
    assert winter.chill_days.filled == 151  # from November to March; the frosty day has a mean of 5 too
    constant = 150 * 24  # every hour of a day of 5 °C is an hour of chill and a Utah unit
    assert winter.chill_hours.filled == pytest.approx(constant + 12, abs=8)  # and some of the frosty day


def test_chill_that_has_not_begun_is_no_days() -> None:
    today = date(2026, 10, 5)
    (winter,) = winters(run(date(2026, 9, 1), today, 4), today)
    assert (winter.chill_since, winter.chill_until) == (date(2026, 11, 1), today)
    assert [one.days_known + one.days_missing for one in (winter.chill_days, winter.utah, winter.chill_hours)] == [
        0
    ] * 3


def test_in_the_south_a_winter_is_a_calendar_year() -> None:
    today = date(2026, 12, 31)
    (winter,) = winters(run(date(2026, 1, 1), today, -1), today, south=True)
    assert (winter.since, winter.until, winter.frosts.nights) == (date(2026, 1, 1), today, 365)
    assert (winter.chill_since, winter.chill_until) == (date(2026, 5, 1), date(2026, 9, 30))
    assert winter.chill_days.filled == 153


def test_of_many_years_the_last_ten_are_told_and_nothing_of_none() -> None:
    today = date(2026, 6, 1)
    days = list(run(date(2005, 1, 1), today, 6))
    assert [one.since.year for one in heat_seasons(days, today)] == list(range(2026, 2016, -1))
    assert len(winters(days, today)) == 10
    assert heat_seasons([], today) == []
    assert winters([Day(today, None, 4)], today) == []
