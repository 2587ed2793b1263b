"""Which tasks are due: what has begun, what is late, what is settled, and what has lapsed."""

from __future__ import annotations

import pytest
from care_kit import Task

from field.core.tasks import due


def a_task(name: str, starts_on: str, by_on: str) -> Task:
    return {"id": name, "from": starts_on, "by": by_on}


def test_due_reaches_to_the_last_day_asked_for() -> None:
    tasks = [a_task("a", "2026-03-16", "2026-03-20"), a_task("b", "2026-03-17", "2026-03-20")]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 7)] == ["a"]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 8)] == ["a", "b"]


def test_due_tells_overdue_tasks_first_and_counts_the_last_day_as_not_overdue() -> None:
    tasks = [
        a_task("today", "2026-03-01", "2026-03-09"),
        a_task("overdue", "2026-03-05", "2026-03-08"),
        a_task("older", "2026-03-05", "2026-03-07"),
        a_task("soon", "2026-03-10", "2026-03-12"),
    ]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 3)] == ["older", "overdue", "today", "soon"]


@pytest.mark.parametrize(
    ("state", "is_open"),
    [
        ({"state": "done"}, False),
        ({"state": "skipped"}, False),
        ({"state": None}, True),
        ({"state": "done", "deleted": True}, True),
        ({"task": "another", "state": "done"}, True),
    ],
)
def test_settled_tasks_are_not_due(state: dict[str, object], is_open: bool) -> None:
    found = due([a_task("a", "2026-03-09", "2026-03-09")], [{"task": "a", **state}], "2026-03-09", 0)
    assert bool(found) is is_open


def test_nothing_planned_is_nothing_due() -> None:
    assert due([], [], "2026-03-09", 7) == []
