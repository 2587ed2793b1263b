"""Whoever forgets first, and in whatever order changes come: what is left is the same everywhere."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from builders import a_change
from hypothesis import given
from hypothesis import strategies as st

from field.sync.blank import forget, read_blanks, same_change
from field.sync.merge import Entry, merge_record

CASES = json.loads((Path(__file__).parent.parent / "vectors" / "blank.json").read_text(encoding="utf-8"))["forget"]
REC, OTHER = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d", "1c1e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
FIELDS = ("name", "phone", "note", "role")
a_field = st.sampled_from(FIELDS)
told = st.lists(st.dictionaries(st.sampled_from((REC, OTHER)), st.lists(a_field, max_size=3)), max_size=3)
sets = st.dictionaries(a_field, st.sampled_from(("N", "M", "", 0, False, None)), min_size=1)


def ops_of(values: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Changes of one record by one device, each of which has seen the ones before."""
    ops: list[dict[str, Any]] = []
    for seq, set_ in enumerate(values, 1):
        base = {name: [op["hlc"] for op in ops if name in op["set"]][-1:] for name in set_}
        ops.append(a_change(set_, type="landholder", rec=REC, seq=seq, base=base))
    return ops


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_case_worked_by_hand(case: dict[str, Any]) -> None:
    assert forget(case["op"], read_blanks(case["blanks"])) == case["left"]


@given(sets, told, told)
def test_one_after_the_other_is_both_at_once_in_either_order(set_: dict[str, Any], one: Any, other: Any) -> None:
    [op] = ops_of([set_])
    both = forget(op, read_blanks([*one, *other]))
    assert forget(forget(op, read_blanks(one)), read_blanks(other)) == both
    assert forget(forget(op, read_blanks(other)), read_blanks(one)) == both
    assert forget(both, read_blanks([*other, *one])) == both
    assert same_change(op, both)


@given(st.lists(sets, min_size=1, max_size=4), told, st.randoms(use_true_random=False))
def test_forgetting_before_or_after_merging_leaves_one_record(values: Any, gone: Any, order: Any) -> None:
    ops, blanks = ops_of(values), read_blanks(gone)
    late = [forget(op, blanks) for op in ops]
    order.shuffle(late)
    whole = merge_record([Entry(op) for op in ops])
    left = merge_record([Entry(op) for op in [*late, *late]])
    assert whole is not None
    assert left is not None
    assert (left["stamps"], left["deleted"]) == (whole["stamps"], whole["deleted"])
    expected = {name: None if name in blanks.get(REC, ()) else value for name, value in whole["fields"].items()}
    assert left["fields"] == expected
