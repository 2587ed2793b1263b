"""What the tests of the care plan share: an invented birch, its history, and the plan by step."""

from __future__ import annotations

from typing import Any

from field.core.species import load_cards
from field.core.tasks import plan_tasks

CARDS = load_cards()
REFERENCE = {"lat": 52.0, "height_m": 0.0}
T = "0d7b6c1e-8a43-4f0b-9a55-3d0f1f0a1b2c"

Task = dict[str, Any]


def a_tree(**more: object) -> dict[str, object]:
    return {"id": T, "species": "birch", "site": "s", "origin": "lifted", **more}


def a_history(lifted_on: str | None = "2026-03-09", **more: list[dict[str, object]]) -> dict[str, Any]:
    lifts: list[dict[str, object]] = [{"id": "l1", "tree": T, "lifted_on": lifted_on, "roots_kept": "half"}]
    return {"lifts": lifts, "events": [], "works": [], "boxes": [], **more}


def an_event(kind: str, on: str, **more: object) -> dict[str, object]:
    return {"id": f"e-{kind}-{on}", "tree": T, "kind": kind, "happened_on": on, **more}


def a_work(kind: str, on: str, **more: object) -> dict[str, object]:
    return {"id": f"w-{kind}-{on}", "tree": T, "kind": kind, "done_on": on, **more}


def plan(
    tree: dict[str, object] | None = None,
    history: dict[str, Any] | None = None,
    today: str = "2026-03-09",
    place: dict[str, float] | None = REFERENCE,
) -> dict[str, Task]:
    """Return the planned tasks by what follows the tree in their id."""
    found = plan_tasks(tree or a_tree(), history or a_history(), CARDS, today, place)
    by_id = {str(task["id"]).removeprefix(f"{T}:"): task for task in found}
    assert len(by_id) == len(found)
    return by_id


def span(task: Task) -> tuple[str, str]:
    return task["from"], task["by"]
