"""A day's weather as it is logged, and sums over many days in which a gap is told and never counted as nothing."""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from field.core.errors import BadInput

# The extremes ever measured in the air are -89.2 °C (Vostok, 21 July 1983) and 56.7 °C (Death Valley, 10 July 1913):
# World Meteorological Organization, archive of extremes [memory].
COLDEST_C, HOTTEST_C = -90.0, 60.0
FILL_REACH_DAYS = 7  # how far a missing day looks for known ones, either way; common practice


@dataclass(frozen=True, slots=True)
class Day:
    """The air of one local day; None: not known."""

    on: date
    tmin_c: float | None
    tmax_c: float | None

    @property
    def is_whole(self) -> bool:
        """Whether both the lowest and the highest temperature are known."""
        return self.tmin_c is not None and self.tmax_c is not None


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum over days, with what is missing in it.

    A missing day is filled with the mean of the known days within a week before and after it; `low` and `high` take
    the least and the greatest of those instead. Where no such day is known all three are None, and only `logged`
    can be said.
    """

    logged: float  # of the known days alone
    filled: float | None
    low: float | None
    high: float | None
    days_known: int
    days_missing: int
    missing_on: tuple[tuple[date, date], ...]  # first and last day of each gap

    def words(self) -> str:
        """Return what has to be said of the gaps, in a sentence; empty when there is none."""
        if not self.days_missing:
            return ""
        days = "1 day is" if self.days_missing == 1 else f"{self.days_missing} days are"
        if self.filled is None:
            return f"{days} missing, and no days are logged near some of them: the true sum is not known."
        return f"{days} missing, filled with the mean of the days within a week of them."


def check_extremes(tmin_c: float, tmax_c: float) -> None:
    """Refuse temperatures that no day has; BadInput, with one sentence."""
    for name, where, value in (("lowest", "tmin", tmin_c), ("highest", "tmax", tmax_c)):
        if not COLDEST_C <= value <= HOTTEST_C:
            cure = f"Give degrees Celsius between {COLDEST_C:.0f} and {HOTTEST_C:.0f}."
            raise BadInput(f"A {name} temperature of {value:g} °C was never measured anywhere.", cure, where)
    if tmin_c > tmax_c:
        cure = "Look whether the two were swapped."
        raise BadInput(f"The lowest temperature, {tmin_c:g} °C, is above the highest, {tmax_c:g} °C.", cure, "tmin")


def season_start(on: date, month: int, *, south: bool) -> date:
    """Return the first day of the season that a day belongs to.

    Args:
        on: the day.
        month: in which such seasons begin in the north; six months later in the south.
    """
    begins = (month + 5) % 12 + 1 if south else month
    return date(on.year if on.month >= begins else on.year - 1, begins, 1)


def add_up(days: Iterable[Day], since: date, until: date, value: Callable[[float, float], float]) -> Sum:
    """Return the sum of a figure over the days from `since` to `until`, both inclusive.

    Args:
        days: in any order; of one day told twice the last that is whole counts. Days outside are passed over, but
            help to fill gaps at the ends.
        since, until: when `until` is earlier the sum is over no day.
        value: of a day, from its lowest and highest temperature.
    """
    reach = timedelta(days=FILL_REACH_DAYS)
    known = _known(days, since - reach, until + reach, value)
    inside = [day for day in known if since <= day <= until]
    logged = sum(known[day] for day in inside)
    gaps = _gaps(sorted(inside), since, until)
    filled = low = high = 0.0
    can_fill = True
    order = sorted(known)
    for first, last in gaps:
        for n in range((last - first).days + 1):
            near = _near(known, order, first + timedelta(days=n), reach)
            if not near:
                can_fill = False
                break
            filled, low, high = filled + sum(near) / len(near), low + min(near), high + max(near)
    missing = sum((last - first).days + 1 for first, last in gaps)
    return Sum(
        logged=logged,
        filled=logged + filled if can_fill else None,
        low=logged + low if can_fill else None,
        high=logged + high if can_fill else None,
        days_known=len(inside),
        days_missing=missing,
        missing_on=tuple(gaps),
    )


def fill_days(
    days: Iterable[Day], since: date, until: date, value: Callable[[float, float], float]
) -> list[float | None]:
    """Return a figure for every day from `since` to `until`, a missing one filled as `Sum` says; None: nothing near.

    Args: as `add_up`.
    """
    reach = timedelta(days=FILL_REACH_DAYS)
    known = _known(days, since - reach, until + reach, value)
    order = sorted(known)
    filled: list[float | None] = []
    for n in range((until - since).days + 1):
        day = since + timedelta(days=n)
        if day in known:
            filled.append(known[day])
            continue
        near = _near(known, order, day, reach)
        filled.append(sum(near) / len(near) if near else None)
    return filled


def _known(days: Iterable[Day], first: date, last: date, value: Callable[[float, float], float]) -> dict[date, float]:
    known: dict[date, float] = {}
    for day in days:
        if day.tmin_c is not None and day.tmax_c is not None and first <= day.on <= last:
            known[day.on] = value(day.tmin_c, day.tmax_c)
    return known


def _gaps(days: list[date], since: date, until: date) -> list[tuple[date, date]]:
    """Return the runs of days without one of the sorted days."""
    one = timedelta(days=1)
    found = []
    next_on = since
    for day in days:
        if day > next_on:
            found.append((next_on, day - one))
        next_on = day + one
    if next_on <= until:
        found.append((next_on, until))
    return found


def _near(known: dict[date, float], order: list[date], day: date, reach: timedelta) -> list[float]:
    lower, upper = bisect.bisect_left(order, day - reach), bisect.bisect_right(order, day + reach)
    return [known[one] for one in order[lower:upper]]
