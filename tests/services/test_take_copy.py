"""A phone's copy comes home: nothing of it is lost, nothing comes twice, and what is damaged changes nothing."""

from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from backup_kit import NOW, Phone, all_kept, fill, picture
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, a_request, an_id
from copy_kit import write_copy
from flask import Flask

from field.core.errors import BadInput, Conflict
from field.services.take_copy import take_copy
from field.services.take_in_changes import take_in
from field.store import archive, queries


def copy_of(phone: Phone, path: Path, **facts: Any) -> Path:
    return write_copy(path, [phone.ops[name] for name in sorted(phone.ops)], phone.photos, **facts)


def bring(*ops: dict[str, Any]) -> None:
    """Bring changes home by an ordinary sync of a phone that is no party to the test."""
    said = take_in(a_request(*ops, device=an_id()), PHONE, NOW)
    assert {one["s"] for one in said["results"]} == {"ok"}


def test_what_home_lacks_comes_in_and_the_second_time_nothing(store: Flask, tmp_path: Path) -> None:
    phone = fill(2)
    phone.mark("NEW", picture(9))
    file = copy_of(phone, tmp_path / "c.zip")
    told = take_copy(file, NOW)
    assert told == {
        "ok": True,
        "made_at": "2027-03-01T09:00:00.000Z",
        "part": 1,
        "parts": 1,
        "changes_new": 2,
        "changes_known": 4,
        "changes_anew": 0,
        "changes_held": [],
        "changes_bad": [],
        "photos_new": 1,
        "photos_known": 2,
        "photos_bad": [],
        "photos_missing": 0,
    }
    kept = all_kept()
    assert kept["bytes"] == phone.photos
    assert {json.loads(row[3])["rec"] for row in kept["changes"]} == {op["rec"] for op in phone.ops.values()}
    again = take_copy(file, NOW)
    assert (again["changes_new"], again["changes_known"]) == (0, 6)
    assert (again["photos_new"], again["photos_known"]) == (0, 3)
    assert all_kept() == kept


def test_the_copy_is_all_a_new_home_needs(store: Flask, tmp_path: Path) -> None:
    phone = Phone("never paired here")
    for number in range(3):
        phone.mark(f"B{number}", picture(number))
    told = take_copy(copy_of(phone, tmp_path / "c.zip", epoch="another life", have={phone.dev: 6}), NOW)
    assert (told["changes_new"], told["photos_new"]) == (6, 3)
    assert all_kept()["bytes"] == phone.photos


def test_many_changes_come_in_by_batches(store: Flask, tmp_path: Path) -> None:
    ops = [a_change(dev=PHONE, seq=number) for number in range(1, 502)]
    assert take_copy(write_copy(tmp_path / "c.zip", ops), NOW)["changes_new"] == 501
    assert all_kept()["have"] == {PHONE: 501}


def test_changes_whose_names_are_taken_are_written_anew_once(store: Flask, tmp_path: Path) -> None:
    # The phone was put back from its own backup after it wrote 2 to 4, and wrote another 2.
    common = a_change({"tag": "A"}, seq=1)
    bring(common, a_change({"tag": "home has this 2"}, seq=2))
    tree = an_id()
    second = a_change({"tag": "B"}, seq=2, rec=tree)
    third = a_change({"tag": "C"}, seq=3, rec=tree, ms=WALL_MS + 1, base={"tag": [second["hlc"]]}, wall=second["wall"])
    fourth = a_change({"tag": "D"}, seq=4)
    file = write_copy(tmp_path / "c.zip", [common, second, third, fourth])
    told = take_copy(file, NOW)
    assert (told["changes_new"], told["changes_known"], told["changes_anew"]) == (3, 1, 3)
    assert {one["tag"] for one in queries.list_records("tree")} == {"A", "home has this 2", "C", "D"}
    assert queries.list_conflicts() == []  # the third had seen the second, and still has
    kept = all_kept()
    again = take_copy(file, NOW)
    assert (again["changes_new"], again["changes_known"]) == (0, 4)
    # A later copy of the same line has more: only that is new.
    fifth = a_change({"tag": "E"}, seq=5, rec=tree, base={"tag": [third["hlc"]]}, ms=WALL_MS + 2)
    assert all_kept() == kept
    more = take_copy(write_copy(tmp_path / "d.zip", [common, second, third, fourth, fifth]), NOW)
    assert (more["changes_new"], more["changes_anew"]) == (1, 1)
    assert {one["tag"] for one in queries.list_records("tree")} == {"A", "home has this 2", "E", "D"}
    assert queries.list_conflicts() == []


