"""Which of many dated backups are kept: 7 daily, 4 weekly, 12 monthly."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable

MOST_DAYS = 2000  # looked ahead; only one from a clock that was years ahead would be there longer
DAILY = 7
WEEKLY = 4
MONTHLY = 12


def keep_which(dates: Iterable[dt.date], today: dt.date) -> set[dt.date]:
    """Return the dates whose backups are kept; the others may go.

    Kept are the newest DAILY of them, the newest of each of the last WEEKLY weeks (Monday to Sunday) and of each of
    the last MONTHLY months. Only days, weeks and months that have a backup count: a server that was off for the summer
    does not wake up to an empty shelf. A date after today, from a clock that was wrong, is kept and pushes none out.

    Args:
        dates: of the backups that are there; the same one may come twice.
        today: local date.
    """
    there = set(dates)
    past = sorted((on for on in there if on <= today), reverse=True)
    kept = there - set(past)
    kept.update(past[:DAILY])
    kept.update(_newest_of_each(past, WEEKLY, lambda on: on - dt.timedelta(days=on.weekday())))
    kept.update(_newest_of_each(past, MONTHLY, lambda on: on.replace(day=1)))
    return kept


def _newest_of_each(past: list[dt.date], most: int, begins_on: Callable[[dt.date], dt.date]) -> list[dt.date]:
    newest: dict[dt.date, dt.date] = {}
    for on in past:  # from the newest back: the first of a week or month is its newest
        newest.setdefault(begins_on(on), on)
    return list(newest.values())[:most]


def find_last_day(dates: Iterable[dt.date], today: dt.date) -> dt.date | None:
    """Return the day on which the last of some backups is let go, if one is made each day from today on.

    Args:
        dates: of the backups that are there.
        today: local date.
    Returns: None when there are none, or one of them is dated years ahead.
    """
    meant = set(dates)
    kept = keep_which(meant | {today}, today)
    day = today
    while kept & meant:
        if (day - today).days == MOST_DAYS:
            return None
        day += dt.timedelta(days=1)
        kept = keep_which(kept | {day}, day)
    return day if meant else None
