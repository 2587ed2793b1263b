"""Files that must last: written beside their place, flushed to the disk, then moved in one step."""

from __future__ import annotations

import errno
import os
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from field.store.engine import no_room

STALE_S = 24 * 3600
FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


@contextmanager
def no_room_in_words() -> Iterator[None]:
    """Turn a full disk into its sentence."""
    try:
        yield
    except OSError as fault:
        if fault.errno in FULL:
            raise no_room() from None
        raise


@contextmanager
def replacing(target: Path, *, private: bool = False) -> Iterator[IO[bytes]]:
    """Give a file to write; it takes its place, whole and lasting, only when the block ends without an error.

    Args:
        target: its place.
        private: for the eyes of its owner only, from the first byte on.
    Raises: NoRoom when the disk is full; what stood there before still stands.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    temp = target.with_name(f".{target.name}.{uuid.uuid4().hex}")
    with no_room_in_words():
        try:
            with open(temp, "xb", opener=_open_private if private else None) as out:
                yield out
                out.flush()
                os.fsync(out.fileno())
            move(temp, target)
        except BaseException:
            temp.unlink(missing_ok=True)
            raise


def _open_private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def move(source: Path, target: Path) -> None:
    """Move a flushed file into its place, so that a power cut leaves it in one of the two."""
    target.parent.mkdir(parents=True, exist_ok=True)
    source.replace(target)
    sync_folder(target.parent)


def drop_stale(folder: Path, pattern: str) -> None:
    """Delete files that a killed process left half written, once nobody can be writing them any more."""
    for path in folder.glob(pattern):
        if time.time() - path.stat().st_mtime > STALE_S:
            path.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Flush a folder's list of names, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folders(root: Path) -> None:
    """Flush the lists of names of a folder and of all folders in it, whose files were flushed before."""
    for folder, _, _ in os.walk(root, topdown=False):
        sync_folder(Path(folder))
