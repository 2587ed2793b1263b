"""What is kept, read again."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from builders import PHONE, WALL_MS, a_change, a_request, a_tree
from flask import Flask
from sqlalchemy import text

from field.services.check import check
from field.services.keep_blob import keep_bytes
from field.services.take_in_changes import take_in
from field.store import db, photos

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
ALL_WELL = {
    "ok": True,
    "photos": 0,
    "photos_bad": [],
    "photos_missing": [],
    "changes": 0,
    "changes_bad": [],
    "tables_same": True,
}


def fill() -> list[str]:
    here = [keep_bytes(f"photo {number}".encode()) for number in range(3)]
    ops = [a_change({"sha256": name}, type="photo", seq=number + 1) for number, name in enumerate(here)]
    take_in(a_request(*ops, a_change(a_tree(tag="B1"), seq=4)), PHONE, NOW)
    return here


def test_an_empty_store_is_well(store: Flask) -> None:
    assert check() == ALL_WELL


def test_a_full_one_is_well(store: Flask) -> None:
    fill()
    assert check() == {**ALL_WELL, "photos": 3, "changes": 4}


def test_a_photo_that_was_altered_is_named(store: Flask, data_dir: Path) -> None:
    here = fill()
    photos.blob_path(data_dir, here[1]).write_bytes(b"photo X")
    assert check() == {**ALL_WELL, "ok": False, "photos": 3, "changes": 4, "photos_bad": [here[1]]}


def test_a_photo_that_was_cut_short_is_named(store: Flask, data_dir: Path) -> None:
    here = fill()
    photos.blob_path(data_dir, here[1]).write_bytes(b"")
    assert check()["photos_bad"] == [here[1]]


def test_a_photo_that_is_gone_is_named(store: Flask, data_dir: Path) -> None:
    here = fill()
    photos.blob_path(data_dir, here[2]).unlink()
    assert check() == {**ALL_WELL, "ok": False, "photos": 3, "changes": 4, "photos_missing": [here[2]]}


def test_a_photo_still_on_its_way_is_named_and_is_no_fault(store: Flask) -> None:
    take_in(a_request(a_change({"sha256": "a" * 64}, type="photo")), PHONE, NOW)
    assert check() == {**ALL_WELL, "changes": 1, "photos_missing": ["a" * 64]}


def test_an_altered_change_is_named(store: Flask) -> None:
    fill()
    with db.writing() as session:
        session.execute(text("UPDATE journal SET op = replace(op, 'B1', 'B2')"))
    told = check()
    assert (told["ok"], told["tables_same"]) == (False, False)
    assert [(bad["pos"], bad["dev"], bad["seq"]) for bad in told["changes_bad"]] == [(4, PHONE, 4)]


def test_an_altered_table_is_told_and_left_as_it_is(store: Flask) -> None:
    fill()
    with db.writing() as session:
        session.execute(text("UPDATE tree SET tag = 'B2'"))
    expected = {**ALL_WELL, "ok": False, "photos": 3, "changes": 4, "tables_same": False}
    assert check() == expected
    assert check() == expected
