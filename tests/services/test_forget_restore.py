"""A backup from before a person was forgotten brings nothing of them back: before anything is served they are gone."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, a_change, an_id
from forget_kit import NOW, sealed, states, sync
from sqlalchemy import delete, select

from field.services import forget, keep_blob, tell
from field.services.backup import back_up
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.restore import restore
from field.services.take_in_changes import list_held
from field.store import db, journal, queries
from field.store.tables import JournalRow, MetaRow

LATER = NOW + dt.timedelta(days=1)
SITE, HOLDER, LEAVE, PAPER = (an_id() for _ in range(4))
NAME, NUMBER = "Ewan Moffat", "01632 960 004"
SCAN = b"%PDF-1.4 signed by Ewan Moffat"
SHA = hashlib.sha256(SCAN).hexdigest()


def the_log() -> list[dict[str, Any]]:
    return [
        a_change({"name": "Gledhope"}, type="site", rec=SITE, seq=1),
        a_change({"name": NAME, "phone": NUMBER, "role": "owner"}, type="landholder", rec=HOLDER, seq=2),
        a_change({"site": SITE, "landholder": HOLDER, "signed_by": NAME}, type="leave", rec=LEAVE, seq=3),
        a_change({"leave": LEAVE, "sha256": SHA, "file_name": f"{NAME}.pdf"}, type="paper", rec=PAPER, seq=4),
    ]


def fill() -> None:
    keep_blob.keep_bytes(SCAN)
    sync(PHONE, *the_log())


def traces(folder: Path) -> list[str]:
    """Return which files of a folder hold a word of the person."""
    kept = [path for path in folder.rglob("*") if path.is_file()]
    return [path.name for path in kept if NAME.encode() in path.read_bytes() or NUMBER.encode() in path.read_bytes()]


@pytest.fixture
def place(database_url: str | None, tmp_path: Path) -> tuple[str | None, Path, Path]:
    """A filled store whose backup is older than the forgetting of a person: its address, folder and backup."""
    data, file = tmp_path / "data", tmp_path / "old.zip"
    with db.alone(database_url, data):
        fill()
        back_up(file, NOW)
        forget.forget(HOLDER, [], [], NOW)
        if database_url is None:
            assert traces(data) == []
    return database_url, data, file


def test_whoever_was_forgotten_is_gone_before_any_phone_comes(place: tuple[str | None, Path, Path]) -> None:
    url, data, file = place
    told = restore(file, data, url, LATER)
    assert (told["ok"], told["forgotten_again"], told["photos_missing"]) == (True, 1, [])
    assert any("1 landholder forgotten since then" in line for line in tell.tell_restore(told))
    if url is None:
        assert traces(data) == []
    with db.alone(url, data):
        said = json.dumps(sync(OTHER_PHONE)["ops"])
        assert (NAME in said, NUMBER in said) == (False, False)
        assert not keep_blob.is_here(SHA)
        assert queries.get_record("landholder", HOLDER)["role"] == "owner"
        assert list_held() == {"held": []}
        assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_a_phone_that_knows_of_it_brings_nothing_new_and_words_that_come_late_stay_out(place: Any) -> None:
    url, data, file = place
    with db.alone(url, data):
        known = [entry["op"] for entry in sync(PHONE)["ops"]]
    restore(file, data, url, LATER)
    with db.alone(url, data):
        assert set(states(sync(PHONE, *known))) == {"dup"}
        late = a_change({"phone": NUMBER}, type="landholder", rec=HOLDER, dev=OTHER_PHONE, seq=1)
        assert states(sync(OTHER_PHONE, late, *the_log())) == ["ok", *["dup"] * 4]
        assert NUMBER not in json.dumps(sync(PHONE)["ops"])


def test_put_back_a_second_time_and_a_third_it_holds(place: tuple[str | None, Path, Path]) -> None:
    url, data, file = place
    told = [restore(file, data, url, LATER + dt.timedelta(hours=hour))["forgotten_again"] for hour in range(3)]
    assert told == [1, 1, 1]
    with db.alone(url, data):
        assert len(queries.list_records("forgetting")) == 1
        forget.forget(HOLDER, [], [], NOW)  # what it goes on to decide is known by its own seal
        assert len(queries.list_records("forgetting")) == 2


def test_where_the_machine_is_another_the_first_phone_puts_it_right(place: Any, tmp_path: Path) -> None:
    url, data, file = place
    if url is not None:
        return  # one database: what stood there is always known
    with db.alone(None, data):
        known = [entry["op"] for entry in sync(PHONE)["ops"] if entry["op"]["type"] == "forgetting"]
    assert restore(file, tmp_path / "new", None, LATER)["forgotten_again"] == 0
    with db.alone(None, tmp_path / "new"):
        assert NAME in json.dumps(sync(OTHER_PHONE)["ops"])
        assert states(sync(OTHER_PHONE, *known, role="record")) == ["ok"]
        assert NAME not in json.dumps(sync(OTHER_PHONE)["ops"])
        assert not keep_blob.is_here(SHA)
        assert check()["ok"] is True
    assert traces(tmp_path / "new") == []


def test_over_a_home_with_another_key_both_homes_forgettings_hold(tmp_path: Path) -> None:
    file, data = tmp_path / "other.zip", tmp_path / "data"
    elsewhere = a_change({"about": an_id(), "blanks": {}}, type="forgetting", dev=OTHER_PHONE)
    with db.alone(None, tmp_path / "other"):
        fill()
        of_the_backup = sealed(elsewhere)
        back_up(file, NOW)
    with db.alone(None, data):
        fill()
        forget.forget(HOLDER, [], [], NOW)
    assert restore(file, data, None, LATER)["forgotten_again"] == 1
    assert traces(data) == []
    with db.alone(None, data):
        assert states(sync(OTHER_PHONE, of_the_backup)) == ["ok"]
        assert list_held() == {"held": []}


def without_seals() -> None:
    """Leave a store as the version before seals did."""
    with db.writing() as session:
        for row in session.scalars(select(JournalRow).where(JournalRow.type == "forgetting")):
            op = {name: value for name, value in json.loads(row.op).items() if name != "seal"}
            row.op, row.hash = journal.ENCODER.encode(op), journal.op_hash(op)
        session.execute(delete(MetaRow).where(MetaRow.key.in_(("forgetting_seals", journal.JUDGED_BY))))


@pytest.mark.parametrize("in_backup", [True, False])
def test_one_of_the_version_before_seals_holds_in_its_backup_and_in_what_stood_there(
    tmp_path: Path, in_backup: bool
) -> None:
    file, data = tmp_path / "old.zip", tmp_path / "data"

    def have_forgotten() -> None:
        forget.forget(HOLDER, [], [], NOW)
        without_seals()

    steps: list[Callable[[], object]] = [have_forgotten, lambda: back_up(file, NOW)]
    with db.alone(None, data):
        fill()
        for step in steps if in_backup else reversed(steps):
            step()
    assert restore(file, data, None, LATER)["forgotten_again"] == (0 if in_backup else 1)
    assert traces(data) == []
    with db.alone(None, data):
        assert len(queries.list_records("forgetting")) == 1
        assert list_held() == {"held": []}
