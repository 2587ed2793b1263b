"""What must hold of May I? for any question at all: made leaves, ground, positions, days, and what is not told."""

from __future__ import annotations

import copy
import random
from collections import Counter

import case_maker
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.may_dig import may_dig

RANK = {"yes": 0, "ask": 1, "no": 2}
CASES = st.integers(0, 2**32).map(lambda seed: case_maker.a_case(random.Random(seed)))
TURNS = st.integers(1, 7)


def areas_of(case: dict) -> list[dict]:
    return [area for area in (case["site"]["boundary"], *(leave["area"] for leave in case["leaves"])) if area]


def rings_of(area: dict) -> list:
    parts = [area["coordinates"]] if area["type"] == "Polygon" else area["coordinates"]
    return [ring for part in parts for ring in part]


def told_of(answer: dict) -> Counter:
    return Counter((reason["code"], reason["weight"]) for reason in answer["reasons"])


def test_made_questions_reach_every_answer_and_most_reasons() -> None:
    answers = [may_dig(case_maker.a_case(random.Random(seed))) for seed in range(1500)]
    assert {answer["answer"] for answer in answers} == {"yes", "ask", "no"}
    codes = {(reason["code"], reason["weight"]) for answer in answers for reason in answer["reasons"]}
    assert len(codes) == 25, codes  # all there are: 13 that say no, 12 that say ask


@settings(max_examples=150)
@given(CASES)
def test_the_answer_is_what_its_reasons_say(case: dict) -> None:
    told = may_dig(case)
    weights = {reason["weight"] for reason in told["reasons"]}
    assert told["answer"] == ("no" if "no" in weights else "ask" if "ask" in weights else "yes")
    assert (told["keep"], told["leave"]) == ([], None) or told["answer"] != "no"


@settings(max_examples=100)
@given(CASES, TURNS, st.booleans())
def test_where_rings_begin_and_how_they_run_changes_nothing(case: dict, turn: int, backwards: bool) -> None:
    turned = copy.deepcopy(case)
    for area in areas_of(turned):
        for ring in rings_of(area):
            middle = ring[:-1]
            middle = middle[turn % len(middle) :] + middle[: turn % len(middle)]
            # A ring that runs on past 180 has to be told from its own start again.
            if max(lon for lon, _ in ring) > 180 or min(lon for lon, _ in ring) < -180:
                continue
            ring[:] = [*middle[::-1], middle[-1]] if backwards else [*middle, middle[0]]
    assert may_dig(turned) == may_dig(case)


@settings(max_examples=100)
@given(CASES)
def test_a_longitude_told_a_whole_turn_on_is_the_same_place(case: dict) -> None:
    turned = copy.deepcopy(case)
    for area in areas_of(turned):
        for ring in rings_of(area):
            ring[:] = [[case_maker.wrapped(lon), lat] for lon, lat in ring]
    if turned["here"]["lon"] in (180, -180):
        turned["here"]["lon"] = -turned["here"]["lon"]
    one, two = may_dig(turned), may_dig(case)
    assert (one["answer"], told_of(one)) == (two["answer"], told_of(two))


@settings(max_examples=100)
@given(CASES, CASES)
def test_one_more_leave_never_makes_it_worse(case: dict, other: dict) -> None:
    both = {**case, "leaves": [*case["leaves"], *other["leaves"]]}
    assert RANK[may_dig(both)["answer"]] <= RANK[may_dig(case)["answer"]]


@settings(max_examples=100)
@given(CASES, st.randoms(use_true_random=False))
def test_the_order_of_leaves_and_consents_changes_no_answer(case: dict, rng: random.Random) -> None:
    mixed = copy.deepcopy(case)
    rng.shuffle(mixed["leaves"])
    rng.shuffle(mixed["site"]["consents"] or [])
    one, two = may_dig(mixed), may_dig(case)
    assert one["answer"] == two["answer"]
    if one["answer"] == "no":
        assert told_of(one) == told_of(two)
    else:
        assert len(one["reasons"]) == len(two["reasons"])  # of equals the first; never one with more questions


@settings(max_examples=150)
@given(CASES, st.floats(0, 1))
def test_a_better_position_keeps_every_yes_and_every_no(case: dict, share: float) -> None:
    accuracy_m = case["here"]["accuracy_m"]
    if accuracy_m is None:
        return
    better = {**case, "here": {**case["here"], "accuracy_m": accuracy_m * share}}
    before, after = may_dig(case), may_dig(better)
    if before["answer"] in ("yes", "no"):
        assert after["answer"] == before["answer"]


@settings(max_examples=150)
@given(CASES, st.sampled_from(["species", "girth_mm", "machine", "depth_mm", "synced_days_ago", "paired_phones"]))
def test_to_tell_less_never_forbids_more_and_seldom_allows(case: dict, name: str) -> None:
    known, less = may_dig(case), may_dig({**case, name: None})
    if less["answer"] == "yes" and known["answer"] != "yes":
        # Only a machine or a depth may be left unsaid, and then the caution or a term says so.
        assert name in ("machine", "depth_mm")
        assert "30 cm" in less["caution"] or any("no machine" in term for term in less["keep"])


@settings(max_examples=300)
@given(st.integers(0, 2**32))
def test_nonsense_gets_an_answer_or_one_sentence(seed: int) -> None:
    rng = random.Random(seed)
    case = case_maker.spoilt(rng, case_maker.a_case(rng))
    before = copy.deepcopy(case)
    refused = None
    try:
        assert may_dig(case)["answer"] in RANK
    except BadInput as fault:
        refused = fault
    assert refused is None or (refused.message.endswith(".") and "\n" not in refused.message and refused.where)
    assert case == before
