"""The server's own changes."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from builders import WALL_MS, a_change, a_request, a_site, a_tree, an_id
from flask import Flask

from field.core.errors import BadInput
from field.services.take_in_changes import take_in
from field.services.write_changes import write_changes
from field.store import db, devices, journal, queries

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


def ops() -> list[dict[str, Any]]:
    db.db.session.rollback()
    return [json.loads(row.text) for row in journal.read_from(db.db.session(), 0, 1000, 10**9)]


def test_new_records_get_ids_and_are_in_their_tables(store: Flask) -> None:
    site, tree = write_changes([("site", None, a_site()), ("tree", None, a_tree(tag="B1"))], NOW)
    assert queries.get_record("site", site)["name"] == "Gledhope"
    assert queries.get_record("tree", tree)["tag"] == "B1"
    assert {op["dev"] for op in ops()} == {devices.own_device(db.db.session())}
    assert [op["seq"] for op in ops()] == [1, 2]


def test_a_given_id_is_used(store: Flask) -> None:
    rec = an_id()
    assert write_changes([("tree", rec, {"tag": "B1"})], NOW) == [rec]


def test_a_change_replaces_what_stands_even_a_conflict(store: Flask) -> None:
    one = a_change({"tag": "1"})
    other = a_change({"tag": "2"}, rec=one["rec"], seq=2)
    take_in(a_request(one, other), one["dev"], NOW)
    assert len(queries.list_conflicts()) == 1
    write_changes([("tree", one["rec"], {"tag": "3"})], NOW)
    assert queries.list_conflicts() == []
    assert queries.get_record("tree", one["rec"])["tag"] == "3"
    assert ops()[-1]["base"] == {"tag": sorted([one["hlc"], other["hlc"]])}


def test_later_changes_of_one_call_build_on_earlier_ones(store: Flask) -> None:
    rec = an_id()
    write_changes([("tree", rec, {"tag": str(number)}) for number in range(5)], NOW)
    assert queries.get_record("tree", rec)["tag"] == "4"
    assert queries.list_conflicts() == []


def test_removing_names_all_that_was_there(store: Flask) -> None:
    rec = an_id()
    write_changes([("tree", rec, {"tag": "1"}), ("tree", rec, {"note": "x"})], NOW)
    write_changes([("tree", rec, {"deleted": True})], NOW)
    assert queries.find_record("tree", rec) is None
    assert ops()[-1]["base"] == {"deleted": sorted(op["hlc"] for op in ops()[:2])}
    write_changes([("tree", rec, {"deleted": False})], NOW)
    assert queries.get_record("tree", rec)["tag"] == "1"


def test_stamps_rise_over_calls_though_the_clock_goes_back(store: Flask) -> None:
    for hours in (0, -5, 3, 3, -1000):
        write_changes([("tree", None, {"tag": "x"})] * 2, NOW + dt.timedelta(hours=hours))
    stamps = [op["hlc"] for op in ops()]
    assert stamps == sorted(set(stamps))


def test_the_wall_time_is_the_clocks(store: Flask) -> None:
    write_changes([("tree", None, {"tag": "x"})], NOW)
    assert (ops()[0]["wall"], ops()[0]["tz"]) == ("2027-03-01T09:00:00.000Z", "+00:00")


@pytest.mark.parametrize(
    "bad", [("fix", None, {"lat": 91}), ("tree", None, {}), ("tree", "no id", {"tag": "x"}), ("tree", None, {"tag": 3})]
)
def test_one_that_cannot_be_applied_stops_all(store: Flask, bad: tuple[str, str | None, dict[str, Any]]) -> None:
    with pytest.raises(BadInput) as refused:
        write_changes([("tree", None, a_tree()), bad], NOW)
    assert refused.value.code == "bad-change"
    assert ops() == []
    assert queries.list_records("tree") == []
    write_changes([("tree", None, a_tree())], NOW)
    assert [op["seq"] for op in ops()] == [1]


def test_a_record_cannot_change_its_kind(store: Flask) -> None:
    (rec,) = write_changes([("tree", None, a_tree())], NOW)
    with pytest.raises(BadInput, match="another kind"):
        write_changes([("site", rec, {"name": "x"})], NOW)
    assert len(ops()) == 1


def test_nothing_to_write_writes_nothing(store: Flask) -> None:
    assert write_changes([], NOW) == []
    assert ops() == []