def test_what_the_phone_itself_wrote_anew_since_is_known(store: Flask, tmp_path: Path) -> None:
    first = a_change({"tag": "A"}, seq=1)
    renamed = {**first, "dev": OTHER_PHONE, "seq": 1, "hlc": first["hlc"].replace(PHONE, OTHER_PHONE)}
    bring(renamed, a_change({"tag": "B"}, seq=1))
    kept = all_kept()
    told = take_copy(write_copy(tmp_path / "c.zip", [first]), NOW)
    assert (told["changes_new"], told["changes_known"]) == (0, 1)
    assert all_kept() == kept


def test_a_change_that_cannot_be_applied_is_kept_and_told(store: Flask, tmp_path: Path) -> None:
    ops = [a_change({"girth_mm": "thick"}, seq=1), a_change({"tag": "A"}, seq=2), {"nothing": 1}, {"dev": 5, "seq": []}]
    told = take_copy(write_copy(tmp_path / "c.zip", ops), NOW)
    assert (told["ok"], told["changes_new"], len(told["changes_held"]), len(told["changes_bad"])) == (False, 2, 1, 2)
    assert told["changes_held"][0]["seq"] == 1


def test_a_photo_that_was_damaged_on_the_phone_is_told_and_not_kept(store: Flask, tmp_path: Path) -> None:
    good = hashlib.sha256(b"good").hexdigest()
    told = take_copy(write_copy(tmp_path / "c.zip", [], {"0" * 64: b"bad", good: b"good"}), NOW)
    assert (told["ok"], told["photos_new"]) == (False, 1)
    assert [one["sha256"] for one in told["photos_bad"]] == ["0" * 64]
    assert all_kept()["bytes"] == {good: b"good"}


def test_photos_that_the_log_still_lacks_are_counted(store: Flask, tmp_path: Path) -> None:
    phone = Phone("phone")
    phone.mark("A", picture(1))
    assert take_copy(write_copy(tmp_path / "c.zip", list(phone.ops.values())), NOW)["photos_missing"] == 1
    assert take_copy(write_copy(tmp_path / "d.zip", [], phone.photos), NOW)["photos_missing"] == 0


def test_a_copy_of_another_house_is_asked_about(store: Flask, tmp_path: Path) -> None:
    fill(1)
    kept = all_kept()
    file = write_copy(tmp_path / "c.zip", [a_change()], epoch="theirs", have={PHONE: 1, OTHER_PHONE: 4})
    with pytest.raises(Conflict, match="another home") as refusal:
        take_copy(file, NOW)
    assert refusal.value.code == "other-house"
    assert all_kept() == kept
    assert take_copy(file, NOW, anyway=True)["changes_new"] == 1


def test_a_phone_that_never_synced_is_no_other_house(store: Flask, tmp_path: Path) -> None:
    fill(1)
    assert take_copy(write_copy(tmp_path / "c.zip", [a_change()], have={PHONE: 1}), NOW)["changes_new"] == 1


