"""The calendar file, held to RFC 5545 on its raw bytes and read back by a library of its own."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.papers.calendar import ALARMS, Entry, write_calendar

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
NAMES = [
    "Look at the wire; before it bites, every week\nNext line \\ backslash",
    "Kåfjord, å" * 40,
    "日本の木" * 30,
    "🌲🪓 “quoted”: colon",
    "tab\there, carriage\r\nreturn\rand bell\x07, next\x85line",
    "x" * 300,
    "",
]


def entry(
    title: str = "Water", uid: str = "a@fellside", start: str = "2027-03-05", days: int = 1, **more: Any
) -> Entry:
    starts_on = dt.date.fromisoformat(start)
    return Entry(uid, starts_on, starts_on + dt.timedelta(days=days - 1), title, title, **more)


def read(data: bytes) -> list[Any]:
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


def lines_of(data: bytes) -> list[bytes]:
    """The content lines as they stand; every rule on the raw bytes is held here (RFC 5545, 3.1)."""
    assert data.endswith(b"\r\n")
    lines = data.split(b"\r\n")[:-1]
    for line in lines:
        assert len(line) <= 75, line
        assert b"\r" not in line
        assert b"\n" not in line
        line.decode("utf-8")  # folded between characters, never inside one
        assert not re.search(rb"[\x00-\x08\x0b-\x1f\x7f]", line)
    return lines


@pytest.mark.parametrize("name", NAMES)
def test_any_name_comes_back_and_every_line_is_folded_by_octets(name: str) -> None:
    data = write_calendar([entry(name)], name, "none", NOW)
    lines_of(data)
    (found,) = read(data)
    expected = name.replace("\r\n", "\n").replace("\r", "\n").replace("\x07", " ").replace("\x85", " ")
    assert str(found["SUMMARY"]) == expected
    assert str(found["DESCRIPTION"]) == expected


def test_text_is_escaped_as_the_standard_writes_it() -> None:
    data = write_calendar([entry(NAMES[0])], "Due", "none", NOW)
    whole = b"".join(line[1:] if line[:1] == b" " else b"\n" + line for line in lines_of(data))
    assert rb"SUMMARY:Look at the wire\; before it bites\, every week\nNext line \\ backslash" in whole


def test_the_wrapper_and_all_that_an_entry_must_have_are_there() -> None:
    data = write_calendar([entry()], "Due", "none", NOW)
    calendar = icalendar.Calendar.from_ical(data)
    assert (str(calendar["VERSION"]), bool(calendar["PRODID"])) == ("2.0", True)
    (event,) = read(data)
    assert event["UID"] == "a@fellside"
    assert event["DTSTAMP"].dt == NOW
    assert type(event["DTSTART"].dt) is dt.date
    assert event["DTSTART"].dt == dt.date(2027, 3, 5)
    assert event["DTEND"].dt == dt.date(2027, 3, 6)  # exclusive
    assert b"DTSTART;VALUE=DATE:20270305\r\n" in data
    assert b"DTSTAMP:20270301T090000Z\r\n" in data


@pytest.mark.parametrize(
    ("days", "ends", "told"),
    [(1, "2027-03-06", ""), (3, "2027-03-08", ""), (7, "2027-03-12", ""), (8, "2027-03-06", "until 12 Mar 2027")],
)
def test_short_work_spans_its_days_and_long_work_stands_on_its_first_with_the_last_told(
    days: int, ends: str, told: str
) -> None:
    (event,) = read(write_calendar([entry(days=days)], "Due", "none", NOW))
    assert event["DTEND"].dt == dt.date.fromisoformat(ends)
    assert told in str(event["SUMMARY"])


@pytest.mark.parametrize(("alarm", "trigger"), [("evening", b"TRIGGER:-PT6H"), ("morning", b"TRIGGER:PT7H")])
def test_every_alarm_has_what_it_needs(alarm: str, trigger: bytes) -> None:
    data = write_calendar([entry(), entry(uid="b@fellside", cancelled=True)], "Due", alarm, NOW)
    first, second = read(data)
    (ring,) = first.walk("VALARM")
    assert (str(ring["ACTION"]), str(ring["DESCRIPTION"])) == ("DISPLAY", "Water")
    assert trigger in data
    assert second.walk("VALARM") == []
    assert str(second["STATUS"]) == "CANCELLED"


def test_a_date_that_moves_keeps_its_name_and_counts_as_newer() -> None:
    (before,) = read(write_calendar([entry()], "Due", "none", NOW))
    (after,) = read(write_calendar([entry(start="2027-03-09")], "Due", "none", NOW + dt.timedelta(minutes=5)))
    assert after["UID"] == before["UID"]
    assert after["SEQUENCE"] > before["SEQUENCE"]


def test_an_alarm_that_is_none_is_no_alarm_to_ask_for() -> None:
    with pytest.raises(KeyError):
        write_calendar([], "Due", "at noon", NOW)
    assert set(ALARMS) == {"none", "evening", "morning"}


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=120), st.integers(1, 40), st.dates(dt.date(1900, 1, 1), dt.date(2300, 1, 1)))
def test_whatever_a_tree_is_called_the_file_holds_to_the_standard(name: str, days: int, day: dt.date) -> None:
    data = write_calendar(
        [Entry("u@fellside", day, day + dt.timedelta(days=days - 1), name, name)], name, "morning", NOW
    )
    lines_of(data)
    assert len(read(data)) == 1
