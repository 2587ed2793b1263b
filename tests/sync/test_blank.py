"""A change with values left out: what it still tells, and when two copies are the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from builders import a_change
from hypothesis import given
from hypothesis import strategies as st

from field.sync.blank import BLANKED, WITHHELD, blank, is_withheld, same_change
from field.sync.merge import Entry, merge_record

CASES = json.loads((Path(__file__).parent.parent / "vectors" / "blank.json").read_text(encoding="utf-8"))["same"]
FIELDS = ("tag", "note", "girth_mm", "site")


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_case_worked_by_hand(case: dict[str, Any]) -> None:
    assert same_change(case["one"], case["other"]) is case["same"]
    assert same_change(case["other"], case["one"]) is case["same"]


def test_the_frame_and_the_names_of_the_fields_stay() -> None:
    op = a_change({"tag": "B1", "note": "in the fork"})
    part = blank(op, ["note"], WITHHELD)
    assert part == {**op, "set": {"tag": "B1", "note": None}, BLANKED: {"fields": ["note"], "why": WITHHELD}}
    assert is_withheld(part)
    assert not is_withheld(op)


def test_what_is_no_change_at_all_is_told_by_its_name_only() -> None:
    assert blank({"dev": "a", "seq": 1, "set": 5, "note": "x"}, ["note"], WITHHELD) == {
        "dev": "a", "seq": 1, BLANKED: {"fields": [], "why": WITHHELD},
    }  # fmt: skip


@given(st.sets(st.sampled_from(FIELDS)), st.sets(st.sampled_from(FIELDS)))
def test_leaving_out_in_two_steps_is_leaving_out_at_once(first: set[str], second: set[str]) -> None:
    op = a_change(dict.fromkeys(FIELDS, 1))
    assert blank(blank(op, first, WITHHELD), second, WITHHELD) == blank(op, first | second, WITHHELD)
    assert same_change(blank(op, first, WITHHELD), blank(op, second, WITHHELD))


@given(st.permutations(range(4)), st.sets(st.integers(0, 3)))
def test_records_merge_in_any_order_and_stand_on_the_same_stamps(order: list[int], part: set[int]) -> None:
    rec = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
    ops = [a_change({"note": f"n{seq}", "tag": "B1"}, rec=rec, seq=seq + 1) for seq in range(4)]
    told = [blank(op, ["note"], WITHHELD) if seq in part else op for seq, op in enumerate(ops)]
    whole = merge_record([Entry(op) for op in ops])
    some = merge_record([Entry(told[seq]) for seq in order])
    assert whole is not None
    assert some is not None
    assert some["stamps"] == whole["stamps"]
    assert some["fields"]["tag"] == "B1"