def test_no_single_byte_can_change_unseen_and_a_broken_one_changes_nothing(store: Flask, tmp_path: Path) -> None:
    phone = Phone("phone")
    phone.mark("A", picture(1, 100))
    file = copy_of(phone, tmp_path / "c.zip")
    whole = file.read_bytes()
    before = all_kept()
    for length in range(0, len(whole), 7):
        file.write_bytes(whole[:length])
        with pytest.raises(BadInput, match=r"damaged|no copy"):
            take_copy(file, NOW)
    found = 0
    for at in range(len(whole)):
        damaged = bytearray(whole)
        damaged[at] ^= 0x11
        file.write_bytes(damaged)
        try:
            with archive.opened(file, archive.COPY) as copy:
                copy.verify()
                assert b"".join(copy.pieces("journal/0001.jsonl")) in whole
        except BadInput:
            found += 1
    assert found > len(whole) * 3 // 4
    assert all_kept() == before
    file.write_bytes(whole)
    assert take_copy(file, NOW)["changes_new"] == 2


def forged(path: Path, change: Any) -> Path:
    """Write a copy whose manifest fits what was forged into it."""
    return write_copy(path, [a_change()], **change)


@pytest.mark.parametrize(
    "members",
    [
        {"../evil": {"sha256": "0" * 64, "size_bytes": 1}},
        {"/etc/x": {"sha256": "0" * 64, "size_bytes": 1}},
        {"books/journal.jsonl": {"sha256": "0" * 64, "size_bytes": 1}},
        {"journal/0001.jsonl": {"sha256": 5, "size_bytes": -1}},
        {"journal/0001.jsonl": {"sha256": "0" * 64, "size_bytes": 10**15}},
        {"journal/0001.jsonl": 5},
        [],
        None,
    ],
)
def test_a_forged_list_of_members_is_refused(store: Flask, tmp_path: Path, members: Any) -> None:
    before = all_kept()
    with pytest.raises(BadInput, match="damaged"):
        take_copy(forged(tmp_path / "c.zip", {"members": members}), NOW)
    assert all_kept() == before


def test_what_unpacks_to_more_than_it_is_is_refused_unread(store: Flask, tmp_path: Path) -> None:
    bomb = write_copy(tmp_path / "c.zip", [{"x": "0" * 30_000_000}], way=zipfile.ZIP_DEFLATED)
    assert bomb.stat().st_size < 100_000
    with pytest.raises(BadInput, match="damaged"):
        take_copy(bomb, NOW)


@pytest.mark.parametrize("content", [b"", b"nonsense", b"PK\x05\x06" + b"\0" * 18, b"\xff\xd8\xff" + b"x" * 400])
def test_what_is_no_copy_is_said(store: Flask, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "c.zip").write_bytes(content)
    with pytest.raises(BadInput, match="no copy that a phone kept") as refusal:
        take_copy(tmp_path / "c.zip", NOW)
    assert refusal.value.code == "no-copy"


def test_a_copy_of_a_newer_fellside_is_said(store: Flask, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="newer Fellside"):
        take_copy(write_copy(tmp_path / "c.zip", fellside_copy=2), NOW)


def test_a_line_that_is_no_change_is_damage(store: Flask, tmp_path: Path) -> None:
    before = all_kept()
    with pytest.raises(BadInput, match="damaged"):
        take_copy(write_copy(tmp_path / "c.zip", [a_change(), 5]), NOW)
    assert all_kept() == before


def test_one_that_was_stopped_in_the_middle_goes_on_the_next_time(store: Flask, tmp_path: Path) -> None:
    phone = Phone("phone")
    for number in range(3):
        phone.mark(f"B{number}", picture(number))
    file = copy_of(phone, tmp_path / "c.zip")

    def stop(count: int, of: int) -> None:
        if count == of - 1:
            raise KeyboardInterrupt  # when all but the last photo came in

    with pytest.raises(KeyboardInterrupt):
        take_copy(file, NOW, told=stop)
    assert len(all_kept()["bytes"]) == 2
    told = take_copy(file, NOW)
    assert (told["changes_new"], told["changes_known"], told["photos_new"], told["photos_known"]) == (0, 6, 1, 2)
    assert all_kept()["bytes"] == phone.photos
