"""A backup holds all that is kept, of one moment; half of one never stands under its name."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import resource
import threading
import zipfile
from pathlib import Path

import pytest
from backup_kit import NOW, Phone, all_kept, fill, picture
from flask import Flask
from sqlalchemy import select, text

from field.core.errors import BadInput, NoRoom
from field.services.backup import back_up
from field.store import archive, backup, db, epoch, photos
from field.store.tables import BlobRow


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "backup.zip"


def rows(file: Path, book: str) -> list[dict]:
    with zipfile.ZipFile(file) as zip_:
        return [json.loads(line) for line in zip_.read(f"books/{book}.jsonl").splitlines()]


def test_everything_that_is_kept_is_in_it(store: Flask, file: Path) -> None:
    phone = fill()
    told = back_up(file, NOW)
    assert told == {
        "ok": True,
        "file": str(file),
        "size_bytes": file.stat().st_size,
        "made_at": "2027-03-01T09:00:00.000Z",
        "changes": 6,
        "phones": 1,
        "photos": 3,
        "photos_bad": [],
        "photos_missing": [],
        "changes_bad": [],
    }
    assert {(row["dev"], row["seq"]): json.loads(row["op"]) for row in rows(file, "journal")} == phone.ops
    with zipfile.ZipFile(file) as zip_:
        assert {name[-64:]: zip_.read(name) for name in zip_.namelist() if name.startswith("photos/")} == phone.photos
        photo = next(info for info in zip_.infolist() if info.filename.startswith("photos/"))
        assert photo.compress_type == zipfile.ZIP_STORED
        assert zip_.testzip() is None


def test_what_tells_this_life_of_the_store_from_another_is_not_in_it(store: Flask, file: Path) -> None:
    phone = fill()
    with db.writing() as session:
        standing = epoch.read(session)
    back_up(file, NOW)
    back_up(file.with_name("second.zip"), NOW)  # now there is a note of the first
    with zipfile.ZipFile(file.with_name("second.zip")) as zip_:
        text_of_all = b"".join(zip_.read(name) for name in zip_.namelist())
        assert not any("epoch" in name or "lock" in name for name in zip_.namelist())
    assert standing.encode() not in text_of_all
    assert {row["key"] for row in rows(file.with_name("second.zip"), "meta")} <= {"own_clock", "forgetting_seals"}
    # The kit's token of a phone is its name: only the hash of it is kept here, and goes along.
    assert [set(row) >= {"device", "token_hash"} for row in rows(file, "device")] == [True]
    assert [len(row["token_hash"]) for row in rows(file, "device")] == [64]
    assert phone.dev == rows(file, "device")[0]["device"]


def test_an_empty_store_is_backed_up_too(store: Flask, file: Path) -> None:
    told = back_up(file, NOW)
    assert (told["ok"], told["changes"], told["photos"]) == (True, 0, 0)


def test_sync_tells_how_far_the_last_good_one_reaches(store: Flask, file: Path) -> None:
    phone = fill()
    assert phone.backed_up_to == 0
    back_up(file, NOW)
    phone.mark("B9")
    phone.sync()
    assert phone.backed_up_to == 6


def test_a_moment_is_whole_while_others_write(store: Flask, file: Path) -> None:
    phone = fill()
    before = all_kept()

    def write_more(count: int, of: int) -> None:
        phone.mark("LATER", picture(100 + count))
        phone.sync()

    back_up(file, NOW, write_more)
    assert len(all_kept()["changes"]) > len(before["changes"])
    assert len(rows(file, "journal")) == len(before["changes"])
    assert len(rows(file, "blob")) == len(before["photos"])
    assert backup.backed_up_to(db.db.session()) == len(before["changes"])


def test_a_folder_gets_a_dated_file(store: Flask, tmp_path: Path) -> None:
    (tmp_path / "shelf").mkdir()
    told = back_up(tmp_path / "shelf", dt.datetime(2027, 3, 1, 9, 0, 7).astimezone())
    assert told["file"] == str(tmp_path / "shelf" / "fellside-2027-03-01-090007.zip")


def test_only_its_owner_may_read_it(store: Flask, file: Path) -> None:
    back_up(file, NOW)
    assert file.stat().st_mode & 0o777 == 0o600


def test_a_file_that_is_there_is_left_as_it_is(store: Flask, file: Path) -> None:
    file.write_text("mine")
    with pytest.raises(BadInput, match="left as it is"):
        back_up(file, NOW)
    assert file.read_text() == "mine"


@pytest.mark.parametrize("name", ["none/b.zip", "a\0b", "x" * 300])
def test_a_place_that_will_not_do_is_refused(store: Flask, tmp_path: Path, name: str) -> None:
    before = sorted(tmp_path.iterdir())
    with pytest.raises((BadInput, OSError)) as refused:
        back_up(tmp_path / name, NOW)
    assert "Traceback" not in str(refused.value)
    assert sorted(tmp_path.iterdir()) == before


def test_inside_the_data_folder_it_is_refused(store: Flask, data_dir: Path) -> None:
    with pytest.raises(BadInput, match="lost with it"):
        back_up(data_dir / "blobs" / "b.zip", NOW)


def test_a_stop_in_the_middle_leaves_nothing(store: Flask, file: Path) -> None:
    fill()

    def stop(count: int, of: int) -> None:
        if count == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        back_up(file, NOW, stop)
    assert [path.name for path in file.parent.iterdir() if path.is_file()] == []
    assert backup.backed_up_to(db.db.session()) == 0


def test_a_full_disk_is_told_and_leaves_nothing(store: Flask, file: Path) -> None:
    phone = Phone("Large photos")
    for number in range(3):
        phone.mark(f"B{number}", picture(number, 400_000))
    phone.sync()
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    # No file may grow beyond this: to whoever writes it is the same as a disk that ends there.
    resource.setrlimit(resource.RLIMIT_FSIZE, (600_000, before[1]))
    try:
        with pytest.raises(NoRoom, match="no room for the backup"):
            back_up(file, NOW)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert [path.name for path in file.parent.iterdir() if path.is_file()] == []
    assert back_up(file, NOW)["ok"]


def test_each_is_of_one_moment_while_another_thread_writes(store: Flask, file: Path) -> None:
    fill()
    phone = Phone("Other thread")
    ended = threading.Event()

    def write_on() -> None:
        with store.app_context():
            for number in itertools.count(10):
                phone.mark(f"B{number}", picture(number))
                phone.sync()
                if ended.is_set():
                    return

    writer = threading.Thread(target=write_on)
    writer.start()
    ends = []
    try:
        for number in range(6):
            made = file.with_name(f"{number}.zip")
            assert back_up(made, NOW)["ok"]
            journal = rows(made, "journal")
            assert [row["pos"] for row in journal] == list(range(1, len(journal) + 1))
            brought = {json.loads(row["op"])["set"].get("sha256") for row in journal}
            assert {row["sha256"] for row in rows(made, "blob")} <= brought
            ends.append(len(journal))
    finally:
        ended.set()
        writer.join()
    assert ends == sorted(ends)
    assert ends[-1] > 6


def test_a_damaged_photo_is_named_and_the_rest_is_in_it(store: Flask, data_dir: Path, file: Path) -> None:
    phone = fill()
    bad, gone, good = sorted(phone.photos)
    photos.blob_path(data_dir, bad).write_bytes(b"other")
    photos.blob_path(data_dir, gone).unlink()
    told = back_up(file, NOW)
    assert (told["ok"], told["photos_bad"], told["photos_missing"]) == (False, [bad], [gone])
    assert [row["sha256"] for row in rows(file, "blob")] == [good]
    with archive.opened(file) as again:
        again.verify()
    # It is no good one: phones must not let go of what only they have.
    assert backup.backed_up_to(db.db.session()) == 0


def test_a_damaged_change_is_named(store: Flask, file: Path) -> None:
    fill()
    with db.writing() as session:
        session.execute(text("UPDATE journal SET op = replace(op, 'B1', 'B2')"))
    told = back_up(file, NOW)
    assert (told["ok"], [bad["pos"] for bad in told["changes_bad"]]) == (False, [3])


def test_two_phones_are_in_it(store: Flask, file: Path) -> None:
    fill()
    other = Phone("Second")
    other.pair()
    other.sync()
    assert back_up(file, NOW)["phones"] == 2


def test_each_file_knows_the_first_good_backup_with_it_in(store: Flask, tmp_path: Path) -> None:
    def backed_up() -> dict[str, dt.datetime | None]:
        rows = db.db.session().execute(select(BlobRow.sha256, BlobRow.backed_up_at)).all()
        return dict(map(tuple, rows))

    phone = fill(1)
    [first] = phone.photos
    assert backed_up() == {first: None}
    later = NOW + dt.timedelta(days=1)
    back_up(tmp_path / "1.zip", NOW)
    # The words of a photo come home before the photo: the backup that has the ones has not the other.
    phone.mark("B9", picture(9))
    [_, second] = phone.photos
    on_its_way = phone.photos.pop(second)
    phone.sync()
    back_up(tmp_path / "2.zip", later)
    phone.photos[second] = on_its_way
    phone.sync()
    assert backed_up() == {first: NOW, second: None}
    photos.blob_path(db.data_dir(), first).write_bytes(b"damaged")
    assert back_up(tmp_path / "3.zip", later)["ok"] is False
    assert backed_up() == {first: NOW, second: None}
    photos.blob_path(db.data_dir(), first).write_bytes(phone.photos[first])
    back_up(tmp_path / "4.zip", later)
    assert backed_up() == {first: NOW, second: later}
