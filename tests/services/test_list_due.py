"""What is due, read from a real store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from field.core.errors import BadInput
from field.core.species import load_cards
from field.core.tasks import task_record_id
from field.core.windows import climate_at, event_date
from field.services.list_due import list_due, plan_all
from field.services.write_changes import write_changes
from field.store import db

RING = [[-3.0, 51.9], [-2.9, 51.9], [-2.9, 52.1], [-3.0, 52.1], [-3.0, 51.9]]  # middle: 52.0 N, as on the cards


@pytest.fixture
def store(tmp_path: Path) -> Iterator[None]:
    """Give an empty store on SQLite."""
    app = Flask("due")
    db.init_app(app, None, tmp_path)
    with app.app_context():
        yield
    db.close(app)


def a_lifted_tree(lifted_on: str = "2026-03-09", **more: object) -> tuple[str, str]:
    """Write a site, a tree on it and its lift; return the ids of tree and site."""
    ground = {"name": "Upper Brae", "boundary": {"type": "Polygon", "coordinates": [RING]}, "height_m": 0.0}
    site = write_changes([("site", None, ground)])[0]
    tree = write_changes([("tree", None, {"site": site, "tag": "B1", "species": "birch", "origin": "lifted", **more})])[
        0
    ]
    write_changes([("lift", None, {"tree": tree, "site": site, "lifted_on": lifted_on})])
    return tree, site


def steps(found: dict[str, Any], tree: str) -> list[str]:
    return [task["id"].removeprefix(f"{tree}:birch:") for task in found["tasks"]]


@pytest.mark.usefixtures("store")
def test_empty_store_has_nothing_due() -> None:
    assert list_due("2026-03-09", 7) == {"tasks": []}


@pytest.mark.usefixtures("store")
def test_lifted_tree_has_its_first_evening_due() -> None:
    tree, site = a_lifted_tree()
    found = list_due("2026-03-09", 0)
    assert {"roots-wet:0", "water-in:0", "shade:0", "label:0"} <= set(steps(found, tree))
    assert {task["site"] for task in found["tasks"]} == {site}


@pytest.mark.usefixtures("store")
def test_task_has_exactly_the_fields_of_the_command() -> None:
    a_lifted_tree()
    for task in list_due(dt.date(2026, 3, 9), 7)["tasks"]:  # type: ignore[attr-defined]
        assert set(task) == {"id", "tree", "site", "work", "from", "by", "text", "why", "moved_from"}


@pytest.mark.usefixtures("store")
def test_ticked_and_skipped_tasks_are_not_due_and_reopened_ones_are() -> None:
    tree, _ = a_lifted_tree()
    for step, state in [("label", "done"), ("shade", "skipped"), ("water-in", None)]:
        task = f"{tree}:birch:{step}:0"
        write_changes([("task_state", task_record_id(task), {"task": task, "tree": tree, "state": state})])
    left = steps(list_due("2026-03-09", 0), tree)
    assert "label:0" not in left
    assert "shade:0" not in left
    assert "water-in:0" in left


@pytest.mark.usefixtures("store")
def test_settled_task_is_still_planned_for_the_pack_after_it_lapsed() -> None:
    tree, _ = a_lifted_tree()
    task = f"{tree}:birch:label:0"
    state = {"task": task, "state": "done", "settled_on": "2026-03-10"}  # an old phone may leave the tree out
    write_changes([("task_state", task_record_id(task), state)])
    assert task in {one["id"] for one in plan_all(dt.date(2026, 12, 1))}


@pytest.mark.usefixtures("store")
def test_place_of_the_site_moves_the_windows() -> None:
    tree, site = a_lifted_tree()

    def first_styling() -> str:
        task = next(one for one in plan_all(dt.date(2026, 3, 9)) if one["id"] == f"{tree}:birch:first-styling:0")
        return str(task["from"])

    assert first_styling() == "2028-06-03"
    write_changes([("site", site, {"height_m": 121.92})])
    assert first_styling() == "2028-06-07"


@pytest.mark.usefixtures("store")
def test_event_of_the_tree_and_frost_of_the_garden_re_date_what_hangs_on_them() -> None:
    tree, site = a_lifted_tree()
    write_changes(
        [
            ("event", None, {"tree": tree, "kind": "flush_hardened", "happened_on": "2026-06-01"}),
            ("event", None, {"site": site, "kind": "frost", "happened_on": "2026-10-10"}),
        ]
    )
    planned = {str(task["id"]).removeprefix(f"{tree}:birch:"): task for task in plan_all(dt.date(2026, 6, 2))}
    assert planned["first-feed:2026"]["from"] == "2026-06-15"
    assert planned["frost-first-winter:2026"]["by"] == "2026-10-10"


@pytest.mark.usefixtures("store")
def test_a_lifted_tree_is_cared_for_by_the_seasons_of_its_garden_and_by_its_own_days_there() -> None:
    tree, site = a_lifted_tree()

    def first_styling() -> tuple[str, str]:
        task = next(one for one in plan_all(dt.date(2026, 3, 9)) if one["id"] == f"{tree}:birch:first-styling:0")
        return str(task["from"]), str(task["site"])

    assert first_styling() == ("2028-06-03", site)
    garden = write_changes([("garden", None, {"name": "Behind the house", "lat": 52.0, "height_m": 121.92})])[0]
    assert first_styling() == ("2028-06-07", garden), "Hopkins: 4 days for 400 ft"
    write_changes([("garden", garden, {"shift_days": -10})])
    assert first_styling() == ("2028-05-24", garden)
    other = write_changes([("garden", None, {"name": "Frame yard"})])[0]
    assert first_styling() == ("2028-06-03", site), "two gardens, and none is told to be the main one"
    write_changes([("tree", tree, {"stands_at": other})])
    assert first_styling() == ("2028-06-03", other)
    write_changes([("garden", garden, {"is_main": True}), ("tree", tree, {"stands_at": None})])
    assert first_styling() == ("2028-05-24", garden)
    write_changes([("garden", garden, {"deleted": True})])
    assert first_styling() == ("2028-06-03", other)


@pytest.mark.usefixtures("store")
def test_a_frost_of_the_garden_counts_for_the_trees_that_stand_in_it() -> None:
    tree, site = a_lifted_tree()
    garden = write_changes([("garden", None, {"name": "Behind the house"})])[0]
    write_changes([("event", None, {"site": site, "kind": "frost", "happened_on": "2026-10-02"})])

    def frost_round_by() -> str:
        planned = {str(task["id"]).removeprefix(f"{tree}:birch:"): task for task in plan_all(dt.date(2026, 6, 2))}
        return str(planned["frost-first-winter:2026"]["by"])

    assert frost_round_by() != "2026-10-02"
    write_changes([("event", None, {"site": garden, "kind": "frost", "happened_on": "2026-10-10"})])
    assert frost_round_by() == "2026-10-10"


@pytest.mark.usefixtures("store")
def test_the_heat_logged_in_the_garden_moves_what_hangs_on_the_buds() -> None:
    garden = write_changes([("garden", None, {"name": "Behind the house", "lat": 52.0, "height_m": 0.0})])[0]
    tree, _ = a_lifted_tree()

    def no_cuts() -> tuple[dt.date, dt.date]:
        planned = {str(task["id"]).removeprefix(f"{tree}:birch:"): task for task in plan_all(dt.date(2027, 2, 10))}
        task = planned["no-cuts-yet:2027"]
        return dt.date.fromisoformat(str(task["from"])), dt.date.fromisoformat(str(task["by"]))

    usual = no_cuts()
    # 4 day-degrees a day from 1 January: the 100 that birch wants at least are reached on the 25th day.
    spring = [dt.date(2027, 1, 1) + dt.timedelta(days=n) for n in range(41)]
    day = {"site": garden, "tmin_c": 9.0, "tmax_c": 9.0}
    write_changes([("weather_day", None, {**day, "day_on": one.isoformat()}) for one in spring])
    moved = no_cuts()
    usual_break = event_date(load_cards()["birch"], "bud_break", 2027, climate_at(52.0, 0.0))[0]
    early = usual_break - dt.date(2027, 1, 25)
    assert early.days > 20
    assert moved == (usual[0] - early, usual[1] - early)


@pytest.mark.usefixtures("store")
def test_lost_and_deleted_trees_have_nothing_due() -> None:
    tree, _ = a_lifted_tree()
    write_changes([("tree", tree, {"ended_as": "lost", "ended_on": "2026-03-10"})])
    other, _ = a_lifted_tree()
    write_changes([("tree", other, {"deleted": True})])
    assert list_due("2026-03-10", 7) == {"tasks": []}


@pytest.mark.usefixtures("store")
def test_deleted_lift_takes_its_tasks_with_it() -> None:
    site = write_changes([("site", None, {"name": "Upper Brae"})])[0]
    tree = write_changes([("tree", None, {"site": site, "species": "birch"})])[0]
    lift = write_changes([("lift", None, {"tree": tree, "lifted_on": "2026-05-09"})])[0]
    assert list_due("2026-05-09", 0)["tasks"] != []
    write_changes([("lift", lift, {"deleted": True})])
    assert list_due("2026-05-09", 0)["tasks"] == []


@pytest.mark.usefixtures("store")
def test_overdue_tasks_come_first() -> None:
    a_lifted_tree()
    by = [task["by"] for task in list_due("2026-03-20", 7)["tasks"]]  # type: ignore[attr-defined]
    assert by[0] < "2026-03-20"
    assert by == sorted(by)


@pytest.mark.usefixtures("store")
@pytest.mark.parametrize(("on", "days"), [("2026-02-30", 7), ("soon", 7), ("2026-03-09", -1), ("2026-03-09", 20001)])
def test_bad_day_or_number_of_days_is_refused(on: str, days: int) -> None:
    with pytest.raises(BadInput):
        list_due(on, days)


@pytest.mark.usefixtures("store")
def test_what_a_look_along_wire_found_decides_when_it_is_due_to_come_off() -> None:
    tree, _ = a_lifted_tree("2020-03-09")
    detail = {"material": "copper", "gauge_mm": 2, "branch_mm": 6, "length_mm": 400}
    wire = write_changes([("work", None, {"tree": tree, "kind": "wire", "done_on": "2026-09-01", "detail": detail})])[0]

    def due(on: str) -> dict[str, str]:
        found = list_due(on, 0)
        return {step: task["by"] for step, task in zip(steps(found, tree), found["tasks"], strict=True)}

    assert f"wire-off:{wire}.0" not in due("2026-09-20")  # birch: 6 to 10 weeks
    assert f"wire-look:{wire}.0" in due("2026-09-20")
    found = {"tree": tree, "kind": "look", "done_on": "2026-09-20", "detail": {"wire": wire, "bites": "bitten"}}
    write_changes([("work", None, found)])
    assert due("2026-09-20")[f"wire-off:{wire}.0"] == "2026-09-20"
    assert f"wire-look:{wire}.0" not in due("2026-09-20")
    off = {"tree": tree, "kind": "unwire", "done_on": "2026-09-20", "detail": {"wire": wire}}
    write_changes([("work", None, off)])
    assert not [step for step in due("2026-09-20") if step.startswith("wire-")]
