"""After an update changes are judged anew: what an older version held takes part, and every phone hears of it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from sqlalchemy import text

from field.services.check import check
from field.services.rebuild import rebuild
from field.services.take_in_changes import list_held, take_in
from field.store import db, queries

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
TREE = an_id()
NEWER = "It was written by a newer version of Fellside; update this one."


def ask(place: dict[str, Any], device: str = OTHER_PHONE, ops: tuple[Any, ...] = ()) -> dict[str, Any]:
    """Return what home answers to a phone that has read as far as `place` says."""
    request = {"proto": 1, "device": device, "epoch": place["epoch"], "cursor": place["cursor"], "ops": list(ops)}
    return take_in(request, device, NOW)


def as_an_older_version_left_it(*seqs: int) -> None:
    """Hold changes as a version would that did not know their form, and knew other rules."""
    with db.writing() as session:
        for seq in seqs:
            session.execute(
                text("UPDATE journal SET held = :why, type = NULL, stamp = NULL WHERE seq = :seq"),
                {"why": NEWER, "seq": seq},
            )
        session.execute(text("UPDATE meta SET value = 'older rules' WHERE key = 'judged_by'"))
        session.execute(text("DELETE FROM tree"))


@pytest.fixture
def before(data_dir: Path, database_url: str | None) -> dict[str, Any]:
    """A home that holds what a newer phone brought; and how far another phone has read it."""
    changes = (a_change({"tag": "K1"}, rec=TREE, seq=1), a_change({"note": "grazed"}, rec=TREE, seq=2))
    with db.alone(database_url, data_dir):
        ask({"epoch": None, "cursor": 0}, PHONE, changes)
        as_an_older_version_left_it(1, 2)
        assert len(list_held()["held"]) == 2
        place = ask({"epoch": None, "cursor": 0})
        assert [entry["held"] for entry in place["ops"]] == [NEWER, NEWER]
    return place


def test_what_was_held_takes_part_after_the_update(
    before: dict[str, Any], data_dir: Path, database_url: str | None
) -> None:
    with db.alone(database_url, data_dir):
        assert list_held() == {"held": []}
        tree = queries.get_record("tree", TREE)
        assert (tree["tag"], tree["note"]) == ("K1", "grazed")
        assert rebuild()["ok"] is True
        assert check()["ok"] is True


def test_a_phone_that_had_read_it_as_held_is_told_once_more(
    before: dict[str, Any], data_dir: Path, database_url: str | None
) -> None:
    with db.alone(database_url, data_dir):
        told = ask(before)
        assert [(entry["op"]["seq"], entry["held"]) for entry in told["ops"]] == [(1, None), (2, None)]
        assert ask(told)["ops"] == []


def test_with_the_same_rules_nothing_is_told_again(
    before: dict[str, Any], data_dir: Path, database_url: str | None
) -> None:
    with db.alone(database_url, data_dir):
        told = ask(before)
    with db.alone(database_url, data_dir):
        again = ask(told)
        assert (again["epoch"], again["ops"]) == (told["epoch"], [])


def test_what_still_cannot_apply_stays_held_with_the_reason_of_today(data_dir: Path, database_url: str | None) -> None:
    with db.alone(database_url, data_dir):
        ask({"epoch": None, "cursor": 0}, PHONE, (a_change({"girth_mm": "thick"}, seq=1), a_change(seq=2, v=999)))
        as_an_older_version_left_it(1, 2)
    with db.alone(database_url, data_dir):
        first, second = (one["why"] for one in list_held()["held"])
        assert "girth_mm" in first
        assert second == NEWER
