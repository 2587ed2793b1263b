"""Says how the house keeps what it was given: the last good backup, why there is none, and how much room is left."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import Any

from field.core.dates import instant_text
from field.store import backup as kept
from field.store import db

OLD = dt.timedelta(days=2)  # one is made each day the server runs


def tell_house(backups: Path | None, now: dt.datetime) -> dict[str, Any]:
    """Return what the House page says of backups.

    Args:
        backups: the folder that backups go to by themselves, None when there is none.
        now: aware.
    Returns: {"last_backup_at": of the last good one, None if there is none, "last_backup_file", "backups_dir",
        "backup_ok", "why_not": a sentence when it is not, "free_bytes": on the disk of the log, "backups_free_bytes":
        on that of the backups, None when it cannot be asked}.
    """
    with db.snapshot() as session:
        good = kept.read_note(session, kept.LAST_GOOD)
        tried = kept.read_note(session, kept.LAST_TRY)
    last_at = dt.datetime.fromisoformat(good["at"]) if good else None
    file = Path(good["file"]) if good else None
    why = _why_not(backups, last_at, file, tried.get("why_not"), now)
    return {
        "last_backup_at": None if last_at is None else instant_text(last_at),
        "last_backup_file": None if file is None else str(file),
        "backups_dir": None if backups is None else str(backups),
        "backup_ok": why is None,
        "why_not": why,
        "free_bytes": _free(db.photos_dir()),
        "backups_free_bytes": None if backups is None else _free(backups),
    }


def _why_not(
    backups: Path | None, last_at: dt.datetime | None, file: Path | None, trouble: str | None, now: dt.datetime
) -> str | None:
    if trouble is not None:
        return f"The last try failed. {trouble}"
    if backups is None:
        return "No backup is made by itself: start the server with --backups and a folder, best on another disk."
    if last_at is None or file is None:
        return "No backup was made yet."
    if now - last_at > OLD:
        return f"The last good backup is {(now - last_at).days} days old."
    if file.parent == backups and not file.exists():
        return "The last good backup is no longer where it was written."
    return None


def _free(folder: Path) -> int | None:
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return None
