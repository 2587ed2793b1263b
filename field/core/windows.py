"""When a kind of work is safe for a kind of tree at a place: dated windows with the reason and source of each edge.

Cards are written for one reference climate: about 52 N, lowland, northern hemisphere. From there an edge moves with
the place:

- Hopkins' bioclimatic law: 4 days for each degree of latitude towards the pole and 4 days for each 400 ft (121.92 m)
  of height; spring and early summer come later by that, autumn edges earlier. The law's third part, 4 days for each
  5 degrees of longitude eastward, was drawn from North America and is left out here.
  Source: A. D. Hopkins 1918, Periodical events and natural law, Monthly Weather Review Supplement 9
  [seen: second-hand].
- or by the number of days the person has found for the garden (`own_days`), which replaces the law;
- south of the equator everything falls six months later;
- a place not known moves nothing, and the reason says so.

An edge that hangs on an event gives way to the event as it was observed: then its date is the observed one plus the
card's days, and the place no longer matters. Where the event was not seen yet but the heat of this spring was logged,
the edge goes by the days that the heat lets expect (`field.core.expected`): a window narrows to the sure days, opening
with the latest of them and closing with the earliest, and a part of the year widens.
"""

from __future__ import annotations

import calendar
import datetime as dt
import functools
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypedDict

from field.core.card import EVENT_WORDS, WORKS, Card, Edge, Rule
from field.core.errors import BadInput
from field.core.signs import Expected, Observed, Signs, find_expected

REFERENCE_LAT = 52.0  # "about 52 N lowland": the calendar of trade/species, common practice
DAYS_PER_DEGREE = 4.0  # Hopkins 1918
DAYS_PER_M = 4.0 / 121.92  # Hopkins 1918: 4 days per 400 ft
# A published law and a habit that disagree are both said; the law is the more careful of the two for closing a window.
TRADE_LATE_EDGES = "trade habit moves late edges less, about 7 days for 3 degrees or 300 m"
# The law was drawn from the temperate zone; far outside it would carry a spring date into another season.
# Common practice.
MOST_DAYS = 60
# An observation belongs to the season whose usual date is within this many days: a spring frost is not autumn's first.
SEASON_REACH_DAYS = 120
MOST_AHEAD_DAYS = 20000  # some 55 years; further ahead no card says anything worth having

_REACH = dt.timedelta(days=SEASON_REACH_DAYS)

# Of several observations in one season the first counts for these, for the others the last: the careful side of each.
_FIRST_COUNTS = frozenset({"bud_swell", "bud_break", "frost"})

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


class Place(TypedDict):
    """Where something stands, as its seasons hang on it."""

    lat: float | None
    height_m: float | None
    own_days: int | None  # the person's own number of days later than the reference


@dataclass(frozen=True, slots=True)
class Climate:
    """How far the edges of a card are moved at a place."""

    later_days: int  # spring edges by this many days later, autumn edges by as many earlier
    south: bool
    words: str  # for the reason


@dataclass(frozen=True, slots=True)
class DatedWindow:
    """One window of one season, both days inclusive."""

    opens_on: dt.date
    closes_on: dt.date
    season: int  # the year of the reference climate; keeps its number when an observed event re-dates the edges
    rule: int  # which of the card's rules for this work
    hard_close: bool
    why_opens: str
    why_closes: str
    source: str
    hard_open: bool
    other: str | None  # what the side says that the window does not follow, with its source


