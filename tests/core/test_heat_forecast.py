"""Bud break by heat: a range out of the person's own springs, and never surer than what is logged."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.heat_forecast import bud_heats, forecast
from field.core.weather import Day


def spring(year: int, mean: float, *, month: int = 1, days: int = 241) -> list[Day]:
    """Return days whose mean is so many degrees above 5 each: as many day-degrees a day."""
    first = date(year, month, 1)
    return [Day(first + timedelta(days=n), 5 + mean, 5 + mean) for n in range(days)]


def test_a_kind_of_which_no_figure_was_found_has_no_forecast() -> None:
    for kind in ("juniper", "yew", "elm", "blackthorn", "scots-pine", "default"):
        assert forecast(kind, spring(2026, 2), date(2026, 3, 1)) is None


def test_without_an_earlier_spring_only_the_sum_so_far_is_said() -> None:
    got = forecast("birch", spring(2026, 1), date(2026, 1, 31))
    assert got is not None
    assert (got.earliest_on, got.latest_on, got.years) == (None, None, ())
    assert got.words.startswith("So far 31 of 100 to 160 day-degrees")
    assert "no date" in got.words


def test_what_is_to_come_is_taken_from_the_earliest_and_the_latest_spring() -> None:
    # 31 so far; wanted 100 and 160: at 3 a day 23 days more, at 1 a day 129 more
    days = spring(2024, 3) + spring(2025, 1) + spring(2026, 1, days=31)
    got = forecast("birch", days, date(2026, 1, 31))
    assert got is not None
    assert (got.earliest_on, got.latest_on, got.years) == (date(2026, 2, 23), date(2026, 6, 9), (2024, 2025))
    assert "2 earlier springs only" in got.words


def test_heat_that_is_reached_is_dated_as_logged() -> None:
    got = forecast("birch", spring(2026, 4), date(2026, 3, 31))
    assert got is not None
    assert (got.earliest_on, got.latest_on) == (date(2026, 1, 25), date(2026, 2, 9))


def test_a_spring_with_a_long_gap_stands_in_for_nothing() -> None:
    days = spring(2025, 2)[:60] + spring(2025, 2)[100:] + spring(2026, 1, days=31)
    got = forecast("birch", days, date(2026, 1, 31))
    assert got is not None
    assert got.years == ()


def test_a_long_gap_this_year_leaves_no_date_and_is_said() -> None:
    got = forecast("birch", spring(2025, 2) + spring(2026, 3, days=20), date(2026, 3, 31))
    assert got is not None
    assert (got.so_far.filled, got.earliest_on) == (None, None)
    assert "not known" in got.words


def test_the_south_counts_from_july() -> None:
    got = forecast("hawthorn", spring(2026, 2, month=7, days=31), date(2026, 7, 31), south=True)
    assert got is not None
    assert got.so_far.logged == 62
    assert got.earliest_on == date(2026, 7, 30)


def test_oak_and_beech_are_called_weak() -> None:
    for kind in ("oak", "beech"):
        got = forecast(kind, spring(2026, 1), date(2026, 1, 31))
        assert got is not None
        assert got.sure == "weak"
        assert "badly" in got.words


def test_days_after_today_change_nothing() -> None:
    today = date(2026, 1, 31)
    assert forecast("birch", spring(2026, 1), today) == forecast("birch", spring(2026, 1, days=31), today)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(sorted(bud_heats())), st.lists(st.floats(0.3, 4), min_size=1, max_size=3), st.integers(5, 120))
def test_the_earliest_day_never_lies_after_the_latest(kind: str, means: list[float], logged: int) -> None:
    days = [day for n, mean in enumerate(means) for day in spring(2020 + n, mean)]
    got = forecast(kind, days + spring(2026, 0.5, days=logged), date(2026, 1, 1) + timedelta(days=logged - 1))
    assert got is not None
    if got.earliest_on is not None and got.latest_on is not None:
        assert got.earliest_on <= got.latest_on
