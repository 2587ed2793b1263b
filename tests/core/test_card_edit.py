"""A person's own edits of a species card: laid over what ships, refused in words where they cannot be."""

from __future__ import annotations

import copy
import json
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from field.core.card import Card
from field.core.card_edit import OWN_SOURCE, edit_id, lay_over, parts_of, place_of_fault
from field.core.read_card import BadCard
from field.core.species import Cards, load_cards

SHIPPED = load_cards()
BIRCH = json.loads((resources.files("field.core") / "cards" / "birch.json").read_text(encoding="utf-8"))

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "card_edit.json").read_text(encoding="utf-8"))


def edited(*edits: dict[str, Any], kind: str = "birch") -> Cards:
    return load_cards({"id": str(n), "kind": kind, "card": {"edit": edit}} for n, edit in enumerate(edits))


def shade(weeks: object, why: object = "my yard is windy") -> dict[str, Any]:
    return {"traits": {"shade_weeks": {"value": weeks, "why": why}}}


def lift(**told: object) -> dict[str, Any]:
    return {"windows": {"lift": {"1": told}}}


def other_than(card: Card, was: Card) -> set[str]:
    return {name for name in was.traits if card.traits[name] != was.traits[name]} | {
        work for work in was.windows if card.windows[work] != was.windows[work]
    }


def test_edit_changes_what_it_names_and_leaves_all_else_as_shipped() -> None:
    cards = edited(shade(6), lift(closes="03-20", why_closes="sap rises early here"))
    assert cards.trouble == ()
    birch = cards["birch"]
    assert other_than(birch, SHIPPED["birch"]) == {"shade_weeks", "lift"}
    assert (birch.number("shade_weeks"), birch.traits["shade_weeks"].source) == (6, OWN_SOURCE)
    rule, was = birch.windows["lift"][0], SHIPPED["birch"].windows["lift"][0]
    assert (rule.closes.month, rule.closes.day, rule.why_closes) == (3, 20, "sap rises early here")
    assert (rule.opens, rule.why_opens, rule.hard_close) == (was.opens, was.why_opens, was.hard_close)
    assert OWN_SOURCE in rule.source
    assert cards["oak"] == SHIPPED["oak"]


def test_update_of_the_shipped_card_reaches_all_that_was_not_edited() -> None:
    newer = copy.deepcopy(BIRCH)
    newer["traits"]["shade_weeks"]["value"], newer["traits"]["moisture_1_5"]["value"] = 5, 2
    laid = lay_over(newer, {"edit": shade(6)}, "card")
    assert laid["traits"]["shade_weeks"]["value"] == 6
    assert laid["traits"]["moisture_1_5"]["value"] == 2
    assert newer["traits"]["shade_weeks"]["value"] == 5, "what is laid under is not changed"


@pytest.mark.parametrize("taken_back", [{"deleted": True}, {"card": None}])
def test_edit_that_is_taken_back_gives_the_shipped_card_again(taken_back: dict[str, Any]) -> None:
    record = {"id": "1", "kind": "birch", "card": {"edit": shade(6)}, **taken_back}
    assert load_cards([record])["birch"] == SHIPPED["birch"]


def test_event_that_is_moved_moves_the_windows_that_hang_on_it() -> None:
    cards = edited({"events": {"bud_swell": {"on": "03-01", "why": "seen here six years"}}})
    assert cards.trouble == ()
    assert (cards["birch"].events["bud_swell"].month, cards["birch"].events["bud_swell"].day) == (3, 1)
    assert cards["birch"].event_sources["bud_swell"] == OWN_SOURCE


def test_edit_lies_over_the_persons_own_whole_card_too() -> None:
    whole = copy.deepcopy(BIRCH)
    whole["traits"]["moisture_1_5"]["value"] = 2
    edit = {"id": "0", "kind": "birch", "card": {"edit": shade(6)}}
    birch = load_cards([edit, {"id": "1", "kind": "birch", "card": whole}])["birch"]
    assert (birch.number("shade_weeks"), birch.number("moisture_1_5")) == (6, 2)


