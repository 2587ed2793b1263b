"""The terms of a lift: which stood that day, which nobody ticked. The phone answers the same cases."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from field.core.lift_terms import is_hole_open, terms_not_ticked, terms_of_lift

VECTORS = Path(__file__).parent.parent / "vectors"
CASES = json.loads((VECTORS / "lift_terms.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_terms_of_a_lift_are_those_of_its_day(case: dict[str, Any]) -> None:
    args = case["lift"], case["leave_id"], case["leave"]
    assert terms_of_lift(*args) == case["terms"]
    assert terms_not_ticked(*args) == case["not_ticked"]
    assert is_hole_open(case["lift"]) is case["hole_open"]
