"""Says which photos and papers a phone may fetch: all of them, or those that it brought itself."""

from __future__ import annotations

import json

from field.core.errors import NotFound
from field.core.who_sees import FULL
from field.store import db, devices, journal
from field.sync.change import SHA256


def check_blob(sha256: str, device: str, role: str) -> None:
    """Refuse a file that a phone may not see.

    Args:
        sha256: the name of the file, as it was asked for.
        device: the phone that asks.
        role: what it may do; one that may only record sees the photos of its own records.
    Raises: NotFound (no-blob), as for a file that is not here: what is here is not told either.
    """
    if role == FULL or (SHA256.fullmatch(sha256) and _is_of(sha256, device)):
        return
    raise NotFound("There is no such file here for this phone.", None, "sha256", code="no-blob")


def _is_of(sha256: str, device: str) -> bool:
    session = db.db.session()
    told = (
        text for dev in devices.line_of(session, device) for text in journal.texts_of(session, dev, "photo", sha256)
    )
    return any(json.loads(text)["set"].get("sha256") == sha256 for text in told)
