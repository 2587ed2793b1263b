"""Sums over days: a gap is told, filled by its neighbours where there are any, and never counted as nothing."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.weather import Day, add_up, season_start

FIRST = date(2026, 1, 1)


def mean(low: float, high: float) -> float:
    return (low + high) / 2


def days(*means: float | None) -> list[Day]:
    return [
        Day(FIRST + timedelta(days=n), None if one is None else one - 2, None if one is None else one + 2)
        for n, one in enumerate(means)
    ]


def test_a_whole_row_of_days_has_one_sum_and_nothing_to_say() -> None:
    got = add_up(days(1, 2, 3), FIRST, date(2026, 1, 3), mean)
    assert (got.logged, got.filled, got.low, got.high) == (6, 6, 6, 6)
    assert (got.days_known, got.days_missing, got.words()) == (3, 0, "")


def test_a_missing_day_is_filled_with_the_mean_of_its_week_and_bounded_by_it() -> None:
    got = add_up(days(1, 2, None, 6), FIRST, date(2026, 1, 4), mean)
    assert (got.logged, got.filled, got.low, got.high) == (9, 12, 10, 15)
    assert got.missing_on == ((date(2026, 1, 3), date(2026, 1, 3)),)
    assert got.words().startswith("1 day is missing")


def test_a_half_known_day_is_a_gap() -> None:
    known = [Day(FIRST, 1, 3), Day(date(2026, 1, 2), None, 9)]
    assert add_up(known, FIRST, date(2026, 1, 2), mean).days_missing == 1


def test_a_long_gap_is_not_filled_but_said() -> None:
    known = [Day(FIRST, 1, 3), Day(date(2026, 2, 20), 1, 3)]
    got = add_up(known, FIRST, date(2026, 2, 20), mean)
    assert (got.logged, got.filled, got.low, got.high) == (4, None, None, None)
    assert got.days_missing == 49
    assert "not known" in got.words()


def test_no_days_at_all_are_all_missing() -> None:
    got = add_up([], FIRST, date(2026, 1, 31), mean)
    assert (got.logged, got.filled, got.days_missing) == (0, None, 31)


def test_a_sum_that_ends_before_it_begins_is_over_no_day() -> None:
    got = add_up(days(1, 2), date(2026, 1, 5), FIRST, mean)
    assert (got.logged, got.filled, got.days_missing) == (0, 0, 0)


@settings(max_examples=50)
@given(st.lists(st.one_of(st.none(), st.floats(-20, 30)), max_size=40), st.randoms())
def test_order_does_not_matter_and_every_day_is_accounted_for(means: list[float | None], random) -> None:
    known = days(*means)
    until = FIRST + timedelta(days=29)
    got = add_up(known, FIRST, until, mean)
    random.shuffle(known)
    assert add_up(known, FIRST, until, mean).days_missing == got.days_missing
    assert got.days_known + got.days_missing == 30
    assert sum((last - first).days + 1 for first, last in got.missing_on) == got.days_missing
    if got.filled is not None and got.low is not None and got.high is not None:
        assert got.low - 1e-9 <= got.filled <= got.high + 1e-9


def test_seasons_begin_six_months_later_in_the_south() -> None:
    assert season_start(date(2026, 2, 1), 11, south=False) == date(2025, 11, 1)
    assert season_start(date(2026, 11, 1), 11, south=False) == date(2026, 11, 1)
    assert season_start(date(2026, 6, 1), 11, south=True) == date(2026, 5, 1)
    assert season_start(date(2026, 4, 30), 11, south=True) == date(2025, 5, 1)
    assert season_start(date(2026, 8, 1), 1, south=True) == date(2026, 7, 1)
