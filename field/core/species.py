"""The species cards that ship with the app, those the person made, and which card a tree's care is planned by.

The shipped cards lie in `cards/` beside this module, one JSON file a kind; `field.core.read_card` tells the form.
`kinds.json` lists kinds that are known by name, with their leaf type, but have no card of their own yet: for them the
cautious card of that leaf type stands in. The care of every card starts from the cautious card of its leaf type, told
by the trait `leaf_type`, and that of those from the care plans (`field.core.plans`). Of a tree whose kind is not told
nothing is known: the card `default` serves it, the most careful of all.
"""

from __future__ import annotations

import difflib
import functools
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from typing import Any

from field.core.card import Card
from field.core.card_edit import check_laid, is_edit, lay_over
from field.core.errors import NotFound
from field.core.plans import shipped_steps
from field.core.read_card import BadCard, read_card

DEFAULT = "default"
LEAF_CARDS: Mapping[str, str] = {
    "deciduous": "any-broadleaf",
    "semi-evergreen": "any-broadleaf",
    "deciduous conifer": "any-broadleaf",  # it rests leafless; its card says what else it needs
    "evergreen conifer": "any-conifer",
    "evergreen broadleaf": "any-evergreen",
}
_PAST_USE = "A number in this card is past any use."
CAUTIOUS = frozenset({DEFAULT, *LEAF_CARDS.values()})


@dataclass(frozen=True, slots=True)
class Cards(Mapping[str, Card]):
    """All kinds by their short name; `trouble` holds what was wrong with a card of the person's own."""

    by_kind: Mapping[str, Card]
    trouble: tuple[BadCard, ...]
    own: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)  # kind -> the object of the person's own card
    faulty: Mapping[str, BadCard] = field(default_factory=dict)  # id of a record -> what is wrong with it

    def __getitem__(self, kind: str) -> Card:
        return self.by_kind[kind]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_kind)

    def __len__(self) -> int:
        return len(self.by_kind)


def load_cards(overrides: Iterable[Mapping[str, object]] = ()) -> Cards:
    """Return every kind with its card: the shipped ones, replaced or added to by the person's own.

    Args:
        overrides: merged species_card records: `kind`, `name`, `latin`, `card` (the object of a card file, or an edit
            as `field.core.card_edit` tells it, which is laid over the card). Deleted ones, and ones without a card,
            are passed over.
    Returns: the cards. One of the person's own that cannot be used leaves the shipped card in force and is told in
        `trouble`: a slip in one card must not stop the planning of all trees.
    """
    shipped = _shipped()
    cards = dict(shipped)
    trouble: list[BadCard] = []
    faulty: dict[str, BadCard] = {}
    told: dict[str, Mapping[str, Any]] = {}  # the objects of the cards as they stand so far, for edits to lie over
    order = sorted(overrides, key=lambda one: (is_edit(one.get("card")), str(one.get("kind")), str(one.get("id"))))
    for record in order:
        raw = record.get("card")
        if record.get("deleted") is True or raw is None:
            continue
        where = f"card {record.get('kind')}"
        try:
            if not isinstance(raw, Mapping):
                raise BadCard("Here the card needs named values.", where=where)
            if is_edit(raw):
                full = lay_over(_card_object(str(record.get("kind")), told, where), raw, where)
            else:
                names = {name: record[name] for name in ("kind", "name", "latin") if record.get(name) is not None}
                full = {**raw, **names}
            card = read_card(full, _base(full, shipped).care, where=where)
            if is_edit(raw):
                check_laid(card, where)
        except (BadCard, OverflowError) as fault:  # a whole number of hundreds of digits is JSON too
            told_fault = fault if isinstance(fault, BadCard) else BadCard(_PAST_USE, where=where)
            trouble.append(told_fault)
            faulty[str(record.get("id"))] = told_fault
            continue
        told[card.kind], cards[card.kind] = full, card
    # Kinds without a card of their own follow the person's own cautious card too.
    for kind, card in cards.items():
        if card.stands_in:
            base = LEAF_CARDS[str(card.traits["leaf_type"].value)]
            if cards[base] is not shipped[base]:
                cards[kind] = _standing_in(cards[base], kind, card.name, card.latin)
    return Cards(cards, tuple(trouble), told, faulty)


