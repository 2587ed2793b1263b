"""Keeps the last of the disk for the journal: photos may wait on their phones, what people wrote must still come in."""

from __future__ import annotations

import shutil

from field.core.errors import NoRoom
from field.store import db

RESERVE = 200 * 1024 * 1024  # bytes; some hundred thousand changes, and what the database needs to write them


def need_room(size: int) -> None:
    """Refuse a file when the disk of the log would be left with less than its reserve.

    Args:
        size: bytes still to come.
    Raises: NoRoom (disk-full); nothing was changed.
    """
    try:
        free = shutil.disk_usage(db.photos_dir()).free
    except OSError:
        return  # nobody knows: writing tells
    if free - size < RESERVE:
        raise NoRoom(
            f"The disk of the server has only {free // 1024 // 1024} MiB left, and keeps those for what people write.",
            "Make room on it. Photos wait on the phone until then.",
            code="disk-full",
        )
