"""What of a station's days is kept beside those of a place that are kept already: a plan, and nothing is written.

What a person typed stands unless they say otherwise, a value that is not known takes nothing away, and a file that was
read before changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from field.core.errors import BadInput
from field.core.weather import Day, check_extremes

TYPED, STATION = "typed", "station"
USUAL_YEARS = 10  # kept unless more is asked for: enough to set a season beside; common practice
MOST_YEARS = 30  # a climate's usual span (World Meteorological Organization [memory]); every day goes to every phone
MOST_TOLD = 50  # typed days that the file tells otherwise


@dataclass(frozen=True, slots=True)
class Kept:
    """A day as it is kept; None: not known."""

    tmin_c: float | None
    tmax_c: float | None
    how: str | None


@dataclass(slots=True)
class Plan:
    """What would be written, and why the rest would not."""

    write: dict[date, Kept] = field(default_factory=dict)
    new: int = 0
    changed: int = 0  # of those that an earlier file told
    filled: int = 0  # typed days of which the file tells the value that was missing
    replaced: int = 0  # typed days that give way
    same: int = 0
    typed_stay: int = 0  # typed days that the file tells otherwise, and that stand
    typed_told: list[tuple[date, Kept, Day]] = field(default_factory=list)  # the first of them, either way
    ahead: int = 0  # days that have not come yet
    earlier: int = 0  # days before the first year that is kept
    cannot: int = 0  # days whose known half does not go with the file's


def first_year(days: Iterable[Day], today: date, asked: int | None = None) -> int:
    """Return the first year that is kept of a file.

    Args:
        days: of the file.
        asked: the year that a person chose; None: the usual number of years up to the file's last day.
    Raises: BadInput for more years than are kept.
    """
    years = [day.on.year for day in days if day.on <= today]
    last = max(years, default=today.year)
    if asked is None:
        return last - USUAL_YEARS + 1
    if asked < last - MOST_YEARS + 1:
        raise BadInput(
            f"More than {MOST_YEARS} years are not kept of one place: every day of them goes to every phone.",
            f"Choose {last - MOST_YEARS + 1} or a later year to begin with.",
            "since",
        )
    return asked


def plan_days(
    days: Iterable[Day], kept: Mapping[date, Kept], today: date, since: int, *, keep_typed: bool = True
) -> Plan:
    """Return what of a file's days is to be written.

    Args:
        days: of the file, each once.
        kept: the place's days.
        today: later days are left out: a table may hold a forecast.
        since: first year that is kept.
        keep_typed: what was typed stands where the file says otherwise.
    """
    plan = Plan()
    for told in days:
        if told.on > today:
            plan.ahead += 1
        elif told.on.year < since:
            plan.earlier += 1
        else:
            _take(plan, _rounded(told), kept.get(told.on), keep_typed=keep_typed)
    return plan


def _take(plan: Plan, told: Day, old: Kept | None, *, keep_typed: bool) -> None:
    if old is None:
        plan.new += 1
        plan.write[told.on] = Kept(told.tmin_c, told.tmax_c, STATION)
        return
    # A value that one of the two does not know is taken from the other.
    low = told.tmin_c if told.tmin_c is not None else old.tmin_c
    high = told.tmax_c if told.tmax_c is not None else old.tmax_c
    if (low, high) == (old.tmin_c, old.tmax_c):
        plan.same += 1
        return
    differs = _differs(told.tmin_c, old.tmin_c) or _differs(told.tmax_c, old.tmax_c)
    if old.how == TYPED and differs and len(plan.typed_told) < MOST_TOLD:
        plan.typed_told.append((told.on, old, told))
    how = STATION
    if old.how == TYPED and keep_typed:
        low = old.tmin_c if old.tmin_c is not None else low
        high = old.tmax_c if old.tmax_c is not None else high
        how = TYPED
        if (low, high) == (old.tmin_c, old.tmax_c):
            plan.typed_stay += 1
            return
    elif old.how == TYPED and not differs:
        how = TYPED
    if low is not None and high is not None and low > high:
        plan.cannot += 1
        return
    plan.write[told.on] = Kept(low, high, how)
    if how == TYPED:
        plan.filled += 1
    elif old.how == TYPED:
        plan.replaced += 1
    else:
        plan.changed += 1


def _differs(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and one != other


def _rounded(day: Day) -> Day:
    """Tenths of a degree: no thermometer of a garden knows more, and degrees Fahrenheit would make long fractions."""
    low, high = (None if one is None else round(one, 1) for one in (day.tmin_c, day.tmax_c))
    if low is not None and high is not None:
        check_extremes(low, high)
    return Day(day.on, low, high)