def climate_at(lat: float | None, height_m: float | None, own_days: int | None = None) -> Climate:
    """Return how far a card's edges move at a place.

    Args:
        lat: degrees, WGS 84; None when not known.
        height_m: metres above the sea; None when not known.
        own_days: the person's own number of days later than the reference, in place of Hopkins' law.
    Raises: BadInput for a latitude or height that no place has.
    """
    if lat is not None and not -90 <= lat <= 90:
        raise BadInput(f"A latitude of {lat} is not on the earth.", "Give degrees between -90 and 90.", "lat")
    if height_m is not None and not -500 <= height_m <= 9000:
        raise BadInput(f"A height of {height_m} m is not on the earth.", "Give metres above the sea.", "height_m")
    if own_days is not None and abs(own_days) > SEASON_REACH_DAYS:
        raise BadInput(
            f"{own_days} days is more than a season.", "Give the days by which your spring is later.", "own_days"
        )
    if own_days is not None:
        south = lat is not None and lat < 0
        turned = "; turned by six months for the south" if south else ""
        many = f"{abs(own_days)} day{'' if abs(own_days) == 1 else 's'}"
        moved = (
            f"moved {many} by your own number, spring {'earlier' if own_days < 0 else 'later'} than"
            if own_days
            else "as, by your own number, for"
        )
        return Climate(own_days, south, f"{moved} 52° N, lowland{turned}")
    if lat is None:
        return Climate(0, False, "not moved: the place is not known, so this is the date for 52° N, lowland")
    move = DAYS_PER_DEGREE * (abs(lat) - REFERENCE_LAT) + DAYS_PER_M * (0.0 if height_m is None else height_m)
    days = max(-MOST_DAYS, min(MOST_DAYS, math.floor(move + 0.5)))
    at = f"{abs(lat):.1f}° {'S' if lat < 0 else 'N'}" + (
        ", height not known" if height_m is None else f", {height_m:.0f} m"
    )
    words = (
        f"as for 52° N, lowland, here {at}"
        if days == 0
        else f"moved {abs(days)} days for {at}, by Hopkins' law from 52° N, lowland"
    )
    if abs(move) > MOST_DAYS:
        words += f"; the law is not trusted beyond {MOST_DAYS} days"
    if lat < 0:
        words += "; turned by six months for the south"
    return Climate(days, lat < 0, words)


def dated_windows(
    card: Card,
    work: str,
    lat: float | None,
    height_m: float | None,
    from_on: dt.date | str,
    days: int,
    *,
    observed: Observed | None = None,
    own_days: int | None = None,
) -> list[dict[str, object]]:
    """Return the windows of a work that touch the days from `from_on` to `from_on` + `days`, both inclusive.

    Args:
        card: the species card.
        work: one of WORKS.
        lat, height_m, own_days: as for `climate_at`.
        from_on: first day.
        days: how many days further, 0 or more.
        observed: event kind -> the dates it was seen on this tree or in this garden.
    Returns: by opening date: opens, closes ('YYYY-MM-DD', both days are inside), hard_open, hard_close, why_opens,
        why_closes, source, other (what a source says against it, or None). Empty when the card does not allow the
        work; see `why_none`.
    Raises: BadInput for an unknown work, a place not on the earth, a negative number of days.
    """
    first = as_date(from_on)
    if not 0 <= days <= MOST_AHEAD_DAYS:
        raise BadInput(f"A number of days lies between 0 and {MOST_AHEAD_DAYS}.", None, "days")
    climate = climate_at(lat, height_m, own_days)
    told = {event: tuple(sorted(dates)) for event, dates in (observed or {}).items()}
    seen = Signs(told, observed.expected) if isinstance(observed, Signs) else told
    return [as_json(one) for one in find_windows(card, work, climate, first, first + dt.timedelta(days=days), seen)]


def as_json(window: DatedWindow) -> dict[str, object]:
    """Return a window as the pack, the pages and the command `windows` tell it; see `dated_windows`."""
    return {
        "opens": window.opens_on.isoformat(),
        "closes": window.closes_on.isoformat(),
        "hard_open": window.hard_open,
        "hard_close": window.hard_close,
        "why_opens": window.why_opens,
        "why_closes": window.why_closes,
        "source": window.source,
        "other": window.other,
    }


