"""When the buds of a kind may break this year, by the heat that was logged: a range of days, and how sure it is.

What is still to come this spring is taken from the person's own earlier years, one after the other: the earliest and
the latest of them make the range. Without an earlier year only "so far n of a to b" can be said. What was seen on the
tree itself beats any of this.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from importlib import resources

from field.core.heat import GROWTH_BASE_C, sine_degree_days, sum_degree_days
from field.core.weather import Day, Sum, fill_days, season_start

HEAT_SINCE_MONTH = 1  # 1 January: Murray, Cannell and Smith 1989 [seen: abstract]; 1 July in the south
SPRING_DAYS = 240  # of the season in which buds are looked for; common practice
FEW_YEARS = 3  # fewer earlier years say little about a spring; common practice
SURE_WORDS: Mapping[str, str] = {
    "rough": "The figures are orders of magnitude only: take the dates as a hint of when to begin looking.",
    "weak": "Heat alone foretells this kind badly: look at the buds, and do not wait for a date.",
}


@dataclass(frozen=True, slots=True)
class BudHeat:
    """How much heat the buds of a kind want."""

    kind: str
    event: str
    low: float  # day-degrees
    high: float
    sure: str  # 'rough' or 'weak'
    source: str


@dataclass(frozen=True, slots=True)
class Forecast:
    """When an event may come; a date is None where it cannot be said."""

    event: str
    so_far: Sum
    low: float
    high: float
    earliest_on: date | None
    latest_on: date | None
    years: tuple[int, ...]  # the earlier ones that stood in for what is to come
    sure: str
    words: str
    source: str


def bud_heats() -> Mapping[str, BudHeat]:
    """Return kind -> the heat its buds want, for the kinds of which a figure is known."""
    return _table()


def forecast(kind: str, days: Iterable[Day], today: date, *, south: bool = False) -> Forecast | None:
    """Return when the buds of a kind may break this season, or None for a kind of which no figure is known.

    Args:
        kind: short name of the species card.
        days: all that is logged for the place, of this and of earlier years, in any order.
        today: the last day that counts as logged; later ones are passed over.
        south: the place is south of the equator.
    """
    heat = _table().get(kind)
    if heat is None:
        return None
    known = [day for day in days if day.on <= today]
    since = season_start(today, HEAT_SINCE_MONTH, south=south)
    so_far = sum_degree_days(known, since, today)
    this_year = _heat_by_day(known, since, (today - since).days)
    springs = _earlier_springs(known, since) if len(this_year) <= SPRING_DAYS else {}
    earliest = latest = None
    if so_far.filled is not None:
        earliest = _pick(this_year, springs.values(), heat.low, since, first=True)
        latest = _pick(this_year, springs.values(), heat.high, since, first=False)
    return Forecast(
        event=heat.event,
        so_far=so_far,
        low=heat.low,
        high=heat.high,
        earliest_on=earliest,
        latest_on=latest,
        years=tuple(sorted(springs)),
        sure=heat.sure,
        words=_words(heat, so_far, len(springs)),
        source=heat.source,
    )


def _heat_by_day(days: Iterable[Day], since: date, last: int) -> list[float | None]:
    return fill_days(
        days, since, since + timedelta(days=last), lambda low, high: sine_degree_days(low, high, GROWTH_BASE_C)
    )


def _earlier_springs(days: list[Day], since: date) -> dict[int, list[float]]:
    """Return year -> the heat of each day of that spring; only years with no gap too long to fill."""
    by_year: dict[int, list[Day]] = {}
    for day in days:
        by_year.setdefault(day.on.year, []).append(day)
    found: dict[int, list[float]] = {}
    for year in sorted(one for one in by_year if one < since.year):
        near = [day for one in (year - 1, year, year + 1) for day in by_year.get(one, ())]
        spring = _heat_by_day(near, since.replace(year=year), SPRING_DAYS)
        whole = [one for one in spring if one is not None]
        if len(whole) == len(spring):
            found[year] = whole
    return found


def _pick(
    this_year: list[float | None], springs: Iterable[list[float]], wanted: float, since: date, *, first: bool
) -> date | None:
    """Return when the heat is reached: as logged, or by the earliest or latest of the earlier springs."""
    total = 0.0
    for n, one in enumerate(this_year):
        if one is None:
            return None
        total += one
        if total >= wanted:
            return since + timedelta(days=n)
    reached = []
    for spring in springs:
        sum_then = total
        for n in range(len(this_year), len(spring)):
            sum_then += spring[n]
            if sum_then >= wanted:
                reached.append(since + timedelta(days=n))
                break
        else:
            if not first:
                return None  # one spring never came so far: the latest day cannot be said
    if not reached:
        return None
    return min(reached) if first else max(reached)


def _words(heat: BudHeat, so_far: Sum, years: int) -> str:
    number = "not known" if so_far.filled is None else f"{so_far.filled:.0f}"
    parts = [f"So far {number} of {heat.low:.0f} to {heat.high:.0f} day-degrees above 5 °C."]
    if so_far.days_missing:
        parts.append(so_far.words())
    if years == 0:
        parts.append("No earlier spring is logged for this place, so no date can be given for what is to come.")
    elif years < FEW_YEARS:
        parts.append(f"What is to come is taken from {years} earlier spring{'s' if years > 1 else ''} only.")
    else:
        parts.append(f"What is to come is taken from {years} earlier springs.")
    parts.append(SURE_WORDS[heat.sure])
    return " ".join(parts)


@functools.cache
def _table() -> Mapping[str, BudHeat]:
    file = resources.files("field.core") / "tables" / "bud_heat.json"
    raw = json.loads(file.read_text(encoding="utf-8"))
    return {
        row["kind"]: BudHeat(
            row["kind"], row["event"], row["low"], row["high"], row["sure"], raw["sources"][row["source"]]
        )
        for row in raw["kinds"]
    }
