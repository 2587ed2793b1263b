"""Tells a species card as its page shows it: the year of each work at a place, its values, and where each is from."""

from __future__ import annotations

import datetime as dt
from typing import Any

from field.core.card import EVENT_WORDS, WORKS, Card
from field.core.errors import NotFound
from field.core.species import CAUTIOUS, DEFAULT, load_cards
from field.core.windows import climate_of, dated_windows, event_date, place_of_site, why_none
from field.store import queries


def tell_kinds() -> dict[str, Any]:
    """Return {"kinds": [...]}: kind, name, latin, stands_in and own (the person has changed or made it), by name."""
    own = _own_kinds()
    cards = load_cards(queries.list_records("species_card"))
    order = sorted(cards.values(), key=lambda card: (card.kind in CAUTIOUS, card.kind == DEFAULT, card.name.lower()))
    return {
        "kinds": [
            {"kind": one.kind, "name": one.name, "latin": one.latin, "stands_in": one.stands_in, "own": one.kind in own}
            for one in order
        ]
    }


def tell_card(kind: str, site: str | None, today: dt.date) -> dict[str, Any]:
    """Return one card for the calendar year of a day.

    Args:
        kind: short name.
        site: id of the site whose climate counts; None: the climate the cards are written for.
        today: its year is told.
    Returns: "kind", "name", "latin", "stands_in", "own", "year", "climate" (words), "events" [{"event", "on"}],
        "works" [{"work", "windows", "none"}] with windows as `dated_windows`, "traits" [{"name", "value", "source",
        "note", "other"}].
    Raises: NotFound for a kind or a site that is not here.
    """
    cards = load_cards(queries.list_records("species_card"))
    if kind not in cards:
        raise NotFound("There is no card of that kind here.", "Choose one from the list of kinds.", code="no-card")
    record = None
    if site is not None:
        record = next((one for one in queries.list_records("site") if one["id"] == site), None)
        if record is None:
            raise NotFound("That site is not kept here.", "Choose another, or none.", code="no-site")
    card, place = cards[kind], place_of_site(record)
    climate = climate_of(place)
    first, last = dt.date(today.year, 1, 1), dt.date(today.year, 12, 31)
    works = []
    for work in WORKS:
        found = dated_windows(
            card, work, place["lat"], place["height_m"], first, (last - first).days, own_days=place["own_days"]
        )
        works.append({"work": work, "windows": found, "none": None if found else why_none(card, work, climate)})
    events = [
        {"event": words, "on": event_date(card, event, today.year, climate)[0].isoformat()}
        for event, words in EVENT_WORDS.items()
    ]
    return {
        "kind": card.kind,
        "name": card.name,
        "latin": card.latin,
        "stands_in": card.stands_in,
        "own": card.kind in _own_kinds(),
        "year": today.year,
        "climate": climate.words,
        "events": events,
        "works": works,
        "traits": _traits(card),
    }


def _traits(card: Card) -> list[dict[str, Any]]:
    return [
        {"name": name, "value": one.value, "source": one.source, "note": one.note, "other": one.other}
        for name, one in card.traits.items()
    ]


def _own_kinds() -> set[str]:
    return {str(one.get("kind")) for one in queries.list_records("species_card")}
