"""A tree's stage, and when each step of its care plan falls: history in, occurrences out.

The stages, by the latest lift that is not deleted:

| stage | rule |
|---|---|
| marked | no lift yet |
| lifted | fewer than 14 days since the lift, or lifted on a day not recorded |
| settling | from then until the day a year after the lift |
| gaining | from then until the card's first styling years have passed |
| working | from then on; a client's tree that was not lifted here is working from the start |
| lost, parted, left_standing | from the recorded end on |

14 days is common practice: the days in which wilting shows. The first year and the styling years are the card's.
"""

from __future__ import annotations

import calendar
import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from field.core.card import Card, Step
from field.core.read_card import calendar_edge, trait_unit
from field.core.signs import Observed
from field.core.species import card_for_tree, load_cards
from field.core.windows import (
    Climate,
    DatedWindow,
    as_date,
    event_date,
    find_date,
    find_windows,
    lies_between,
    place_date,
    yearly_parts,
)
from field.core.wire import BITES, growth_begins, growth_pace, look_days, next_look

LIFTED_DAYS = 14  # common practice
MOST_STEM_MONTHS = 240  # beyond twenty years the rule of a year an inch says nothing; common practice
SAME_DIG_DAYS = 365  # lifts of one tree closer than this are one dig told twice or mended; common practice
MM_STEM_PER_YEAR = 25.4  # recovery takes about a year per inch of stem: US state extension text [seen]
SEASONAL_AHEAD_DAYS = 400  # as far as the dated windows of the pack reach
BITE_DAYS = 7  # wire that begins to mark is off within a week: `wire.BITES`
BOX_AFTER_DAYS = 60  # a box noted later than this after the lift is a repotting, not the first box; common practice
LAST_ONE_COUNTS = frozenset({"repot", "hard-prune", "defoliate"})  # after these there is a plan of care
_PAST_YEARS = 3  # nothing that comes round each year stands longer than this after its season
_LONG_DAYS = 365
_FIRST_SEASON_DAYS = 1200  # the first season of every yearly window lies within it
_UNLIFTED_SEASON = 99  # a client's tree is long past its first seasons


@dataclass(frozen=True, slots=True)
class Done:
    """A work that was done, with the id of the record that tells it."""

    done_on: dt.date
    rec: str
    about: str | None = None  # the wiring that a look or an unwiring is about; None: all that is on
    bites: str | None = None  # of a look along wire, what was found: of `wire.BITES`
    note: str | None = None  # of a wiring: which branch, in the person's own words