def find_windows(
    card: Card,
    work: str,
    climate: Climate,
    first: dt.date,
    last: dt.date,
    observed: Observed | None = None,
    *,
    crossed: bool = False,
    most: int | None = None,
    words: bool = True,
) -> list[DatedWindow]:
    """Return the windows of a work that touch the days from `first` to `last`, both inclusive, by opening date.

    Args:
        crossed: those too of which the edges cross by the calendar: an event that comes early may open them yet.
        most: no more than so many, the first ones; None: all.
        words: False where only the dates are wanted: to put the reasons into words takes most of the time.
    Raises: BadInput for an unknown work.
    """
    seen: Observed = {} if observed is None else observed
    dated: list[tuple[dt.date, dt.date, int, int, Rule, int]] = []
    for number, rule in enumerate(_rules(card, work)):
        wraps = _wraps(card, rule.opens, rule.closes)
        for season in range(first.year - 2, last.year + 2):
            opens = _part_edge(card, rule.opens, season, climate, seen, late=True)
            closes = _part_edge(card, rule.closes, season + wraps, climate, seen, late=False)
            if opens > closes:  # what is only expected must not shut a window altogether
                opens = _part_edge(card, rule.opens, season, climate, seen, late=False)
            if (opens > closes and not crossed) or closes < first or opens > last:
                continue
            dated.append((opens, closes, number, season, rule, wraps))
    dated.sort(key=lambda one: one[:3])
    found = []
    for opens, closes, number, season, rule, wraps in dated[:most]:
        why_opens, why_closes = rule.why_opens, rule.why_closes
        if words:
            why_opens += f" ({_edge_words(card, rule.opens, season, climate, seen, late=True)})"
            why_closes += f" ({_edge_words(card, rule.closes, season + wraps, climate, seen, late=False)})"
        found.append(
            DatedWindow(
                opens_on=opens,
                closes_on=closes,
                season=season,
                rule=number,
                hard_close=rule.hard_close,
                why_opens=why_opens,
                why_closes=why_closes,
                source=rule.source,
                hard_open=rule.hard_open,
                other=rule.other,
            )
        )
    return found


def why_none(card: Card, work: str, climate: Climate) -> str | None:
    """Return why a work has no window in such a climate, or None when it has one.

    Either the card does not allow the work, or its edges cross at this place: what opens it comes after what closes
    it.
    """
    rules = _rules(card, work)
    if not rules:
        return card.never[work]
    crossed = ""
    for rule in rules:
        opens = _part_edge(card, rule.opens, 2001, climate, {}, late=True)
        closes = _part_edge(card, rule.closes, 2001 + _wraps(card, rule.opens, rule.closes), climate, {}, late=False)
        if opens <= closes:
            return None
        crossed = f"it would open about {_day_month(opens)} and must close by {_day_month(closes)}"
    return (
        f"At this place the season is too short by the calendar: {crossed} ({climate.words}). Note the events "
        "of the tree itself, or give your own number of days; until then the careful answer is to leave it this year."
    )


def event_date(
    card: Card, event: str, year: int, climate: Climate, observed: Observed | None = None, *, late: bool = False
) -> tuple[dt.date, bool]:
    """Return the date of an event in the season of a year, and whether it was observed.

    The season of year Y is the one whose reference date lies in Y in the north; in the south it falls six months
    later. One not observed is taken from what the heat lets expect, if anything does: its earliest day, or with `late`
    its latest.
    """
    usual = _usual_date(card.events[event], year, climate)
    if observed is None:
        return usual, False
    dates = observed.get(event)
    if dates:
        first, past = bisect_left(dates, usual - _REACH), bisect_right(dates, usual + _REACH)
        if first < past:
            return dates[first if event in _FIRST_COUNTS else past - 1], True
    expected = find_expected(observed, event, year)
    if expected is None:
        return usual, False
    return expected.latest_on if late else expected.earliest_on, False


def place_date(edge: Edge, year: int, climate: Climate) -> dt.date:
    """Return a calendar edge of a card as a date of the season of a year at a place."""
    return _usual_date(edge, year, climate)


def lies_between(
    card: Card, day: dt.date, opens: Edge, closes: Edge, climate: Climate, observed: Observed | None = None
) -> bool:
    """Return whether a day lies in the yearly part from one edge to another, over New Year where it must.

    Leaves that were seen to fall before the usual leaf colour fell from drought or hurt: that is no rest, and for such
    an edge the usual leaf fall counts.
    """
    return any(first <= day <= last for first, last in yearly_parts(card, day, day, opens, closes, climate, observed))


