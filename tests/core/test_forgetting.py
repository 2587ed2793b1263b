"""What names a landholder: what goes in any case, what is asked about, what is only found by the name."""

from __future__ import annotations

from typing import Any

from field.core.forgetting import (
    ASKED,
    CERTAIN,
    MORE_THAN_MAY_GO,
    WORDS,
    blanks_of,
    files_of,
    find_blanks_fault,
    plan_forgetting,
)
from field.core.records import RECORD_TYPES

KEPT: dict[str, list[dict[str, Any]]] = {
    "landholder": [
        {"id": "p", "name": "Isla Garrow", "phone": None, "role": "owner", "was": {"phone": ["01632 960 777", None]}},
        {"id": "q", "name": "Bo", "email": "bo@example.org"},
    ],
    "holding": [{"id": "h", "landholder": "p", "by_right": "tenancy"}, {"id": "i", "landholder": "q", "note": "x"}],
    "leave": [
        {"id": "l", "landholder": "p", "signed_by": "Isla Garrow", "paper": "aa"},
        {"id": "m", "landholder": "q"},
    ],
    "signing": [{"id": "s", "leave": "l", "name": "Isla", "paper": "bb", "signed_on": "2026-11-02"}],
    "paper": [{"id": "t", "leave": "l", "sha256": "cc", "added_on": "2026-11-03"}, {"id": "u", "leave": "m"}],
    "visit": [{"id": "v", "note": "ISLA GARROW showed the way"}, {"id": "w", "note": "Isla was out"}],
}


def the_plan() -> dict[str, Any]:
    plan = plan_forgetting("p", KEPT)
    assert plan is not None
    return plan


def test_only_what_is_theirs_goes_and_what_they_are_stays() -> None:
    certain = the_plan()["certain"]
    assert {(one["id"], *one["fields"]) for one in certain} == {
        ("p", "name", "phone"),
        ("h", "by_right"),
        ("l", "signed_by"),
    }


def test_what_proves_a_leave_is_asked_about_one_by_one_with_its_day() -> None:
    assert [(one["id"], one["fields"], one["on"]) for one in the_plan()["asked"]] == [
        ("l", ["paper"], None),
        ("t", ["sha256"], "2026-11-03"),
        ("s", ["name", "paper"], "2026-11-02"),
    ]


def test_other_words_are_found_by_the_whole_name_in_any_case_of_letters() -> None:
    assert [(one["id"], one["field"]) for one in the_plan()["found"]] == [("v", "note")]


def test_a_name_of_two_letters_is_looked_for_nowhere() -> None:
    plan = plan_forgetting("q", {**KEPT, "visit": [{"id": "v", "note": "a bog below the boulders"}]})
    assert plan is not None
    assert plan["found"] == []


def test_what_is_kept_stays_whole_and_nothing_goes_that_is_not_ticked() -> None:
    blanks = blanks_of(the_plan(), ["s", "l"], [])
    assert sorted(blanks) == ["h", "l", "p", "t"]
    assert "paper" not in blanks["l"]


def test_a_field_that_was_never_known_is_closed_too_for_what_comes_later() -> None:
    blanks = blanks_of(the_plan(), [], [])
    assert {"name", "phone", "email", "address", "note"} == set(blanks["p"])
    assert "withdrawn_how" in blanks["l"]


def test_what_is_ticked_goes_only_where_it_was_found() -> None:
    blanks = blanks_of(the_plan(), [], [("v", "note"), ("w", "note"), ("v", "site")])
    assert (blanks["v"], "w" in blanks) == (["note"], False)


def test_the_files_that_go_are_those_of_what_is_blanked() -> None:
    assert files_of(blanks_of(the_plan(), [], []), KEPT) == ["aa", "bb", "cc"]
    assert files_of(blanks_of(the_plan(), ["s", "l"], []), KEPT) == ["cc"]


def test_who_is_not_in_the_log_has_nothing_to_go() -> None:
    assert plan_forgetting("nobody", KEPT) is None


# Chosen out of a list, or made by the app: no person's own words. A new field of text goes here, or into the tables.
NO_ONES_WORDS = {
    "site": {"country"}, "landholder": {"role"}, "holding": {"role"}, "box": {"form"},
    "leave": {"by_role", "species", "methods", "form"},
    "consent": {"kind", "state"}, "paper": {"media_type"}, "signing": {"role"}, "ground_check": {"question", "answer"},
    "tree": {"species", "origin", "ended_as"}, "fix": {"source", "platform"}, "lift": {"roots_kept"},
    "photo": {"media_type", "taken_at_from", "placed_by", "shows", "trouble"}, "track": {"bounds", "line", "trouble"},
    "event": {"kind"}, "work": {"kind"}, "task_state": {"task", "state"}, "species_card": {"kind", "latin"},
    "forgetting": {"blanks", "keeps", "files", "note"}, "weather_day": {"how", "batch"},
}  # fmt: skip


def test_every_field_of_text_is_searched_for_names_or_known_to_hold_none() -> None:
    text = {
        kind: {name for name, what in fields.items() if what in ("text", "json")}
        for kind, fields in RECORD_TYPES.items()
    }
    searched = {kind: {name for table in (CERTAIN, ASKED, WORDS) for name in table.get(kind, ())} for kind in text}
    undecided = {kind: text[kind] - searched[kind] - NO_ONES_WORDS.get(kind, set()) for kind in text}
    assert {kind: names for kind, names in undecided.items() if names} == {}
    assert [kind for kind in text if searched[kind] & NO_ONES_WORDS.get(kind, set())] == []
    assert [(kind, name) for kind, names in searched.items() for name in names if name not in RECORD_TYPES[kind]] == []


def test_only_what_may_name_a_person_is_blanked() -> None:
    assert find_blanks_fault({"p": ["name", "sha256", "answer"], "q": []}) is None
    for field in ("ends_on", "boundary", "blanks", ""):
        assert find_blanks_fault({"p": ["name", field]}) == MORE_THAN_MAY_GO
    assert [find_blanks_fault(odd) for odd in (None, 5, ["x"], {"p": "ends_on"}, {"p": [1, None]})] == [None] * 5
