"""The cards: what ships, what the person made, and what is refused."""

from __future__ import annotations

import copy
import json
from importlib import resources
from typing import Any

import pytest

from field.core.card import EVENT_WORDS, WORKS
from field.core.errors import NotFound
from field.core.read_card import BadCard, read_card
from field.core.species import CAUTIOUS, card_for_tree, get_card, list_kinds, load_cards


def shipped_file(name: str) -> dict[str, Any]:
    """Return a fresh copy of a shipped card as its file tells it."""
    file = resources.files("field.core") / "cards" / f"{name}.json"
    read: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return read


def set_at(card: dict[str, Any], path: list[Any], value: object) -> dict[str, Any]:
    """Return the card with one value replaced."""
    changed = copy.deepcopy(card)
    at: Any = changed
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    return changed


def test_kind_without_a_card_is_planned_by_the_careful_card_of_its_leaf_type() -> None:
    cards = load_cards()
    want = {"ash": "any-broadleaf", "douglas-fir": "any-conifer", "holly": "any-evergreen"}
    for kind, careful in want.items():
        assert cards[kind].stands_in
        assert (cards[kind].windows, cards[kind].care) == (cards[careful].windows, cards[careful].care)
        assert cards[kind].kind == kind


def test_at_least_sixteen_kinds_have_a_card_of_their_own() -> None:
    cards = load_cards()
    assert cards.trouble == ()
    assert len([kind for kind, card in cards.items() if not card.stands_in and kind not in CAUTIOUS]) >= 16


@pytest.mark.parametrize("kind", sorted(load_cards()))
def test_every_shipped_value_and_window_says_where_it_is_from(kind: str) -> None:
    card = load_cards()[kind]
    words = [trait.source for trait in card.traits.values()]
    words += list(card.event_sources.values())
    words += [rule.source for rules in card.windows.values() for rule in rules]
    words += [step.source for step in card.care]
    words += [card.never_sources[work] for work in card.never]
    words += [trait.other for trait in card.traits.values() if trait.other is not None]
    words += [rule.other for rules in card.windows.values() for rule in rules if rule.other is not None]
    marks = ("[seen", "[memory]", "common practice, no source")
    assert [one for one in words if not any(mark in one for mark in marks)] == []


@pytest.mark.parametrize("kind", sorted(load_cards()))
def test_every_work_has_a_window_or_a_reason_why_never(kind: str) -> None:
    card = load_cards()[kind]
    assert set(card.windows) == set(WORKS)
    for work in WORKS:
        assert bool(card.windows[work]) != (work in card.never)
        assert len(card.never.get(work, "a" * 50)) >= 50  # a sentence, never a bare no


def test_every_event_has_a_usual_date_on_each_card() -> None:
    for card in load_cards().values():
        assert set(card.events) == set(EVENT_WORDS)


def test_card_names_only_what_differs_from_the_default_care() -> None:
    cards = load_cards()
    default = {step.step for step in cards["default"].care}
    birch = {step.step: step for step in cards["birch"].care}
    assert default <= set(birch)
    assert "thirsty" in birch["water-daily"].text
    assert birch["label"] == next(step for step in cards["default"].care if step.step == "label")


def test_unknown_kind_names_near_ones() -> None:
    with pytest.raises(NotFound, match="burch") as told:
        get_card(load_cards(), "burch")
    assert "birch" in str(told.value.cure)
    assert told.value.code == "no-such-kind"


def test_kind_is_found_in_any_letter_case() -> None:
    assert get_card(load_cards(), " Birch ").kind == "birch"


@pytest.mark.parametrize("species", [None, "", "  ", 7])
def test_tree_of_untold_kind_is_planned_by_the_default(species: object) -> None:
    card = card_for_tree(load_cards(), species)
    assert (card.kind, card.stands_in) == ("default", True)


def test_tree_of_unknown_kind_keeps_its_kind_and_gets_the_default_care() -> None:
    cards = load_cards()
    card = card_for_tree(cards, "Sea Buckthorn")
    assert (card.kind, card.stands_in) == ("sea buckthorn", True)
    assert card.care == cards["default"].care


