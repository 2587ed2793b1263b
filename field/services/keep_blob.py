"""Keeps photos, tracks and papers under the name of their content: piece by piece from a phone, or whole."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from field.core.errors import BadInput, Conflict, NotAllowed, NotFound, TooLarge
from field.services import open_parts
from field.store import db, files, photos, previews, queries
from field.sync.change import SHA256

MOST_PIECE = 256 * 1024  # bytes in one PATCH
MOST_BLOB = 512 * 1024 * 1024  # bytes; far above any photo, far below any disk
STREAM_PIECE = 16 * 1024
LEFT_AFTER = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Progress:
    """How much of a file is here."""

    offset: int  # bytes
    complete: bool


@dataclass(frozen=True, slots=True)
class Blob:
    """A file that is wholly here."""

    path: Path
    size_bytes: int
    media_type: str


class WrongOffset(Conflict):
    """The piece does not continue what is here; `offset` is where it has to begin."""

    usual_code = "wrong-offset"

    def __init__(self, progress: Progress) -> None:
        super().__init__(
            f"The next piece has to begin at byte {progress.offset}.", "Ask where to go on, and go on there.", "offset"
        )
        self.offset = progress.offset
        self.complete = progress.complete


def offset(sha256: str) -> Progress:
    """Return how much of a file is here.

    Raises: NotFound (no-blob) when nothing is; BadInput when the name is no SHA-256.
    """
    check_name(sha256)
    with photos.one_writer.hold(sha256):
        found = _find_progress(sha256)
    if found is None:
        raise _nothing()
    return found


def append(sha256: str, offset: int, total: int, stream: IO[bytes], device: str | None = None) -> Progress:
    """Take one piece of a file; the last one completes it.

    Args:
        sha256: of the whole file, 64 lower-case hex.
        offset: where the piece begins, bytes.
        total: length of the whole file, bytes.
        stream: the piece, at most MOST_PIECE bytes; what arrived before a break is kept.
        device: the phone that brings it, if one does.
    Returns: how much is here now, lastingly.
    Raises: WrongOffset when it does not continue what is here (nothing changed); TooLarge; BadInput (hash-wrong) when
        the whole is not what its name says: then all of it is dropped and it has to begin again; NoRoom; Busy.
    """
    check_name(sha256)
    if total > MOST_BLOB:
        raise TooLarge(f"A file may have at most {MOST_BLOB // 1024 // 1024} MiB.", None, "total")
    with photos.one_writer.hold(sha256):
        done = _check_place(sha256, offset, total)
    if done is not None:
        return done
    if offset == 0:
        _refuse_forgotten(sha256)
        open_parts.make_room(sha256, device, dt.datetime.now(dt.UTC))
    db.db.session.rollback()  # a slow phone must not keep a reading transaction open
    # Nothing is held while the piece comes in: a phone that died in the middle of one comes back with the same photo.
    piece, broken = _read_piece(stream, offset, total)
    with photos.one_writer.hold(sha256):
        done = _check_place(sha256, offset, total) or _write_piece(sha256, total, piece)
    if broken is not None:
        raise broken
    return done


def _check_place(sha256: str, offset: int, total: int) -> Progress | None:
    """Refuse a piece that does not continue what is here; return how much there is when nothing is wanted of it."""
    here = _find_progress(sha256)
    if here is not None and here.complete:
        if total == here.offset:
            return here
        raise WrongOffset(here)
    begin = 0 if here is None else here.offset
    if begin > total:
        raise _drop(photos.part_path(db.photos_dir(), sha256))
    if offset != begin:
        raise WrongOffset(Progress(begin, False))
    return None


def _refuse_forgotten(sha256: str) -> None:
    if is_forgotten(sha256):
        raise NotAllowed("This file went when a person was forgotten; it is not taken in again.", code="forgotten")


def _write_piece(sha256: str, total: int, piece: bytes) -> Progress:
    part = photos.part_path(db.photos_dir(), sha256)
    length = photos.append_piece(part, photos.read_pieces(io.BytesIO(piece), STREAM_PIECE))
    if length == total:
        if is_forgotten(sha256):  # meanwhile
            part.unlink()
        _refuse_forgotten(sha256)
        _complete(sha256, part)
    return Progress(length, length == total)


def keep_bytes(data: bytes) -> str:
    """Keep a whole file and return its SHA-256; one that is here already is left as it is."""
    return _keep(iter((data,)))


def keep_file(path: Path | str) -> str:
    """Keep a copy of a whole file and return its SHA-256, as `keep_bytes`."""
    with Path(path).open("rb") as file:
        return _keep(photos.read_pieces(file))


def keep_pieces(pieces: Iterator[bytes]) -> str:
    """Keep a whole file that comes bit by bit and return its SHA-256, as `keep_bytes`."""
    return _keep(pieces)


def drop(sha256: str) -> None:
    """Remove a whole file that was sent to be read and not to be kept."""
    check_name(sha256)
    with photos.one_writer.hold(sha256):
        with db.writing() as session:
            photos.drop_row(session, sha256)
        photos.blob_path(db.photos_dir(), sha256).unlink(missing_ok=True)


def is_here(sha256: str) -> bool:
    """Return whether a file is wholly here."""
    return photos.find_blob(db.db.session(), sha256) is not None


def drop_left_copies(now: dt.datetime) -> None:
    """Remove phones' copies that were sent a day ago or earlier and never taken in: the app was closed meanwhile.

    They hold what the log holds, and must not lie about where nobody knows of them.
    """
    for sha256 in photos.list_left_copies(db.db.session(), now - LEFT_AFTER):
        drop(sha256)


def list_kept_twice(hashes: Iterable[str]) -> list[str]:
    """Return those of some files that lie here whole and are in a good backup too: a phone may let its own go.

    What was never here, or is not meant for it to know, is not among them: a phone is told nothing about those.
    """
    session = db.db.session()
    kept = []
    for sha256 in sorted({one for one in hashes if SHA256.fullmatch(one)}):
        row = photos.find_blob(session, sha256)
        if row is None or row.backed_up_at is None:
            continue
        if photos.length(photos.blob_path(db.photos_dir(), sha256)) == row.size_bytes:
            kept.append(sha256)
    return kept


def open_blob(sha256: str) -> Blob:
    """Return where a whole file lies, with its length and type.

    Raises: NotFound (no-blob) when it is not wholly here; BadInput when the name is no SHA-256.
    """
    check_name(sha256)
    row = photos.find_blob(db.db.session(), sha256)
    path = photos.blob_path(db.photos_dir(), sha256)
    if row is None or photos.length(path) is None:
        raise _nothing()
    return Blob(path, row.size_bytes, row.media_type)


def preview(sha256: str) -> Path:
    """Return where the preview of a photo lies: a JPEG of at most 640 pixels, upright, no metadata; made if need be.

    Raises: NotFound: no-blob when the photo is not here, no-preview when no picture can be made of it.
    """
    blob = open_blob(sha256)
    target = photos.preview_path(db.photos_dir(), sha256)
    with photos.one_writer.hold(sha256):
        if photos.length(target) is None and not previews.write_preview(blob.path, target):
            raise NotFound("The photo is kept, but no preview can be made of it.", code="no-preview")
    return target


def is_forgotten(sha256: str) -> bool:
    """Return whether a file went when a person was forgotten."""
    return any(sha256 in one["files"] for one in queries.list_records("forgetting") if isinstance(one["files"], list))


def check_name(sha256: str) -> None:
    """Refuse what is not the name of a file.

    Raises: BadInput (bad-name).
    """
    # Also the guard of the disk: nothing but this form is ever made part of a path.
    if SHA256.fullmatch(sha256) is None:
        raise BadInput("A file is named by its SHA-256: 64 characters of 0-9 and a-f.", None, "sha256", code="bad-name")


def _nothing() -> NotFound:
    return NotFound("This photo or file is not here.", code="no-blob")


def _find_progress(sha256: str) -> Progress | None:
    place = photos.blob_path(db.photos_dir(), sha256)
    found = photos.length(place)
    if found is None:
        # Whatever the tables say, the file is not wholly here. Asked first: with each piece the database would be slow.
        return _find_part(sha256)
    row = photos.find_blob(db.db.session(), sha256)
    if row is not None:
        return Progress(row.size_bytes, True)
    # It took its place, and the server was killed before the row was written; or the database is an older one.
    if photos.hash_file(place) == sha256:
        _write_row(sha256, place)
        return Progress(found, True)
    place.unlink()
    return _find_part(sha256)


def _find_part(sha256: str) -> Progress | None:
    arrived = photos.length(photos.part_path(db.photos_dir(), sha256))
    return None if arrived is None else Progress(arrived, False)


def _read_piece(stream: IO[bytes], begin: int, total: int) -> tuple[bytes, Exception | None]:
    """Return a piece as it came, and what broke it off, if something did: what arrived before is good all the same."""
    parts: list[bytes] = []
    size = 0
    while True:
        try:
            part = stream.read(STREAM_PIECE)
        except Exception as fault:
            return b"".join(parts), fault
        if not part:
            return b"".join(parts), None
        size += len(part)
        if size > MOST_PIECE:
            raise TooLarge(f"A piece may have at most {MOST_PIECE // 1024} KiB.", "Send smaller pieces.")
        if begin + size > total:
            raise BadInput(
                "More was sent than the file is long.", "Send it again from where it stands.", code="too-long"
            )
        parts.append(part)


def _complete(sha256: str, part: Path) -> None:
    if photos.hash_file(part) != sha256:
        raise _drop(part)
    place = photos.blob_path(db.photos_dir(), sha256)
    files.move(part, place)
    _write_row(sha256, place)


def _drop(part: Path) -> BadInput:
    part.unlink(missing_ok=True)
    return BadInput(
        "What arrived is not the file of that name; it was dropped.", "Send it again from the start.", code="hash-wrong"
    )


def _write_row(sha256: str, place: Path) -> None:
    photos.preview_path(db.photos_dir(), sha256).unlink(missing_ok=True)  # what a phone sent ahead, or is made again
    with db.writing() as session:
        photos.save_row(session, sha256, place, dt.datetime.now(dt.UTC))


def _keep(pieces: Iterator[bytes]) -> str:
    """Write pieces to a file of no name yet, then give it the name of its content."""
    temp = db.photos_dir() / "parts" / f"whole-{uuid.uuid4().hex}"
    digest = hashlib.sha256()
    try:
        with files.no_room_in_words(), temp.open("xb") as out:
            for piece in pieces:
                digest.update(piece)
                out.write(piece)
            out.flush()
            os.fsync(out.fileno())
        sha256 = digest.hexdigest()
        with photos.one_writer.hold(sha256):
            here = _find_progress(sha256)
            if (here is None or not here.complete) and not is_forgotten(sha256):
                files.move(temp, photos.blob_path(db.photos_dir(), sha256))
                photos.part_path(db.photos_dir(), sha256).unlink(missing_ok=True)
                _write_row(sha256, photos.blob_path(db.photos_dir(), sha256))
    finally:
        temp.unlink(missing_ok=True)
    return sha256
