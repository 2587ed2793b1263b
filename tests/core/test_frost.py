"""First and last frost of a winter: below 0 and not at it, turned in the south, and never surer than the log."""

from __future__ import annotations

from datetime import date, timedelta

from field.core.frost import find_frosts, winter_of
from field.core.weather import Day


def a_year(first: date, lows: dict[date, float | None], days: int = 365) -> list[Day]:
    all_on = [first + timedelta(days=n) for n in range(days)]
    return [Day(on, lows.get(on, 5.0), 10.0) for on in all_on]


def test_first_and_last_frost_of_a_whole_log() -> None:
    days = a_year(date(2025, 7, 1), {date(2025, 10, 20): -0.1, date(2026, 1, 9): -6, date(2026, 5, 2): -1})
    got = find_frosts(reversed(days), date(2026, 1, 1), date(2026, 6, 30))
    assert (got.first_on, got.last_on, got.nights) == (date(2025, 10, 20), date(2026, 5, 2), 3)
    assert got.words() == ""


def test_a_night_of_exactly_nought_is_no_frost() -> None:
    got = find_frosts(a_year(date(2025, 7, 1), {date(2025, 10, 20): 0.0}), date(2026, 1, 1), date(2026, 6, 30))
    assert (got.first_on, got.last_on, got.nights) == (None, None, 0)


def test_days_not_logged_before_the_first_and_after_the_last_frost_are_told() -> None:
    days = a_year(date(2025, 7, 1), {date(2025, 10, 19): None, date(2025, 10, 20): -1})[:120]
    got = find_frosts(days, date(2026, 1, 1), date(2025, 10, 31))
    assert (got.missing_before, got.missing_after) == (1, 3)
    assert "earlier" in got.words()
    assert "later" in got.words()


def test_a_winter_without_frost_counts_what_is_missing() -> None:
    got = find_frosts([Day(date(2025, 12, 1), 3, None)], date(2025, 12, 1), date(2025, 12, 31))
    assert (got.first_on, got.missing_before) == (None, 183)  # 1 July to 31 December is 184 days


def test_where_the_log_begins_inside_the_winter_its_first_frost_is_only_the_first_known() -> None:
    days = a_year(date(2026, 2, 1), {date(2026, 2, 3): -4, date(2026, 3, 1): -1}, days=100)
    got = find_frosts(days, date(2026, 2, 1), date(2026, 5, 11))
    assert (got.first_on, got.begins_on, got.missing_after) == (date(2026, 2, 3), date(2026, 2, 1), 0)
    assert got.words() == (
        "the first frost came on 3 February 2026 or earlier: the log begins on 1 February 2026, and before it no frost "
        "is known."
    )
    mild = find_frosts(a_year(date(2026, 2, 1), {}, days=100), date(2026, 2, 1), date(2026, 5, 11))
    assert mild.words() == "the log begins on 1 February 2026, and before it no frost is known."
    # own rule: what begins in July or August begins before the winter
    early = find_frosts(a_year(date(2025, 9, 1), {date(2025, 10, 3): -1}), date(2026, 2, 1), date(2026, 5, 11))
    assert early.begins_on is None
    assert "62 days before the first frost" in early.words()


def test_the_southern_winter_lies_within_the_year() -> None:
    assert winter_of(date(2026, 8, 1), south=True) == (date(2026, 1, 1), date(2026, 12, 31))
    assert winter_of(date(2026, 2, 1)) == (date(2025, 7, 1), date(2026, 6, 30))
    days = a_year(date(2026, 1, 1), {date(2026, 5, 3): -1, date(2026, 9, 9): -2})
    got = find_frosts(days, date(2026, 7, 1), date(2026, 12, 31), south=True)
    assert (got.first_on, got.last_on) == (date(2026, 5, 3), date(2026, 9, 9))
