"""Makes a backup: one file with all that is kept, of one moment, also while the server serves."""

from __future__ import annotations

import datetime as dt
import glob
import os
from pathlib import Path
from typing import Any

from field import __version__
from field.core.dates import instant_text
from field.core.errors import BadInput, NoRoom
from field.services import forget, keep_blob
from field.services.home_name import FILE_NAME as NAME_FILE
from field.store import archive, db, files
from field.store import backup as kept
from field.store.archive import Told

HALF_WRITTEN = ".fellside-*.zip.*"  # what a killed process leaves of a backup: it has a dot before its name


def back_up(target: Path, now: dt.datetime, told: Told = lambda count, of: None) -> dict[str, Any]:
    """Write everything that is kept into a new file.

    The file is written beside its place, flushed, read again from its first byte to its last, and only then given its
    name: a file under that name is a whole backup, whatever was killed.

    Args:
        target: a file that is not there yet; or a folder, for a dated name in it.
        now: aware.
        told: called with how many files are written, of how many; then with how many are read again.
    Returns: {"ok", "file", "size_bytes", "made_at", "changes", "phones", "photos", "photos_bad", "photos_missing",
        "changes_bad"}. "ok" is whether all that is kept is as it was taken in; if not, the backup holds the rest, and
        does not count as a good one.
    Raises: BadInput for a place that will not do; NoRoom.
    """
    place = _find_place(target, now)
    files.drop_stale(place.parent, HALF_WRITTEN)
    files.drop_stale(place.parent, f".{glob.escape(place.name)}.*")
    keep_blob.drop_left_copies(now)
    forget.finish()  # what was to go must not live on in a backup
    facts: dict[str, Any] = {"made_at": instant_text(now), "version": __version__}
    try:
        with files.replacing(place) as out:
            if os.name == "posix":
                os.fchmod(out.fileno(), 0o600)  # where trees stand is in it
            with archive.writing(out) as writer:
                with db.snapshot() as session:
                    written, photo_rows = kept.write_books(session, writer)
                # The reading transaction has ended: photos never change, and may take an hour to copy.
                bad, gone = kept.write_photos(writer, db.photos_dir(), photo_rows, told)
                name_file = db.data_dir() / NAME_FILE
                if name_file.is_file():  # on a new machine phones look for the log under the old name
                    writer.add(NAME_FILE, [name_file.read_bytes()])
                whole = len(photo_rows) - len(bad) - len(gone)
                counts = {"changes": written.end, "phones": written.phones, "photos": whole}
                writer.finish({**facts, **counts})
            out.flush()
            os.fsync(out.fileno())
            with archive.opened(Path(out.name)) as again:
                again.verify(told)
    except NoRoom:
        raise NoRoom(f"There is no room for the backup in {place.parent}.", "Make room, or name another.") from None
    ok = not (bad or gone or written.changes_bad)
    with db.writing() as session:
        if ok:
            kept.note_good(session, now, place, written.end, photo_rows)
        else:
            kept.note_try(session, now, "Something that is kept here is damaged: 'fellside check' says what.")
    return {
        "ok": ok,
        "file": str(place),
        "size_bytes": place.stat().st_size,
        "made_at": facts["made_at"],
        **counts,
        "photos_bad": bad,
        "photos_missing": gone,
        "changes_bad": written.changes_bad,
    }


def dated_name(now: dt.datetime) -> str:
    """Return the name of a backup made by hand into a folder: it has the second in it, so that none is in the way."""
    return f"fellside-{now.astimezone():%Y-%m-%d-%H%M%S}.zip"


def _find_place(target: Path, now: dt.datetime) -> Path:
    try:
        if "\0" in str(target):
            raise ValueError("no file can have that name")
        place = target.expanduser().absolute()
        if place.is_dir():
            place /= dated_name(now)
        is_there, has_folder = os.path.lexists(place), place.parent.is_dir()
        folder = place.parent.resolve()
        is_inside = any(folder.is_relative_to(one.resolve()) for one in (db.data_dir(), db.photos_dir()))
    except (OSError, ValueError, RuntimeError):  # no file can have that name; no home to expand
        raise BadInput(f"{str(target)!r} cannot be written.", "Name another file.") from None
    if is_there:
        raise BadInput(f"{place} is there already, and is left as it is.", "Give a new name, or a folder.")
    if not has_folder:
        raise BadInput(f"There is no folder {place.parent}.", "Make it, or name another; is the disk plugged in?")
    if is_inside:
        raise BadInput(
            "A backup inside the data folder would be lost with it.", "Name a place elsewhere, best on another disk."
        )
    return place
