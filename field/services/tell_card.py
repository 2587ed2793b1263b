"""Tells a species card as its page shows it: the year of each work at a place, its values, and where each is from.

Beside what holds it tells what the person changed, record by record, and what stood there before the change.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from field.core.card import EVENT_WORDS, WORKS, Card, Edge, Rule
from field.core.card_edit import is_edit, parts_of, place_of_fault, value_range
from field.core.errors import FellsideError, NotFound
from field.core.species import CAUTIOUS, DEFAULT, Cards, load_cards
from field.core.windows import DatedWindow, as_json, climate_of, event_date, find_windows, place_of_site, why_none
from field.store import queries

Records = Iterable[Mapping[str, Any]]


def tell_kinds() -> dict[str, Any]:
    """Return every kind by name, and what is wrong with cards and edits of the person's own.

    Returns: "kinds" [{"kind", "name", "latin", "stands_in", "own", "made"}]: own: the person has changed it; made: it
        is no kind that ships; "trouble" as `tell_card` has it, of all kinds.
    """
    records = [one for one in queries.list_records("species_card") if one.get("card") is not None]
    own, shipped = {_kind_of(one) for one in records}, load_cards()
    cards, before = load_cards(records), load_cards(_whole(records))
    order = sorted(cards.values(), key=lambda card: (card.kind in CAUTIOUS, card.kind == DEFAULT, card.name.lower()))
    return {
        "kinds": [
            {
                "kind": one.kind,
                "name": one.name,
                "latin": one.latin,
                "stands_in": before[one.kind].stands_in,
                "own": one.kind in own,
                "made": one.kind not in shipped,
            }
            for one in order
        ],
        "trouble": tell_trouble(cards, records),
    }


def tell_card(kind: str, site: str | None, year: int, records: Records | None = None) -> dict[str, Any]:
    """Return one card for a calendar year.

    Args:
        kind: short name.
        site: id of the site whose climate counts; None: the climate the cards are written for.
        year: 2 to 9997, so that all its seasons lie in the calendar.
        records: species_card records in place of those that are kept, to see what they would do.
    Returns: "kind", "name", "latin", "stands_in", "own", "made", "year", "climate" (words);
        "events" [{"event" (words), "name", "on", "usual" (MM-DD), "source", "part", "mine", "was"}];
        "works" [{"work", "windows", "none", "rules"}]: windows with opens, closes, hard_open, hard_close, why_opens,
        why_closes, source, other, rule (number); rules [{"rule", "part", "now", "mine", "was"}], each as the card
        has it: opens, closes ({event, days} or {on, moves}), hard_open, hard_close, why_opens, why_closes, source;
        "traits" [{"name", "value", "source", "note", "other", "range", "known", "part", "mine", "was"}];
        "mine" are the ids of the records that change this part, "was" what it is without them (None: not changed);
        "edits" {id of a record: its card}; "whole": ids of records that hold the whole card;
        "trouble" [{"rec", "kind", "name", "message", "cure", "part", "field"}] of this kind.
    Raises: NotFound for a kind or a site that is not here.
    """
    kept = queries.list_records("species_card") if records is None else list(records)
    kept = [one for one in kept if one.get("card") is not None]
    cards, shipped = load_cards(kept), load_cards()
    if kind not in cards:
        raise NotFound("There is no card of that kind here.", "Choose one from the list of kinds.", code="no-card")
    place = None
    if site is not None:
        place = queries.find_record("garden", site) or queries.find_record("site", site)
        if place is None:
            raise NotFound("That place is not kept here.", "Choose another, or none.", code="no-site")
    own = [one for one in kept if _kind_of(one) == kind]
    mine: dict[str, list[str]] = {}
    for one in own:
        for part in () if one["id"] in cards.faulty else parts_of(one["card"]):
            mine.setdefault(part, []).append(one["id"])
    card, before, climate = cards[kind], load_cards(_whole(kept))[kind], climate_of(place_of_site(place))
    first, last = dt.date(year, 1, 1), dt.date(year, 12, 31)
    works = []
    for work in WORKS:
        found = [_window_json(one) for one in find_windows(card, work, climate, first, last)]
        none = None if found else why_none(card, work, climate)
        works.append({"work": work, "windows": found, "none": none, "rules": _rules(card, before, work, mine)})
    return {
        "kind": card.kind,
        "name": card.name,
        "latin": card.latin,
        "stands_in": before.stands_in,
        "own": bool(own),
        "made": kind not in shipped,
        "year": year,
        "climate": climate.words,
        "events": [
            {
                "event": words,
                "name": event,
                "on": event_date(card, event, year, climate)[0].isoformat(),
                **_event_json(card, event),
                **_changed(f"events.{event}", mine, _event_json(before, event)),
            }
            for event, words in EVENT_WORDS.items()
        ],
        "works": works,
        "traits": _traits(card, before, shipped, mine),
        "edits": {one["id"]: one["card"] for one in own if is_edit(one["card"])},
        "whole": [one["id"] for one in own if not is_edit(one["card"])],
        "trouble": tell_trouble(cards, own),
    }


def tell_fault(fault: FellsideError) -> dict[str, Any]:
    """Return what is wrong with an edit: "message", "cure", "part", "field"; the last two None where not told."""
    part, field = place_of_fault(fault.where)
    return {"message": str(fault), "cure": fault.cure, "part": part, "field": field}


def _changed(part: str, mine: Mapping[str, list[str]], was: object) -> dict[str, Any]:
    return {"part": part, "mine": mine.get(part, []), "was": was if part in mine else None}


def _event_json(card: Card, event: str) -> dict[str, Any]:
    edge = card.events[event]
    return {"usual": _month_day(edge), "source": card.event_sources[event]}


def _window_json(window: DatedWindow) -> dict[str, Any]:
    return {**as_json(window), "rule": window.rule + 1}


def _rules(card: Card, before: Card, work: str, mine: Mapping[str, list[str]]) -> list[dict[str, Any]]:
    return [
        {
            "rule": number,
            "now": _rule_json(rule),
            **_changed(f"windows.{work}.{number}", mine, _rule_json(before.windows[work][number - 1])),
        }
        for number, rule in enumerate(card.windows[work], 1)
    ]


def _rule_json(rule: Rule) -> dict[str, Any]:
    return {
        "opens": _edge_json(rule.opens),
        "closes": _edge_json(rule.closes),
        "hard_open": rule.hard_open,
        "hard_close": rule.hard_close,
        "why_opens": rule.why_opens,
        "why_closes": rule.why_closes,
        "source": rule.source,
    }


def _edge_json(edge: Edge) -> dict[str, Any]:
    if edge.event is not None:
        return {"event": edge.event, "days": edge.days}
    return {"on": _month_day(edge), "moves": edge.moves}


def _month_day(edge: Edge) -> str:
    return f"{edge.month:02}-{edge.day:02}"


def _traits(card: Card, before: Card, shipped: Cards, mine: Mapping[str, list[str]]) -> list[dict[str, Any]]:
    told = []
    for name, one in card.traits.items():
        is_number = not isinstance(one.value, (bool, str))
        others = {kind.traits[name].value for kind in shipped.values() if name in kind.traits}
        was = before.traits[name]
        told.append(
            {
                "name": name,
                "value": one.value,
                "source": one.source,
                "note": one.note,
                "other": one.other,
                "range": value_range(name) if is_number else None,
                "known": sorted(other for other in others if isinstance(other, str)) if not is_number else [],
                **_changed(f"traits.{name}", mine, {"value": was.value, "source": was.source, "note": was.note}),
            }
        )
    return told


def tell_trouble(cards: Cards, records: Records) -> list[dict[str, Any]]:
    """Return what of the person's own cannot be used, a record each; see `tell_card`.

    Args:
        cards: made of the records.
        records: species_card records.
    """
    return [
        {
            "rec": one["id"],
            "kind": _kind_of(one),
            "name": cards[_kind_of(one)].name if _kind_of(one) in cards else one.get("name"),
            **tell_fault(cards.faulty[one["id"]]),
        }
        for one in records
        if one["id"] in cards.faulty
    ]


def _whole(records: Records) -> list[Mapping[str, Any]]:
    return [one for one in records if not is_edit(one.get("card"))]


def _kind_of(record: Mapping[str, Any]) -> str:
    if record.get("kind") is not None:
        return str(record["kind"])
    card = record.get("card")
    return str(card.get("kind")) if isinstance(card, Mapping) else ""
