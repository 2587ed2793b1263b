"""Leave slips: compiled from records, the same in any order."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from field.core.leave import compile_slips
from field.core.may_dig import may_dig

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
CASES = json.loads((VECTORS / "slips.json").read_text(encoding="utf-8"))["cases"]
HERE = {"here": {"lat": 55.401, "lon": -3.394, "accuracy_m": 5}, "on": "2027-02-14", "synced_days_ago": 0}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_slips_are_compiled(case: dict) -> None:
    assert compile_slips(**case["input"]) == case["expect"]


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_the_records_does_not_matter(seed: int) -> None:
    given = dict(CASES[1]["input"])
    for name in ("consents", "leaves", "lifts", "landholders"):
        given[name] = random.Random(seed).sample(given[name], len(given[name]))
    assert compile_slips(**given) == CASES[1]["expect"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_whatever_is_compiled_can_be_asked(case: dict) -> None:
    slips = compile_slips(**case["input"])
    assert may_dig({**HERE, **slips})["answer"] in ("ask", "no")


def test_records_are_not_changed() -> None:
    before = json.dumps(CASES[1]["input"])
    compile_slips(**CASES[1]["input"])
    assert json.dumps(CASES[1]["input"]) == before


def test_one_lift_more_uses_up_the_leave() -> None:
    given = dict(CASES[1]["input"])
    given["leaves"] = [leave for leave in given["leaves"] if leave["id"] == "l2"]
    given["consents"] = []
    question = {**HERE, "species": "birch", "girth_mm": 250, "machine": False, "depth_mm": 250, "paired_phones": 1}
    more = [{"id": f"y{i}", "leave": "l2"} for i in range(2)]
    assert may_dig({**question, **compile_slips(**{**given, "lifts": [*given["lifts"], more[0]]})})["answer"] == "yes"
    told = may_dig({**question, **compile_slips(**{**given, "lifts": [*given["lifts"], *more]})})
    assert [reason["code"] for reason in told["reasons"]] == ["used-up"]
