"""A backup a day by itself: one only, none let go before the next is good, and what went wrong is told."""

from __future__ import annotations

import datetime as dt
import os
import threading
from pathlib import Path

import pytest
from backup_kit import fill
from cli_kit import refused
from flask import Flask
from home_server import RunningServer, wait_for

from field.core.errors import BadInput
from field.services.backup_daily import check_folder, make_due, start, try_due
from field.services.house import tell_house
from field.store import archive, db, photos

NOON = dt.datetime(2026, 11, 26, 12, 0).astimezone()  # a Thursday, in the server's own zone


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    return tmp_path / "shelf"


def names(shelf: Path) -> list[str]:
    return sorted(path.name for path in shelf.iterdir())


def test_one_is_made_each_day_and_no_second(store: Flask, shelf: Path) -> None:
    fill()
    assert make_due(shelf, NOON) is not None
    assert make_due(shelf, NOON + dt.timedelta(hours=11)) is None
    assert make_due(shelf, NOON + dt.timedelta(hours=13)) is not None
    assert names(shelf) == ["fellside-2026-11-26.zip", "fellside-2026-11-27.zip"]
    with archive.opened(shelf / "fellside-2026-11-27.zip") as backup:
        backup.verify()
        assert backup.facts["changes"] == 6


def test_old_ones_go_and_what_is_not_ours_stays(store: Flask, shelf: Path) -> None:
    shelf.mkdir()
    days = [NOON.date() - dt.timedelta(days=number) for number in range(1, 20)]
    for day in days:
        (shelf / f"fellside-{day}.zip").write_bytes(b"old")
    mine = ["notes.txt", "fellside-2026-11-26-120000.zip", "fellside-2026-13-45.zip", "copy of fellside-2026-11-08.zip"]
    for name in mine:
        (shelf / name).write_bytes(b"mine")
    make_due(shelf, NOON)
    # The last seven days; the Sundays 22, 15 and 8; and no month's end but the newest of this month.
    kept = {f"fellside-2026-11-{day:02d}.zip" for day in (26, 25, 24, 23, 22, 21, 20, 15, 8)}
    assert set(names(shelf)) == kept | set(mine)


def test_none_goes_while_the_newest_is_not_good(store: Flask, data_dir: Path, shelf: Path) -> None:
    phone = fill()
    photos.blob_path(data_dir, min(phone.photos)).unlink()
    shelf.mkdir()
    old = [f"fellside-2025-01-{day:02d}.zip" for day in range(1, 29)]
    for name in old:
        (shelf / name).write_bytes(b"old")
    make_due(shelf, NOON)
    assert names(shelf) == [*old, "fellside-2026-11-26-incomplete.zip"]
    assert make_due(shelf, NOON + dt.timedelta(hours=1)) is None
    make_due(shelf, NOON + dt.timedelta(days=1))
    assert names(shelf) == [*old, "fellside-2026-11-27-incomplete.zip"]


def test_a_disk_that_is_not_there_is_told_and_not_made(store: Flask, tmp_path: Path) -> None:
    try_due(tmp_path / "disk" / "shelf", NOON)
    assert not (tmp_path / "disk").exists()
    told = tell_house(tmp_path / "disk" / "shelf", NOON)
    assert (told["backup_ok"], told["backups_free_bytes"]) == (False, None)
    assert "no folder" in told["why_not"]


def test_a_shelf_that_is_a_file_is_told(store: Flask, shelf: Path) -> None:
    shelf.write_text("mine")
    try_due(shelf, NOON)
    assert str(shelf) in tell_house(shelf, NOON)["why_not"]
    assert shelf.read_text() == "mine"


def test_half_written_ones_go_a_day_later(store: Flask, shelf: Path) -> None:
    shelf.mkdir()
    for name, age_s in ((".fellside-2026-11-24.zip.a1", 90_000), (".fellside-2026-11-26.zip.b2", 60)):
        (shelf / name).write_bytes(b"half")
        then = dt.datetime.now(dt.UTC).timestamp() - age_s
        os.utime(shelf / name, (then, then))
    make_due(shelf, NOON)
    assert names(shelf) == [".fellside-2026-11-26.zip.b2", "fellside-2026-11-26.zip"]


