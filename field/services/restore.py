"""Puts a backup back: all of it is verified first, what stood there is kept beside it, a new epoch begins."""

from __future__ import annotations

import datetime as dt
import glob
import os
import shutil
import uuid
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, NoRoom, StoreTrouble
from field.services import forget
from field.services.backup import back_up
from field.services.home_name import FILE_NAME as NAME_FILE
from field.store import among, archive, db, devices, epoch, files, lock, queries
from field.store import backup as kept
from field.store.archive import Backup, Told

READY = ".restored"  # what a data folder's name ends with while its new content is whole and not yet in its place


def restore(
    file: Path,
    data: Path,
    database: str | None,
    now: dt.datetime,
    told: Told = lambda count, of: None,
    photos: Path | None = None,
) -> dict[str, Any]:
    """Put a backup back into a data folder, or into a database and the folder of its photos.

    In a folder with SQLite the new content is built beside it, and takes its place in one step when it is whole; the
    old folder keeps all it had, under a dated name. In another database everything is replaced in one transaction, and
    what stood there is written to a backup of its own first. Phones that were shut out stay so, and whoever was
    forgotten since the backup is forgotten in it too, before anything is served. Afterwards each phone sends what the
    backup lacks.

    Args:
        file: the backup.
        data: the data folder; made if it is not there.
        database: an SQLAlchemy address, None for SQLite in the data folder.
        now: aware.
        told: called with how many files are done, of how many: read, then put back.
        photos: the folder of photos that all servers of the database share; None: the data folder.
    Returns: {"ok", "data", "kept_as": where the old things are now, None if there were none, "made_at": of the backup,
        "changes", "phones", "photos", "photos_missing": those that records speak of and the backup lacks,
        "changes_left_out": [{"dev", "seq", "why"}]: damaged ones, "forgotten_again": how many people had been
        forgotten since the backup}. "ok" is whether none was left out.
    Raises: BadInput when the file is no whole backup, StoreTrouble when a server runs on the folder or the
        database, NoRoom: nothing was changed then.
    """
    place = data.resolve()
    finish(place)
    if database is None and os.path.ismount(place):
        raise BadInput(
            f"{place} is a disk of its own, and cannot be moved aside.",
            "Name a folder on it with --data, and serve that.",
        )
    if database is None and place.exists() and not (place.is_dir() and db.holds_log(place)):
        raise BadInput(f"{place} holds other things and no log.", "--data names another folder.")
    with ExitStack() as held, archive.opened(file) as backup:
        if place.is_dir():  # one that is not there is not made
            held.enter_context(lock.hold(place))
        backup.verify(told)
        _need_room(backup, place if photos is None else photos)
        if database is None:
            document = _swap(backup, place, now, told, held)
        else:
            document = _replace(backup, place, (database, photos), now, told)
    return {"ok": not document["changes_left_out"], **document}


def finish(data: Path) -> None:
    """Bring a restore to its end that was killed in the middle of moving folders, or forget one that was not that far.

    To be called before a data folder is looked at: for a moment neither the old nor the new one stands there.
    """
    if not data.name:  # the root of a disk has nothing beside it
        return
    _clear_away(data)
    ready = _ready(data)
    if not ready.is_dir():
        return
    if not data.exists():
        _settle(data)
        return
    try:
        with lock.hold(data):  # not while it is being done
            shutil.rmtree(ready)
    except StoreTrouble:
        return


def _clear_away(data: Path) -> None:
    """Remove what a killed restore had built. One that is at its work holds the lock of what it builds."""
    for left in data.parent.glob(f".{glob.escape(data.name)}.restoring-*"):
        try:
            with lock.hold(left):
                shutil.rmtree(left, ignore_errors=True)
        except StoreTrouble:
            continue
        shutil.rmtree(left, ignore_errors=True)  # Windows leaves the lock itself as long as it is open


def _need_room(backup: Backup, data: Path) -> None:
    folder = next(parent for parent in (data, *data.parents) if parent.is_dir())
    needed, free = backup.size_bytes(), shutil.disk_usage(folder).free
    if needed > free:
        raise NoRoom(
            f"The backup needs {needed / 1e6:.0f} MB and the disk has {free / 1e6:.0f} MB free; nothing was changed.",
            "Make room, or restore to another disk with --data.",
        )


