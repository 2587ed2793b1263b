"""What must hold of every plan, whatever the history."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from care_kit import CARDS, REFERENCE, T, a_tree
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.card import EVENT_WORDS, TASK_WORKS
from field.core.tasks import due, plan_tasks, task_record_id


def a_random_history(seed: int) -> dict[str, Any]:
    """Return an invented history: the same seed, the same history."""
    pick = random.Random(seed)

    def day() -> str:
        return (dt.date(2024, 1, 1) + dt.timedelta(days=pick.randrange(1300))).isoformat()

    return {
        "lifts": [
            {"id": f"l{n}", "lifted_on": day(), "deleted": pick.random() < 0.2} for n in range(pick.randrange(4))
        ],
        "events": [
            {"id": f"e{n}", "tree": T, "kind": pick.choice(list(EVENT_WORDS)), "happened_on": day()}
            for n in range(pick.randrange(8))
        ],
        "works": [
            {"id": f"w{n}", "kind": pick.choice(["repot", "wire", "unwire", "trim", "hard-prune"]), "done_on": day()}
            for n in range(pick.randrange(5))
        ],
        "boxes": [{"id": f"b{n}", "boxed_on": day()} for n in range(pick.randrange(3))],
    }


TODAYS = st.dates(dt.date(2024, 1, 1), dt.date(2029, 1, 1))
KINDS = st.sampled_from(["birch", "hawthorn", "default", "oak", None])
PLACES = st.sampled_from([None, REFERENCE, {"lat": 55.4, "height_m": 320.0}, {"lat": -43.0, "height_m": 50.0}])


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, kind=KINDS, place=PLACES)
def test_plan_is_the_same_whatever_the_order_of_the_history(
    seed: int, today: dt.date, kind: str | None, place: dict[str, float] | None
) -> None:
    history = a_random_history(seed)
    shuffled = {name: random.Random(seed + 1).sample(records, len(records)) for name, records in history.items()}
    tree = a_tree(species=kind)
    assert plan_tasks(tree, history, CARDS, today, place) == plan_tasks(tree, shuffled, CARDS, today, place)


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, kind=KINDS, place=PLACES)
def test_every_task_is_whole_and_ids_are_unique(
    seed: int, today: dt.date, kind: str | None, place: dict[str, float] | None
) -> None:
    found = plan_tasks(a_tree(species=kind), a_random_history(seed), CARDS, today, place)
    assert len({task["id"] for task in found}) == len(found)
    for task in found:
        assert str(task["from"]) <= str(task["by"]), task["id"]
        assert task["moved_from"] is None or str(task["moved_from"]) < str(task["from"])
        assert str(task["id"]).startswith(f"{T}:{kind or 'default'}:")
        assert task["lapses_on"] is None or max(str(task["by"]), today.isoformat()) <= str(task["lapses_on"])
        assert task["rec"] == task_record_id(str(task["id"]))
        assert task["work"] in TASK_WORKS
        assert "{" not in f"{task['text']}{task['why']}"


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, event=st.sampled_from(list(EVENT_WORDS)), days=st.integers(0, 400))
def test_settled_tasks_keep_their_ids_when_an_event_is_noted_later(
    seed: int, today: dt.date, event: str, days: int
) -> None:
    history = a_random_history(seed)
    before = plan_tasks(a_tree(), history, CARDS, today, REFERENCE)
    settled = random.Random(seed).sample(before, len(before) // 2)
    states = [
        {"id": f"s{n}", "task": task["id"], "state": "skipped", "settled_on": today.isoformat()}
        for n, task in enumerate(settled)
    ]
    noted = {"id": "late", "tree": T, "kind": event, "happened_on": (today - dt.timedelta(days=days)).isoformat()}
    later = {**history, "events": [*history["events"], noted], "states": states}
    after = plan_tasks(a_tree(), later, CARDS, today, REFERENCE)
    assert {task["id"] for task in settled} <= {task["id"] for task in after}
    assert {task["id"] for task in settled}.isdisjoint(task["id"] for task in due(after, states, today, 800))
