"""What must hold of every round, whatever the history, the ticks, and the order in which phones met."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from builders import OTHER_PHONE, PHONE, WALL_MS, a_change
from care_kit import CARDS, REFERENCE
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.rounds import gather_rounds
from field.core.tasks import due, plan_tasks
from field.sync.merge import Entry, base_for, merge_record

Task = dict[str, Any]
WATERINGS = ("water-daily", "water-rest", "water-weekly", "water-winter")
KINDS = ["birch", "hawthorn", "scots-pine", None]


def a_random_garden(pick: random.Random, today: dt.date) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Return invented trees, each with its history."""

    def day(back: int) -> str:
        return (today - dt.timedelta(days=pick.randrange(back))).isoformat()

    garden = []
    for n in range(pick.randrange(1, 5)):
        tree = {"id": f"t{n}", "species": pick.choice(KINDS), "site": pick.choice(["s", "r", None]), "origin": "lifted"}
        history = {
            "lifts": [{"id": f"l{n}", "tree": f"t{n}", "lifted_on": day(500)}],
            "works": [{"id": f"w{n}", "tree": f"t{n}", "kind": pick.choice(["wire", "repot"]), "done_on": day(200)}],
            "events": [
                {
                    "id": f"e{n}",
                    "tree": f"t{n}",
                    "kind": pick.choice(["bud_break", "leaf_fall"]),
                    "happened_on": day(300),
                }
            ],
            "boxes": [],
        }
        garden.append((tree, history))
    return garden


def plan_garden(garden: list[Any], today: dt.date, states: list[dict[str, Any]]) -> list[Task]:
    return [
        task
        for tree, history in garden
        for task in plan_tasks(tree, {**history, "states": states}, CARDS, today, REFERENCE, 20)
    ]


def random_ticks(pick: random.Random, tasks: list[Task], today: dt.date) -> list[dict[str, Any]]:
    """Return changes of two phones that tick, pass over and open again; each has seen some of the other's."""
    made: dict[str, list[dict[str, Any]]] = {}
    changes = []
    for seq in range(1, pick.randrange(2, 25)):
        task = pick.choice(tasks)
        seen = [Entry(op) for op in made.get(task["rec"], []) if pick.random() < 0.7]
        state = pick.choice(["done", "done", "skipped", None])
        on = None if state is None else (today - dt.timedelta(days=pick.randrange(3))).isoformat()
        values = {"task": task["id"], "tree": task["tree"], "state": state, "settled_on": on}
        base = base_for(merge_record(seen), values)
        dev = pick.choice([PHONE, OTHER_PHONE])
        op = a_change(values, type="task_state", rec=task["rec"], dev=dev, seq=seq, ms=WALL_MS + seq, base=base)
        made.setdefault(task["rec"], []).append(op)
        changes.append(op)
    return changes


def merged(changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the records that a phone has which got these changes, in this order."""
    by_rec: dict[str, list[Entry]] = {}
    for op in changes:
        by_rec.setdefault(op["rec"], []).append(Entry(op))
    found = (merge_record(some) for some in by_rec.values())
    return [{"id": one["id"], **one["fields"]} for one in found if one is not None]


def told(tasks: list[Task], states: list[dict[str, Any]], today: dt.date) -> dict[str, list[str]]:
    """Return the ids of the tasks in each round; '' for those that stand alone."""
    rounds, single = gather_rounds(tasks, {one["id"]: one for one in states}, today.isoformat())
    assert len({one.id for one in rounds}) == len(rounds)
    for one in rounds:
        assert {(task["site"], task["round"]) for task in one.tasks} == {(one.site, one.kind)}
        assert one.id == f"round:{one.site or '-'}:{one.kind}:{one.day_on}"
    return {
        **{one.id: [str(task["id"]) for task in one.tasks] for one in rounds},
        "": [str(task["id"]) for task in single],
    }


def walked(states: list[dict[str, Any]]) -> set[str]:
    """Return the ticked waterings of a lift. A ticked repotting or wiring may end its own row of tasks: not these."""
    return {str(one["task"]) for one in states if one["state"] and str(one["task"]).split(":")[-2] in WATERINGS}


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000), today=st.dates(dt.date(2024, 1, 1), dt.date(2028, 1, 1)))
def test_rounds_and_single_tasks_are_all_open_tasks_once_in_any_order_of_sync_and_no_tick_is_lost(
    seed: int, today: dt.date
) -> None:
    pick = random.Random(seed)
    garden = a_random_garden(pick, today)
    changes = random_ticks(pick, plan_garden(garden, today, []), today)
    states = merged(changes)
    shuffled = pick.sample([*changes, *changes[:5]], len(changes) + len(changes[:5]))
    tasks = plan_garden(garden, today, states)
    rounds = told(tasks, states, today)
    assert rounds == told(plan_garden(garden, today, merged(shuffled)), merged(shuffled), today)
    assert rounds.keys() == told(tasks[::-1], states, today).keys()
    listed = [task for some in rounds.values() for task in some]
    settled = {str(one["task"]) for one in states if one["state"]}
    assert len(listed) == len(set(listed))
    assert set(listed) - settled == {str(task["id"]) for task in due(tasks, states, today, 4000)}
    assert walked(states) <= set(listed)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000), today=st.dates(dt.date(2024, 1, 1), dt.date(2028, 1, 1)), later=st.integers(0, 40))
def test_what_was_walked_is_never_asked_again_when_days_pass_and_events_re_date_the_plan(
    seed: int, today: dt.date, later: int
) -> None:
    pick = random.Random(seed)
    garden = a_random_garden(pick, today)
    states = merged(random_ticks(pick, plan_garden(garden, today, []), today))
    day = today + dt.timedelta(days=later)
    for tree, history in garden:
        event = {"id": "late", "tree": tree["id"], "kind": "bud_swell", "happened_on": today.isoformat()}
        history["events"].append(event)
    tasks = plan_garden(garden, day, states)
    rounds = told(tasks, states, day)
    listed = [task for some in rounds.values() for task in some]
    settled = {str(one["task"]) for one in states if one["state"]}
    assert len(listed) == len(set(listed))
    assert walked(states) <= set(listed)
    assert set(listed) - settled == {str(task["id"]) for task in due(tasks, states, day, 4000)}


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000), today=st.dates(dt.date(2024, 1, 1), dt.date(2028, 1, 1)))
def test_on_no_day_is_a_tree_asked_twice_for_one_step_and_rounds_of_days_past_are_only_of_what_was_walked(
    seed: int, today: dt.date
) -> None:
    pick = random.Random(seed)
    garden = a_random_garden(pick, today)
    states = merged(random_ticks(pick, plan_garden(garden, today, []), today))
    settled = {one["id"] for one in states if one["state"]}
    rounds, _ = gather_rounds(plan_garden(garden, today, states), {one["id"]: one for one in states}, today.isoformat())
    for one in rounds:
        steps = [str(task["id"]).rpartition(":")[0] for task in one.tasks if task["rec"] not in settled]
        assert len(steps) == len(set(steps))
        assert one.day_on >= today.isoformat() or steps == []