@dataclass(frozen=True, slots=True)
class Standing:
    """All of a tree's history that its care hangs on."""

    lifted_on: dt.date | None
    is_lifted: bool
    dig: int  # 1 for the first dig; more when the tree was lifted again years later
    is_client: bool
    taken_in_on: dt.date | None  # of a keeper's tree that was not lifted here
    roots_kept: str | None
    girth_mm: int | None
    observed: Observed
    works: Mapping[str, tuple[Done, ...]]
    climate: Climate
    today: dt.date
    ahead_days: int
    settled: frozenset[str] = frozenset()  # the steps of which a task was settled: only of these the past matters


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time that a step falls due."""

    n: str  # stable: survives a change of its dates
    starts_on: dt.date
    by_on: dt.date
    repeats: bool
    satisfied: bool  # what it asks for has been noted or done
    opens_on: dt.date | None = None  # of the window it counts from
    closes_on: dt.date | None = None
    stands_until: dt.date | None = None  # the last day it stands, where that hangs on the next one


def stage(
    tree: Mapping[str, object],
    lifts: Iterable[Mapping[str, object]],
    today: dt.date | str,
    card: Card | None = None,
) -> str:
    """Return the stage of a tree on a day, by the table at the top of this module.

    Args:
        tree: merged tree record.
        lifts: its lift records, in any order.
        today: the day, local.
        card: its species card; None takes the shipped one of its kind.
    """
    day = as_date(today)
    end = tree.get("ended_as")
    if isinstance(end, str) and end:
        ended_on = find_date(tree.get("ended_on"))
        if ended_on is None or ended_on <= day:
            return end
    kept = [lift for lift in lifts if lift.get("deleted") is not True]
    if not kept:
        return "working" if tree.get("origin") == "client" else "marked"
    lifted_on = lift_day(latest_lift(kept))
    if lifted_on is None or (day - lifted_on).days < LIFTED_DAYS:
        return "lifted"
    if day < add_months(lifted_on, 12):
        return "settling"
    known = card if card is not None else card_for_tree(load_cards(), tree.get("species"))
    if day < add_months(lifted_on, math.ceil(12 * known.number("first_styling_years_min"))):
        return "gaining"
    return "working"


def lift_day(lift: Mapping[str, object] | None) -> dt.date | None:
    """Return the local day of a lift: `lifted_on`, else the UTC day of `lifted_at`; None when neither is recorded."""
    if lift is None:
        return None
    for name in ("lifted_on", "lifted_at"):
        value = lift.get(name)
        day = find_date(value[:10] if isinstance(value, str) else None)
        if day is not None:
            return day
    return None


def latest_lift(lifts: Iterable[Mapping[str, object]]) -> Mapping[str, object] | None:
    """Return the lift that counts: the latest not deleted.

    Dated ones stand before undated ones; where the day is the same the id decides, so that any order gives one answer.
    """
    kept = [lift for lift in lifts if lift.get("deleted") is not True]
    if not kept:
        return None
    return max(kept, key=lambda lift: ((lift_day(lift) or dt.date.min), str(lift.get("id"))))


def count_digs(lifts: Iterable[Mapping[str, object]]) -> int:
    """Return how many times the tree was really dug: lifts less than a year apart are one dig told twice or mended."""
    days = sorted({day for lift in lifts if lift.get("deleted") is not True and (day := lift_day(lift)) is not None})
    digs = 0
    last: dt.date | None = None
    for day in days:
        if last is None or (day - last).days >= SAME_DIG_DAYS:
            digs += 1
        last = day
    return digs


def add_months(day: dt.date, months: int) -> dt.date:
    """Return the same day of the month some months on; the month's last day where it is shorter."""
    whole = day.year * 12 + day.month - 1 + months
    year, month = divmod(whole, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def find_occurrences(step: Step, card: Card, standing: Standing) -> list[Occurrence]:
    """Return every time a step falls due as far ahead as planned, oldest first; lapsed ones too, if not long over."""
    if (step.anchor == "mark") == (standing.is_lifted or standing.is_client) or _is_long_over(step, standing):
        return []
    if not _condition_holds(step, card, standing):
        return []
    head, _, rest = step.anchor.partition(":")
    if head == "mark":
        found = _from_windows(step, "lift", "opens", card, standing)
    elif head in ("taken-in", "lift", "repot", "hard-prune", "defoliate", "wire"):
        found = _from_days(step, card, standing)
    elif head == "window":
        work, _, edge = rest.partition(":")
        found = _from_windows(step, work, edge, card, standing)
    else:
        found = _from_seasons(step, head, rest, card, standing)
    if _season_of_lift_suits(step, card, standing):
        return found
    # An observation can show later that the season was right after all; a tick is kept all the same.
    return [replace(one, satisfied=True) for one in found]


def _is_long_over(step: Step, standing: Standing) -> bool:
    """Return whether all of a step that counts from the lift has lapsed and left no tick: most have, after a year."""
    if step.anchor != "lift" or standing.lifted_on is None or step.step in standing.settled:
        return False
    if step.in_window or step.stem_years or step.from_trait is not None or step.by_trait is not None:
        return False
    if step.every_days is not None and step.until_days is not None:
        last = step.until_days + step.by_days - step.from_days + max(step.every_days, step.lapses_days or 0)
    elif step.lapses_days is not None:
        last = step.by_days + step.lapses_days
    else:
        return False
    return (standing.today - standing.lifted_on).days > last


def _condition_holds(step: Step, card: Card, standing: Standing) -> bool:
    when = step.when
    exact, at_least = when.get("traits"), when.get("at_least")
    if isinstance(exact, Mapping):
        for name, value in exact.items():
            trait = card.traits.get(name)
            if trait is None or trait.value != value:
                return False
    if isinstance(at_least, Mapping):
        for name, least in at_least.items():
            trait = card.traits.get(name)
            if trait is None or isinstance(trait.value, (bool, str)) or trait.value < least:
                return False
    roots = when.get("roots_kept")
    return not (isinstance(roots, tuple) and standing.roots_kept not in roots)


def _season_of_lift_suits(step: Step, card: Card, standing: Standing) -> bool:
    """Return whether a step that is only for lifts in a part of the year, or outside of the window, has a say."""
    outside, between = step.when.get("lifted_outside_window"), step.when.get("lifted_between")
    day = standing.lifted_on
    if day is None:
        return outside is None and between is None
    if isinstance(between, tuple) and not lies_between(
        card, day, between[0], between[1], standing.climate, standing.observed
    ):
        return False
    if not isinstance(outside, bool):
        return True
    return outside == (not find_windows(card, "lift", standing.climate, day, day, standing.observed, words=False))


def _from_days(step: Step, card: Card, standing: Standing) -> list[Occurrence]:
    """Return occurrences counted from the lift, the day a keeper's tree came, the last work, or each wire still on."""
    found: list[Occurrence] = []
    for base, prefix in _bases(step, standing):
        is_off = step.anchor == "wire" and step.work == "unwire"
        counted = growth_begins(base, south=standing.climate.south) if is_off else base
        starts = _moved(counted, step.from_days, step.from_trait, card)
        if step.stem_years and standing.girth_mm is not None:
            stem_mm = standing.girth_mm / math.pi
            months = min(MOST_STEM_MONTHS, math.ceil(12 * stem_mm / MM_STEM_PER_YEAR))
            starts = max(starts, add_months(base, months))
        by = max(starts, _moved(counted, step.by_days, step.by_trait or step.from_trait, card))
        if step.by_pace:
            found.extend(_looks(step, card, standing, base, prefix))
            continue
        if is_off:
            starts, by = _off_for_bites(standing, base, starts, by)
        satisfied = any(
            done.done_on >= base for work in step.satisfied_by_work for done in standing.works.get(work, ())
        )
        if step.every_days is None or step.until_days is None:
            found.append(Occurrence(f"{prefix}0", starts, by, False, satisfied))
            continue
        span = by - starts
        last = min(base + dt.timedelta(days=step.until_days), standing.today + dt.timedelta(days=standing.ahead_days))
        parts = None
        if step.between is not None:
            parts = yearly_parts(card, starts, max(starts, last), *step.between, standing.climate, standing.observed)
        k = 0
        if not step.in_window and step.step not in standing.settled:  # those that have lapsed are left out in any case
            stands = max(span.days, step.every_days - 1) if step.lapses_days is None else span.days + step.lapses_days
            k = max(0, (standing.today - starts).days - stands) // step.every_days
        while (at := starts + dt.timedelta(days=k * step.every_days)) <= last:
            # What falls into another part of the year has nothing to say; bud swell seen later can put it there, and
            # a tick is kept all the same.
            outside = parts is not None and not any(opens <= at <= closes for opens, closes in parts)
            found.append(Occurrence(f"{prefix}{k}", at, at + span, True, satisfied or outside))
            k += 1
    return found


def _bases(step: Step, standing: Standing) -> list[tuple[dt.date, str]]:
    """Return the days a step counts from, each with what keeps its tasks' ids apart."""
    if step.anchor == "lift":
        if standing.lifted_on is None:
            return []
        return [(standing.lifted_on, "" if standing.dig <= 1 else f"{standing.dig}.")]
    if step.anchor == "taken-in":
        return [] if standing.taken_in_on is None else [(standing.taken_in_on, "")]
    done = standing.works.get(step.anchor, ())
    if step.anchor in LAST_ONE_COUNTS:
        return [(done[-1].done_on, f"{done[-1].rec}.")] if done else []
    # Wire: all that went on after the last time that wire came off; two works on one day are one wiring.
    off = max((one.done_on for one in standing.works.get("unwire", ()) if one.about is None), default=dt.date.min)
    gone = {one.about for one in standing.works.get("unwire", ())}
    on: dict[dt.date, str] = {}
    for one in done:
        if one.done_on > off:
            on.setdefault(one.done_on, one.rec)
    left = {one.done_on for one in done if one.rec not in gone}
    return [(day, f"{rec}.") for day, rec in sorted(on.items()) if day in left]


def _looks(step: Step, card: Card, standing: Standing, on: dt.date, prefix: str) -> list[Occurrence]:
    """Return the looks at wire that was put on one day, as far apart as its kind grows it in.

    A look that was noted settles the planned one that it is nearest to.
    """
    pace, south = growth_pace(card), standing.climate.south
    ahead = standing.today + dt.timedelta(days=standing.ahead_days)
    last = min(on + dt.timedelta(days=step.until_days or 0), ahead)
    days = [*look_days(on, pace, last, south=south)]
    following = [*days[1:], next_look(days[-1], pace, south=south)] if days else []
    parts = None
    if days and step.between is not None:
        parts = yearly_parts(card, days[0], days[-1], *step.between, standing.climate, standing.observed)
    noted = [one.done_on for one in standing.works.get("look", ()) if one.bites and _is_about(one, on, standing)]
    found: list[Occurrence] = []
    for k, (before, at, then) in enumerate(zip([on, *days], days, following, strict=False)):
        until = then - dt.timedelta(days=1)
        if until < standing.today and step.step not in standing.settled:
            continue  # it has lapsed in any case
        outside = parts is not None and not any(opens <= at <= closes for opens, closes in parts)
        looked = any(before + (at - before) / 2 < day < then for day in noted)
        by = min(until, at + dt.timedelta(days=step.by_days - step.from_days))
        found.append(Occurrence(f"{prefix}{k}", at, by, True, outside or looked, stands_until=until))
    return found


def _off_for_bites(standing: Standing, on: dt.date, starts: dt.date, by: dt.date) -> tuple[dt.date, dt.date]:
    """Return when wire comes off that was put on one day: at once where the last look found that it bites."""
    looks = [one for one in standing.works.get("look", ()) if one.bites and _is_about(one, on, standing)]
    worse = list(BITES)
    last = max(looks, key=lambda one: (one.done_on, worse.index(str(one.bites))), default=None)
    if last is None or last.bites == "none":
        return starts, by
    grace = dt.timedelta(days=0 if last.bites == "bitten" else BITE_DAYS)
    return min(starts, last.done_on), min(by, last.done_on + grace)


def _is_about(look: Done, on: dt.date, standing: Standing) -> bool:
    """Return whether a look is about wire that was put on that day."""
    if look.done_on < on:
        return False
    return look.about is None or any(
        one.rec == look.about and one.done_on == on for one in standing.works.get("wire", ())
    )


def _from_windows(step: Step, work: str, edge: str, card: Card, standing: Standing) -> list[Occurrence]:
    """Return one occurrence for each window of a work, counted from one of its edges."""
    since = _since(standing)
    until = standing.today + dt.timedelta(days=SEASONAL_AHEAD_DAYS)
    back = since
    if _past_is_over(step, standing):
        back = max(since, standing.today - dt.timedelta(days=_PAST_YEARS * 366))

    def found_from(first: dt.date, last: dt.date, observed: Observed | None) -> dict[tuple[int, int], DatedWindow]:
        windows = find_windows(card, work, standing.climate, first, last, observed, words=False)
        return {(window.season, window.rule): window for window in windows}

    usual, actual = found_from(back, until, None), found_from(back, until, standing.observed)
    first_ones = usual if back == since else found_from(since, since + dt.timedelta(days=_FIRST_SEASON_DAYS), None)
    # Seasons are counted by the usual dates, so that an observation cannot move a task into another season.
    firsts: dict[int, int] = {}
    for (season, rule), window in first_ones.items():
        if _edge_of(window, edge) >= since:
            firsts[rule] = min(season, firsts.get(rule, season))
    found: list[Occurrence] = []
    for key in sorted(usual.keys() | actual.keys()):
        season, rule = key
        # A window that what was observed has closed altogether leaves nothing to do; a tick on it is still kept.
        window = actual[key] if key in actual else usual[key]
        if not _season_counts(step, season - firsts.get(rule, season), standing):
            continue
        at = _edge_of(window, edge)
        starts = _moved(at, step.from_days, step.from_trait, card)
        if edge == "closes":  # in a short season what is told ahead of the close must not be told before the opening
            starts = max(starts, window.opens_on)
        by = min(window.closes_on, _moved(at, step.by_days, step.by_trait or step.from_trait, card))
        satisfied = key not in actual or _is_satisfied(step, card, standing, season, starts, window.closes_on)
        n = str(season) if rule == 0 else f"{season}.{rule}"
        found.append(_after(since, Occurrence(n, starts, by, False, satisfied, window.opens_on, window.closes_on)))
    return found


def _past_is_over(step: Step, standing: Standing) -> bool:
    """Return whether a yearly step of some years ago can be passed over: it has lapsed, and left no tick."""
    is_short = step.from_trait is None and step.by_trait is None and abs(step.by_days) < _LONG_DAYS
    return is_short and not step.in_window and step.step not in standing.settled


def _edge_of(window: DatedWindow, edge: str) -> dt.date:
    return window.opens_on if edge == "opens" else window.closes_on


def _after(since: dt.date, occurrence: Occurrence) -> Occurrence:
    """Return an occurrence cut to the days from the lift on; one that lies wholly before leaves nothing to do."""
    starts = max(occurrence.starts_on, since)
    over = occurrence.by_on < starts
    if starts == occurrence.starts_on and not over:
        return occurrence
    return replace(
        occurrence,
        starts_on=starts,
        by_on=max(occurrence.by_on, starts),
        satisfied=occurrence.satisfied or over,
    )


def _from_seasons(step: Step, head: str, rest: str, card: Card, standing: Standing) -> list[Occurrence]:
    """Return one occurrence a year, counted from an event or a calendar date."""
    since = _since(standing)
    until = standing.today + dt.timedelta(days=SEASONAL_AHEAD_DAYS)
    found: list[Occurrence] = []
    first_year: int | None = None
    oldest = standing.today.year - _PAST_YEARS if _past_is_over(step, standing) else 0
    for year in range(since.year - 1, until.year + 1):
        if head == "calendar":
            usual = at = place_date(calendar_edge(rest), year, standing.climate)
        else:
            usual, _ = event_date(card, rest, year, standing.climate)
            at, _ = event_date(card, rest, year, standing.climate, standing.observed)
        if usual < since:
            continue
        first_year = year if first_year is None else first_year
        if year < oldest:
            continue
        if usual > until or not _season_counts(step, year - first_year, standing):
            continue
        starts = _moved(at, step.from_days, step.from_trait, card)
        by = _moved(at, step.by_days, step.by_trait or step.from_trait, card)
        satisfied = _is_satisfied(step, card, standing, year, starts, by)
        found.append(_after(since, Occurrence(str(year), starts, by, False, satisfied)))
    return found


def _season_counts(step: Step, season_no: int, standing: Standing) -> bool:
    if standing.lifted_on is None:
        # A client's tree is long past its first seasons; of a lift without a day the careful reading is its first.
        season_no = _UNLIFTED_SEASON if standing.is_client and not standing.is_lifted else 0
    return season_no >= step.first_season and (step.last_season is None or season_no <= step.last_season)


def _is_satisfied(step: Step, card: Card, standing: Standing, year: int, starts: dt.date, by: dt.date) -> bool:
    event = step.satisfied_by_event
    if event is not None and event_date(card, event, year, standing.climate, standing.observed)[1]:
        return True
    return any(starts <= done.done_on <= by for work in step.satisfied_by_work for done in standing.works.get(work, ()))


def _since(standing: Standing) -> dt.date:
    """Return the day from which seasons count: the lift; for a tree without one, a little over a year back."""
    if standing.lifted_on is not None:
        return standing.lifted_on
    return standing.today - dt.timedelta(days=SEASONAL_AHEAD_DAYS)


def _moved(day: dt.date, days: int, trait: str | None, card: Card) -> dt.date:
    """Return a day moved by days and by a trait in weeks, months or years."""
    if trait is not None:
        amount = card.number(trait)
        unit = trait_unit(trait)
        if unit == "weeks":
            day += dt.timedelta(days=math.ceil(7 * amount))
        else:
            day = add_months(day, math.ceil(amount * (12 if unit == "years" else 1)))
    return day + dt.timedelta(days=days)
