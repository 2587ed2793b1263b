"""What must hold of every plan of upkeep, whatever the records."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from upkeep_kit import HOLDER, OTHER_SITE, SITE, TERMS, Log


def a_random_log(seed: int) -> Log:
    """Return an invented log: the same seed, the same log."""
    pick, log = random.Random(seed), Log()

    def maybe_day() -> Any:
        return pick.choice([None, (dt.date(2026, 1, 1) + dt.timedelta(days=pick.randrange(700))).isoformat(), "soon"])

    for n in range(pick.randrange(6)):
        log.leaves.append(
            {"id": f"leave-{n}", "site": pick.choice([SITE, OTHER_SITE, None]), "landholder": HOLDER,
             "starts_on": maybe_day(), "ends_on": maybe_day(), "withdrawn_on": maybe_day(), "given_on": maybe_day(),
             "allowance": pick.choice([None, 0, 1, 2, 5, "many"]), "form": pick.choice([None, "signed", "spoken"]),
             "species": pick.choice([None, [], ["birch"], "birch", [3]]), "max_girth_mm": pick.choice([None, 300]),
             "conditions": pick.choice([None, TERMS, "none", [1]]), "renews": pick.choice([None, "leave-0", "leave-1"]),
             "deleted": pick.random() < 0.1}
        )  # fmt: skip
    for n in range(pick.randrange(9)):
        log.trees.append({"id": f"tree-{n}", "site": SITE, "tag": pick.choice([None, f"K{n}"]), "species": "larch"})
        log.lifts.append(
            {"id": f"lift-{n}", "tree": f"tree-{n}", "leave": pick.choice([None, "leave-0", "leave-1", "gone"]),
             "lifted_on": maybe_day(), "girth_mm": pick.choice([None, 310]), "kept_conditions": pick.choice([[], 7]),
             "answer": pick.choice([None, {}, {"verdict": {"leave": "leave-0", "keep": None}}])}
        )  # fmt: skip
    for n in range(pick.randrange(4)):
        log.consents.append(
            {"id": f"consent-{n}", "site": SITE, "kind": pick.choice([None, "monument", "other"]), "until": maybe_day(),
             "state": pick.choice([None, "held", "needed", "unknown"]), "name": pick.choice([None, "commoners"])}
        )  # fmt: skip
    return log


@settings(max_examples=200, deadline=None)
@given(seed=st.integers(0, 100_000), today=st.dates(dt.date(2026, 1, 1), dt.date(2028, 1, 1)))
def test_every_task_is_whole_unique_and_the_same_in_any_order(seed: int, today: dt.date) -> None:
    log = a_random_log(seed)
    tasks = log.plan(today.isoformat())
    assert len({task["id"] for task in tasks}) == len(tasks)
    for task in tasks:
        assert task["from"] <= task["by"]
        assert task["lapses_on"] is None or task["by"] <= task["lapses_on"] >= today.isoformat()
        assert task["id"].startswith(f"site:{SITE}:")
        assert "None" not in task["text"]
        assert "  " not in task["text"]
    for name, records in vars(log).items():
        setattr(log, name, random.Random(seed + 1).sample(records, len(records)))
    assert log.plan(today.isoformat()) == tasks
