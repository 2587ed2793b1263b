"""Until when backups hold what goes from the log today, as the folder of backups says."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from field.services.backup_shelf import tell_shelf

NOON = dt.datetime(2026, 11, 26, 12, tzinfo=dt.UTC)
NOT_KNOWN = {"by_itself": True, "there": None, "gone_on": None}


def test_the_last_of_those_that_are_there_tells_the_day(tmp_path: Path) -> None:
    for name in ("fellside-2026-10-31.zip", "fellside-2026-11-26.zip", "fellside-2026-11-26-120000.zip", "notes.txt"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "fellside-2026-13-01.zip").write_bytes(b"")
    assert tell_shelf(tmp_path, NOON) == {"by_itself": True, "there": 2, "gone_on": "2027-10-01"}


def test_no_folder_an_empty_one_and_one_that_will_be_made_hold_nothing(tmp_path: Path) -> None:
    nothing = {"there": 0, "gone_on": None}
    assert tell_shelf(None, NOON) == {"by_itself": False, **nothing}
    assert tell_shelf(tmp_path, NOON) == {"by_itself": True, **nothing}
    assert tell_shelf(tmp_path / "backups", NOON) == {"by_itself": True, **nothing}


def test_a_disk_that_is_not_there_is_not_taken_for_an_empty_one(tmp_path: Path) -> None:
    assert tell_shelf(tmp_path / "disk" / "backups", NOON) == NOT_KNOWN
    (tmp_path / "file").write_bytes(b"")
    assert tell_shelf(tmp_path / "file", NOON) == NOT_KNOWN