def test_edit_of_a_kind_without_a_card_lies_over_the_careful_one() -> None:
    ash = edited(shade(9), kind="ash")["ash"]
    assert not ash.stands_in
    assert other_than(ash, SHIPPED["any-broadleaf"]) == {"shade_weeks"}
    assert ash.care == SHIPPED["any-broadleaf"].care


def test_edit_of_a_careful_card_serves_the_kinds_it_stands_in_for() -> None:
    assert edited(shade(9), kind="any-broadleaf")["ash"].number("shade_weeks") == 9


def test_edit_of_a_kind_that_is_not_known_is_told() -> None:
    cards = edited(shade(6), kind="triffid")
    assert [fault.where for fault in cards.trouble] == ["card triffid"]


BAD: list[tuple[dict[str, Any], str, str]] = [
    (shade("long"), "traits.shade_weeks.value", "Give a number."),
    (shade(True), "traits.shade_weeks.value", "Give a number."),
    (shade(521), "traits.shade_weeks", "lies between"),
    (shade(float("nan")), "traits.shade_weeks.value", "Give a number from"),
    (shade(10**400), "traits.shade_weeks.value", "Give a number from"),
    (shade(6, " "), "traits.shade_weeks.why", "Say why"),
    (shade(6, None), "traits.shade_weeks.why", "Say why"),
    ({"traits": {"moisture_1_5": {"value": 6, "why": "wet"}}}, "traits.moisture_1_5.value", "from 1 to 5"),
    ({"traits": {"bleeding_0_3": {"value": -1, "why": "dry"}}}, "traits.bleeding_0_3.value", "from 0 to 3"),
    ({"traits": {"protect_below_c_later": {"value": -90, "why": "x"}}}, "traits.protect_below_c_later.value", "-50"),
    ({"traits": {"mist_after_lift": {"value": "no", "why": "x"}}}, "traits.mist_after_lift.value", "yes or no"),
    ({"traits": {"leaf_type": {"value": "any", "why": "x"}}}, "traits.leaf_type.value", "another kind"),
    ({"traits": {"colour": {"value": 1, "why": "x"}}}, "traits.colour", "no “colour”"),
    ({"traits": {"wire_weeks_min": {"value": 300, "why": "x"}}}, "traits.wire_weeks_min", "lies over the most"),
    ({"events": {"bud_swell": {"on": "02-30", "why": "x"}}}, "events.bud_swell", "in no calendar"),
    ({"events": {"bud_swell": {"on": "03-01"}}}, "events.bud_swell.why", "Say why"),
    (
        {"events": {"flush_hardened": {"on": "07-20", "why": "x"}}},
        "windows.defoliate.1.closes",
        "before it opens",
    ),
    ({"events": {"rain": {"on": "03-01", "why": "x"}}}, "events.rain", "no event"),
    (lift(closes="13-01", why_closes="x"), "windows.lift[0].closes", "in no calendar"),
    (lift(closes="1 May", why_closes="x"), "windows.lift[0].closes", "no date"),
    (lift(closes="03-20"), "windows.lift.1.why_closes", "Say why"),
    (lift(why_opens=""), "windows.lift.1.why_opens", "Say why"),
    (lift(opens={"event": "bud_swell", "days": 121}, why_opens="x"), "windows.lift.1.opens", "another season"),
    (lift(opens="06-10", closes="05-01", why_opens="x", why_closes="x"), "windows.lift.1.closes", "before it opens"),
    (
        lift(
            opens={"event": "bud_swell", "days": 5},
            closes={"event": "bud_swell", "days": 4},
            why_opens="x",
            why_closes="x",
        ),
        "windows.lift.1.closes",
        "before it opens",
    ),
    (lift(hard_close="yes"), "windows.lift[0].hard_close", "true or false"),
    (lift(), "windows.lift.1", "changes nothing"),
    ({"windows": {"lift": {"9": {"hard_close": True}}}}, "windows.lift.9", "no window 9"),
    ({"windows": {"dance": {"1": {"hard_close": True}}}}, "windows.dance", "no work"),
    ({"colour": {"x": 1}}, "colour", "nothing that an edit"),
    ({}, "edit", "changes nothing"),
]


