"""Merging: the hand-worked cases, and that neither order nor duplicates can matter."""

from __future__ import annotations

import json
import random
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.sync.hlc import Clock, write_stamp
from field.sync.merge import Entry, base_for, merge_record, value_text

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "merge.json").read_text(encoding="utf-8"))


def entries(case: dict) -> list[Entry]:
    return [Entry(change["op"], change["suspect"]) for change in case["input"]]


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["name"])
def test_case_worked_by_hand(case: dict) -> None:
    assert merge_record(entries(case)) == case["expect"]


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["name"])
def test_every_order_and_a_second_delivery_give_the_same(case: dict) -> None:
    given_ones = entries(case)
    for order in permutations(given_ones):
        assert merge_record([*order, *order[:2]]) == case["expect"]


def test_one_and_one_point_nought_are_one_value() -> None:
    assert value_text({"b": 1.0, "a": [2.0]}) == value_text({"a": [2], "b": 1})


def test_half_is_not_rounded() -> None:
    assert value_text(0.5) != value_text(0)


@st.composite
def histories(draw: st.DrawFn) -> list[Entry]:
    """Changes of one record as three devices make them, each seeing what it happened to have."""
    known: list[list[Entry]] = [[], [], []]
    everything: list[Entry] = []
    seqs = [0, 0, 0]
    for step in range(draw(st.integers(1, 12))):
        who = draw(st.integers(0, 2))
        if draw(st.booleans()):  # hears of some of what is about
            known[who] += [entry for entry in everything if draw(st.booleans()) and entry not in known[who]]
        values = draw(
            st.sampled_from(
                [{"tag": "x"}, {"tag": "y"}, {"note": None}, {"note": step}, {"deleted": True}, {"deleted": False}]
            )
        )
        seqs[who] += 1
        ms = draw(st.integers(1, 20))
        dev = "abc"[who]
        op = {
            "dev": dev,
            "seq": seqs[who],
            "hlc": write_stamp(Clock(ms, seqs[who]), dev),
            "wall": None,
            "rec": "r1",
            "type": "tree",
            "set": values,
            "base": base_for(merge_record(known[who]), values),
            "v": 1,
        }
        entry = Entry(op, draw(st.booleans()))
        known[who].append(entry)
        everything.append(entry)
    return everything


@given(histories(), st.randoms(use_true_random=False))
def test_order_and_duplicates_never_matter(history: list[Entry], chance: random.Random) -> None:
    shuffled = [*history, *chance.choices(history, k=3)]
    chance.shuffle(shuffled)
    assert merge_record(shuffled) == merge_record(history)


@given(histories())
def test_an_edit_that_saw_everything_settles_it(history: list[Entry]) -> None:
    before = merge_record(history)
    assert before is not None
    values = {name: "settled" for name in before["conflicts"] if name != "deleted"} or {"tag": "settled"}
    if "deleted" in before["conflicts"]:
        values = {"deleted": True}
    op = {"dev": "d", "seq": 1, "hlc": write_stamp(Clock(0, 0), "d"), "wall": None, "rec": "r1", "type": "tree"}
    last = Entry({**op, "set": values, "base": base_for(before, values), "v": 1}, suspect=True)
    after = merge_record([*history, last])
    assert after is not None
    shown = {**after["fields"], "deleted": after["deleted"]}
    assert {name: shown[name] for name in values} == values
    assert not set(values) & set(after["conflicts"])


@given(histories())
def test_no_value_falls_out_of_sight(history: list[Entry]) -> None:
    merged = merge_record(history)
    assert merged is not None
    replaced = {(name, stamp) for entry in history for name, stamps in entry.op["base"].items() for stamp in stamps}
    for entry in history:
        for name, value in entry.op["set"].items():
            if (name, entry.op["hlc"]) not in replaced:
                assert entry.op["hlc"] in merged["stamps"][name]
                shown = merged["deleted"] if name == "deleted" else merged["fields"][name]
                told = [one["value"] for one in merged["conflicts"].get(name, [])]
                assert value in (shown, *told)
