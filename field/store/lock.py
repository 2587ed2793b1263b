"""One server a data folder: an exclusive lock that ends with its process, however that ends."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from field.core.errors import StoreTrouble

FILE_NAME = "lock"


@contextmanager
def hold(data_dir: Path | str) -> Iterator[None]:
    """Hold the lock of a data folder for the block.

    The lock is the system's, not the file's presence: after a crash nothing has to be cleared away.

    Raises: StoreTrouble when another process holds it, or the folder cannot be written to.
    """
    folder = Path(data_dir)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = (folder / FILE_NAME).open("a+b")
    except OSError as fault:
        raise StoreTrouble(f"The data folder {folder} cannot be used: {fault.strerror}.", code="no-write") from None
    with file:
        if not _lock(file):
            raise StoreTrouble(
                f"Another Fellside is running on the data folder {folder}.",
                "Stop that one first, or give this one a folder of its own.",
                code="in-use",
            )
        try:
            yield
        finally:
            _unlock(file)


if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes]) -> bool:
        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _lock(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(file: IO[bytes]) -> None:
        fcntl.flock(file.fileno(), fcntl.LOCK_UN)