@pytest.mark.parametrize(("edit", "where", "says"), BAD, ids=[f"{n}-{where}" for n, (_, where, _) in enumerate(BAD)])
def test_nonsense_is_refused_in_words_at_its_field_and_the_shipped_card_stays(
    edit: dict[str, Any], where: str, says: str
) -> None:
    cards = edited(edit)
    assert [fault.where for fault in cards.trouble] == [f"card birch.{where}"]
    assert says in cards.trouble[0].message
    assert cards["birch"] == SHIPPED["birch"]


@pytest.mark.parametrize("raw", [None, 3, "words", [], {"traits": []}, {"traits": {"shade_weeks": 3}}, {"windows": 1}])
def test_edit_of_a_wrong_shape_is_told_and_costs_no_other_edit(raw: Any) -> None:
    cards = edited(raw, shade(6))
    assert len(cards.trouble) == 1
    assert cards["birch"].number("shade_weeks") == 6


def test_no_shipped_card_would_be_refused_as_a_persons_edit() -> None:
    for kind in SHIPPED:
        cards = edited({"traits": {"bleeding_0_3": {"value": 1, "why": "x"}}}, kind=kind)
        assert cards.trouble == (), kind


def test_edit_laid_over_is_a_card_that_the_reader_knows() -> None:
    with pytest.raises(BadCard, match="no “colour”"):
        lay_over(BIRCH, {"edit": {"traits": {"colour": {"value": 1, "why": "x"}}}}, "card")


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["part"])
def test_the_record_of_an_edit_is_named_after_its_kind_and_part(case: dict[str, str]) -> None:
    assert edit_id(case["kind"], case["part"]) == case["expect"]


def test_the_parts_of_an_edit_are_told_and_what_is_none_has_none() -> None:
    edit = {"events": {"bud_swell": {}}, "windows": {"lift": {"1": {}, "2": {}}, "trim": 3}, **shade(6)}
    assert parts_of({"edit": edit}) == ("traits.shade_weeks", "events.bud_swell", "windows.lift.1", "windows.lift.2")
    for nothing in (None, 3, {}, {"edit": None}, {"edit": {"windows": []}}, {"traits": {"shade_weeks": {}}}):
        assert parts_of(nothing) == ()


@pytest.mark.parametrize(
    ("where", "part", "field"),
    [
        ("card birch.traits.shade_weeks.value", "traits.shade_weeks", "value"),
        ("card birch.traits.shade_weeks", "traits.shade_weeks", None),
        ("card birch.events.bud_swell.why", "events.bud_swell", "why"),
        ("card birch.windows.hard-prune[0].closes", "windows.hard-prune.1", "closes"),
        ("card birch.windows.hard-prune.2.closes", "windows.hard-prune.2", "closes"),
        ("card birch.windows.lift[1].closes.moves", "windows.lift.2", "closes"),
        ("card birch.windows.lift", None, None),
        ("card birch", None, None),
        (None, None, None),
    ],
)
def test_the_place_of_a_fault_is_told_as_part_and_field(where: str | None, part: str | None, field: str | None) -> None:
    assert place_of_fault(where) == (part, field)


def test_a_faulty_record_is_told_by_its_id() -> None:
    cards = edited(shade(6), {"traits": {"colour": {"value": 1, "why": "x"}}}, shade(10**400))
    assert set(cards.faulty) == {"1", "2"}
    assert tuple(cards.faulty.values()) == cards.trouble
