"""After a sync only what changed is planned anew, and the pack that is told is never the one before."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
from collections.abc import Callable
from typing import Any

import pytest
from builders import a_change, a_request, a_site, a_tree, an_id
from flask import Flask
from flask.testing import FlaskClient

from field.core import species, tasks
from field.core.card import WORKS
from field.services import build_pack, list_due
from field.sync.change import canonical_bytes

TODAY = dt.datetime.now().astimezone().date()
YESTERDAY = (TODAY - dt.timedelta(days=1)).isoformat()

Send = Callable[..., dict[str, Any]]


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The trees that were planned, in the order it was done."""
    trees: list[str] = []
    plan = tasks.plan_tasks

    def counting(tree: Any, *rest: Any) -> list[dict[str, object]]:
        trees.append(tree["id"])
        return plan(tree, *rest)

    monkeypatch.setattr(tasks, "plan_tasks", counting)
    return trees


@pytest.fixture
def send(paired_client: FlaskClient) -> Send:
    """Give what syncs changes of (type, record, fields), numbered on from the last, and returns the answer."""
    numbers = itertools.count(1)

    def sync(*changes: tuple[str, str, dict[str, Any]]) -> dict[str, Any]:
        ops = [a_change(fields, type=kind, rec=rec, seq=next(numbers)) for kind, rec, fields in changes]
        told = paired_client.post("/api/sync", json=a_request(*ops)).get_json()
        assert [result["s"] for result in told["results"]] == ["ok"] * len(ops)
        return dict(told)

    return sync


def lifted(count: int, site: str) -> tuple[list[str], list[tuple[str, str, dict[str, Any]]]]:
    """Return the ids of new trees, and the changes that make them and their lifts."""
    trees = [an_id() for _ in range(count)]
    made = [("tree", tree, a_tree(site=site)) for tree in trees]
    return trees, made + [("lift", an_id(), {"tree": tree, "site": site, "lifted_on": YESTERDAY}) for tree in trees]


def fresh_hash(app: Flask, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return the hash of the pack as a server that remembers nothing would make it."""
    with app.app_context(), monkeypatch.context() as forgetting:
        forgetting.setattr(list_due, "_last", list_due._Plan((), {}))
        forgetting.setattr(build_pack, "_last_windows", ((), {}))
        return hashlib.sha256(canonical_bytes(build_pack.build(TODAY, 1))).hexdigest()


def test_a_batch_plans_the_trees_it_touches_and_no_others(send: Send, planned: list[str]) -> None:
    site, other_site = an_id(), an_id()
    here, changes = lifted(60, site)
    send(("site", site, a_site()), ("site", other_site, a_site(height_m=10)), *changes)
    assert sorted(planned) == sorted(here)

    planned.clear()
    there, changes = lifted(5, other_site)
    send(*changes)
    assert sorted(planned) == sorted(there)

    planned.clear()
    send()
    assert planned == []

    send(("work", an_id(), {"tree": here[7], "kind": "trim", "done_on": YESTERDAY}))
    assert planned == [here[7]]

    planned.clear()
    send(("leave", an_id(), {"site": site, "form": "spoken"}))  # bears on the slips, not on the care
    assert planned == []


def test_what_bears_on_many_trees_plans_them_all(send: Send, planned: list[str]) -> None:
    site, other_site = an_id(), an_id()
    here, changes = lifted(3, site)
    there, more = lifted(2, other_site)
    send(("site", site, a_site()), ("site", other_site, a_site()), *changes, *more)

    planned.clear()
    send(("site", site, {"height_m": 500}))
    assert sorted(planned) == sorted(here)

    planned.clear()
    send(("event", an_id(), {"site": site, "kind": "frost", "happened_on": YESTERDAY}))  # of the garden, of no tree
    assert sorted(planned) == sorted([*here, *there])


def test_the_next_day_plans_all_anew(app: Flask, send: Send, planned: list[str]) -> None:
    trees, changes = lifted(3, an_id())
    send(*changes)
    planned.clear()
    with app.app_context():
        list_due.plan_all(TODAY + dt.timedelta(days=1))
    assert sorted(planned) == sorted(trees)


def test_windows_are_made_once_for_each_place(send: Send, monkeypatch: pytest.MonkeyPatch) -> None:
    heights: list[object] = []
    make = build_pack.dated_windows

    def counting(card: Any, work: str, lat: Any, height_m: Any, *rest: Any, **more: Any) -> Any:
        if height_m is not None:  # those of no place in particular are counted nowhere
            heights.append(height_m)
        return make(card, work, lat, height_m, *rest, **more)

    monkeypatch.setattr(build_pack, "dated_windows", counting)
    site = an_id()
    send(("site", site, a_site(height_m=310)), ("site", an_id(), a_site(height_m=310)))
    once = len(heights)
    assert once == len(species.list_kinds(species.load_cards())), "of lifting, for every kind there is"

    send(("tree", an_id(), a_tree(site=site, species="birch")), ("site", an_id(), a_site(height_m=310)))
    with_birch = len(heights)
    assert with_birch == once + len(WORKS) - 1, "the other works of the kind that stands there now"
    send(("tree", an_id(), a_tree(site=site, species="birch")))
    assert len(heights) == with_birch

    send(("site", an_id(), a_site(height_m=20)))
    assert heights[with_birch:] == [20.0] * once

    send(("species_card", an_id(), {"kind": "birch", "name": "My birch", "card": {}}))  # cannot be used, but is new
    assert len(heights) == 2 * (with_birch + once)


def test_the_pack_told_is_the_one_that_a_server_without_memory_makes(
    app: Flask, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = an_id()
    trees, changes = lifted(4, site)
    lift = changes[4][1]
    task = f"{trees[1]}:birch:label:0"
    card = an_id()
    steps: list[list[tuple[str, str, dict[str, Any]]]] = [
        [("site", site, a_site()), *changes],
        [("lift", lift, {"lifted_on": TODAY.isoformat()})],
        [("task_state", tasks.task_record_id(task), {"task": task, "state": "done", "settled_on": YESTERDAY})],
        [("event", an_id(), {"tree": trees[2], "kind": "frost", "happened_on": YESTERDAY})],
        [("box", an_id(), {"tree": trees[2], "boxed_on": YESTERDAY})],
        [("tree", trees[3], {"ended_as": "lost", "ended_on": YESTERDAY})],
        [("tree", trees[3], {"ended_as": None, "ended_on": None})],
        [("tree", trees[0], {"species": "hawthorn"})],
        [("lift", lift, {"deleted": True})],
        [("tree", trees[1], {"deleted": True})],
        [("species_card", card, {"kind": "birch", "name": "My birch"})],
    ]
    told: list[str] = []
    for step in steps:
        told.append(send(*step)["pack"])
        assert told[-1] == fresh_hash(app, monkeypatch), step
    # The moved lift, the end and its undoing, the other kind and the deleted lift and tree are all to be seen in it.
    changed = [n for n, (one, other) in enumerate(itertools.pairwise(told), 1) if one != other]
    assert {1, 5, 6, 7, 8, 9} <= set(changed)
