"""Judges a change of a species card, or a copy of one, before the person saves it; nothing is written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from field.core.card_copy import copy_card
from field.core.card_edit import edit_id, parts_of
from field.core.errors import BadInput
from field.core.read_card import BadCard
from field.core.species import load_cards
from field.services.tell_card import tell_card, tell_fault
from field.store import queries


def judge_edit(kind: str, edit: object, site: str | None, year: int) -> dict[str, Any]:
    """Return what an edit would make of a card.

    Args:
        kind: short name of the card.
        edit: the `card` of a record of the person's own, which changes one part; see `field.core.card_edit`. It takes
            the place of every edit of that part that is kept.
        site, year: as for `tell_card`.
    Returns: "fault": None, or {"message", "cure", "part", "field"}; "told": the card as `tell_card` tells it, with the
        edit laid over; None beside a fault. An edit that would make another one useless is faulty too, at that one's
        part.
    Raises: BadInput for an edit of no part or several; NotFound for a kind or a site that is not here.
    """
    parts = parts_of(edit)
    if len(parts) != 1:
        raise BadInput("One change is one value, one event or one window.", None, "edit", code="bad-request")
    rec = edit_id(kind, parts[0])
    kept = queries.list_records("species_card")
    earlier = {one["id"] for one in kept if one.get("kind") == kind and parts[0] in parts_of(one.get("card"))}
    others = [one for one in kept if one["id"] != rec and one["id"] not in earlier]
    would_be: list[Mapping[str, Any]] = [*others, {"id": rec, "kind": kind, "card": edit}]
    told = tell_card(kind, site, year, would_be)
    known = load_cards(kept).faulty
    faulty = load_cards(would_be).faulty
    fault = faulty.get(rec) or next((faulty[one] for one in faulty if one not in known), None)
    return {"fault": None, "told": told} if fault is None else {"fault": tell_fault(fault), "told": None}


def judge_copy(from_kind: str, kind: str, name: str, latin: str) -> dict[str, Any]:
    """Return what makes a new kind out of the card of another.

    Args:
        from_kind, kind, name, latin: as for `copy_card`.
    Returns: "fault": None, or {"message", "cure", "field"}; "fields" of the record to save, None beside a fault.
    Raises: NotFound for a kind that is not here.
    """
    cards = load_cards(queries.list_records("species_card"))
    try:
        return {"fault": None, "fields": copy_card(cards, from_kind, kind, name, latin)}
    except BadCard as fault:
        return {"fault": {"message": str(fault), "cure": fault.cure, "field": fault.where}, "fields": None}
