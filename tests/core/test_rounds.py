"""Rounds: the routine steps of many trees at one place on one day."""

from __future__ import annotations

from typing import Any

import pytest
from care_kit import CARDS, REFERENCE, T, a_history, a_tree

from field.core.rounds import gather_rounds, round_name
from field.core.tasks import plan_tasks

TODAY = "2026-06-10"


def a_task(name: str, first: str = TODAY, last: str = TODAY, **more: Any) -> dict[str, Any]:
    """Return one watering of a tree of that name."""
    task = {"id": f"{name}:birch:water-daily:0", "rec": name, "tree": name, "site": "s", "from": first, "by": last}
    return {**task, "lapses_on": None, "round": "water", **more}


def ids(tasks: list[dict[str, Any]], states: dict[str, Any] | None = None, today: str | None = TODAY) -> dict[str, str]:
    """Return which trees stand in which round."""
    rounds, _ = gather_rounds(tasks, states or {}, today)
    return {one.id: "".join(str(task["tree"]) for task in one.tasks) for one in rounds}


def test_trees_of_one_place_and_kind_make_one_round_whatever_their_order() -> None:
    tasks = [a_task("b"), a_task("a"), a_task("c", site="other"), a_task("d", round="wire"), a_task("e", site=None)]
    told = {
        "round:s:water:2026-06-10": "ab",
        "round:other:water:2026-06-10": "c",
        "round:s:wire:2026-06-10": "d",
        "round:-:water:2026-06-10": "e",
    }
    assert ids(tasks) == ids(tasks[::-1]) == told


def test_what_is_late_is_walked_in_todays_round_and_what_has_lapsed_in_none() -> None:
    late = a_task("a", "2026-06-07", "2026-06-09", lapses_on="2026-06-13")
    lapsed = a_task("b", "2026-06-09", "2026-06-09", lapses_on="2026-06-09")
    assert ids([late, lapsed, a_task("c")]) == {"round:s:water:2026-06-10": "ac"}


@pytest.mark.parametrize(
    ("first", "last", "day"),
    [
        ("2026-06-11", "2026-06-12", "2026-06-11"),
        ("2026-06-10", "2026-06-12", "2026-06-10"),
        ("2026-06-09", "2026-06-12", "2026-06-12"),
        ("2026-06-09", "2026-06-10", "2026-06-10"),
    ],
)
def test_a_task_stands_in_the_round_of_its_day(first: str, last: str, day: str) -> None:
    assert ids([a_task("a", first, last)]) == {f"round:s:water:{day}": "a"}
    assert ids([a_task("a", first, last)], today=None) == {f"round:s:water:{first}": "a"}


@pytest.mark.parametrize(
    ("settled_on", "day"), [("2026-06-10", "2026-06-10"), ("2026-06-09", "2026-06-09"), ("2026-06-01", "2026-06-08")]
)
def test_a_settled_task_stays_in_the_round_it_was_walked_in(settled_on: str, day: str) -> None:
    task = a_task("a", "2026-06-08", "2026-06-09", lapses_on="2026-06-09")
    assert ids([task], {"a": {"state": "done", "settled_on": settled_on}}) == {f"round:s:water:{day}": "a"}


def test_a_task_that_was_opened_again_is_open() -> None:
    task = a_task("a", "2026-06-08", "2026-06-09", lapses_on="2026-06-09")
    assert ids([task], {"a": {"state": None, "settled_on": None}}) == {}


def test_work_of_one_tree_and_tasks_of_a_site_stand_alone_in_their_order() -> None:
    alone = [
        {**a_task("b"), "round": None},
        a_task("a", tree=None),
        {k: v for k, v in a_task("c").items() if k != "round"},
    ]
    rounds, single = gather_rounds(alone, {}, TODAY)
    assert (rounds, single) == ([], alone)


@pytest.mark.parametrize(
    ("step", "kind"),
    [
        ("water-daily", "water"),
        ("water-weekly", "water"),
        ("wire-look", "wire"),
        ("frost-first-winter", "frost"),
        ("late-frost", "frost"),
        ("suckers", "sucker"),
        ("bud-break-watch", "look"),
        ("water-in", None),
        ("mist", "mist"),
        ("label", None),
        ("first-repot", None),
        ("leave-crown", None),
    ],
)
def test_the_plan_says_which_steps_are_walked(step: str, kind: str | None) -> None:
    works = [{"id": "w", "tree": T, "kind": "wire", "done_on": "2026-05-01"}]
    found = plan_tasks(a_tree(), a_history("2026-03-09", works=works), CARDS, "2026-03-09", REFERENCE, 300)
    tasks = [task for task in found if str(task["id"]).split(":")[-2] == step]
    assert tasks
    assert {task.get("round") for task in tasks} == {kind}


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("water", "Water look"),
        ("wire", "Wire look"),
        ("look", "Look over"),
        ("frost", "Frost round"),
        ("hard-prune", "Hard prune round"),
    ],
)
def test_a_round_is_called_by_its_kind(kind: str, name: str) -> None:
    assert round_name(kind) == name
