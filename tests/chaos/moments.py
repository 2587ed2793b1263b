"""Moments at which a home can be killed, and what a power cut then leaves of its files.

Every statement, commit, flush, rename, piece read and answer begun is a moment; the process kills itself at the one it
was told. A power cut is a kill after which each file ends where it was last flushed.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlalchemy import event as sa_event

Kill = (
    int | list[Any] | None
)  # at the so manieth moment; as [number, "file"] or [number, "commit"] of those alone; None: never
FILE_CALLS = ("replace", "rename", "unlink", "truncate", "fsync")


class Moments:
    """Counts the moments of this process."""

    def __init__(self) -> None:
        self.left: int | None = None  # moments that it lives yet
        self.only: str | None = None
        self._log: Path | None = None

    def arm(self, kill: Kill) -> None:
        """Die at a moment from now on."""
        self.left, self.only = kill if isinstance(kill, list) else (kill, None)

    def pass_one(self, kind: str = "") -> None:
        """Go through one moment, or die in it."""
        if self.left is None or self.only not in (None, kind):
            return
        self.left -= 1
        if self.left <= 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def watch(self, log: Path) -> None:
        """Count from here on; every file that is flushed is noted in the log, with its length."""
        self._log = log
        for name in FILE_CALLS:
            setattr(os, name, self._around(name, getattr(os, name)))
        sa_event.listen(Engine, "before_cursor_execute", lambda *_: self.pass_one())
        sa_event.listen(Engine, "commit", lambda *_: self.pass_one("commit"))

    def _around(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any, **kwargs: Any) -> Any:
            self.pass_one("file")
            result = call(*args, **kwargs)
            if name == "fsync":
                self._note_flushed(args[0])
            self.pass_one("file")
            return result

        return counted

    def _note_flushed(self, handle: int) -> None:
        state = os.fstat(handle)
        assert self._log is not None
        with self._log.open("a") as log:
            log.write(f"{state.st_ino} {state.st_size}\n")


def cut_power(folders: list[Path], log: Path, before: dict[int, int]) -> None:
    """Let each file end where it was last flushed: what was not flushed never reached the disk.

    Args:
        before: number and length of every file as it lay on the disk when the process began.
    """
    flushed = dict(before)
    if log.exists():
        for line in log.read_text().splitlines():
            number, size = (int(word) for word in line.split())
            flushed[number] = size
    for folder in folders:
        for path in list_files(folder):
            state = path.stat()
            if state.st_size > flushed.get(state.st_ino, 0):
                os.truncate(path, flushed.get(state.st_ino, 0))


def list_files(folder: Path) -> list[Path]:
    """Return every file under a folder; none where it is not there."""
    return [path for path in folder.rglob("*") if path.is_file()] if folder.is_dir() else []
