"""What of a station's days is kept beside those that are kept already."""

from __future__ import annotations

from datetime import date

import pytest

from field.core.errors import BadInput
from field.core.weather import Day
from field.core.weather_take import Kept, Plan, first_year, plan_days

ON = date(2026, 3, 1)
TODAY = date(2026, 3, 10)


def plan(told: Day, kept: Kept | None, *, keep_typed: bool = True) -> Plan:
    return plan_days([told], {} if kept is None else {ON: kept}, TODAY, 2020, keep_typed=keep_typed)


def test_a_day_that_is_not_kept_yet_is_new_and_in_tenths_of_a_degree() -> None:
    got = plan(Day(ON, -0.5555, 12.7777), None)
    assert got.write == {ON: Kept(-0.6, 12.8, "station")}
    assert got.new == 1


@pytest.mark.parametrize("how", ["typed", "station"])
def test_the_same_figures_again_change_nothing(how: str) -> None:
    got = plan(Day(ON, 1.0, 5.0), Kept(1, 5, how))
    assert (got.write, got.same) == ({}, 1)


@pytest.mark.parametrize("kept", [Kept(1, 5, "typed"), Kept(1, 5, "station")])
def test_a_value_the_file_does_not_know_takes_nothing_away(kept: Kept) -> None:
    got = plan(Day(ON, None, 5.0), kept)
    assert (got.write, got.same) == ({}, 1)


def test_a_later_file_puts_an_earlier_one_right() -> None:
    got = plan(Day(ON, 0.0, 5.0), Kept(1, 5, "station"))
    assert (got.write, got.changed) == ({ON: Kept(0.0, 5.0, "station")}, 1)


def test_what_was_typed_stands_and_is_told() -> None:
    got = plan(Day(ON, 0.0, 6.0), Kept(1, 5, "typed"))
    assert (got.write, got.typed_stay) == ({}, 1)
    assert got.typed_told == [(ON, Kept(1, 5, "typed"), Day(ON, 0.0, 6.0))]


def test_what_was_typed_gives_way_when_a_person_says_so() -> None:
    got = plan(Day(ON, 0.0, 6.0), Kept(1, 5, "typed"), keep_typed=False)
    assert (got.write, got.replaced) == ({ON: Kept(0.0, 6.0, "station")}, 1)


@pytest.mark.parametrize("keep_typed", [True, False])
def test_the_missing_half_of_a_typed_day_is_filled_and_the_day_stays_typed(keep_typed: bool) -> None:
    got = plan(Day(ON, 1.0, 6.0), Kept(1, None, "typed"), keep_typed=keep_typed)
    assert (got.write, got.filled, got.typed_told) == ({ON: Kept(1, 6.0, "typed")}, 1, [])


def test_a_half_that_does_not_go_with_what_was_typed_is_left_out() -> None:
    got = plan(Day(ON, None, 3.0), Kept(5, None, "typed"))
    assert (got.write, got.cannot) == ({}, 1)


def test_a_forecast_and_days_before_the_first_year_are_left_out() -> None:
    days = [Day(date(2019, 12, 31), 0, 1), Day(date(2020, 1, 1), 0, 1), Day(TODAY, 0, 1), Day(date(2026, 3, 11), 0, 1)]
    got = plan_days(days, {}, TODAY, 2020)
    assert sorted(got.write) == [date(2020, 1, 1), TODAY]
    assert (got.earlier, got.ahead, got.new) == (1, 1, 2)


def test_ten_years_are_kept_unless_another_year_is_asked_for_and_never_more_than_thirty() -> None:
    days = [Day(date(1950, 1, 1), 0, 1), Day(date(2024, 1, 1), 0, 1), Day(date(2027, 1, 1), 0, 1)]
    assert first_year(days, TODAY) == 2015
    assert first_year(days, TODAY, 1995) == 1995
    with pytest.raises(BadInput, match="More than 30 years"):
        first_year(days, TODAY, 1994)
    assert first_year([], TODAY) == 2017
