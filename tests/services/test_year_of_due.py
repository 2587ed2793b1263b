"""A year of the demo by somebody who reads nothing but Due: all is done in its time, and nothing is asked twice.

What was asked for is ticked on the first evening it stands there, and an event that is asked for is noted that day.
Whether a day is good for a work is looked up in the dated windows, not taken from the task.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from field.core.card import WORKS
from field.core.care import latest_lift
from field.core.species import card_for_tree, load_cards
from field.core.tasks import due, plan_tasks
from field.core.windows import climate_of, find_windows, gather_observed, place_of_site
from field.services.load_demo import load_demo
from field.store import db, queries

START = dt.date(2026, 11, 25)
HISTORY = {"lifts": "lift", "events": "event", "works": "work", "boxes": "box", "states": "task_state"}
# They ask for patience or for a look, and name the work they keep watch over.
NO_DEEDS = {"no-cuts-yet", "no-feed", "wire-look"}


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, Any]]]:
    folder: Path = tmp_path_factory.mktemp("year")
    house = Flask("year")
    db.init_app(house, None, folder / "data")
    with house.app_context():
        load_demo(START, folder / "card")
        found = {kind: queries.list_records(kind) for kind in ("tree", "garden", *HISTORY.values())}
    db.close(house)
    return found


def test_every_work_is_asked_for_inside_its_window_and_nothing_twice(records: dict[str, list[dict[str, Any]]]) -> None:
    cards, (garden,) = load_cards(), records["garden"]
    place = place_of_site(garden)  # where all that were lifted stand
    asked: dict[str, list[dt.date]] = defaultdict(list)
    done_in = defaultdict(set)  # tree -> the works asked for
    outside, wrong_order = [], []
    for tree in records["tree"]:
        history = {
            name: [one for one in records[kind] if tree["id"] in (one.get("tree"), str(one.get("task")).split(":")[0])]
            for name, kind in HISTORY.items()
        }
        if tree["ended_as"] or latest_lift(history["lifts"]) is None:
            continue
        card, climate = card_for_tree(cards, tree["species"]), climate_of(place)
        steps = {step.step: step for step in card.care}
        for day in (START + dt.timedelta(days=number) for number in range(366)):
            plan = plan_tasks(tree, history, cards, day, place)
            for task in due(plan, history["states"], day, 0):
                step = steps[task["id"].split(":")[2]]
                asked[task["id"]].append(day)
                tick = {"id": task["rec"], "task": task["id"], "state": "done", "settled_on": day.isoformat()}
                history["states"].append({**tick, "tree": tree["id"]})
                if task["work"] in WORKS and step.step not in NO_DEEDS and task["work"] not in ("shelter", "unwire"):
                    done_in[tree["id"]].add(task["work"])
                    seen = gather_observed(history["events"])
                    if not find_windows(card, task["work"], climate, day, day, seen):
                        outside.append((day.isoformat(), tree["tag"], card.kind, step.step, task["text"]))
                if str(task["from"]) > day.isoformat():
                    wrong_order.append(task["id"])
                if step.satisfied_by_event is not None and step.work in ("look", "record"):
                    event = {"tree": tree["id"], "kind": step.satisfied_by_event, "happened_on": day.isoformat()}
                    history["events"].append({"id": f"seen {task['id']}", **event})
    assert outside == []
    assert wrong_order == []
    assert [task for task, days in asked.items() if len(days) > 1] == []
    assert len(asked) > 300  # the year has work in it
    assert {work for works in done_in.values() for work in works} >= {"trim", "feed", "suckers", "repot"}
