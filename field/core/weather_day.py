"""The record of one day's weather at one place: what it is called, and the days that such records tell.

Its name is made of the place and the day, so that two phones which note the same day meet in one record. Twin of the
name: `static/js/core/weather_day.js` (tests/vectors/weather_day.json).
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from datetime import date

from field.core.errors import BadInput
from field.core.weather import Day, check_extremes


def weather_day_id(place: str, day_on: str) -> str:
    """Return the id of the record of a day at a place.

    Args:
        place: id of the garden or site.
        day_on: 'YYYY-MM-DD'.
    Source: a name-based UUID, version 5, RFC 9562 section 5.5, in the name space for addresses.
    """
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:weather:{place}:{day_on}"))


def days_told(records: Iterable[Mapping[str, object]]) -> list[Day]:
    """Return the days that the records of one place tell, in order, each once.

    Args:
        records: merged weather_day records with "id", deleted ones left out, in any order. Of two that tell of one day
            the one that is named after it counts; its place may not be asked, since they are of one place.
    Returns: a day whose lowest lies above its highest, as two phones can make it, counts as not known: which of the two
        is wrong cannot be said.
    """
    found: dict[date, Day] = {}
    for one in records:
        told = one.get("day_on")
        if not isinstance(told, str):
            continue
        low, high = _degrees(one.get("tmin_c")), _degrees(one.get("tmax_c"))
        if (low is None and high is None) or not _can_be(low, high):
            continue
        on = date.fromisoformat(told)
        if on not in found or one.get("id") == weather_day_id(str(one.get("site")), told):
            found[on] = Day(on, low, high)
    return [found[on] for on in sorted(found)]


def _degrees(value: object) -> float | None:
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _can_be(low: float | None, high: float | None) -> bool:
    one, other = (low if low is not None else high), (high if high is not None else low)
    if one is None or other is None:
        return False
    try:
        check_extremes(one, other)
    except BadInput:
        return False
    return True
