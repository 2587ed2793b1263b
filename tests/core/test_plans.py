"""The care plans: each is a file of its own, and comes for the trees it is for and for no others."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import pytest
from care_kit import a_history, a_tree, plan

from field.core.plans import ORDER, read_plan, shipped_plans, shipped_steps
from field.core.read_card import BadCard

FOLDER = resources.files("field.core") / "plans"
STEPS = {one.plan: {step.step for step in one.steps} for one in shipped_plans()}


def of_plan(found: dict[str, Any], name: str) -> set[str]:
    """Return the steps of a plan that have tasks."""
    return {key.split(":")[1] for key in found} & STEPS[name]


def test_every_file_is_a_plan_that_is_used() -> None:
    assert sorted(file.name for file in FOLDER.iterdir()) == sorted(f"{name}.json" for name in ORDER)
    assert [one.plan for one in shipped_plans()] == list(ORDER)
    assert len(shipped_steps()) == sum(len(steps) for steps in STEPS.values())


@pytest.mark.parametrize("name", ORDER)
def test_every_source_a_plan_names_is_used_and_every_step_has_one(name: str) -> None:
    raw = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    used = [step["source"] for step in raw["steps"]]
    named = {one for source in used for one in ([source] if isinstance(source, str) else source)}
    assert named - {"practice"} == set(raw["sources"])


def test_a_tree_in_the_ground_has_only_the_plan_before_the_lift() -> None:
    found = plan(a_tree(), {"lifts": [], "events": [], "works": [], "boxes": []}, today="2026-01-10")
    assert {key.split(":")[1] for key in found} <= STEPS["before-lift"]
    assert of_plan(found, "before-lift") == {"lift-window"}


def test_the_first_year_hangs_on_the_roots_kept_and_the_season_of_the_lift() -> None:
    summer, winter = a_history("2026-07-10"), a_history("2026-03-02")
    few = a_history("2026-03-02")
    few["lifts"][0]["roots_kept"] = "few"
    in_summer = of_plan(plan(a_tree(species="rowan"), summer, today="2026-07-10"), "first-year")
    in_winter = of_plan(plan(a_tree(species="rowan"), winter, today="2026-03-02"), "first-year")
    with_few = of_plan(plan(a_tree(species="rowan"), few, today="2026-03-02"), "first-year")
    assert "frost-now" in in_winter - in_summer
    assert "off-season" in in_summer - in_winter
    assert with_few - in_winter == {"few-roots"}


def test_after_hard_work_the_plan_comes_once_and_counts_from_the_last_of_it() -> None:
    history = a_history("2023-03-09")
    assert of_plan(plan(today="2026-06-20", history=history), "after-hard-work") == set()
    history["works"] = [{"id": "w0", "tree": "t", "kind": "trim", "done_on": "2026-06-19"}]
    for work in history["works"]:
        work["tree"] = str(a_tree()["id"])
    assert of_plan(plan(today="2026-06-20", history=history), "after-hard-work") == set()
    history["works"] += [{**history["works"][0], "id": "w1", "kind": "hard-prune", "done_on": "2026-06-20"}]
    found = plan(today="2026-06-20", history=history)
    assert of_plan(found, "after-hard-work") == {step for step in STEPS["after-hard-work"] if step.startswith("hard-")}
    assert found["birch:hard-buds:w1.0"]["from"] == "2026-07-18"  # 28 days on
    history["works"] += [{**history["works"][0], "id": "w2", "kind": "hard-prune", "done_on": "2026-06-25"}]
    again = plan(today="2026-06-25", history=history)
    assert [key for key in again if "hard-buds" in key] == ["birch:hard-buds:w2.0"]
    history["works"][-1]["deleted"] = True
    assert plan(today="2026-06-20", history=history) == found


def test_after_defoliation_the_water_is_told_of_and_nothing_of_cuts() -> None:
    history = a_history("2020-03-09")
    history["works"] = [{"id": "d", "tree": a_tree()["id"], "kind": "defoliate", "done_on": "2026-06-20"}]
    assert of_plan(plan(today="2026-06-20", history=history), "after-hard-work") == {"leafless-water", "leafless-buds"}


def test_a_keepers_tree_is_taken_in_once_and_has_no_first_year() -> None:
    none: dict[str, list[dict[str, Any]]] = {"lifts": [], "events": [], "works": [], "boxes": []}
    guest = a_tree(origin="client", marked_on="2026-05-01")
    found = plan(guest, none, today="2026-05-01")
    assert of_plan(found, "client-tree") == STEPS["client-tree"]
    assert found["birch:client-apart-end:0"]["from"] == "2026-05-27"  # 26 days on
    assert of_plan(found, "first-year") == set()
    assert of_plan(plan(guest, none, today="2028-05-01"), "client-tree") == set(), "long ago"
    assert of_plan(plan(a_tree(origin="client", marked_on=None), none, today="2026-05-01"), "client-tree") == set()
    lifted = a_tree(origin="client", marked_on="2026-05-01")
    assert of_plan(plan(lifted, a_history("2026-05-01"), today="2026-05-01"), "client-tree") == set()


GOOD: dict[str, Any] = {
    "plan": "x",
    "name": "X",
    "for": "trees",
    "sources": {},
    "steps": [{"step": "a", "work": "look", "anchor": "lift", "text": "t", "why": "w", "source": "practice"}],
}


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"name": ""}, "plan.name"),
        ({"for": None}, "plan.for"),
        ({"more": 1}, "plan"),
        ({"steps": {}}, "plan.steps"),
        ({"sources": {"s": 1}}, "plan.sources.s"),
        ({"steps": [{**GOOD["steps"][0], "anchor": "moon"}]}, "plan.steps[0] (a).anchor"),
        ({"steps": [{**GOOD["steps"][0], "source": "nowhere"}]}, "plan.steps[0] (a).source"),
        ({"steps": [GOOD["steps"][0], GOOD["steps"][0]]}, "plan.steps[1]"),
    ],
)
def test_a_plan_with_a_fault_is_refused_at_its_place(change: dict[str, Any], where: str) -> None:
    assert len(read_plan(GOOD).steps) == 1
    with pytest.raises(BadCard) as refused:
        read_plan({**GOOD, **change})
    assert refused.value.where == where


def test_what_is_no_plan_at_all_is_refused() -> None:
    for odd in (None, [], "plan", {}):
        with pytest.raises(BadCard):
            read_plan(odd)