def yearly_parts(
    card: Card,
    first: dt.date,
    last: dt.date,
    opens: Edge,
    closes: Edge,
    climate: Climate,
    observed: Observed | None = None,
) -> list[tuple[dt.date, dt.date]]:
    """Return the yearly parts from one edge to another that any day from `first` to `last` can lie in.

    Both days of a part are inside; see `lies_between`.
    """
    seen: Observed = {} if observed is None else observed
    wraps = _wraps(card, opens, closes)
    return [
        (
            _part_edge(card, opens, year, climate, seen, late=False),
            _part_edge(card, closes, year + wraps, climate, seen, late=True),
        )
        for year in range(first.year - 2, last.year + 2)
    ]


def gather_observed(events: Iterable[Mapping[str, object]]) -> dict[str, tuple[dt.date, ...]]:
    """Return event kind -> sorted dates from event records in any order; deleted, undated, unknown ones are left."""
    dates: dict[str, set[dt.date]] = {}
    for event in events:
        kind, on = event.get("kind"), find_date(event.get("happened_on"))
        if event.get("deleted") is True or not isinstance(kind, str) or on is None:
            continue
        short = kind.strip().lower().replace("-", "_").replace(" ", "_")
        if short in EVENT_WORDS:
            dates.setdefault(short, set()).add(on)
    return {kind: tuple(sorted(days)) for kind, days in dates.items()}


def place_of_site(site: Mapping[str, object] | None) -> Place:
    """Return where a site or a garden lies, as `climate_at` takes it; None for each thing that is not known.

    The latitude is that of the record, or of the middle of its boundary. A latitude, height or number of days that no
    place has counts as not known: one slip must not leave all sites without windows.
    """
    if site is None:
        return {"lat": None, "height_m": None, "own_days": None}
    lats = list(_lats([0.0, site["lat"]] if site.get("lat") is not None else site.get("boundary")))
    height, own = site.get("height_m"), site.get("shift_days")
    return {
        "lat": (min(lats) + max(lats)) / 2 if lats and -90 <= min(lats) <= max(lats) <= 90 else None,
        "height_m": float(height) if isinstance(height, (int, float)) and -500 <= height <= 9000 else None,
        "own_days": own if isinstance(own, int) and abs(own) <= SEASON_REACH_DAYS else None,
    }


def climate_of(place: Place) -> Climate:
    """Return how far a card's edges move at a place of `place_of_site`."""
    return climate_at(place["lat"], place["height_m"], place["own_days"])


def as_date(day: dt.date | str) -> dt.date:
    """Return a date given as one or as 'YYYY-MM-DD'; raise BadInput for what is no date."""
    if isinstance(day, dt.datetime):
        return day.date()
    if isinstance(day, dt.date):
        return day
    try:
        if len(day) != 10:
            raise ValueError(day)
        date = dt.date.fromisoformat(day)
        if not 1800 <= date.year <= 9000:
            raise ValueError(day)
        return date
    except (TypeError, ValueError) as trouble:
        raise BadInput(f"“{day}” is no date.", "Write it as year-month-day: 2026-03-09.", "date") from trouble


def find_date(value: object) -> dt.date | None:
    """Return the date of a record's field, or None where none is recorded that could be used.

    The planning of all trees must not stop at one record whose date no calendar of the trade knows.
    """
    if not isinstance(value, (str, dt.date)):
        return None
    try:
        return as_date(value)
    except BadInput:
        return None


def _rules(card: Card, work: str) -> tuple[Rule, ...]:
    if work not in WORKS:
        raise BadInput(f"“{work}” is no work that has windows.", f"Known are: {', '.join(WORKS)}.", "work")
    return card.windows[work]


