"""The weather that is kept of a place: its days, as the rules of the season take them."""

from __future__ import annotations

from field.core.weather import Day
from field.core.weather_day import days_told
from field.store import queries


def days_of(place: str) -> list[Day]:
    """Return the days that are kept of a garden or site, in order, each once; a value that is not known is None."""
    return days_told(queries.records_where("weather_day", "site", place))
