"""The epoch: a random name for one unbroken life of the store.

It stands in the database and in a file beside it that is no part of a backup. A database put back from a backup, or a
data folder that was copied, no longer fits its file: then a new epoch begins, every phone reads the journal from its
start and sends again what is missing.
"""

from __future__ import annotations

import os
import uuid
from pathlib import Path

from sqlalchemy.orm import Session

from field.store import files
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


def renew_if_moved(session: Session, data_dir: Path) -> bool:
    """Begin a new epoch when database and folder do not belong together, or never had one; return whether it did."""
    row = session.get(MetaRow, KEY)
    if row is not None and _read_file(data_dir) == row.value:
        return False
    renew(session)
    return True


def write_file(data_dir: Path, epoch: str) -> None:
    """Write the file beside the database, if it does not say so already.

    The file also holds its own number on the disk: a copy of the folder has another one.
    """
    if _read_file(data_dir) != epoch:
        with files.replacing(data_dir / FILE_NAME) as out:
            out.write(f"{epoch} {os.fstat(out.fileno()).st_ino}\n".encode())


def _read_file(data_dir: Path) -> str | None:
    """The epoch that the file says; None when there is none, or it was copied here."""
    try:
        with (data_dir / FILE_NAME).open("rb") as file:
            words = file.read().decode("ascii", "replace").split()
            number = str(os.fstat(file.fileno()).st_ino)
    except FileNotFoundError:
        return None
    return words[0] if len(words) == 2 and words[1] == number else None
