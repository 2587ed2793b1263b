"""The phone makes the rounds that the core makes, of the same random tasks and ticks."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import random
from typing import Any

import pytest
from playwright.sync_api import Page

from field.core.rounds import gather_rounds, round_name

pytestmark = pytest.mark.browser


def a_case(pick: random.Random) -> dict[str, Any]:
    def day(least: int, most: int) -> str:
        return (dt.date(2026, 6, 10) + dt.timedelta(days=pick.randrange(least, most))).isoformat()

    tasks = []
    for n in range(pick.randrange(9)):
        first, lapses_on = day(-4, 4), pick.choice([None, day(-4, 9)])
        last = max(first, day(-4, 6))
        task = {"id": f"t{pick.randrange(99)}:{n}", "rec": f"r{n}", "from": first, "by": last, "lapses_on": lapses_on}
        task |= {"tree": pick.choice(["t", "u", "v", None]), "site": pick.choice(["s", "S", None])}
        tasks.append(task | pick.choice([{}, {"round": "water"}, {"round": "wire"}, {"round": "water"}]))
    states = {
        str(task["rec"]): {
            "state": pick.choice(["done", "skipped", None]),
            "settled_on": pick.choice([None, day(-4, 4)]),
        }
        for task in tasks
        if pick.random() < 0.5
    }
    return {"tasks": tasks, "states": states, "today": pick.choice(["2026-06-10", "2026-06-10", None])}


def test_every_round_is_the_same_on_the_phone(blank: Page) -> None:
    pick = random.Random(20261127)
    cases = [a_case(pick) for _ in range(400)]
    got = blank.evaluate(
        """async (cases) => {
          const { gatherRounds } = await import('/static/js/core/rounds.js');
          return cases.map(({ tasks, states, today }) => gatherRounds(tasks, new Map(Object.entries(states)), today));
        }""",
        cases,
    )
    sizes = set()
    for case, mine in zip(cases, got, strict=True):
        rounds, single = gather_rounds(**case)
        expected = json.loads(json.dumps({"rounds": [dataclasses.asdict(one) for one in rounds], "single": single}))
        assert mine == expected, case
        sizes |= {len(one.tasks) for one in rounds}
    assert {1, 2, 3} <= sizes


def test_a_round_is_called_the_same_on_the_phone(blank: Page) -> None:
    kinds = ["water", "wire", "look", "mist", "frost", "sucker", "hard-prune"]
    got = blank.evaluate(
        "async (kinds) => kinds.map((await import('/static/js/core/rounds.js')).roundName)",
        kinds,
    )
    assert got == [round_name(kind) for kind in kinds]


def test_on_due_every_task_that_stands_is_told_once_in_a_round_or_alone_whatever_was_just_ticked(blank: Page) -> None:
    pick = random.Random(20261128)
    cases = [{**a_case(pick), "today": "2026-06-10"} for _ in range(1200)]
    for case in cases:
        case["stay"] = pick.sample(sorted(case["states"]), len(case["states"]) // 2)
    got = blank.evaluate(
        """async (cases) => {
          const { withRounds } = await import('/static/js/hill/rounds.js');
          return cases.map(({ tasks, states, today, stay }) => {
            const found = withRounds(tasks, new Map(Object.entries(states)), today, { stay: new Set(stay) });
            return found.tasks.map((one) => [one.from, one.by, (one.parts ?? [one]).map(({ rec }) => rec)]);
          });
        }""",
        cases,
    )
    walked = 0
    for case, told in zip(cases, got, strict=True):
        shut = {rec for rec, state in case["states"].items() if state["state"] and rec not in case["stay"]}
        stands = [
            task["rec"]
            for task in case["tasks"]
            if task["rec"] in shut or task["lapses_on"] is None or task["lapses_on"] >= case["today"]
        ]
        assert sorted(rec for _, _, recs in told for rec in recs) == sorted(stands)
        for first, last, recs in told:
            assert first <= last
            walked += len(recs) > 1
            is_late = last < case["today"] and not set(recs) <= shut
            assert not is_late or len(recs) == 1, "a round is never late: what is late is walked in today's"
    assert walked > 30
