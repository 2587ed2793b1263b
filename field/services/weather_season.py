"""Tells the seasons of a place side by side, as its page shows them: degree days, frosts, chill, and gaps."""

from __future__ import annotations

import datetime as dt
from typing import Any

from field.core.dates import local_date, read_zone
from field.core.frost import Frosts
from field.core.heat import GROWTH_BASE_C
from field.core.season_figures import Heat, Winter, heat_seasons, winters
from field.core.weather import Sum
from field.core.weather_day import days_told
from field.core.windows import place_of_site
from field.services.weather_file import list_batches, need_place
from field.store import queries


def tell_season(place: str, now: dt.datetime) -> dict[str, Any]:
    """Return the seasons of a garden or site.

    Args:
        place: its id.
        now: aware; its day at the place is today.
    Returns: {"place", "today", "base_c", "south", "lat_known", "days", "this_year", "seasons", "winters", "batches"}.
        A sum is {"logged", "filled", "low", "high", "known", "missing", "words"}, None where it cannot be said; see
        `core.weather.Sum`. Without a latitude the seasons are those of the north.
    Raises: NotFound for a place that is not kept here.
    """
    record = need_place(place)
    today = today_at(record, now)
    lat = place_of_site(record)["lat"]
    south = lat is not None and lat < 0
    records = queries.records_where("weather_day", "site", place)
    days = days_told(records)
    return {
        "place": place,
        "today": today.isoformat(),
        "base_c": GROWTH_BASE_C,
        "south": south,
        "lat_known": lat is not None,
        "days": len(days),
        "this_year": sum(day.on.year == today.year for day in days),
        "seasons": [_heat(one) for one in heat_seasons(days, today, south=south)],
        "winters": [_winter(one) for one in winters(days, today, south=south)],
        "batches": list_batches(records),
    }


def today_at(record: dict[str, Any], now: dt.datetime) -> dt.date:
    """Return the day that it is at a garden or site; without a zone that of this machine."""
    zone = record.get("zone")
    return now.astimezone().date() if zone is None else local_date(now, read_zone(zone, "zone"))


def _heat(one: Heat) -> dict[str, Any]:
    return {
        "since": one.since.isoformat(),
        "until": one.until.isoformat(),
        "whole": _sum(one.whole),
        "by_now": _sum(one.by_now),
        "simple": _sum(one.simple),
        "curve": [[number, round(total, 1)] for number, total in one.curve],
    }


def _winter(one: Winter) -> dict[str, Any]:
    return {
        "since": one.since.isoformat(),
        "until": one.until.isoformat(),
        "frosts": _frosts(one.frosts),
        "chill_since": one.chill_since.isoformat(),
        "chill_until": one.chill_until.isoformat() if one.chill_until >= one.chill_since else None,
        "chill_hours": _sum(one.chill_hours),
        "utah": _sum(one.utah),
        "chill_days": _sum(one.chill_days),
    }


def _frosts(one: Frosts) -> dict[str, Any]:
    return {
        "first_on": None if one.first_on is None else one.first_on.isoformat(),
        "last_on": None if one.last_on is None else one.last_on.isoformat(),
        "nights": one.nights,
        "begins_on": None if one.begins_on is None else one.begins_on.isoformat(),
        "words": one.words(),
    }


def _sum(one: Sum) -> dict[str, Any]:
    def tenths(value: float | None) -> float | None:
        return None if value is None else round(value, 1)

    return {
        "logged": tenths(one.logged),
        "filled": tenths(one.filled),
        "low": tenths(one.low),
        "high": tenths(one.high),
        "known": one.days_known,
        "missing": one.days_missing,
        "words": one.words(),
    }
