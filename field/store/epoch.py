"""The epoch: a random name for one unbroken life of the store.

It stands in the database and in a file beside it that is no part of a backup. A database put back from a backup, or a
data folder that was copied, no longer fits its file: then a new epoch begins, every phone reads the journal from its
start and sends again what is missing.

The file lies with the photos. With SQLite that is the data folder, and the file also holds its own number on the disk:
a copy of the folder has another. With PostgreSQL several servers may have one database, and share one folder of photos;
the file then holds which database it is: one that was put back by other means has other numbers, and one that took over
from a broken one may lack what was answered last. A server that comes with another folder, or an empty one, would begin
a new epoch for all of them: it is refused while others serve.
"""

from __future__ import annotations

import os
import uuid
from pathlib import Path

from sqlalchemy import text
from sqlalchemy.orm import Session

from field.core.errors import StoreTrouble
from field.store import among, files
from field.store.tables import MetaRow

KEY = "epoch"
FILE_NAME = "epoch"


def read(session: Session) -> str:
    """Return the epoch that the database says."""
    row = session.get(MetaRow, KEY)
    if row is None:
        raise RuntimeError("the store was not opened")
    return row.value


def renew(session: Session) -> str:
    """Begin a new epoch in a writing transaction; `write_file` follows after its commit."""
    fresh = str(uuid.uuid4())
    session.merge(MetaRow(key=KEY, value=fresh))
    session.flush()
    return fresh


def renew_if_moved(session: Session, folder: Path) -> bool:
    """Begin a new epoch when database and folder do not belong together, or never had one; return whether it did.

    Args:
        folder: of the photos.
    Raises: StoreTrouble (other-photos) when the folder is not the one of those who serve the database now.
    """
    row = session.get(MetaRow, KEY)
    told = _read_file(folder)
    if row is not None and told == (row.value, find_database(session) or _number_of(folder)):
        return False
    is_another_folder = row is not None and (told is None or told[0] != row.value)
    if is_another_folder and among.is_served(session.connection()):
        raise StoreTrouble(
            f"Another Fellside serves this database, and its photos are not those in {folder}.",
            "Have FELLSIDE_PHOTOS (or --data) name the folder that all of them share; or stop the others first.",
            code="other-photos",
        )
    renew(session)
    return True


def find_database(session: Session) -> str | None:
    """Return what tells a PostgreSQL database from one that was put back in its place; None with SQLite.

    A table that was made anew has another number, as a database has; and a server that was promoted, or brought to a
    moment of its past, begins another time line.
    """
    if session.get_bind().dialect.name != "postgresql":
        return None
    question = """SELECT oid::text || '-' || 'meta'::regclass::oid::text || '-'
        || left(pg_walfile_name(pg_current_wal_lsn()), 8) FROM pg_database WHERE datname = current_database()"""
    return f"pg-{session.execute(text(question)).scalar_one()}"


def write_file(folder: Path, epoch: str, database: str | None = None) -> None:
    """Write the file beside the database, if it does not say so already.

    Args:
        folder: of the photos.
        database: as `find_database` returns it.
    """
    if _read_file(folder) != (epoch, database or _number_of(folder)):
        with files.replacing(folder / FILE_NAME) as out:
            out.write(f"{epoch} {database or os.fstat(out.fileno()).st_ino}\n".encode())


def _read_file(folder: Path) -> tuple[str, str] | None:
    """The epoch that the file says, and what it belongs to; None when there is none."""
    try:
        words = (folder / FILE_NAME).read_bytes().decode("ascii", "replace").split()
    except FileNotFoundError:
        return None
    return (words[0], words[1]) if len(words) == 2 else None


def _number_of(folder: Path) -> str | None:
    try:
        return str((folder / FILE_NAME).stat().st_ino)
    except FileNotFoundError:
        return None