def _edge_words(card: Card, edge: Edge, year: int, climate: Climate, observed: Observed, *, late: bool) -> str:
    if edge.event is None:
        words = "any place" if edge.moves == "no" else climate.words
        if edge.moves == "earlier" and climate.later_days > 0:
            words += f"; {TRADE_LATE_EDGES}"
        return words
    day, was_seen = _event_of_edge(card, edge.event, year, climate, observed, late=late)
    words = EVENT_WORDS[edge.event]
    expected = None if was_seen else find_expected(observed, edge.event, year)
    if was_seen:
        how = f"{words} seen on {words_for_date(day)}"
    elif expected is not None:
        how = f"{words} expected {_range_words(expected)}, {expected.words}"
    else:
        how = f"{words} expected on {words_for_date(day)}, {climate.words}"
    if edge.days > 0:
        how = f"{edge.days} days after {how}"
    elif edge.days < 0:
        how = f"{-edge.days} days before {how}"
    return how


def _range_words(expected: Expected) -> str:
    first, last = expected.earliest_on, expected.latest_on
    if first == last:
        return f"on {words_for_date(first)}"
    return (
        f"between {_day_month(first) if first.year == last.year else words_for_date(first)} and {words_for_date(last)}"
    )


def _part_edge(card: Card, edge: Edge, year: int, climate: Climate, observed: Observed, *, late: bool) -> dt.date:
    if edge.event is None:
        return _usual_date(edge, year, climate)
    return _event_of_edge(card, edge.event, year, climate, observed, late=late)[0] + dt.timedelta(days=edge.days)


def _event_of_edge(
    card: Card, event: str, year: int, climate: Climate, observed: Observed, *, late: bool
) -> tuple[dt.date, bool]:
    """Return the date of an event for an edge, and whether it was observed; see `lies_between` for leaf fall."""
    day, was_seen = event_date(card, event, year, climate, observed, late=late)
    if was_seen and event == "leaf_fall" and day < event_date(card, "leaf_colour", year, climate)[0]:
        return event_date(card, event, year, climate)
    return day, was_seen


def _usual_date(edge: Edge, year: int, climate: Climate) -> dt.date:
    return _usual(edge.month, edge.day, edge.moves, year, climate.later_days, climate.south)


@functools.lru_cache(maxsize=65536)  # a plan of many trees asks for the same few days of each year again and again
def _usual(month: int, day_of_month: int, moves: str, year: int, later_days: int, south: bool) -> dt.date:
    month += 6 if south and moves != "no" else 0
    if month > 12:
        month, year = month - 12, year + 1
    day = dt.date(year, month, min(day_of_month, calendar.monthrange(year, month)[1]))
    if moves == "no":
        return day
    return day + dt.timedelta(days=later_days if moves == "later" else -later_days)


def _wraps(card: Card, opens: Edge, closes: Edge) -> int:
    """Return 1 when the time between two edges runs over New Year in the reference climate, else 0."""
    first = opens if opens.event is None else card.events[opens.event]
    last = closes if closes.event is None else card.events[closes.event]
    return _wraps_of(first.month, first.day, opens.days, last.month, last.day, closes.days)


@functools.lru_cache(maxsize=4096)
def _wraps_of(month: int, day: int, days: int, last_month: int, last_day: int, last_days: int) -> int:
    first = _usual(month, day, "no", 2001, 0, False) + dt.timedelta(days=days)
    last = _usual(last_month, last_day, "no", 2001, 0, False) + dt.timedelta(days=last_days)
    return 1 if last < first else 0


def _lats(geometry: object) -> Iterable[float]:
    """Yield the latitudes of all positions of a GeoJSON geometry."""
    if isinstance(geometry, Mapping):
        yield from _lats(geometry.get("coordinates"))
    elif isinstance(geometry, (list, tuple)):
        if len(geometry) >= 2 and all(isinstance(one, (int, float)) for one in geometry[:2]):
            yield float(geometry[1])
        else:
            for one in geometry:
                yield from _lats(one)


def words_for_date(day: dt.date) -> str:
    """Return a date as it is said in a sentence: 9 March 2026."""
    return f"{_day_month(day)} {day.year}"


def _day_month(day: dt.date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]}"
