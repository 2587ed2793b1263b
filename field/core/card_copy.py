"""A new kind of tree, made by copying the card of another: its names are checked, and all else is the copied card's."""

from __future__ import annotations

import copy
import re
from typing import Any

from field.core.read_card import BadCard
from field.core.species import CAUTIOUS, Cards, card_object, get_card

MOST_LETTERS = 80  # of a name; it stands on a button of a phone

_KIND = re.compile(r"[a-z]+(-[a-z]+)*\Z")
# Genus, and then what may follow it: species, ×, var., and a variety's name in quotes. Letters of every language.
_LATIN = re.compile(r"[^\W\d_a-z][^\W\d_]*( [^\W\d_]+(-[^\W\d_]+)*\.?| ×| ['‘’][^'‘’\d_]+['‘’])*\Z")


def copy_card(cards: Cards, from_kind: str, kind: str, name: str, latin: str) -> dict[str, Any]:
    """Return the fields of the species_card record that makes a new kind.

    Args:
        cards: all kinds as they stand, from `species.load_cards`; the person's own edits are copied too.
        from_kind: the kind that is copied.
        kind, name, latin: the short name, the name and the botanical name of the new one; none of them taken yet.
    Raises: BadCard with its field for a name that is taken or has no usable form; NotFound for a kind not known.
    """
    source = get_card(cards, from_kind)
    name, latin = " ".join(name.split()), " ".join(latin.split())
    if not _KIND.match(kind) or len(kind) > MOST_LETTERS:
        raise BadCard("A short name is lower-case letters a to z, with hyphens between words.", where="kind")
    if kind in cards:
        raise BadCard(f"There is a kind “{kind}” already.", "Choose another short name.", "kind")
    if not name or len(name) > MOST_LETTERS:
        raise BadCard(f"A kind needs a name, of at most {MOST_LETTERS} letters.", where="name")
    if len(latin) > MOST_LETTERS or not _LATIN.match(latin):
        raise BadCard("A botanical name begins with its genus: “Betula pendula”.", where="latin")
    for other in cards.values():
        if other.kind in CAUTIOUS:
            continue
        if other.name.casefold() == name.casefold():
            raise BadCard(f"“{other.name}” is the name of another kind.", "Choose another name.", "name")
        if other.latin.casefold() == latin.casefold():
            raise BadCard(
                f"“{other.latin}” is the botanical name of {other.name}.", "Add the variety, in quotes.", "latin"
            )
    names = {"kind": kind, "name": name, "latin": latin}
    card = {**copy.deepcopy(dict(card_object(cards, source.kind))), **names}
    if source.kind in CAUTIOUS:
        card["leave_out"] = []  # the new kind's care starts from this card's, in which these are left out already
    return {**names, "card": card}
