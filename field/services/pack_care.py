"""The part of the pack from which the phone plans wire, cold nights, mixes and waterings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import asdict

from field.core.card import Card, Edge
from field.core.materials import materials
from field.core.species import list_kinds
from field.core.windows import Climate, climate_of, yearly_parts
from field.services.places import Places

AHEAD_DAYS = 400  # as far as the dated windows of the pack reach
LEAF_FALL, BUD_BREAK = (Edge(event, 0, 0, 0, "no") for event in ("leaf_fall", "bud_break"))

TRAITS = (
    "wire_weeks_min",
    "wire_weeks_max",
    "protect_below_c_year1",
    "protect_below_c_later",
    "root_kill_c",
    "root_kill_young_c",
    "moisture_1_5",
    "leaf_type",
)


def care_for_pack(
    cards: Mapping[str, Card], places: Places, kinds_at: Mapping[str, Iterable[str]], today: dt.date
) -> dict[str, object]:
    """Return what the phone plans the care of boxed trees from.

    Args:
        kinds_at: id of a site or garden -> kinds of the trees there; of trees without one, under any other name.
    Returns: "kinds" (kind -> name, stands_in, traits as [value, source]), "materials" (name -> words and ranges) and
        "bare" (place -> kind -> [first day, last day] of each time that a shedding kind should stand bare there). A
        trait that a card does not tell is left out; a range that was not found is null.
    """
    made: dict[tuple[Climate, str], list[list[str]]] = {}

    def bare(at: str, kind: str) -> list[list[str]]:
        climate = climate_of(places.find(at))
        if (climate, kind) not in made:
            last = today + dt.timedelta(days=AHEAD_DAYS)
            parts = yearly_parts(cards[kind], today, last, LEAF_FALL, BUD_BREAK, climate)
            made[climate, kind] = [[first.isoformat(), until.isoformat()] for first, until in parts if until >= today]
        return made[climate, kind]

    return {
        "bare": {
            at: {kind: bare(at, kind) for kind in sorted(kinds) if _sheds(cards[kind])}
            for at, kinds in kinds_at.items()
        },
        "kinds": {str(one["kind"]): _kind(cards[str(one["kind"])]) for one in list_kinds(cards)},
        "materials": {name: asdict(material) for name, material in materials().items()},
    }


def _sheds(card: Card) -> bool:
    leaf = card.traits.get("leaf_type")
    return leaf is not None and str(leaf.value).startswith("deciduous")


def _kind(card: Card) -> dict[str, object]:
    told = {name: card.traits[name] for name in TRAITS if name in card.traits}
    return {
        "kind": card.kind,
        "name": card.name,
        "stands_in": card.stands_in,
        "traits": {name: [trait.value, trait.source] for name, trait in told.items()},
    }
