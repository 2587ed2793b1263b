"""A card as its page shows it: a year of dates with reasons and sources, at the place of a site."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from builders import SQUARE
from flask import Flask

from field.core.card import WORKS
from field.core.card_edit import edit_id
from field.core.errors import BadInput, NotFound
from field.core.species import load_cards
from field.core.windows import dated_windows
from field.services.judge_card import judge_copy, judge_edit
from field.services.tell_card import tell_card, tell_kinds
from field.services.write_changes import write_changes

YEAR = 2027
SITE = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
EDIT = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4e"
OTHER = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4f"


@pytest.fixture
def database_url() -> None:
    """SQLite alone: what is told hangs on records, not on what they lie in."""


def windows_of(told: dict[str, Any], work: str) -> list[dict[str, Any]]:
    return next(one["windows"] for one in told["works"] if one["work"] == work)


def test_every_kind_is_listed_and_told_with_all_works_reasons_and_sources(store: Flask) -> None:
    kinds = [one["kind"] for one in tell_kinds()["kinds"]]
    assert sorted(kinds) == sorted(load_cards())
    assert kinds[-1] == "default" or "default" in kinds[-4:]
    for kind in kinds:
        told = tell_card(kind, None, YEAR)
        assert [one["work"] for one in told["works"]] == list(WORKS)
        for one in told["works"]:
            assert bool(one["windows"]) != bool(one["none"]), (kind, one["work"])
            for window in one["windows"]:
                assert window["why_opens"]
                assert window["why_closes"]
                assert window["source"]
                assert window["closes"] >= "2027-01-01"
                assert window["opens"] <= "2027-12-31"
        assert all(one["source"] for one in told["traits"])


def test_a_garden_is_a_place_too_with_its_own_days(store: Flask) -> None:
    (garden,) = write_changes([("garden", None, {"name": "Frame yard", "lat": 55.4, "shift_days": 5})])
    usual, here = (windows_of(tell_card("birch", at, YEAR), "lift")[0]["closes"] for at in (None, garden))
    assert (dt.date.fromisoformat(here) - dt.date.fromisoformat(usual)).days == 5


def test_the_dates_are_those_of_the_site_that_is_chosen(store: Flask) -> None:
    write_changes([("site", SITE, {"name": "High", "boundary": SQUARE, "height_m": 420})])
    told = tell_card("birch", SITE, YEAR)
    lat = 55.4  # the middle of the square, near enough: the law moves by whole days
    expected = dated_windows(load_cards()["birch"], "lift", lat, 420, "2027-01-01", 364)
    assert (
        abs(
            (
                dt.date.fromisoformat(windows_of(told, "lift")[0]["opens"])
                - dt.date.fromisoformat(str(expected[0]["opens"]))
            ).days
        )
        <= 1
    )
    assert windows_of(told, "lift") != windows_of(tell_card("birch", None, YEAR), "lift")
    assert "420 m" in told["climate"]


def test_ones_own_edit_is_told_and_marked(store: Flask) -> None:
    edit = {"edit": {"traits": {"shade_weeks": {"value": 9, "why": "the garden is windy"}}}}
    write_changes([("species_card", EDIT, {"kind": "birch", "card": edit})])
    told = tell_card("birch", None, YEAR)
    assert told["own"]
    assert next(one["value"] for one in told["traits"] if one["name"] == "shade_weeks") == 9
    assert [one["kind"] for one in tell_kinds()["kinds"] if one["own"]] == ["birch"]


def test_what_is_not_here_is_said_so(store: Flask) -> None:
    with pytest.raises(NotFound):
        tell_card("triffid", None, YEAR)
    with pytest.raises(NotFound):
        tell_card("birch", SITE, YEAR)


def an_edit(value: object, why: str = "the garden is windy", trait: str = "shade_weeks") -> dict[str, Any]:
    return {"edit": {"traits": {trait: {"value": value, "why": why}}}}


def lifting(**told: object) -> dict[str, Any]:
    return {"edit": {"windows": {"lift": {"1": told}}}}


def kept(card: object, rec: str = EDIT, kind: str = "birch") -> None:
    write_changes([("species_card", rec, {"kind": kind, "card": card})])


def trait(told: dict[str, Any], name: str) -> dict[str, Any]:
    return next(one for one in told["traits"] if one["name"] == name)


def rule(told: dict[str, Any], work: str = "lift") -> dict[str, Any]:
    return next(one["rules"][0] for one in told["works"] if one["work"] == work)


def test_what_was_shipped_stands_beside_ones_own(store: Flask) -> None:
    shipped = tell_card("birch", None, YEAR)
    assert trait(shipped, "shade_weeks")["was"] is None
    kept(an_edit(9))
    kept(lifting(closes="03-20", why_closes="sap rises early here"), OTHER)
    told = tell_card("birch", None, YEAR)
    one = trait(told, "shade_weeks")
    # the card's own words: 4 weeks, by common practice
    assert (one["value"], one["was"]["value"], one["mine"]) == (9, 4, [EDIT])
    assert one["was"]["source"] == trait(shipped, "shade_weeks")["source"]
    lift = rule(told)
    assert lift["mine"] == [OTHER]
    assert lift["now"]["closes"] == {"on": "03-20", "moves": "later"}
    assert lift["was"]["closes"] == {"event": "bud_swell", "days": 7}
    assert lift["was"] == rule(shipped)["now"]
    assert [one["rule"] for one in windows_of(told, "lift")] == [1]
    assert told["edits"] == {
        EDIT: an_edit(9),
        OTHER: lifting(closes="03-20", why_closes="sap rises early here"),
    }
    assert trait(told, "moisture_1_5")["mine"] == []
    assert {one["part"] for one in told["events"] if one["was"]} == set()


def test_a_number_is_told_with_its_limits_and_words_with_those_of_other_cards(store: Flask) -> None:
    told = tell_card("birch", None, YEAR)
    assert trait(told, "moisture_1_5")["range"] == (1, 5)
    assert trait(told, "suckers_to_watch")["range"] is None
    assert "basal" in trait(told, "suckers_to_watch")["known"]


def test_an_edit_that_cannot_be_is_told_with_its_place_and_changes_nothing(store: Flask) -> None:
    kept(an_edit("long"))
    told = tell_card("birch", None, YEAR)
    assert trait(told, "shade_weeks")["mine"] == []
    (fault,) = told["trouble"]
    assert (fault["rec"], fault["part"], fault["field"]) == (EDIT, "traits.shade_weeks", "value")
    assert fault["message"] == "Give a number."
    assert tell_kinds()["trouble"] == told["trouble"]
    assert tell_card("oak", None, YEAR)["trouble"] == []


def test_a_card_of_ones_own_that_cannot_be_read_is_told_in_the_list(store: Flask) -> None:
    write_changes([("species_card", EDIT, {"kind": "wild-cherry", "name": "Gean", "card": {"windows": 3}})])
    (fault,) = tell_kinds()["trouble"]
    assert (fault["rec"], fault["kind"], fault["name"]) == (EDIT, "wild-cherry", "Gean")
    assert "wild-cherry" not in {one["kind"] for one in tell_kinds()["kinds"]}


def test_a_kind_that_stands_in_still_says_so_once_it_was_changed(store: Flask) -> None:
    kept(an_edit(9), kind="ash")
    assert tell_card("ash", None, YEAR)["stands_in"]
    assert {one["stands_in"] for one in tell_kinds()["kinds"] if one["kind"] == "ash"} == {True}


def test_an_edit_is_judged_before_it_is_saved_and_nothing_is_written(store: Flask) -> None:
    judged = judge_edit("birch", an_edit(9), None, YEAR)
    assert judged["fault"] is None
    assert trait(judged["told"], "shade_weeks")["value"] == 9
    assert trait(tell_card("birch", None, YEAR), "shade_weeks")["value"] == 4


@pytest.mark.parametrize(
    ("edit", "part", "field"),
    [
        (an_edit(9, " "), "traits.shade_weeks", "why"),
        (lifting(closes="02-30", why_closes="x"), "windows.lift.1", "closes"),
        (lifting(opens="06-10", closes="05-01", why_opens="x", why_closes="x"), "windows.lift.1", "closes"),
        ({"edit": {"events": {"flush_hardened": {"on": "07-20", "why": "x"}}}}, "windows.defoliate.1", "closes"),
    ],
)
def test_nonsense_is_judged_so_with_its_field(store: Flask, edit: dict[str, Any], part: str, field: str) -> None:
    judged = judge_edit("birch", edit, None, YEAR)
    assert (judged["fault"]["part"], judged["fault"]["field"], judged["told"]) == (part, field, None)
    assert judged["fault"]["message"].endswith(".")


def test_an_edit_is_judged_in_the_place_of_the_one_before(store: Flask) -> None:
    kept(an_edit("long"), edit_id("birch", "traits.shade_weeks"))
    kept(an_edit(7))
    assert trait(judge_edit("birch", an_edit(9), None, YEAR)["told"], "shade_weeks")["value"] == 9


def test_an_edit_that_would_cost_another_one_is_refused_at_that_one(store: Flask) -> None:
    kept(an_edit(20, trait="wire_weeks_max"), edit_id("birch", "traits.wire_weeks_max"))
    kept(an_edit(15, trait="wire_weeks_min"), edit_id("birch", "traits.wire_weeks_min"))
    assert tell_card("birch", None, YEAR)["trouble"] == []
    judged = judge_edit("birch", an_edit(12, trait="wire_weeks_max"), None, YEAR)
    assert "lies over the most" in judged["fault"]["message"]


@pytest.mark.parametrize("edit", [None, 3, {}, {"edit": {}}, {"edit": {"traits": {"a": {}, "b": {}}}}])
def test_what_is_not_one_change_is_refused(store: Flask, edit: Any) -> None:
    with pytest.raises(BadInput):
        judge_edit("birch", edit, None, YEAR)


def test_a_copy_is_judged_and_makes_the_new_kind_once_saved(store: Flask) -> None:
    taken = judge_copy("birch", "oak", "Yard birch", "Betula ‘Yard’")
    assert (taken["fault"]["field"], taken["fields"]) == ("kind", None)
    made = judge_copy("birch", "yard-birch", "Yard birch", "Betula ‘Yard’")
    assert made["fault"] is None
    assert "yard-birch" not in {one["kind"] for one in tell_kinds()["kinds"]}
    write_changes([("species_card", EDIT, made["fields"])])
    kept(an_edit(9), OTHER, kind="yard-birch")
    told = tell_card("yard-birch", None, YEAR)
    assert (told["made"], told["whole"], trait(told, "shade_weeks")["was"]["value"]) == (True, [EDIT], 4)
    assert {one["made"] for one in tell_kinds()["kinds"] if one["kind"] == "yard-birch"} == {True}
    assert not tell_card("birch", None, YEAR)["own"]


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": None, "card": {"windows": 3}},
        {"kind": "birch", "card": ["rubbish"]},
        {"kind": "birch", "card": 3},
        {"kind": None, "card": "words"},
        {"kind": "triffid", "card": {"edit": 3}},
        {"kind": "", "card": {}},
    ],
)
def test_whatever_a_record_holds_the_cards_are_told_and_it_can_be_found_and_removed(
    store: Flask, fields: dict[str, Any]
) -> None:
    write_changes([("species_card", EDIT, fields)])
    assert [one["rec"] for one in tell_kinds()["trouble"]] == [EDIT]
    assert tell_card("birch", None, YEAR)["name"] == "birch"


def test_another_year_is_told_by_its_own_days(store: Flask) -> None:
    one, next_ = tell_card("birch", None, YEAR), tell_card("birch", None, YEAR + 1)
    assert {window["opens"][:4] for window in windows_of(one, "trim")} == {"2027"}
    assert {window["opens"][:4] for window in windows_of(next_, "trim")} == {"2028"}
    assert all(event["on"].startswith("2028") for event in next_["events"])
