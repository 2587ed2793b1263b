"""A calendar file (RFC 5545) of what is due: all-day entries with unique names that stay the same in every copy."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass

from icalendar import Alarm, Calendar, Event, vText

MEDIA_TYPE = "text/calendar; charset=utf-8"
PRODUCT = "-//Fellside//Due//EN"
# What a calendar may ring for, from the beginning of the entry's first day in the viewer's own zone.
ALARMS = {
    "none": None,
    "evening": dt.timedelta(hours=-6),  # 18:00 the day before
    "morning": dt.timedelta(hours=7),  # 07:00 of the day
}
LONG_DAYS = 7  # what may be done over a longer time than this stands on its first day alone, with the last one told
START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)  # SEQUENCE counts minutes from here
_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\x85\u2028\u2029]")


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that is due."""

    uid: str  # world-wide its own, the same in every copy
    starts_on: dt.date
    ends_on: dt.date  # the last day, inclusive
    title: str
    text: str
    cancelled: bool = False  # settled since it was last told, or no more asked for


def write_calendar(entries: Iterable[Entry], name: str, alarm: str, now: dt.datetime) -> bytes:
    """Return a calendar file.

    Args:
        name: of the calendar, as calendar programs show it.
        alarm: one of ALARMS.
        now: aware; when this copy is written. A later copy has a higher SEQUENCE, so that a date that moved counts.
    Raises: KeyError for an alarm that is none of ALARMS.
    """
    rings = ALARMS[alarm]
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", vText(" ".join(_plain(name).split())))  # the library escapes no X- value by itself
    sequence = max(0, int((now - START).total_seconds() // 60))
    for entry in sorted(entries, key=lambda one: (one.starts_on, one.uid)):
        calendar.add_component(_event(entry, rings, sequence, now))
    return bytes(calendar.to_ical())


def _event(entry: Entry, rings: dt.timedelta | None, sequence: int, now: dt.datetime) -> Event:
    days = (entry.ends_on - entry.starts_on).days + 1
    is_long = days > LONG_DAYS
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", now.astimezone(dt.UTC).replace(microsecond=0))
    event.add("sequence", sequence)
    event.add("dtstart", entry.starts_on)
    event.add("dtend", entry.starts_on + dt.timedelta(days=1 if is_long or days < 1 else days))
    until = f" (until {entry.ends_on.day} {entry.ends_on:%b %Y})" if is_long else ""
    event.add("summary", _plain(entry.title) + until)
    event.add("description", _plain(entry.text))
    event.add("transp", "TRANSPARENT")  # it makes nobody busy
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    if rings is not None and not entry.cancelled:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("trigger", rings)
        alarm.add("description", _plain(entry.title))
        event.add_component(alarm)
    return event


def _plain(text: str) -> str:
    """Return a text without what no content line may hold; line breaks and tabs stay."""
    told = text.replace("\r\n", "\n").replace("\r", "\n")
    return _CONTROLS.sub(" ", told).encode("utf-8", "replace").decode("utf-8")
