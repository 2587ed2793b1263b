"""Phones, a server, lost answers, cut batches, clocks that lie, old copies put back: nothing is lost, all agree.

The server is the real one, on both databases. A phone is a small model of what the app does: it keeps every change it
knows, sends what home says it lacks, and takes its answer in as a whole or not at all.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import Any

import pytest
from builders import WALL_MS, an_id
from flask import Flask
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, insert, select

from field.services.rebuild import rebuild
from field.services.take_in_changes import take_in
from field.services.write_changes import write_changes
from field.store import db, queries
from field.store.tables import METADATA
from field.sync.hlc import Clock, find_stamp, is_suspect, receive, tick, write_stamp
from field.sync.merge import Entry, base_for, merge_record

RECORDS = ("aaaaaaaa-0000-4000-8000-000000000001", "aaaaaaaa-0000-4000-8000-000000000002")
DAY_MS = 86_400_000

Name = tuple[str, int]


@dataclass
class Home:
    """The real server's clock, and an old copy of its database."""

    now_ms: int = WALL_MS
    copy: dict[str, list[dict[str, Any]]] | None = None

    def now(self) -> dt.datetime:
        self.now_ms += 1000
        return dt.datetime.fromtimestamp(self.now_ms / 1000, dt.UTC)

    def back_up(self) -> None:
        db.db.session.rollback()
        connection = db.db.session.connection()
        self.copy = {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in METADATA.sorted_tables
        }

    def restore(self, house: Flask) -> None:
        if self.copy is None:
            return
        with db.writing() as session:
            for table in METADATA.sorted_tables:
                session.execute(delete(table))
                if self.copy[table.name]:
                    session.execute(insert(table), self.copy[table.name])
        (db.data_dir() / "epoch").unlink()  # it is no part of a backup
        db.migrate(house)


class Phone:
    def __init__(self, drift_ms: int) -> None:
        self.dev = an_id()
        self.seq = 0
        self.clock = Clock()
        self.drift_ms = drift_ms
        self.ops: dict[Name, dict[str, Any]] = {}
        self.suspect: dict[Name, bool] = {}
        self.epoch: str | None = None
        self.cursor = 0
        self.have: dict[str, int] = {}

    def merged(self, rec: str) -> dict[str, Any] | None:
        entries = [Entry(op, self.suspect.get(name, False)) for name, op in self.ops.items() if op["rec"] == rec]
        return merge_record(entries)

    def edit(self, rec: str, values: dict[str, Any], now_ms: int) -> None:
        self.seq += 1
        self.clock = tick(self.clock, now_ms + self.drift_ms)
        op = {
            "dev": self.dev,
            "seq": self.seq,
            "hlc": write_stamp(self.clock, self.dev),
            "wall": None,
            "tz": None,
            "rec": rec,
            "type": "tree",
            "set": values,
            "base": base_for(self.merged(rec), values),
            "v": 1,
        }
        self.ops[self.dev, self.seq] = op

    def unsent(self, most: int) -> list[dict[str, Any]]:
        lacking = [name for name in self.ops if name[1] > self.have.get(name[0], 0)]
        lacking.sort(key=lambda name: (name[0] != self.dev, name))
        return [self.ops[name] for name in lacking[:most]]

    def exchange(self, home: Home, ops: list[dict[str, Any]], want: int, lost: bool) -> bool:
        """One request; True when there is nothing more to fetch, and to send only what home had already."""
        request = {
            "proto": 1,
            "device": self.dev,
            "epoch": self.epoch,
            "cursor": self.cursor,
            "have": self.have,
            "ops": ops,
            "want": want,
        }
        answer = json.loads(json.dumps(take_in(json.loads(json.dumps(request)), self.dev, home.now())))
        if lost:
            return False
        assert {result["s"] for result in answer["results"]} <= {"ok", "dup"}
        for result in answer["results"]:
            self.suspect[result["dev"], result["seq"]] = result["clock_suspect"]
        for entry in answer["ops"]:
            op = entry["op"]
            assert entry["held"] is None
            name = (op["dev"], op["seq"])
            assert self.ops.setdefault(name, op) == op, "two changes of one name"
            self.suspect[name] = entry["clock_suspect"]
            stamp = find_stamp(op["hlc"])
            assert stamp is not None
            if not entry["clock_suspect"] and not is_suspect(stamp.clock, home.now_ms + self.drift_ms):
                self.clock = receive(self.clock, stamp.clock, home.now_ms + self.drift_ms)
        # Another's change whose forerunners are nowhere yet stays beyond what home can call known.
        stuck = bool(ops) and answer["have"] == self.have and not answer["ops"]
        self.epoch, self.cursor, self.have = answer["epoch"], answer["cursor"], answer["have"]
        return not answer["more"] and (stuck or not self.unsent(1))

    def sync(self, home: Home, want: int = 500, most: int = 200) -> None:
        # The first request carries nothing: its answer says what has to be sent.
        done = self.exchange(home, [], want, lost=False)
        while not done:
            done = self.exchange(home, self.unsent(most), want, lost=False)