def _swap(backup: Backup, data: Path, now: dt.datetime, told: Told, held: ExitStack) -> dict[str, Any]:
    since = kept.read_decided_in(data)
    building = data.with_name(f".{data.name}.restoring-{uuid.uuid4().hex}")
    try:
        held.enter_context(lock.hold(building))
        with db.alone(None, building):
            photo_rows = kept.put_photos(backup, building, told)
            with db.writing() as session:
                done = kept.put_books(session, backup, photo_rows, since, now)
            forget.finish()
            missing = queries.list_missing_blobs(db.db.session())
        if data.is_dir():
            shutil.copymode(data, building)
        _carry_over(backup, data, building)
        files.sync_folders(building)
        if os.name == "nt":
            held.close()  # Windows moves no folder in which a file is open
        files.move(building, _ready(data))
    except BaseException:
        shutil.rmtree(building, ignore_errors=True)
        raise
    aside = None
    if data.exists():
        aside = _free_name(data, now, "")
        files.move(data, aside)
    _settle(data)
    if aside is not None and all(path.name == lock.FILE_NAME for path in aside.iterdir()):
        shutil.rmtree(aside)  # it was empty
        aside = None
    return _document(backup, data, aside, done, missing)


def _settle(data: Path) -> None:
    """Give the new content its place, unless another Fellside that looked for the folder has done so just now."""
    try:
        files.move(_ready(data), data)
    except FileNotFoundError:
        return
    except OSError:
        raise StoreTrouble(
            f"A Fellside was started on {data} in this very moment.",
            f"Stop it; what was put back is whole and lies in {_ready(data)}.",
            code="in-use",
        ) from None


def _carry_over(backup: Backup, data: Path, building: Path) -> None:
    """Give a new data folder what belongs to the house and not to its log: without it no phone would find or trust it.

    The certificates stay on this machine: their keys are in no backup. The name comes from the backup on a new one.
    """
    from field.services.home_files import FOLDER  # with it comes a library that few calls need

    for path in (data / NAME_FILE, *sorted((data / FOLDER).glob("*"))):
        if path.is_file() and data != building:
            with path.open("rb") as file, files.replacing(building / path.relative_to(data)) as out:
                if os.name == "posix":
                    os.fchmod(out.fileno(), path.stat().st_mode & 0o777)
                shutil.copyfileobj(file, out)
    if NAME_FILE in backup.members and not (building / NAME_FILE).exists():
        with files.replacing(building / NAME_FILE) as out:
            out.writelines(backup.pieces(NAME_FILE))


def _replace(
    backup: Backup, data: Path, store: tuple[str, Path | None], now: dt.datetime, told: Told
) -> dict[str, Any]:
    with db.alone(store[0], data, store[1]), among.no_server(db.db.engine):
        aside = None
        if not kept.is_empty(db.db.session()):
            aside = _free_name(data, now, ".zip")
            back_up(aside, now, told)
        photo_rows = kept.put_photos(backup, db.photos_dir(), told)
        with db.writing() as session:
            since = kept.read_decided(session)
            kept.empty(session)
            done = kept.put_books(session, backup, photo_rows, since, now)
            epoch.renew(session)
            devices.renew_own(session)
            db.note_epoch(session)
        forget.finish()
        _carry_over(backup, data, data)
        missing = queries.list_missing_blobs(db.db.session())
    return _document(backup, data, aside, done, missing)


def _ready(data: Path) -> Path:
    return data.with_name(data.name + READY)


def _free_name(data: Path, now: dt.datetime, ending: str) -> Path:
    stem = f"{data.name}-before-{now.astimezone():%Y-%m-%d-%H%M%S}"
    number = 1
    while (found := data.with_name(stem + (f"-{number}" if number > 1 else "") + ending)).exists():
        number += 1
    return found


def _document(backup: Backup, data: Path, aside: Path | None, done: kept.PutBack, missing: list[str]) -> dict[str, Any]:
    return {
        "data": str(data),
        "kept_as": None if aside is None else str(aside),
        "made_at": backup.facts.get("made_at"),
        "changes": done.changes,
        "phones": done.phones,
        "photos": done.photos,
        "photos_missing": missing,
        "changes_left_out": done.changes_left_out,
        "forgotten_again": done.forgotten_again,
    }
