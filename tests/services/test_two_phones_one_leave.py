"""Two phones under one leave, both offline: what both did is kept, told, and refused to neither."""

from __future__ import annotations

import datetime as dt
import itertools
import json
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, a_change, a_leave, a_request, a_site, a_tree, an_id
from flask import Flask

from field.core.may_dig import may_dig
from field.core.tasks import task_record_id
from field.services.build_pack import read_pack
from field.services.list_due import list_due
from field.services.take_in_changes import take_in
from field.services.write_changes import write_changes
from field.store import queries

TODAY = dt.datetime.now().astimezone().date()
NOW = dt.datetime.now(dt.UTC)
SITE, HOLDER, LEAVE = an_id(), an_id(), an_id()
HERE = {"lat": 55.4025, "lon": -3.395, "accuracy_m": 6}


def day(days: int) -> str:
    return (TODAY + dt.timedelta(days=days)).isoformat()


@pytest.fixture
def ground(store: Flask) -> None:
    """Write a site with a leave for two trees, one of which was lifted a month ago."""
    first = an_id()
    terms = a_leave(site=SITE, landholder=HOLDER, starts_on=day(-60), ends_on=day(200), allowance=2)
    write_changes(
        [
            ("site", SITE, a_site()),
            ("landholder", HOLDER, {"name": "Ms Invented", "phone": "00 0000 0404"}),
            ("leave", LEAVE, terms),
            ("tree", first, a_tree(site=SITE, tag="K1")),
            ("lift", an_id(), a_lift(first, day(-30))),
        ]
    )


def a_lift(tree: str, on: str) -> dict[str, Any]:
    return {"tree": tree, "site": SITE, "leave": LEAVE, "lifted_on": on, "kept_conditions": ["close the gates"]}


class Phone:
    """A phone that saves with no signal and brings it home later."""

    def __init__(self, device: str) -> None:
        self.device = device
        self.numbers = itertools.count(1)
        self.unsent: list[dict[str, Any]] = []

    def lift(self, tag: str) -> str:
        tree, lift = an_id(), an_id()
        for kind, rec, fields in (
            ("tree", tree, a_tree(site=SITE, tag=tag)),
            ("lift", lift, a_lift(tree, day(0))),
        ):
            self.unsent.append(a_change(fields, type=kind, rec=rec, dev=self.device, seq=next(self.numbers)))
        return lift

    def sync(self) -> dict[str, Any]:
        """Bring what waits, and return the pack."""
        told = take_in(a_request(*self.unsent, device=self.device), self.device, NOW)
        assert {result["s"] for result in told["results"]} <= {"ok"}  # nothing is refused or held
        self.unsent = []
        pack = json.loads(read_pack(told["pack"]))
        assert isinstance(pack, dict)
        return pack


def due_texts() -> list[str]:
    tasks = list_due(TODAY, 0)["tasks"]
    assert isinstance(tasks, list)
    return [task["text"] for task in tasks if task["tree"] is None]


@pytest.mark.usefixtures("ground")
def test_the_last_allowed_tree_taken_twice_is_kept_twice_and_one_over_is_told() -> None:
    one, two = Phone(PHONE), Phone(OTHER_PHONE)
    lifts = [one.lift("K2"), two.lift("K3")]
    one.sync()
    pack = two.sync()
    assert set(lifts) <= {lift["id"] for lift in queries.list_records("lift")}
    slip = pack["sites"][SITE]["leaves"][0]
    assert (slip["lifted"], slip["allowance"]) == (3, 2)
    # Same day, no instant: the higher id counts as the later.
    assert pack["flags"] == {
        max(lifts): [{"code": "over-number", "text": "Over the number agreed: tree 3 under a leave for 2."}]
    }
    words = "Tell Ms Invented of 1 tree over the number agreed for Gledhope: 3 lifted where 2 were agreed."
    assert words in due_texts()
    assert words in [task["text"] for task in pack["tasks"]]
    assert one.sync() == pack  # the other phone is told the same


@pytest.mark.usefixtures("ground")
def test_one_over_is_settled_by_a_tick_and_the_next_one_over_is_told_again() -> None:
    one = Phone(PHONE)
    one.lift("K2")
    one.lift("K3")
    (task,) = [task for task in one.sync()["tasks"] if ":over:" in task["id"]]
    assert task["rec"] == task_record_id(task["id"])
    told = {"task": task["id"], "tree": None, "site": SITE, "state": "done", "settled_on": day(0)}
    write_changes([("task_state", task["rec"], told)])
    assert not any("over the number" in text for text in due_texts())
    one.lift("K4")
    one.sync()
    assert [text for text in due_texts() if "over the number" in text] == [
        "Tell Ms Invented of 2 trees over the number agreed for Gledhope: 4 lifted where 2 were agreed."
    ]


@pytest.mark.usefixtures("ground")
def test_a_withdrawal_at_home_is_told_and_a_lift_made_before_hearing_of_it_is_kept_and_flagged() -> None:
    one, two = Phone(PHONE), Phone(OTHER_PHONE)
    write_changes([("leave", LEAVE, {"withdrawn_on": day(0)})])  # at noon
    slips = one.sync()["sites"][SITE]
    case = {"here": HERE, "on": day(0), "zone": slips["zone"], "site": slips["site"], "leaves": slips["leaves"]}
    verdict = may_dig({**case, "synced_days_ago": 0, "paired_phones": 2})
    assert verdict["answer"] == "no"
    assert "withdrawn" in [reason["code"] for reason in verdict["reasons"]]  # type: ignore[attr-defined]

    lift = two.lift("K2")  # it has not heard
    pack = two.sync()
    assert lift in {one["id"] for one in queries.list_records("lift")}
    assert [flag["code"] for flag in pack["flags"][lift]] == ["after-withdrawal"]
    (words,) = [text for text in due_texts() if "withdrawn" in text]
    assert words.startswith("Tell Ms Invented of tree K2, lifted at Gledhope on ")
    assert one.sync() == pack