VALUES = st.one_of(
    st.fixed_dictionaries({"tag": st.sampled_from(["B1", "B2", None])}),
    st.fixed_dictionaries({"girth_mm": st.integers(0, 3), "note": st.just("x")}),
    st.fixed_dictionaries({"deleted": st.booleans()}),
)
STEPS = st.one_of(
    st.tuples(st.just("edit"), st.integers(0, 2), st.sampled_from(RECORDS), VALUES),
    st.tuples(st.just("edit"), st.integers(0, 2), st.sampled_from(RECORDS), VALUES),
    st.tuples(st.just("sync"), st.integers(0, 2), st.integers(1, 3), st.integers(1, 3)),
    st.tuples(st.just("lose answer"), st.integers(0, 2), st.integers(0, 3), st.booleans()),
    st.tuples(st.just("desk"), st.none(), st.sampled_from(RECORDS), VALUES),
    st.tuples(st.just("back up"), st.none(), st.none(), st.none()),
    st.tuples(st.just("restore"), st.none(), st.none(), st.none()),
)
# Right, a little wrong, five months behind, two years ahead, never set.
DRIFTS = st.sampled_from([0, -30_000, -150 * DAY_MS, 730 * DAY_MS, -WALL_MS])


def empty(house: Flask) -> None:
    with db.writing() as session:
        for table in METADATA.sorted_tables:
            session.execute(delete(table))
    db.migrate(house)


def comparable(merged: dict[str, Any] | None) -> str:
    return json.dumps(merged, sort_keys=True)


def assert_agreed(phones: list[Phone], written: dict[Name, dict[str, Any]]) -> None:
    """Every phone and home hold the same changes, none that was written is missing, and they show the same."""
    for phone in phones:
        assert phone.ops.keys() == phones[0].ops.keys()
        assert written.keys() <= phone.ops.keys()
        assert all(phone.ops[name] == op for name, op in written.items())
    for rec in RECORDS:
        at_home = queries.merged_record(rec)
        assert {comparable(phone.merged(rec)) for phone in phones} == {comparable(at_home)}
        shown = queries.find_record("tree", rec)
        assert (shown is not None) == (at_home is not None and not at_home["deleted"])
        if shown is not None and at_home is not None:
            assert {name: shown[name] for name in at_home["fields"]} == at_home["fields"]


TAG = {"tag": "B1"}
# A desk that goes on after an old copy was put back must not write under names that phones know already.
DESK_AFTER_RESTORE = [
    ("desk", None, RECORDS[0], TAG),
    ("back up", None, None, None),
    ("desk", None, RECORDS[0], TAG),
    ("sync", 0, 3, 3),
    ("restore", None, None, None),
    ("desk", None, RECORDS[1], TAG),
]
# Changes that arrive without the ones before them must not count as known up to there.
GAP_AT_HOME = [
    ("edit", 0, RECORDS[0], TAG),
    ("edit", 0, RECORDS[1], TAG),
    ("lose answer", 0, 1, False),
    ("sync", 1, 3, 3),
]


@example(DESK_AFTER_RESTORE, (0, 0, 0))
@example(GAP_AT_HOME, (0, 0, 0))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEPS, max_size=25), st.tuples(DRIFTS, DRIFTS, DRIFTS))
def test_nothing_is_lost_and_all_agree(
    store: Flask, steps: list[tuple[str, Any, Any, Any]], drifts: tuple[int, int, int]
) -> None:
    empty(store)
    home, phones = Home(), [Phone(drift) for drift in drifts]
    written: dict[Name, dict[str, Any]] = {}
    for step, who, one, other in steps:
        if step == "edit":
            phones[who].edit(one, other, home.now_ms)
            written |= phones[who].ops
        elif step == "sync":
            phones[who].sync(home, want=one, most=other)
        elif step == "lose answer":
            ops = phones[who].unsent(4)[one:]  # with a gap before it
            phones[who].exchange(home, ops[::-1] if other else ops, 500, lost=True)
        elif step == "desk":
            write_changes([("tree", one, other)], home.now())
        elif step == "back up":
            home.back_up()
        elif step == "restore":
            home.restore(store)
    for _ in range(2):
        for phone in phones:
            phone.sync(home)

    assert_agreed(phones, written)
    assert rebuild()["ok"]


@pytest.fixture
def two_agreed(store: Flask) -> tuple[Home, list[Phone]]:
    home, phones = Home(), [Phone(0), Phone(0)]
    phones[0].edit(RECORDS[0], {"tag": "B1"}, home.now_ms)
    phones[0].edit(RECORDS[1], {"tag": "B2"}, home.now_ms)
    for phone in phones:
        phone.sync(home)
    assert_agreed(phones, dict(phones[0].ops))
    return home, phones


@pytest.mark.parametrize("whose", [0, 1])
def test_a_change_lost_on_one_phone_would_be_noticed(two_agreed: tuple[Home, list[Phone]], whose: int) -> None:
    _, phones = two_agreed
    written = dict(phones[0].ops)
    phones[whose].ops.popitem()
    with pytest.raises(AssertionError):
        assert_agreed(phones, written)


def test_a_change_lost_at_home_would_be_noticed(two_agreed: tuple[Home, list[Phone]]) -> None:
    _, phones = two_agreed
    forget(("journal",))
    with pytest.raises(AssertionError):
        assert_agreed(phones, dict(phones[0].ops))


def test_a_home_that_forgot_everything_is_told_everything_again(two_agreed: tuple[Home, list[Phone]]) -> None:
    home, phones = two_agreed
    written = dict(phones[0].ops)
    forget(("journal", "known", "tree"))
    phones[1].sync(home)  # it had read further than the journal goes
    phones[0].sync(home)
    assert_agreed(phones, written)
    assert rebuild()["ok"]


def forget(tables: tuple[str, ...]) -> None:
    with db.writing() as session:
        for name in tables:
            session.execute(delete(METADATA.tables[name]))
