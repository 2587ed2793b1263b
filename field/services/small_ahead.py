"""Small pictures that a phone sends ahead of its photos, so that the others see them the same evening on a thin line.

One stands where home's own small picture of that photo will stand, and goes when the photo is here whole: then home
makes its own. What came is drawn anew, so that nothing but its pixels is kept.
"""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

from field.core.errors import BadInput, NotFound
from field.services import keep_blob, keep_room
from field.store import db, files, photos, previews, queries

MOST_BYTES = 128 * 1024  # four times what the app's own take
KIND = b"\xff\xd8\xff"  # JPEG
LEFT_AFTER = dt.timedelta(days=90)  # the photo never came: its phone was lost


def take(sha256: str, data: bytes) -> None:
    """Keep the small picture of a photo that is still to come; one that is here already needs none, and keeps its own.

    Args:
        sha256: of the photo, not of the small picture.
        data: a JPEG of at most MOST_BYTES.
    Raises: BadInput: bad-name, bad-picture; NotFound (no-photo) when no record speaks of such a photo, so that nobody
        fills the disk with pictures of nothing; NoRoom; Busy.
    """
    keep_blob.check_name(sha256)
    session = db.db.session()
    if photos.find_blob(session, sha256) is not None:
        return
    if not queries.is_named(session, sha256) or keep_blob.is_forgotten(sha256):
        raise NotFound("No photo of that name is waited for.", None, "sha256", code="no-photo")
    session.rollback()
    keep_room.need_room(len(data))
    made = _drawn_anew(data)
    with photos.one_writer.hold(sha256):
        if photos.length(photos.blob_path(db.photos_dir(), sha256)) is None:
            with files.replacing(photos.preview_path(db.photos_dir(), sha256)) as out:
                out.write(made)


def find(sha256: str) -> Path | None:
    """Return where the small picture lies that was sent ahead of a photo; None for none, or when the photo is here.

    Raises: BadInput (bad-name).
    """
    keep_blob.check_name(sha256)
    if photos.find_blob(db.db.session(), sha256) is not None:
        return None
    place = photos.preview_path(db.photos_dir(), sha256)
    return None if photos.length(place) is None else place


def drop_left(now: dt.datetime) -> int:
    """Remove small pictures of photos that never came; returns how many."""
    until = (now - LEFT_AFTER).timestamp()
    dropped = 0
    for path in (db.photos_dir() / "previews").glob("??/*.jpg"):
        if path.stat().st_mtime < until and not photos.blob_path(db.photos_dir(), path.stem).exists():
            path.unlink(missing_ok=True)
            dropped += 1
    return dropped


def _drawn_anew(data: bytes) -> bytes:
    temp = db.photos_dir() / "parts" / f"whole-{uuid.uuid4().hex}"  # a name that a later start clears away
    try:
        with files.no_room_in_words():
            temp.write_bytes(data)
        made = previews.make_preview(temp) if data.startswith(KIND) else None
    finally:
        temp.unlink(missing_ok=True)
    if made is None:
        raise BadInput("What was sent is no small picture that can be read.", None, "body", code="bad-picture")
    return made
