"""Says which photos and papers a phone may fetch or bring: all of them, or those of its own records."""

from __future__ import annotations

import json

from field.core.errors import NotAllowed, NotFound
from field.core.who_sees import FULL
from field.store import db, devices, journal, queries
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


def check_upload(sha256: str, device: str, role: str) -> None:
    """Refuse a file that a phone may not bring: one that may only record brings the photos of its own records.

    One that no record speaks of yet may come too: its words can still be on their way.

    Raises: NotAllowed (record-only).
    """
    if role == FULL or not SHA256.fullmatch(sha256) or _is_of(sha256, device):
        return
    if queries.is_named(db.db.session(), sha256):
        raise NotAllowed("This phone may record, and brings its own photos only.", None, "sha256", code="record-only")


def _is_of(sha256: str, device: str) -> bool:
    session = db.db.session()
    told = (
        text
        for dev in devices.line_of(session, device)
        for kind in ("photo", "track")
        for text in journal.texts_of(session, dev, kind, sha256)
    )
    return any(json.loads(text)["set"].get("sha256") == sha256 for text in told)
