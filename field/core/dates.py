"""Local dates and instants: reading them strictly, and the one step between them.

A date is a day in the life of a place: 'YYYY-MM-DD'. An instant is a moment for everyone: UTC. Which day an instant
falls on depends on the place's zone, so a leave that ends on the 31st ends at midnight there, not in Greenwich.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from field.core.errors import BadInput

DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
INSTANT = re.compile(
    r"(\d{4}-\d{2}-\d{2})T(\d{2}):(\d{2})(?::(\d{2})(?:\.(\d{1,9}))?)?(?:(Z)|([+-])(\d{2}):(\d{2}))", re.ASCII
)
ZONE = re.compile(r"[A-Za-z][A-Za-z0-9_+-]*(?:/[A-Za-z0-9_+-]+)*", re.ASCII)
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def read_date(value: object, name: str, where: str) -> date:
    """Return a date from 'YYYY-MM-DD'.

    Args:
        value: the text; a `date` passes as it is.
        name: what it is, with its article: 'The first day of the leave'.
        where: its place in the input.
    Raises: BadInput if it is missing, written otherwise, or no day of the calendar.
    """
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    cure = "Give year, month and day, as in 2027-02-14."
    if value is None:
        raise BadInput(f"{name} is missing.", cure, where)
    found = DATE.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise BadInput(f"{name} is not written as a date.", cure, where)
    try:
        return date(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        raise BadInput(f"{name}, {value}, is no day of the calendar.", cure, where) from None


def find_date(value: object, name: str, where: str) -> date | None:
    """Return a date as `read_date` does, or None where none is given."""
    return None if value is None else read_date(value, name, where)


def read_instant(value: object, name: str, where: str) -> datetime:
    """Return an instant in UTC from 'YYYY-MM-DDTHH:MM[:SS[.f]]' with 'Z' or an offset.

    Args:
        value: the text; an aware `datetime` passes, turned to UTC.
        name, where: as `read_date`.
    Raises: BadInput if it is missing, written otherwise, has no zone, or is no moment of the calendar.
    """
    cure = "Give date, time and zone, as in 2027-02-14T09:30:00Z."
    if value is None:
        raise BadInput(f"{name} is missing.", cure, where)
    if isinstance(value, datetime) and value.tzinfo is not None:
        return value.astimezone(UTC)
    found = INSTANT.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise BadInput(f"{name} is not written as a moment with its zone.", cure, where)
    day = read_date(found[1], name, where)
    fraction = (found[5] or "").ljust(6, "0")[:6]
    try:
        offset = timedelta(0)
        if found[7]:
            if int(found[8]) > 23 or int(found[9]) > 59:
                raise ValueError("offset out of range")
            offset = timedelta(hours=int(found[8]), minutes=int(found[9])) * (1 if found[7] == "+" else -1)
        moment = datetime(
            day.year,
            day.month,
            day.day,
            int(found[2]),
            int(found[3]),
            int(found[4] or 0),
            int(fraction),
            tzinfo=timezone(offset),
        )
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise BadInput(f"{name}, {value}, is no moment of the calendar.", cure, where) from None


def read_zone(value: object, where: str = "zone") -> ZoneInfo:
    """Return a zone from its IANA name, 'Europe/London', in any letter case.

    Raises: BadInput if it is missing, no text, or no zone that is known here.
    """
    cure = "Give the name of a zone, as in Europe/London."
    if value is None:
        raise BadInput("The zone of the place is missing.", cure, where)
    if not isinstance(value, str) or ZONE.fullmatch(value) is None:
        raise BadInput("The zone of the place is not the name of a zone.", cure, where)
    try:
        # No zone's own name begins with a small letter, but files that are none may: 'posix/Europe/London'.
        return ZoneInfo(value if value[0].isupper() else _zones_in_small_letters()[value.lower()])
    except (ZoneInfoNotFoundError, ValueError, OSError, KeyError):
        known = _zones_in_small_letters().get(value.lower())
        if known is None:
            raise BadInput(f"The zone {value} is not known.", cure, where) from None
        return ZoneInfo(known)


@cache
def _zones_in_small_letters() -> dict[str, str]:
    """Return all zones by their names in small letters; 'localtime' is a machine's own and no place's."""
    return {name.lower(): name for name in available_timezones() if name != "localtime"}


def local_date(instant: datetime, zone: ZoneInfo) -> date:
    """Return the day an instant falls on at a place.

    Args:
        instant: aware.
        zone: of the place.
    Raises: BadInput if the day would fall outside the calendar (years 1 to 9999).
    """
    try:
        return instant.astimezone(zone).date()
    except OverflowError:
        raise BadInput("That moment is outside the calendar.", "Check the clock.", "now") from None


def days_between(first: date, second: date) -> int:
    """Return how many days the second date is after the first; negative if it is before."""
    return (second - first).days


def show_date(day: date) -> str:
    """Return a date in words: '3 February 2027'."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def instant_text(instant: datetime) -> str:
    """Return an aware instant in the one written form: UTC, milliseconds, 'Z'."""
    # Not by strftime: it writes the years before 1000 with fewer than 4 digits.
    return instant.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="milliseconds") + "Z"
