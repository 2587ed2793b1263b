"""A new kind made by copying a card: its names checked, all else as it was copied."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from field.core.card_copy import copy_card
from field.core.errors import NotFound
from field.core.read_card import BadCard
from field.core.species import load_cards

SHIPPED = load_cards()
EDIT: dict[str, Any] = {"edit": {"traits": {"shade_weeks": {"value": 6, "why": "windy"}}}}


@pytest.mark.parametrize("kind", sorted(SHIPPED))
def test_every_kind_can_be_copied_and_the_copy_is_read_with_the_same_windows_and_traits(kind: str) -> None:
    record = copy_card(SHIPPED, kind, "glen-tree", "Glen tree", "Arbor glenensis")
    cards = load_cards([{"id": "1", **record}])
    assert cards.trouble == ()
    made, was = cards["glen-tree"], SHIPPED[kind]
    names: dict[str, Any] = {"kind": "glen-tree", "name": "Glen tree", "latin": "Arbor glenensis", "stands_in": False}
    assert made == replace(was, **names, care=made.care)
    assert {step.step for step in made.care} >= {step.step for step in was.care}


def test_copy_has_the_persons_own_edits_and_can_be_edited_itself() -> None:
    birch = {"id": "1", "kind": "birch", "card": EDIT}
    record = copy_card(load_cards([birch]), "birch", "glen-birch", "Glen birch", "Betula glenensis 'Tall'")
    edit = {"id": "3", "kind": "glen-birch", "card": {"edit": {"traits": {"moisture_1_5": {"value": 2, "why": "dry"}}}}}
    made = load_cards([{"id": "2", **record}, edit])["glen-birch"]
    assert (made.number("shade_weeks"), made.number("moisture_1_5")) == (6, 2)


@pytest.mark.parametrize(
    ("names", "where"),
    [
        (("birch", "Glen birch", "Betula glenensis"), "kind"),
        (("Glen", "Glen birch", "Betula glenensis"), "kind"),
        (("glen birch", "Glen birch", "Betula glenensis"), "kind"),
        (("", "Glen birch", "Betula glenensis"), "kind"),
        (("glen", " ", "Betula glenensis"), "name"),
        (("glen", "x" * 81, "Betula glenensis"), "name"),
        (("glen", SHIPPED["birch"].name.upper(), "Betula glenensis"), "name"),
        (("glen", "Glen birch", ""), "latin"),
        (("glen", "Glen birch", "betula"), "latin"),
        (("glen", "Glen birch", "Betula 7"), "latin"),
        (("glen", "Glen birch", f" {SHIPPED['birch'].latin} "), "latin"),
    ],
)
def test_name_that_is_taken_or_is_none_is_refused_at_its_field(names: tuple[str, str, str], where: str) -> None:
    with pytest.raises(BadCard) as refused:
        copy_card(SHIPPED, "birch", *names)
    assert refused.value.where == where


def test_kind_that_is_not_known_cannot_be_copied() -> None:
    with pytest.raises(NotFound):
        copy_card(SHIPPED, "triffid", "glen", "Glen", "Betula glenensis")
