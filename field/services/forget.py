"""Forgets a person: their contact data goes from the journal, the tables and the papers, here and on every phone.

That it was done is a record of its own and travels like any other; whoever has it leaves out what it names, also of
changes that come later, from a phone that was away or out of an old backup.
"""

from __future__ import annotations

import datetime as dt
import logging
import uuid
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, NotFound
from field.core.forgetting import blanks_of, files_of, plan_forgetting
from field.core.records import RECORD_TYPES
from field.services import keep_blob
from field.services.backup_shelf import tell_shelf
from field.services.write_changes import write_changes
from field.store import db, forgotten, journal, photos, queries

MOST_TICKED = 10_000


def plan(landholder: str, now: dt.datetime, backups: Path | None = None) -> dict[str, Any]:
    """Return what names a landholder in the log, for whoever decides.

    Args:
        landholder: id of the record.
        now: aware.
        backups: the folder that backups go to by themselves.
    Returns: as `plan_forgetting`; and "backups", as `tell_shelf`: until when these hold it all the same.
    Raises: NotFound (no-record).
    """
    return {**_plan(landholder, queries.list_histories()), "backups": tell_shelf(backups, now)}


def _plan(landholder: str, kept: Mapping[str, list[dict[str, Any]]]) -> dict[str, Any]:
    found = plan_forgetting(landholder, kept)
    if found is None:
        raise NotFound("There is no such landholder here.", None, "landholder", code="no-record")
    return found


def forget(
    landholder: str, keep: object, also: object, now: dt.datetime, backups: Path | None = None
) -> dict[str, Any]:
    """Blank what names a landholder, for good, and write down that it was done.

    Args:
        landholder: id of the record.
        keep: ids of what was asked about and is to be kept: signed letters, papers, answers.
        also: [[id, field], ...] of what was found beside it and is to go too.
        now: aware.
        backups: as for `plan`.
    Returns: {"forgetting": its record, "records", "files": how many went, "backups": as `plan`}.
    Raises: NotFound (no-record); BadInput when keep or also are not in their form.
    """
    kept, ticked = _read_ids(keep), _read_pairs(also)
    everything = queries.list_histories()
    found = _plan(landholder, everything)
    blanks = blanks_of(found, kept, ticked)
    files = files_of(blanks, everything)
    told = {
        "about": landholder,
        "blanks": blanks,
        "keeps": sorted(kept & {one["id"] for one in found["asked"]}),
        "files": files,
        "forgotten_on": now.astimezone().date().isoformat(),
    }
    rec = str(uuid.uuid4())
    write_changes([(journal.FORGETTING, rec, told)], now, sealed=True)
    clear_up()
    return {"forgetting": rec, "records": len(blanks), "files": len(files), "backups": tell_shelf(backups, now)}


def clear_up() -> None:
    """Let go of what the journal and the tables no longer speak of: files, previews, plans, and the database's scraps.

    May be called at any time, and any number of times. Until all of it went, a mark in the house's facts says so, and
    `finish` goes on with it: whoever is killed in the middle leaves nothing behind for good.
    """
    mark = forgotten.find_to_clear(db.db.session())
    try:
        for one in queries.list_records(journal.FORGETTING):
            for sha256 in one["files"] if isinstance(one.get("files"), list) else ():
                if isinstance(sha256, str) and not _is_spoken_of(sha256):
                    _drop_file(sha256)
        for pack in (db.photos_dir() / "packs").glob("*.json"):
            pack.unlink(missing_ok=True)
    except OSError:
        # What names the person is gone from every answer, and who asked must hear that.
        logging.getLogger("fellside").exception("a file of someone forgotten could not be removed")
        return
    if _sweep() and mark is not None:
        with db.writing() as session:
            forgotten.drop_to_clear(session, mark)


def finish() -> None:
    """Go on with a `clear_up` that was killed, or kept from its end, before."""
    if forgotten.find_to_clear(db.db.session()) is not None:
        clear_up()


def _sweep() -> bool:
    """Write the database anew without its free pages: in these what was deleted would still stand.

    Returns: whether that was done.
    """
    if db.db.engine.dialect.name != "sqlite":
        return True  # its operator's VACUUM does that
    db.db.session.rollback()
    try:
        with closing(db.db.engine.raw_connection()) as connection:  # outside of any transaction
            connection.cursor().execute("VACUUM").close()
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
    except Exception:
        # Somebody writes just now. What was to go is gone from every answer; the scraps go the next time.
        logging.getLogger("fellside").exception("the database could not be swept")
        return False
    return True


def _drop_file(sha256: str) -> None:
    try:
        keep_blob.drop(sha256)
    except BadInput:
        return
    for place in (photos.preview_path, photos.part_path):
        place(db.photos_dir(), sha256).unlink(missing_ok=True)


def _is_spoken_of(sha256: str) -> bool:
    named = [(kind, field) for kind, kinds in RECORD_TYPES.items() for field, what in kinds.items() if what == "sha256"]
    return any(queries.records_where(kind, field, sha256) for kind, field in named if field != "content_sha256")


def _read_ids(value: object) -> set[str]:
    if isinstance(value, list) and len(value) <= MOST_TICKED and all(isinstance(one, str) for one in value):
        return set(value)
    raise BadInput("What is to be kept is a list of records.", None, "keep", code="bad-request")


def _read_pairs(value: object) -> list[tuple[str, str]]:
    if isinstance(value, list) and len(value) <= MOST_TICKED:
        pairs = [one for one in value if isinstance(one, list) and [type(part) for part in one] == [str, str]]
        if len(pairs) == len(value):
            return [(rec, field) for rec, field in pairs]
    raise BadInput("What is to go as well is a list of records and fields.", None, "also", code="bad-request")
