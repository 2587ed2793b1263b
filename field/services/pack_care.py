"""The part of the pack from which the phone plans wire, cold nights, mixes and waterings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

from field.core.card import Card
from field.core.materials import materials
from field.core.species import list_kinds

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


def care_for_pack(cards: Mapping[str, Card]) -> dict[str, object]:
    """Return "kinds" (kind -> name, stands_in, traits as [value, source]) and "materials" (name -> words and ranges).

    A trait that a card does not tell is left out; a range that was not found is null.
    """
    return {
        "kinds": {str(one["kind"]): _kind(cards[str(one["kind"])]) for one in list_kinds(cards)},
        "materials": {name: asdict(material) for name, material in materials().items()},
    }


def _kind(card: Card) -> dict[str, object]:
    told = {name: card.traits[name] for name in TRAITS if name in card.traits}
    return {
        "kind": card.kind,
        "name": card.name,
        "stands_in": card.stands_in,
        "traits": {name: [trait.value, trait.source] for name, trait in told.items()},
    }
