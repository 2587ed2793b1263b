"""One cell of a station's table: a temperature in any usual writing, or a day with or without its time.

A day written 3/4/2026 may be the third of April or the fourth of March: both figures are handed on as they stand, and
nothing is guessed here.
"""

from __future__ import annotations

import functools
import re
from typing import NamedTuple

from field.readers.station_words import MISSING, MISSING_NUMBERS

UNITS = ("C", "F", "0.1C")
FIRST_YEAR, LAST_YEAR = 1700, 2200
LONGEST = 40  # characters of a cell that can be a figure or a time: what was read is remembered, so it stays short

_NUMBER = re.compile(r"[+-]?(?:\d{1,6}(?:[.,]\d{0,6})?|[.,]\d{1,6})", re.ASCII)
_YMD = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)(.*)", re.ASCII)
_PACKED = re.compile(r"(\d{4})(\d{2})(\d{2})(?:(\d{2})(\d{2})?(?:\d{2})?)?", re.ASCII)
_DOTS = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})(?!\d)(.*)", re.ASCII)
_EITHER = re.compile(r"(\d{1,2})([/-])(\d{1,2})\2(\d{4})(?!\d)(.*)", re.ASCII)
_NAMED = re.compile(r"(\d{1,2})[ .-]+([a-z]{3,9})[ .,-]+(\d{4})(?!\d)(.*)", re.ASCII | re.IGNORECASE)
_SHORT_YEAR = re.compile(r"\d{1,2}([-/.])\d{1,2}\1\d{2}(?!\d).*", re.ASCII)
_TIME = re.compile(
    r"[T ,]*(\d{1,2})(?:[:.h](\d{2})(?:[:.]\d{2}(?:[.,]\d+)?)?)?\s*(am|pm)?\s*(?:z|utc|gmt|[+-]\d{2}:?\d{2})?",
    re.ASCII | re.IGNORECASE,
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

NO_DATE = "no day that could be read"
NO_DAY = "no day of the calendar"
TWO_FIGURES = "a year of two figures"


class When(NamedTuple):
    """A day as it is written; `either` True: `month` and `day` are the first and second figure, whichever is which."""

    year: int
    month: int
    day: int
    either: bool
    minute: int | None  # of the day; None: no time is told


@functools.lru_cache(maxsize=4096)  # a station tells the same few hundred temperatures over and over
def read_temperature(cell: str, unit: str) -> float | None:
    """Return degrees Celsius, None for a mark of a missing value; ValueError for what is neither.

    Args:
        cell: trimmed text; the decimal mark may be a point or a comma.
        unit: one of UNITS.
    """
    if len(cell) > LONGEST:
        raise ValueError(cell)
    bare = cell.replace("\N{MINUS SIGN}", "-").strip().rstrip("°CFcf \u00a0").lstrip("'")
    if bare.lower() in MISSING:
        return None
    if _NUMBER.fullmatch(bare) is None:
        raise ValueError(cell)
    value = float(bare.replace(",", "."))
    if value in MISSING_NUMBERS:
        return None
    if unit == "F":
        return (value - 32) / 1.8
    return value / 10 if unit == "0.1C" else value


def read_when(cell: str) -> When:
    """Return the day, and the time where one stands beside it; ValueError says in words what is wrong."""
    if len(cell) > 10 and cell[10] in "T " and cell[:4].isdigit():  # the day of 24 readings is read once
        return _read_day(cell[:10])._replace(minute=read_minute(cell[10:]))
    return _read_day(cell)


@functools.lru_cache(maxsize=64)
def _read_day(text: str) -> When:
    either = False
    if found := _YMD.fullmatch(text):
        year, month, day, rest = int(found[1]), int(found[3]), int(found[4]), found[5]
    elif found := _PACKED.fullmatch(text):
        rest = "" if found[4] is None else f"{found[4]}:{found[5] or '00'}"
        year, month, day = int(found[1]), int(found[2]), int(found[3])
    elif found := _DOTS.fullmatch(text):
        year, month, day, rest = int(found[3]), int(found[2]), int(found[1]), found[4]
    elif found := _EITHER.fullmatch(text):
        year, month, day, rest, either = int(found[4]), int(found[1]), int(found[3]), found[5], True
    elif (found := _NAMED.fullmatch(text)) and found[2][:3].lower() in _MONTHS:
        year, month, day, rest = int(found[3]), _MONTHS.index(found[2][:3].lower()) + 1, int(found[1]), found[4]
    else:
        raise ValueError(TWO_FIGURES if _SHORT_YEAR.fullmatch(text) else NO_DATE)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise ValueError(NO_DATE)
    if not 1 <= min(month, day) <= max(month, day) <= 31 or (min(month, day) if either else month) > 12:
        raise ValueError(NO_DAY)
    return When(year, month, day, either, None if not rest.strip() else read_minute(rest))


def read_figures(year: str, month: str, day: str) -> When:
    """Return the day of three cells; ValueError says in words what is wrong."""
    # Through the packed form, so that no endless figure gets to the calendar: one of 2 figures is no year.
    fits = len(year) == 4 and 1 <= len(month) <= 2 and 1 <= len(day) <= 2
    return read_when(f"{year}{month.zfill(2)}{day.zfill(2)}" if fits else "")


@functools.lru_cache(maxsize=4096)
def read_minute(cell: str) -> int:
    """Return the minute of the day of a time; ValueError says in words what is wrong."""
    found = _TIME.fullmatch(cell.strip()) if len(cell) <= LONGEST else None
    if found is None:
        raise ValueError("no time that could be read")
    hour, minute = int(found[1]), int(found[2] or 0)
    if found[3]:
        hour = hour % 12 + (12 if found[3].lower() == "pm" else 0)
    if hour > 24 or minute > 59:
        raise ValueError("no time that could be read")
    return min(hour * 60 + minute, 1440)
