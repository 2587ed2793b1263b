"""What is kept, read again."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, a_request, a_tree, an_id
from flask import Flask
from sqlalchemy import text

from field.core.signing import content_sha256
from field.services import tell
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
    "signings": 0,
    "signings_bad": [],
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


def sign(rec: str, **others: object) -> list[dict[str, object]]:
    """Take in a letter signed on a phone, and what another phone that had not seen it wrote to it; return those set."""
    content = {"leave": an_id(), "version": 1, "name": "Isla Invented", "lat": 55.40250001, "accuracy_m": 6.0}
    sets = [{**content, "content_sha256": content_sha256(content)}, *([others] if others else [])]
    for seq, (fields, dev) in enumerate(zip(sets, (PHONE, OTHER_PHONE), strict=False), start=1):
        take_in(a_request(a_change(fields, type="signing", rec=rec, dev=dev, seq=seq), device=dev), dev, NOW)
    return sets


def test_a_signed_letter_as_it_was_signed_is_well(store: Flask) -> None:
    sign(an_id())
    assert check() == {**ALL_WELL, "changes": 1, "signings": 1}


def test_a_letter_altered_after_signing_is_named_with_what_was_signed(store: Flask) -> None:
    rec = an_id()
    signed, _ = sign(rec, name="Somebody Else")
    told = check()
    assert (told["ok"], told["signings"]) == (False, 1)
    [bad] = told["signings_bad"]
    assert bad == {
        "signing": rec,
        "leave": signed["leave"],
        "version": 1,
        "name": "Isla Invented",
        "why": "It was altered after it was signed (name). What was signed is still in the journal.",
    }
    lines = list(tell.tell_ok(told))
    assert lines[0] == "Something is not as it should be."
    assert f"version 1, name Isla Invented: {bad['why']}" in lines[-1]


def test_a_removed_letter_is_still_held_to_what_was_signed(store: Flask) -> None:
    sign(an_id(), deleted=True, name="Somebody Else")
    assert len(check()["signings_bad"]) == 1


def test_a_letter_that_never_fitted_its_seal_is_named(store: Flask) -> None:
    take_in(a_request(a_change({"content_sha256": "0" * 64}, type="signing")), PHONE, NOW)
    assert [bad["why"] for bad in check()["signings_bad"]] == [
        "Nothing that was written of it fits its own seal: it may not be what was signed."
    ]
