"""The rule of May I dig here? on every case, and what must hold for any case."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from may_i_cases import ALL, FIRST, MORE, changed

from field.core.errors import BadInput
from field.core.may_dig import RULE, may_dig
from field.core.reasons import CAUTION, REASONS
from field.services import answer_may_i


def codes(told: Mapping, weight: str) -> set[str]:
    return {reason["code"] for reason in told["reasons"] if reason["weight"] == weight}


@pytest.mark.parametrize(("case", "expect"), [row[1:] for row in ALL], ids=[row[0] for row in ALL])
def test_case(case: dict, expect: dict) -> None:
    told = may_dig(case)
    assert told["answer"] == expect["answer"], told
    assert codes(told, told["answer"]) == set(expect["codes"])
    if "beside" in expect:
        assert {r["code"] for r in told["reasons"] if r["weight"] != told["answer"]} == set(expect["beside"])
    if "keep" in expect:
        assert told["keep"] == expect["keep"]
    if "times" in expect:
        assert len(told["reasons"]) == expect["times"]


def test_there_are_all_the_cases() -> None:
    assert len(FIRST["cases"]) == 39


@pytest.mark.parametrize("bad", MORE["bad"], ids=lambda bad: bad["name"])
def test_nonsense_is_refused_with_its_place(bad: dict) -> None:
    with pytest.raises(BadInput) as refused:
        may_dig(changed(MORE["base"], bad["change"]))
    assert refused.value.where == bad["where"]
    assert refused.value.message.endswith(".")
    assert refused.value.message[0].isupper()


@pytest.mark.parametrize(("path", "value"), [("here.accuracy_m", float("nan")), ("here.accuracy_m", float("inf"))])
@pytest.mark.parametrize("sign", [1, -1])
def test_numbers_that_are_none_are_refused(path: str, value: float, sign: int) -> None:
    with pytest.raises(BadInput) as refused:
        may_dig(changed(MORE["base"], {path: sign * value}))
    assert refused.value.where == path


@pytest.mark.parametrize("path", ["here.lat", "here.lon", "girth_mm", "depth_mm", "synced_days_ago"])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), 10**400])
def test_a_number_beyond_all_numbers_is_refused(path: str, value: float) -> None:
    with pytest.raises(BadInput) as refused:
        may_dig(changed(MORE["base"], {path: value}))
    assert refused.value.where == path


@pytest.mark.parametrize("case", [None, [], "here", 3])
def test_what_is_no_case_is_refused(case: object) -> None:
    with pytest.raises(BadInput) as refused:
        may_dig(case)
    assert refused.value.where == "case"


def test_the_caution_stands_beside_every_answer() -> None:
    for _, case, _ in ALL:
        assert str(may_dig(case)["caution"]).startswith(CAUTION)


def test_the_caution_names_the_depth_where_none_is_told() -> None:
    assert "30 cm" in str(may_dig(changed(MORE["base"], {"depth_mm": None}))["caution"])
    assert "30 cm" not in str(may_dig(MORE["base"])["caution"])
    checked = changed(MORE["base"], {"depth_mm": None, "site.services_checked": True})
    assert "30 cm" not in str(may_dig(checked)["caution"])


def test_the_leave_that_gives_the_answer_is_named() -> None:
    leaf = MORE["base"]["leaves"][0]
    leaves = [{**leaf, "leave": "a", "ends_on": "2027-01-31"}, {**leaf, "leave": "b"}]
    assert may_dig(changed(MORE["base"], {"leaves": leaves}))["leave"] == "b"
    assert may_dig(changed(MORE["base"], {"leaves": leaves[:1]}))["leave"] is None


def test_every_answer_names_the_version_of_the_rule() -> None:
    assert {may_dig(case)["rule"] for _, case, _ in ALL} == {RULE}
    day, number = RULE.split(".")
    assert date.fromisoformat(day) >= date(2026, 11, 26)
    assert number.isdigit()


def test_a_consent_of_another_kind_goes_by_its_name() -> None:
    consent = {"kind": "other", "name": "common rights", "state": "held", "starts_on": "2027-03-01", "until": None}
    told = may_dig(changed(MORE["base"], {"site.consents": [consent]}))
    assert told["reasons"][0]["text"] == "A consent is not good before 1 March 2027: common rights."


def test_an_answer_about_the_ground_is_told_with_whom_to_ask_and_what_to_note() -> None:
    order = {"question": "Is it under an order?", "answer": "yes", "ask": "The tree officer", "consent": "tree order"}
    told = may_dig(changed(MORE["base"], {"site.checks": [order, {**order, "answer": "no", "consent": None}]}))
    assert [(reason["text"], reason["cure"]) for reason in told["reasons"]] == [
        (
            "You noted about this ground: Is it under an order? Yes.",
            "Ask the tree officer. Then note the consent: tree order.",
        ),
        (
            "You noted about this ground: Is it under an order? No.",
            "Ask the tree officer. When it is settled, answer the question anew.",
        ),
    ]


def test_every_row_of_words_is_told_by_some_case() -> None:
    told = {(r["weight"], r["code"], r["cure"]) for _, case, _ in ALL for r in may_dig(case)["reasons"]}
    for key, words in REASONS.items():
        filled = re.compile(re.sub(r"\\{\w+\\}", ".+", re.escape(words.cure)))
        assert any((words.weight, words.code) == one[:2] and filled.fullmatch(one[2]) for one in told), key


def test_no_blank_is_left_in_a_sentence() -> None:
    for _, case, _ in ALL:
        for reason in may_dig(case)["reasons"]:
            assert "{" not in reason["text"]
            assert "None" not in reason["text"]


def test_what_says_no_is_told_first() -> None:
    told = may_dig(changed(MORE["base"], {"leaves.0.form": "spoken", "leaves.0.ends_on": "2027-01-31"}))
    assert [reason["weight"] for reason in told["reasons"]] == ["no", "ask"]


def test_dates_and_numbers_are_told_in_words() -> None:
    told = may_dig(changed(MORE["base"], {"leaves.0.ends_on": "2027-01-31"}))
    assert told["reasons"][0]["text"] == "The leave ended on 31 January 2027."
    told = may_dig(changed(MORE["base"], {"leaves.0.species": ["Larch", "scots-pine", "rowan"]}))
    assert told["reasons"][0]["text"] == "The leave is for larch, scots pine and rowan. It does not name hawthorn."


def test_a_distance_that_nobody_walks_is_told_as_such() -> None:
    told = may_dig(changed(MORE["base"], {"here.lat": -33.0}))
    assert told["reasons"][0]["text"] == "You are outside the ground of the leave: more than 20 km from its boundary."


def test_a_piece_left_out_is_told_as_such() -> None:
    ring = [[-3.4, 55.4], [-3.39, 55.4], [-3.39, 55.405], [-3.4, 55.405], [-3.4, 55.4]]
    hole = [[-3.396, 55.402], [-3.394, 55.402], [-3.394, 55.403], [-3.396, 55.403], [-3.396, 55.402]]
    area = {"type": "Polygon", "coordinates": [ring, hole]}
    change = {"leaves.0.area": area, "here.lat": 55.4025, "here.lon": -3.395}
    told = may_dig(changed(MORE["base"], change))
    # By hand: half of 0.001 degrees of latitude, at 111.34 km a degree, is 55.7 m; east and west lie 63 m off.
    assert [reason["code"] for reason in told["reasons"]] == ["outside"]
    assert told["reasons"][0]["text"] == (
        "You are inside the piece left out of the ground of the leave: 56 m from its edge."
    )


def test_the_edge_says_both_numbers_of_a_position() -> None:
    # By hand: 0.00003 degrees of latitude are 3.3 m; 1.62 x 5 m are 8.1 m.
    change = {"here.lat": 55.40503, "here.lon": -3.395, "here.accuracy_m": 5}
    told = may_dig(changed(MORE["base"], change))
    assert told["reasons"][0]["text"] == (
        "You are close to the boundary: 3 m, on the outside. "
        "Your position is ± 5 m, so within 8 m nearly always: you may be on either side."
    )
    unknown = may_dig(changed(MORE["base"], {**change, "here.lat": 55.405, "here.accuracy_m": None}))
    edge = next(reason for reason in unknown["reasons"] if reason["code"] == "edge")
    assert edge["text"].endswith("Nobody knows how good your position is.")


@pytest.mark.parametrize(("girth", "words"), [(450, "45 cm"), (412, "41.2 cm"), (1005, "100.5 cm")])
def test_a_girth_is_told_in_cm_as_it_is_read_off_the_tape(girth: int, words: str) -> None:
    told = may_dig(changed(MORE["base"], {"girth_mm": girth, "leaves.0.max_girth_mm": 300}))
    assert told["reasons"][0]["text"] == f"The girth is {words}. The leave allows up to 30 cm."


def test_a_case_is_not_changed_by_asking() -> None:
    case = copy.deepcopy(MORE["base"])
    may_dig(case)
    assert case == MORE["base"]


# --- what must hold for any case ------------------------------------------------------------------------------------

RANK = {"yes": 0, "ask": 1, "no": 2}
TURNS = st.fixed_dictionaries(
    {},
    optional={
        "leaves.0.form": st.sampled_from(["signed", "spoken", None]),
        "leaves.0.entitled": st.sampled_from([True, False, None]),
        "leaves.0.ends_on": st.sampled_from(["2027-02-13", "2027-02-14", "2027-02-18", None]),
        "leaves.0.species": st.sampled_from([None, [], ["larch"], ["hawthorn"]]),
        "leaves.0.max_girth_mm": st.sampled_from([None, 239, 240]),
        "leaves.0.allowance": st.sampled_from([None, 0, 2, 3]),
        "here.accuracy_m": st.sampled_from([None, 0, 6, 101]),
        "here.lat": st.floats(55.399, 55.406),
        "girth_mm": st.sampled_from([None, 240]),
        "species": st.sampled_from([None, "hawthorn"]),
        "site.protected": st.sampled_from([True, False, None]),
        "depth_mm": st.sampled_from([None, 301]),
        "synced_days_ago": st.sampled_from([None, 0, 1, 15]),
        "paired_phones": st.sampled_from([None, 1, 2]),
    },
)


@settings(max_examples=150)
@given(TURNS)
def test_the_answer_is_what_its_reasons_say(change: dict) -> None:
    told = may_dig(changed(MORE["base"], change))
    weights = {reason["weight"] for reason in told["reasons"]}
    assert told["answer"] == ("no" if "no" in weights else "ask" if "ask" in weights else "yes")


@settings(max_examples=100)
@given(TURNS, st.sampled_from(["here.accuracy_m", "species", "girth_mm", "synced_days_ago", "site.protected"]))
def test_knowing_less_never_makes_a_yes(change: dict, path: str) -> None:
    known = may_dig(changed(MORE["base"], change))
    unknown = may_dig(changed(MORE["base"], {**change, path: None}))
    if unknown["answer"] == "yes":
        assert known["answer"] == "yes"
        # Only where it does not matter may a missing fact go unasked.
        assert path in ("species", "girth_mm")


@settings(max_examples=60)
@given(TURNS, TURNS)
def test_a_further_leave_never_makes_it_worse(one: dict, other: dict) -> None:
    first = changed(MORE["base"], one)
    second = changed(MORE["base"], other)["leaves"][0]
    both = {**first, "leaves": [*first["leaves"], second]}
    assert RANK[str(may_dig(both)["answer"])] <= RANK[str(may_dig(first)["answer"])]


# --- the command line -----------------------------------------------------------------------------------------------


def test_one_case_is_answered_in_the_told_shape() -> None:
    told, status = answer_may_i.answer(MORE["base"])
    assert status == 0
    assert list(told) == ["answer", "reasons", "keep", "caution"]


def test_a_file_of_cases_is_answered_by_name() -> None:
    told, status = answer_may_i.answer(FIRST)
    assert status == 0
    assert [case["name"] for case in told["cases"]] == [case["name"] for case in FIRST["cases"]]
    assert [case["answer"] for case in told["cases"]] == [case["expect"]["answer"] for case in FIRST["cases"]]


def test_a_bad_case_among_good_ones_is_told_and_the_others_answered() -> None:
    cases = [
        {"name": "good", "input": MORE["base"]},
        {"name": "bad", "input": changed(MORE["base"], {"here.lat": 91})},
        "no case",
    ]
    told, status = answer_may_i.answer({"cases": cases})
    assert status == 1
    assert told["cases"][0]["answer"] == "yes"
    assert told["cases"][1]["name"] == "bad"
    assert told["cases"][1]["error"]["where"] == "here.lat"
    assert told["cases"][2]["error"]["code"] == "bad-input"


def test_no_cases_are_no_fault() -> None:
    assert answer_may_i.answer({"cases": []}) == ({"cases": []}, 0)


@pytest.mark.parametrize("document", [None, [], "x", {"cases": {}}, {}, {"input": []}])
def test_a_file_that_holds_no_case_is_refused(document: object) -> None:
    with pytest.raises(BadInput):
        answer_may_i.answer(document)
