"""The windows and parts of the year that `field.core.ask_work` answers from, dated as they usually fall at a place.

They keep the event that each edge hangs on, so that the phone moves them itself when the tree shows it at another time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from field.core.ask_lines import ASKED, LINES, SPANS
from field.core.card import Card, Edge
from field.core.sightings import near_seasons
from field.core.signs import Observed
from field.core.windows import Climate, event_date, find_windows

BACK_DAYS = 330  # far enough for the window before the last closing; the year before is of no use


def find_asked(
    card: Card, climate: Climate, today: dt.date, ahead_days: int, observed: Observed | None = None
) -> dict[str, object]:
    """Return what questions about a kind at a place are answered from.

    Returns: "windows" (work -> list of {"opens", "closes", "hard_open", "hard_close", "opens_event", "opens_days",
        "opens_earliest", "closes_event", "closes_days", "closes_earliest", "why_opens", "why_closes", "source_opens",
        "source_closes", "other"}), "spans" (name -> such edges without reasons), "never" (work -> why), "events" (as
        `sightings.near_seasons`).
    """
    first, last = today - dt.timedelta(days=BACK_DAYS), today + dt.timedelta(days=ahead_days)
    windows = {}
    for work in ASKED:
        rules = card.windows[work]
        windows[work] = [
            {
                **_dates(card, climate, rules[one.rule].opens, rules[one.rule].closes, one.opens_on, one.closes_on),
                "hard_open": rules[one.rule].hard_open,
                "hard_close": one.hard_close,
                "why_opens": rules[one.rule].why_opens,
                "why_closes": rules[one.rule].why_closes,
                **_sources(one.source),
                "other": rules[one.rule].other,
            }
            for one in find_windows(card, work, climate, first, last, observed, crossed=True)
        ]
    spans = {
        name: list(_span(card, name, climate, range(first.year - 1, last.year + 2), first, last, observed))
        for name in SPANS
    }
    return {
        "windows": windows,
        "spans": spans,
        "never": {work: card.never[work] for work in ASKED if work in card.never},
        "events": near_seasons(card, climate, today, observed),
    }


def _sources(source: str) -> dict[str, str]:
    """Split the words of a rule's source, which are "opens: ...; closes: ..." where its edges have different ones."""
    opens, between, closes = source.partition("; closes: ")
    return {"source_opens": opens.removeprefix("opens: ") if between else source, "source_closes": closes or source}


def asked_traits(card: Card) -> dict[str, object]:
    """Return the traits of a card that any line reads or names."""
    named = " ".join(line.text for line in LINES)
    read = {name for line in LINES for table in (line.least, line.below, line.starts, line.unless) for name in table}
    read |= {name for line in LINES for name in (line.over, line.over_strong, line.within) if name is not None}
    return {name: trait.value for name, trait in card.traits.items() if name in read or f"{{{name}}}" in named}


def _span(
    card: Card,
    name: str,
    climate: Climate,
    seasons: Iterable[int],
    first: dt.date,
    last: dt.date,
    observed: Observed | None,
) -> Iterable[Mapping[str, object]]:
    (opens_event, opens_days), (closes_event, closes_days) = SPANS[name]
    for season in seasons:
        opens = event_date(card, opens_event, season, climate, observed)[0] + dt.timedelta(days=opens_days)
        closes = event_date(card, closes_event, season, climate, observed, late=True)[0] + dt.timedelta(
            days=closes_days
        )
        if opens <= closes and closes >= first and opens <= last:
            edges = Edge(opens_event, opens_days, 0, 0, "no"), Edge(closes_event, closes_days, 0, 0, "no")
            yield _dates(card, climate, *edges, opens, closes)


def _dates(
    card: Card, climate: Climate, opens: Edge, closes: Edge, opens_on: dt.date, closes_on: dt.date
) -> dict[str, object]:
    return {
        "opens": opens_on.isoformat(),
        "closes": closes_on.isoformat(),
        "opens_event": opens.event,
        "opens_days": opens.days,
        "opens_earliest": _earliest(card, climate, opens, opens_on),
        "closes_event": closes.event,
        "closes_days": closes.days,
        "closes_earliest": _earliest(card, climate, closes, closes_on),
    }


def _earliest(card: Card, climate: Climate, edge: Edge, on: dt.date) -> str | None:
    """Return before which day an event of an edge does not count: leaves that fell before their usual colour fell from
    drought or hurt, and that is no rest; as in field/core/windows.py."""
    if edge.event != "leaf_fall":
        return None
    fall = on - dt.timedelta(days=edge.days)
    colours = (event_date(card, "leaf_colour", year, climate)[0] for year in range(fall.year - 1, fall.year + 2))
    return max(day for day in colours if day <= fall).isoformat()
