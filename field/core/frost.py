"""The first and the last air frost of a winter, with the days that are missing around them.

A frost is a day whose lowest air temperature is below 0 °C (the meteorological offices' air frost [memory]). On the
ground it is colder on clear nights: leaves and box rims freeze before this says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from field.core.dates import show_date
from field.core.weather import Day, season_start

FROST_BELOW_C = 0.0
FROST_FREE_DAYS = 62  # of the twelve months, from their beginning: July and August; own rule. A log may begin in them
WINTER_FROM_MONTH = 7  # a winter is looked for from 1 July to 30 June; in the south from 1 January to 31 December


@dataclass(frozen=True, slots=True)
class Frosts:
    """The frosts of one winter, as far as they are logged."""

    first_on: date | None  # None: none logged
    last_on: date | None
    nights: int
    missing_before: int  # days not logged before the first frost (or in all, when there is none): it may lie there
    missing_after: int  # days not logged after the last frost
    begins_on: date | None = None  # the first day logged, where that lies inside the winter: no first frost is sure

    def _beginning(self, begins_on: date) -> str:
        begins = f"the log begins on {show_date(begins_on)}, and before it no frost is known"
        if self.first_on is None:
            return begins
        return f"the first frost came on {show_date(self.first_on)} or earlier: {begins}"

    def words(self) -> str:
        """Return what is not sure about the two dates, in a sentence; empty when the log is whole."""
        parts = []
        if self.begins_on is not None:
            parts.append(self._beginning(self.begins_on))
        elif self.missing_before:
            parts.append(f"{self.missing_before} days before the first frost are not logged: it may have come earlier")
        if self.missing_after:
            parts.append(f"{self.missing_after} days after the last frost are not logged: it may have come later")
        return "; ".join(parts) + "." if parts else ""


def winter_of(on: date, *, south: bool = False) -> tuple[date, date]:
    """Return the first and last day of the twelve months around the winter that a day belongs to."""
    first = season_start(on, WINTER_FROM_MONTH, south=south)
    return first, first.replace(year=first.year + 1) - timedelta(days=1)


def find_frosts(days: Iterable[Day], winter_on: date, until: date, *, south: bool = False) -> Frosts:
    """Return the first and last frost of the winter that `winter_on` belongs to.

    Args:
        days: in any order; a day whose lowest is not known counts as missing.
        winter_on: any day of that winter.
        until: the last day that can be known, today as a rule; days after it are not missing.
        south: the place is south of the equator.
    """
    first, last = winter_of(winter_on, south=south)
    last = min(last, until)
    lows: dict[date, float] = {}
    for day in days:
        if day.tmin_c is not None and first <= day.on <= last:
            lows[day.on] = min(day.tmin_c, lows.get(day.on, day.tmin_c))
    frosts = sorted(on for on, low in lows.items() if low < FROST_BELOW_C)
    begins = min(lows, default=None)
    if begins is not None and (begins - first).days <= FROST_FREE_DAYS:
        begins = None
    if not frosts:
        return Frosts(None, None, 0, max(0, (last - first).days + 1) - len(lows), 0, begins)
    return Frosts(
        first_on=frosts[0],
        last_on=frosts[-1],
        nights=len(frosts),
        missing_before=(frosts[0] - first).days - sum(on < frosts[0] for on in lows),
        missing_after=(last - frosts[-1]).days - sum(on > frosts[-1] for on in lows),
        begins_on=begins,
    )