def get_card(cards: Mapping[str, Card], kind: str) -> Card:
    """Return the card of a kind; raise NotFound, naming near ones, when the kind is not known at all."""
    short = kind.strip().lower()
    if short in cards:
        return cards[short]
    near = difflib.get_close_matches(short, list(cards), n=3, cutoff=0.5)
    cure = f"Near ones are: {', '.join(near)}." if near else f"Known are: {', '.join(sorted(cards))}."
    raise NotFound(f"There is no kind of tree called “{kind}”.", cure, "kind", code="no-such-kind")


def card_for_tree(cards: Mapping[str, Card], species: object) -> Card:
    """Return the card to plan a tree by; the default card stands in when the kind is not told or not known.

    A tree must never be without care because its kind is spelt in an unknown way.
    """
    if not isinstance(species, str) or not species.strip():
        return replace(cards[DEFAULT], stands_in=True)
    short = species.strip().lower()
    if short in cards:
        return cards[short]
    return _standing_in(cards[DEFAULT], short, short, "")


def list_kinds(cards: Mapping[str, Card]) -> list[dict[str, object]]:
    """Return kind, name, latin, first_styling_years_min (for the stage), has_card of every kind, by name, default last.

    The cautious cards of the leaf types are no kinds that a tree or a leave could name.
    """
    order = sorted(cards.values(), key=lambda card: (card.kind == DEFAULT, card.name.lower(), card.kind))
    return [
        {
            "kind": card.kind,
            "name": card.name,
            "latin": card.latin,
            "first_styling_years_min": card.number("first_styling_years_min"),
            "has_card": not card.stands_in,
        }
        for card in order
        if card.kind == DEFAULT or card.kind not in CAUTIOUS
    ]


def _standing_in(cautious: Card, kind: str, name: str, latin: str) -> Card:
    return replace(cautious, kind=kind, name=name, latin=latin, stands_in=True)


def _base(raw: Mapping[str, object], shipped: Mapping[str, Card]) -> Card:
    """Return the cautious card that a card's care starts from; a card that tells no leaf type starts from the default.

    A card of the person's own for a kind that ships need not tell the leaf type again.
    """
    if str(raw.get("kind")) in CAUTIOUS:
        return shipped[DEFAULT]
    traits = raw.get("traits")
    told = traits.get("leaf_type") if isinstance(traits, Mapping) else None
    leaf = told.get("value") if isinstance(told, Mapping) else None
    if leaf is None and str(raw.get("kind")) in shipped:
        known = shipped[str(raw["kind"])].traits.get("leaf_type")
        leaf = None if known is None else known.value
    return shipped[LEAF_CARDS.get(str(leaf), DEFAULT)]


def card_object(cards: Cards, kind: str) -> Mapping[str, Any]:
    """Return the object of a kind's card as it stands, the person's own edits laid over it; not to be changed."""
    return _card_object(kind, cards.own, f"card {kind}")


def _card_object(kind: str, told: Mapping[str, Mapping[str, Any]], where: str) -> Mapping[str, Any]:
    """Return the object of a kind's card; of a kind that has none, that of the cautious card that stands in for it."""
    if kind in told:
        return told[kind]
    files = _files()
    if kind in files and kind != "kinds":
        shipped: Mapping[str, Any] = files[kind]
        return shipped
    for one in files["kinds"]:
        if one["kind"] == kind:
            cautious = LEAF_CARDS[one["leaf"]]
            names = {name: one[name] for name in ("kind", "name", "latin")}
            # Its care starts from the cautious card's, in which what that leaves out is left out already.
            return {**told.get(cautious, files[cautious]), **names, "leave_out": []}
    raise BadCard("There is no card of this kind to lay an edit over.", where=where)


@functools.cache
def _files() -> Mapping[str, Any]:
    raw: dict[str, Any] = {}
    for file in (resources.files("field.core") / "cards").iterdir():
        if file.name.endswith(".json"):
            raw[file.name.removesuffix(".json")] = json.loads(file.read_text(encoding="utf-8"))
    return raw


@functools.cache
def _shipped() -> Mapping[str, Card]:
    raw = dict(_files())
    kinds: Any = raw.pop("kinds")
    default = read_card(raw.pop(DEFAULT), shipped_steps(), where="default.json")
    cards = {DEFAULT: default}
    for name in sorted(set(LEAF_CARDS.values())):
        cards[name] = read_card(raw.pop(name), default.care, where=f"{name}.json")
    for one in kinds:
        cards[one["kind"]] = _standing_in(cards[LEAF_CARDS[one["leaf"]]], one["kind"], one["name"], one["latin"])
    for name, data in sorted(raw.items()):
        card = read_card(data, _base(data, cards).care, where=f"{name}.json")
        cards[card.kind] = card
    return cards