def test_kinds_are_listed_by_name_with_the_default_last() -> None:
    kinds = list_kinds(load_cards())
    assert kinds[-1]["kind"] == "default"
    names = [str(kind["name"]).lower() for kind in kinds[:-1]]
    assert names == sorted(names)
    # the careful cards of the leaf types are no kinds that a tree could be said to be
    assert {"any-conifer", "any-broadleaf", "any-evergreen"}.isdisjoint({kind["kind"] for kind in kinds})
    pine = {
        "kind": "scots-pine",
        "name": "Scots pine",
        "latin": "Pinus sylvestris",
        "first_styling_years_min": 3,
        "has_card": True,
    }
    assert pine in kinds
    assert [kind["has_card"] for kind in kinds if kind["kind"] in ("ash", "holly")] == [False, False]


def test_card_of_the_persons_own_replaces_the_shipped_one() -> None:
    mine = set_at(shipped_file("birch"), ["traits", "shade_weeks", "value"], 6)
    cards = load_cards([{"id": "1", "kind": "birch", "card": mine}])
    assert cards["birch"].number("shade_weeks") == 6
    assert cards.trouble == ()


def test_card_for_a_kind_that_had_none_ends_the_standing_in() -> None:
    mine = {**shipped_file("birch"), "kind": "ash"}
    cards = load_cards([{"id": "1", "kind": "ash", "name": "ash", "latin": "Fraxinus", "card": mine}])
    assert not cards["ash"].stands_in
    assert cards["ash"].latin == "Fraxinus"


def test_careful_card_of_the_persons_own_serves_the_kinds_without_a_card() -> None:
    for own, serves in (("default", "Sea Buckthorn"), ("any-conifer", "douglas-fir"), ("any-broadleaf", "ash")):
        mine = set_at(shipped_file(own), ["traits", "shade_weeks", "value"], 10)
        cards = load_cards([{"id": "1", "kind": own, "card": mine}])
        assert card_for_tree(cards, serves).number("shade_weeks") == 10
        assert card_for_tree(cards, "holly").number("shade_weeks") == 6
        assert cards["birch"].number("shade_weeks") == 4


def test_card_of_the_persons_own_starts_from_the_care_of_its_leaf_type() -> None:
    mine = shipped_file("scots-pine")
    del mine["traits"]["leaf_type"]
    cards = load_cards([{"id": "1", "kind": "scots-pine", "card": mine}])
    assert "soil-core" in {step.step for step in cards["scots-pine"].care}


@pytest.mark.parametrize("record", [{"deleted": True}, {"card": None}])
def test_deleted_or_empty_card_of_the_persons_own_is_passed_over(record: dict[str, Any]) -> None:
    mine = set_at(shipped_file("birch"), ["traits", "shade_weeks", "value"], 6)
    cards = load_cards([{"id": "1", "kind": "birch", "card": mine, **record}])
    assert cards["birch"].number("shade_weeks") == 4


def test_bad_card_of_the_persons_own_leaves_the_shipped_one_and_is_told() -> None:
    mine = set_at(shipped_file("birch"), ["traits", "shade_weeks", "value"], "long")
    cards = load_cards([{"id": "1", "kind": "birch", "card": mine}])
    assert cards["birch"].number("shade_weeks") == 4
    assert [fault.where for fault in cards.trouble] == ["card birch.traits.shade_weeks"]


@pytest.mark.parametrize("raw", ["words", 7, [], ["birch"]])
def test_card_that_is_no_card_at_all_is_told(raw: object) -> None:
    cards = load_cards([{"id": "1", "kind": "birch", "card": raw}])
    assert len(cards.trouble) == 1
    assert not cards["birch"].stands_in


def test_number_past_any_use_in_a_card_of_the_persons_own_is_told() -> None:
    mine = set_at(shipped_file("birch"), ["traits", "moisture_1_5", "value"], 10**400)
    cards = load_cards([{"id": "1", "kind": "birch", "card": mine}])
    assert [fault.message for fault in cards.trouble] == ["A number in this card is past any use."]
    assert cards["birch"].number("moisture_1_5") == load_cards()["birch"].number("moisture_1_5")


LIFT = ["windows", "lift", 0]


