"""Invent the weather of the demo's garden: a yearly wave with days that hang together, the same for the same day."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator
from datetime import date, timedelta

from field.core.weather import Day

MEAN_C, WAVE_C, DAILY_C = 8.2, 6.3, 7.0  # an upland valley; invented
WARMEST_DAY = 201  # of the year
SPELL_DAYS = 5  # mild and cold spells last about so long


def invent_days(first: date, last: date) -> Iterator[Day]:
    """Yield the days from first to last, both inclusive; a few are missing, as in every log kept by hand."""
    day = first
    while day <= last:
        if _chance(f"missed {day}") > 0.02:
            yield _invent(day)
        day += timedelta(days=1)


def _invent(day: date) -> Day:
    usual = MEAN_C + WAVE_C * math.cos(2 * math.pi * (day.timetuple().tm_yday - WARMEST_DAY) / 365.25)
    whole, part = divmod(day.toordinal(), SPELL_DAYS)
    near = part / SPELL_DAYS
    spell = 5.0 * ((1 - near) * _swing(f"spell {whole}") + near * _swing(f"spell {whole + 1}"))
    mean = usual + 1.2 * _swing(f"year {day.year}") + spell + 1.5 * _swing(f"day {day}")
    half = DAILY_C / 2 * (1 + 0.5 * _swing(f"clouds {day}"))
    return Day(day, round(mean - half, 1), round(mean + half, 1))


def _swing(name: str) -> float:
    return 2 * _chance(name) - 1


def _chance(name: str) -> float:
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") / 2**32
