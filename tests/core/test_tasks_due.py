"""Which tasks are due: what has begun, what is late, what is settled, and what has lapsed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from care_kit import CARDS, REFERENCE, T, Task, a_history, a_tree, a_work, plan

from field.core.tasks import due, plan_tasks


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


# How long a task stands


@pytest.mark.parametrize(
    ("lifted_on", "step", "last"),
    [
        ("2026-03-09", "leave-crown", "2026-03-16"),  # by 7 days after the lift
        ("2026-03-09", "no-feed", "2026-03-23"),  # by 14 days after
        ("2026-09-01", "off-season", "2026-09-15"),  # the fortnight that its words name
    ],
)
def test_advice_stands_to_its_last_day_and_is_never_overdue(lifted_on: str, step: str, last: str) -> None:
    history = a_history(lifted_on)
    task = plan(history=history, today=last)[f"birch:{step}:0"]
    assert task["by"] == task["lapses_on"] == last
    the_day_after = f"{last[:-2]}{int(last[-2:]) + 1}"
    assert f"birch:{step}:0" not in plan(history=history, today=the_day_after)
    # and on a phone whose tasks were planned while it stood
    assert [one["id"] for one in due([task], [], last, 0)] == [task["id"]]
    assert due([task], [], the_day_after, 0) == []


def test_deed_stays_overdue_until_it_is_done() -> None:
    # on from 10 June 2028; 10 weeks: off by 19 August
    wired = a_history(works=[a_work("wire", "2028-06-10")])
    task = plan(history=wired, today="2031-01-01")["birch:wire-off:w-wire-2028-06-10.0"]
    assert (task["by"], task["lapses_on"]) == ("2028-08-19", None)
    assert [one["id"] for one in due([task], [], "2031-01-01", 0)] == [task["id"]]


def test_deed_with_a_number_of_days_is_overdue_for_so_many() -> None:
    # label: by 10 March; 60 days
    assert plan()["birch:label:0"]["lapses_on"] == "2026-05-09"


def test_repeated_check_stands_until_the_day_before_the_next() -> None:
    found = plan()
    assert found["birch:water-daily:5"]["lapses_on"] == "2026-03-15"
    # from 24 March, by 26 March, again on 31 March
    assert found["birch:water-weekly:0"]["lapses_on"] == "2026-03-30"


@pytest.mark.parametrize(("today", "stands"), [("2028-06-01", True), ("2028-06-02", False)])
def test_yearly_step_that_names_no_days_stands_for_a_year(today: str, stands: bool) -> None:
    # branches: from 3 June 2027; the 365th day is 1 June 2028, for that year has a 29 February
    card = CARDS["birch"]
    care = tuple(replace(step, lapses_days=None) if step.step == "branches" else step for step in card.care)
    found = plan_tasks(a_tree(), a_history(), {"birch": replace(card, care=care)}, today, REFERENCE)
    assert (f"{T}:birch:branches:2027" in {task["id"] for task in found}) is stands


def test_work_in_a_window_stands_as_long_as_the_window() -> None:
    task = plan()["birch:first-styling:0"]
    assert task["by"] == task["lapses_on"] == "2028-08-01"


@pytest.mark.parametrize(("today", "stands"), [("2027-03-09", True), ("2027-04-06", True), ("2027-04-07", False)])
def test_note_that_there_are_no_safe_dates_goes_after_four_weeks(today: str, stands: bool) -> None:
    # the first trim would be due a year after the lift, 9 March 2027; 28 days
    card = CARDS["birch"]
    never = replace(card, windows={**card.windows, "trim": ()}, never={"trim": "Too weak for any cut."})
    found = {task["id"]: task for task in plan_tasks(a_tree(), a_history(), {"birch": never}, today, REFERENCE)}
    task = found.get(f"{T}:birch:first-trim:0")
    assert (task is not None) is stands
    if task is not None:
        assert "there are no safe dates" in str(task["text"])
        assert task["by"] == task["lapses_on"] == "2027-04-06"


def test_advice_of_a_year_ago_is_nowhere() -> None:
    history = a_history("2025-09-01")
    found = plan(history=history, today="2026-09-02")
    for step in ("leave-crown", "no-feed", "off-season", "few-roots", "roots-wet", "mist"):
        assert not [one for one in found if f":{step}:" in one], step
    assert "birch:no-cuts-yet:2026" not in found
    assert "birch:no-cuts-yet:2027" in found  # this one is of next spring


def test_advice_that_was_ticked_stays_in_sight_after_its_time() -> None:
    state = {"id": "x", "task": f"{T}:birch:leave-crown:0", "state": "done", "settled_on": "2026-03-10"}
    assert "birch:leave-crown:0" in plan(history=a_history(states=[state]), today="2026-12-01")


@pytest.mark.parametrize(
    ("lapses_on", "shown"), [(None, True), ("2026-03-10", True), ("2026-03-09", True), ("2026-03-08", False)]
)
def test_lapsed_task_is_not_due(lapses_on: str | None, shown: bool) -> None:
    task = {**a_task("a", "2026-03-01", "2026-03-05"), "lapses_on": lapses_on}
    assert bool(due([task], [], "2026-03-09", 0)) is shown
