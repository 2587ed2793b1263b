"""Looks after files that are half here: how many there may be, and when the beginning of one is let go.

Nothing is lost with a beginning: its phone keeps the photo until home has it whole, and begins anew.
"""

from __future__ import annotations

import datetime as dt
import os
import threading
from pathlib import Path

from field.core.errors import Busy
from field.store import db, photos
from field.sync.change import SHA256

LEFT_AFTER = dt.timedelta(days=30)  # a phone that was away for a month begins that photo anew
IN_NEED_AFTER = dt.timedelta(days=1)  # where there are too many: one that nobody went on with since yesterday
MOST = 500
MOST_BYTES = 4 * 1024 * 1024 * 1024
MOST_OF_ONE = 16  # a phone sends two at a time; more are begun where its line breaks again and again
TRY_AGAIN_S = 3600

_guard = threading.Lock()
_begun: dict[str, list[str]] = {}  # phone -> what it began in this process's life, in that order


def make_room(sha256: str, device: str | None, now: dt.datetime) -> None:
    """See to it that one more file may be begun; of a phone that began too many the first goes.

    Args:
        sha256: the file that is to be begun.
        device: the phone that brings it; None: not one that could begin others.
        now: aware.
    Raises: Busy (many-parts) when there are too many, all of them begun or gone on with since yesterday.
    """
    if device is not None:
        for one in _too_many_of(device, sha256):
            _drop(one)
    if _are_too_many():
        drop_left(now, IN_NEED_AFTER)
        if _are_too_many():
            raise Busy(
                "Home holds the beginnings of as many photos as it can.",
                "It is tried again; they are kept on this phone until then.",
                retry_after_s=TRY_AGAIN_S,
                code="many-parts",
            )


def drop_left(now: dt.datetime, after: dt.timedelta = LEFT_AFTER) -> int:
    """Remove beginnings that nobody went on with for so long; returns how many."""
    until = (now - after).timestamp()
    return sum(_drop(path.name, until) for path in _list())


def _too_many_of(device: str, sha256: str) -> list[str]:
    with _guard:
        own = [one for one in _begun.pop(device, []) if one != sha256 and _part(one).exists()]
        _begun[device] = [*own, sha256][-MOST_OF_ONE:]
        return own[: max(0, len(own) + 1 - MOST_OF_ONE)]


def _are_too_many() -> bool:
    sizes = [_size(path) for path in _list()]
    return len(sizes) >= MOST or sum(sizes) >= MOST_BYTES


def _list() -> list[Path]:
    return [path for path in (db.photos_dir() / "parts").iterdir() if SHA256.fullmatch(path.name)]


def _drop(sha256: str, until: float | None = None) -> bool:
    """Remove one beginning, unless it is written at this moment or was touched after an instant."""
    try:
        with photos.one_writer.hold(sha256, 0.1):
            if until is not None and os.stat(_part(sha256)).st_mtime > until:
                return False
            _part(sha256).unlink()
            return True
    except (FileNotFoundError, Busy):
        return False


def _part(sha256: str) -> Path:
    return photos.part_path(db.photos_dir(), sha256)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0
