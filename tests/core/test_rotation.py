"""Which dated backups are kept: a calendar worked out by hand, and what must hold for any."""

from __future__ import annotations

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from field.core.rotation import DAILY, MONTHLY, WEEKLY, find_last_day, keep_which


def on(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def every_day(first: str, last: str) -> list[dt.date]:
    start, end = on(first), on(last)
    return [start + dt.timedelta(days=number) for number in range((end - start).days + 1)]


# Thursday 26 November 2026, by a wall calendar: Sundays of that month are the 1st, 8th, 15th, 22nd.
TODAY = on("2026-11-26")
LAST_SEVEN = {f"2026-11-{day}" for day in (20, 21, 22, 23, 24, 25, 26)}
LAST_SUNDAYS = {"2026-11-22", "2026-11-15", "2026-11-08"}  # this week's newest is today
MONTH_ENDS = {
    "2026-10-31", "2026-09-30", "2026-08-31", "2026-07-31", "2026-06-30", "2026-05-31", "2026-04-30", "2026-03-31",
    "2026-02-28", "2026-01-31", "2025-12-31",
}  # fmt: skip


def test_two_years_of_daily_ones_leave_a_week_of_days_four_weeks_and_twelve_months() -> None:
    kept = keep_which(every_day("2024-11-26", "2026-11-26"), TODAY)
    assert kept == {on(text) for text in LAST_SEVEN | LAST_SUNDAYS | MONTH_ENDS}


def test_seven_days_are_all_kept_and_the_eighth_goes() -> None:
    # From Monday to Sunday and the Monday after: the first day is no week's newest and no month's.
    eight = every_day("2026-11-09", "2026-11-16")
    assert keep_which(eight[:7], eight[6]) == set(eight[:7])
    assert keep_which(eight, eight[7]) == set(eight[1:])


def test_none_and_one() -> None:
    assert keep_which([], TODAY) == set()
    assert keep_which([on("2001-01-01")], TODAY) == {on("2001-01-01")}


def test_a_server_that_was_off_for_a_year_keeps_what_it_had() -> None:
    before = keep_which(every_day("2024-11-26", "2025-11-25"), on("2025-11-25"))
    after = keep_which([*before, TODAY], TODAY)
    # Only the oldest of each kind makes way for today's.
    assert on("2025-11-25") in after
    assert len(before - after) <= 3


def test_a_date_ahead_of_today_is_kept_and_pushes_none_out() -> None:
    days = every_day("2026-11-20", "2026-11-26")
    assert keep_which([*days, on("2031-01-01")], TODAY) == {*days, on("2031-01-01")}


DATES = st.lists(st.dates(dt.date(2020, 1, 1), dt.date(2030, 12, 31)), max_size=60)


@given(DATES, st.dates(dt.date(2020, 1, 1), dt.date(2030, 12, 31)))
def test_kept_ones_are_of_those_there_bounded_and_kept_again(dates: list[dt.date], today: dt.date) -> None:
    kept = keep_which(dates, today)
    past = {date for date in dates if date <= today}
    assert kept <= set(dates)
    assert len(kept & past) <= DAILY + WEEKLY + MONTHLY
    assert set(sorted(past)[-DAILY:]) <= kept
    assert keep_which(kept, today) == kept
    assert keep_which(reversed(dates), today) == kept


@given(st.sets(st.integers(0, 800), min_size=1))
def test_thinned_out_day_by_day_it_comes_to_the_same(days_with_one: set[int]) -> None:
    first = dt.date(2024, 1, 1)
    made: list[dt.date] = []
    there: set[dt.date] = set()
    for number in sorted(days_with_one):
        today = first + dt.timedelta(days=number)
        made.append(today)
        there = keep_which({*there, today}, today)
    assert there == keep_which(made, made[-1])


# --- when the last one goes -----------------------------------------------------------------------------------------


def test_the_newest_of_a_month_goes_when_the_twelfth_month_after_it_begins() -> None:
    # October's newest, the 31st, is one of the newest of twelve months until October 2027 has its first.
    assert find_last_day(every_day("2026-10-20", "2026-11-26"), TODAY) == on("2027-10-01")
    assert find_last_day([on("2026-11-30")], on("2026-11-30")) == on("2027-11-01")


def test_one_that_is_no_months_newest_goes_after_four_weeks() -> None:
    # Today's own: Friday to Thursday are the seven newest; by then its week, its month has newer ones.
    assert find_last_day([TODAY], TODAY) == on("2026-12-03")
    # Sunday's, the newest of its week: the week of 16 to 22 November is the fourth until 14 December begins a fifth.
    assert find_last_day([on("2026-11-22")], TODAY) == on("2026-12-14")


def test_no_backup_has_no_last_day_and_one_dated_years_ahead_none_that_is_known() -> None:
    assert find_last_day([], TODAY) is None
    assert find_last_day([on("2061-01-01"), TODAY], TODAY) is None


@given(st.dates(dt.date(2020, 1, 1), dt.date(2030, 12, 31)))
def test_none_made_by_a_server_that_runs_each_day_is_there_longer_than_a_year(today: dt.date) -> None:
    there = keep_which([today - dt.timedelta(days=number) for number in range(400)], today)
    last = find_last_day(there, today)
    assert last is not None
    assert dt.timedelta(0) < last - today <= dt.timedelta(days=366)