@pytest.mark.parametrize(
    ("path", "value", "where"),
    [
        (["kind"], "Birch!", "card.kind"),
        (["name"], "", "card.name"),
        (["colour"], "white", "card.colour"),
        (["traits", "mist_after_lift", "value"], 1, "card.traits.mist_after_lift"),
        (["traits", "shade_weeks", "value"], True, "card.traits.shade_weeks"),
        (["traits", "shade_weeks", "value"], -1, "card.traits.shade_weeks"),
        (["traits", "shade_weeks", "value"], 521, "card.traits.shade_weeks"),
        (["traits", "shade_weeks", "value"], float("nan"), "card.traits.shade_weeks"),
        (["traits", "shade_weeks", "source"], "hearsay", "card.traits.shade_weeks.source"),
        (["traits", "shade_weeks", "source"], [], "card.traits.shade_weeks.source"),
        (["events", "bud_swell", "on"], "02-30", "card.events.bud_swell"),
        (["events", "bud_swell", "on"], "13-01", "card.events.bud_swell"),
        (["events", "bud_swell", "on"], "3-1", "card.events.bud_swell"),
        (["events", "snow"], {"on": "12-01", "source": "practice"}, "card.events.snow"),
        (["windows", "chop"], {"never": "why"}, "card.windows.chop"),
        (["windows", "lift"], [], "card.windows.lift"),
        (["windows", "lift"], {"never": ""}, "card.windows.lift.never"),
        ([*LIFT, "opens"], {"event": "thaw", "days": 1}, "card.windows.lift[0].opens"),
        ([*LIFT, "opens"], {"event": "bud_swell", "days": 1.5}, "card.windows.lift[0].opens.days"),
        ([*LIFT, "opens"], {"on": "03-01", "moves": "up"}, "card.windows.lift[0].opens.moves"),
        ([*LIFT, "hard_close"], "yes", "card.windows.lift[0].hard_close"),
        ([*LIFT, "hard_open"], "yes", "card.windows.lift[0].hard_open"),
        ([*LIFT, "other"], "words", "card.windows.lift[0].other"),
        ([*LIFT, "other"], {"says": "x"}, "card.windows.lift[0].other.source"),
        (
            ["traits", "shade_weeks", "other"],
            {"says": "x", "source": "nowhere"},
            "card.traits.shade_weeks.other.source",
        ),
        (["windows", "lift"], {"never": "too wet", "source": "nowhere"}, "card.windows.lift.source"),
        ([*LIFT, "why_closes"], "", "card.windows.lift[0].why_closes"),
        (["leave_out"], ["no-such-step"], "card.leave_out"),
        (["care", 0, "work"], "dance", "card.care[0] (roots-wet).work"),
        (["care", 0, "anchor"], "moon", "card.care[0] (roots-wet).anchor"),
        (["care", 0, "by_days"], -1, "card.care[0] (roots-wet).by_days"),
        (["care", 0, "every_days"], 0, "card.care[0] (roots-wet).every_days"),
        (["care", 0, "in_window"], True, "card.care[0] (roots-wet).in_window"),
        (["care", 0, "from_trait"], "moisture_1_5", "card.care[0] (roots-wet)"),
        (["care", 0, "text"], "Water {what} now.", "card.care.roots-wet"),
        (["care", 0, "text"], "Wait until {opens}.", "card.care.roots-wet"),
        (["care", 0, "text"], "Water { now.", "card.care.roots-wet"),
        (["care", 0, "text"], "Water {shade_weeks:>999999999} now.", "card.care.roots-wet"),
        (["care", 1, "step"], "roots-wet", "card.care[1]"),
        (["care", 0, "lapses_days"], -1, "card.care[0] (roots-wet).lapses_days"),
    ],
)
def test_bad_card_is_refused_with_the_place_of_the_fault(path: list[Any], value: object, where: str) -> None:
    base = load_cards()["default"].care
    card = shipped_file("birch")
    assert read_card(card, base).kind == "birch"
    with pytest.raises(BadCard) as told:
        read_card(set_at(card, path, value), base)
    assert told.value.where == where
    assert told.value.message.endswith(".")


@pytest.mark.parametrize("name", ["kind", "traits", "events", "windows"])
def test_card_without_a_needed_part_is_refused(name: str) -> None:
    card = shipped_file("birch")
    del card[name]
    with pytest.raises(BadCard) as told:
        read_card(card, load_cards()["default"].care)
    assert told.value.where == f"card.{name}"


def test_card_may_leave_out_a_step_of_the_default() -> None:
    card = {**shipped_file("birch"), "leave_out": ["mist"]}
    read = read_card(card, load_cards()["default"].care)
    assert "mist" not in {step.step for step in read.care}