def test_a_shelf_inside_the_data_folder_is_refused(tmp_path: Path) -> None:
    for inside in (tmp_path, tmp_path / "shelf", tmp_path / "x" / ".." / "shelf", Path("a\0b")):
        with pytest.raises(BadInput):
            check_folder(inside, tmp_path)
    check_folder(tmp_path.parent / "shelf", tmp_path)


def test_the_thread_makes_one_at_once_and_ends_when_told(store: Flask, shelf: Path) -> None:
    db.db.session.remove()
    end = start(store.app_context, shelf)
    end()
    assert len(names(shelf)) == 1
    assert "daily-backup" not in {thread.name for thread in threading.enumerate()}


# --- what the House page is told -----------------------------------------------------------------------------------


def test_the_house_tells_of_the_last_good_one(store: Flask, shelf: Path) -> None:
    told = tell_house(shelf, NOON)
    assert (told["backup_ok"], told["why_not"], told["last_backup_at"]) == (False, "No backup was made yet.", None)
    try_due(shelf, NOON)
    told = tell_house(shelf, NOON + dt.timedelta(hours=47))
    assert told["backup_ok"] is True
    assert told["last_backup_at"] == NOON.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    assert told["last_backup_file"] == str(shelf / "fellside-2026-11-26.zip")
    assert told["free_bytes"] > 0
    assert told["backups_free_bytes"] > 0


def test_the_house_tells_what_is_wrong(store: Flask, data_dir: Path, shelf: Path) -> None:
    phone = fill()
    assert "--backups" in tell_house(None, NOON)["why_not"]
    try_due(shelf, NOON)
    assert "3 days old" in tell_house(shelf, NOON + dt.timedelta(days=3))["why_not"]
    (shelf / "fellside-2026-11-26.zip").unlink()
    assert "no longer" in tell_house(shelf, NOON)["why_not"]
    photos.blob_path(data_dir, min(phone.photos)).unlink()
    try_due(shelf, NOON + dt.timedelta(days=1))
    told = tell_house(shelf, NOON + dt.timedelta(days=1))
    assert "damaged" in told["why_not"]
    assert told["last_backup_file"] == str(shelf / "fellside-2026-11-26.zip")  # the last good one


def test_the_house_is_told_to_paired_devices_only(client, paired_client, data_dir: Path) -> None:
    assert client.get("/api/house").status_code == 401
    answer = paired_client.get("/api/house")
    assert answer.status_code == 200
    assert set(answer.json) == {
        "last_backup_at",
        "last_backup_file",
        "backups_dir",
        "backup_ok",
        "why_not",
        "free_bytes",
        "backups_free_bytes",
    }
    assert answer.headers["Cache-Control"] == "no-store"


def test_sync_answers_how_far_the_last_good_one_reaches(store: Flask, shelf: Path) -> None:
    phone = fill()
    try_due(shelf, NOON)
    phone.sync()
    assert phone.backed_up_to == 6


# --- the server that makes them ------------------------------------------------------------------------------------


def test_a_server_makes_the_backup_of_the_day_when_it_starts(tmp_path: Path, shelf: Path) -> None:
    with RunningServer(tmp_path / "data", verb=("--plain", "--backups", str(shelf))) as server:
        # A name without a dot before it is a whole one.
        made = wait_for(lambda: list(shelf.glob("fellside-*.zip")), "no backup was made")
        assert server.stop() == 0
        assert "Traceback" not in server.said()
    with archive.opened(made[0]) as backup:
        backup.verify()


def test_a_server_refuses_a_shelf_inside_its_data_folder(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    for how in ((), ("--plain",)):
        said = refused(
            capsys, *how, "--data", tmp_path / "data", "--backups", tmp_path / "data" / "shelf", "--port", "0"
        )
        assert "lost with the log" in said
