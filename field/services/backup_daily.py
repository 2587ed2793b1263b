"""Makes a backup a day by itself while the server runs; 7 daily, 4 weekly and 12 monthly ones are kept."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, FellsideError
from field.core.rotation import keep_which
from field.services.backup import back_up
from field.services.backup_shelf import list_dated
from field.store import among, db, files
from field.store import backup as kept

LOOK_EVERY_S = 3600.0  # a laptop sleeps through any set hour
INCOMPLETE = "fellside-*-incomplete.zip"


def check_folder(folder: Path, data: Path) -> None:
    """Refuse a folder for backups that would be lost with the data folder.

    Raises: BadInput.
    """
    if "\0" in str(folder) or folder.resolve().is_relative_to(data.resolve()):
        raise BadInput(
            f"Backups in {folder} would be lost with the log." if "\0" not in str(folder) else "No folder is so named.",
            "--backups names a folder elsewhere, best on another disk.",
        )


def make_due(folder: Path, now: dt.datetime) -> dict[str, Any] | None:
    """Make the backup of the day, unless it is there; then let go what rotation does not keep.

    Nothing is let go unless today's is a good one. A backup of a store that is damaged has 'incomplete' in its name,
    the one before it makes way, and all good ones stay: what they hold may be all there is.

    Args:
        folder: made if the folder it lies in is there: a disk that is not plugged in must not be mistaken for one.
        now: aware; the day is that of the server's own zone.
    Returns: what `back_up` told, None when there was nothing to do.
    Raises: as `back_up`.
    """
    today = now.astimezone().date()
    if folder.parent.is_dir():
        folder.mkdir(exist_ok=True)
    place = folder / f"fellside-{today}.zip"
    incomplete = place.with_name(f"fellside-{today}-incomplete.zip")
    if place.exists() or incomplete.exists():
        return None
    told = back_up(place, now)
    if told["ok"]:
        _let_go(folder, today)
        return told
    files.move(place, incomplete)
    for path in folder.glob(INCOMPLETE):
        if path != incomplete:
            path.unlink()
    return {**told, "file": str(incomplete)}


def try_due(folder: Path, now: dt.datetime) -> None:
    """Make the backup of the day as `make_due`; what keeps it from being made is written down for the House page.

    Of several processes that serve one database one makes it, and the others leave it to that one.
    """
    try:
        with among.try_alone(db.db.engine, among.DAILY_BACKUP) as alone:
            if alone:
                make_due(folder, now)
        return
    except FellsideError as fault:
        why = " ".join(filter(None, (fault.message, fault.cure)))
    except OSError as fault:
        why = f"{fault.filename or folder}: {(fault.strerror or 'the disk refused').lower()}."
    except Exception:
        logging.getLogger("fellside").exception("the backup of the day failed")
        why = "A fault of Fellside's own; the server's log says more."
    try:
        with db.writing() as session:
            kept.note_try(session, now, why)
    except Exception:
        logging.getLogger("fellside").exception("why there is no backup could not be written down: %s", why)


def start(app_context: Callable[[], AbstractContextManager[Any]], folder: Path) -> Callable[[], None]:
    """Look now and every hour, in a thread of its own, whether the backup of the day is there; return what ends that.

    Killed in the middle, it leaves a file with a dot before its name, which is no backup and goes a day later.

    Args:
        app_context: what the store is opened by.
    """
    ended = threading.Event()

    def look() -> None:
        while True:
            with app_context():
                try_due(folder, dt.datetime.now(dt.UTC))
            if ended.wait(LOOK_EVERY_S):
                return

    thread = threading.Thread(target=look, name="daily-backup", daemon=True)
    thread.start()

    def end() -> None:
        ended.set()
        thread.join()

    return end


def _let_go(folder: Path, today: dt.date) -> None:
    there = list_dated(folder)
    for on in there.keys() - keep_which(there, today):
        there[on].unlink()
    files.sync_folder(folder)
