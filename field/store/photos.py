"""Photos, tracks and papers as files, named by their SHA-256; parts of them while they arrive; previews.

A part's length on the disk is how much of it is here: no number is kept elsewhere. A whole file is flushed and checked
before it takes its place, and its row is written after that, so that a row never speaks of what is not there.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from field.store import among, files
from field.store.archive import FIRST
from field.store.engine import db
from field.store.tables import BlobRow

PIECE = 64 * 1024
UNKNOWN_TYPE = "application/octet-stream"
COPY_TYPE = "application/zip"
COPY_HEAD = (
    FIRST.encode()
)  # the name of its first member, which stands after the 30 bytes that every member begins with
MOST_HEAD = 64
TURN_S = 10.0  # no lock is held while something is sent: what a file takes to be checked, and a slow disk on top


@dataclass(frozen=True, slots=True)
class Verified:
    """What reading every file again has shown."""

    count: int
    bad: list[str]  # the file is not what its name says
    gone: list[str]  # the file is not there at all


def blob_path(data_dir: Path, sha256: str) -> Path:
    """Return where a whole file lies or will lie."""
    return data_dir / "blobs" / sha256[:2] / sha256


def part_path(data_dir: Path, sha256: str) -> Path:
    """Return where a file that is still arriving lies."""
    return data_dir / "parts" / sha256


def preview_path(data_dir: Path, sha256: str) -> Path:
    """Return where the preview of a photo lies, if it was made."""
    return data_dir / "previews" / sha256[:2] / f"{sha256}.jpg"


def length(path: Path) -> int | None:
    """Return the length of a file, None when there is none.

    It is opened for that: of a folder on another machine the system may have an older length in its memory, and asks
    anew only for a file that is opened.
    """
    try:
        with path.open("rb") as file:
            return os.fstat(file.fileno()).st_size
    except FileNotFoundError:
        return None


def append_piece(path: Path, pieces: Iterable[bytes]) -> int:
    """Write pieces at the end of a part, flush it, and return its new length.

    What was written before an error stays: it is the beginning of the file all the same.

    Raises: NoRoom when the disk is full.
    """
    with files.no_room_in_words(), path.open("ab") as out:
        try:
            for piece in pieces:
                out.write(piece)
        finally:
            out.flush()
            os.fsync(out.fileno())
    return path.stat().st_size


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file, read piece by piece."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def find_blob(session: Session, sha256: str) -> BlobRow | None:
    """Return the row of a whole file, None when it is not here."""
    return session.get(BlobRow, sha256)


def save_row(session: Session, sha256: str, path: Path, now: dt.datetime) -> None:
    """Write the row of a file that has taken its place."""
    with path.open("rb") as file:
        media_type = sniff(file.read(MOST_HEAD))
    session.merge(BlobRow(sha256=sha256, size_bytes=path.stat().st_size, media_type=media_type, stored_at=now))


def drop_row(session: Session, sha256: str) -> None:
    """Forget a whole file, in a writing transaction."""
    session.execute(delete(BlobRow).where(BlobRow.sha256 == sha256))


def list_left_copies(session: Session, before: dt.datetime) -> list[str]:
    """Return the phones' copies that were sent before an instant to be taken in, and then were not."""
    old = select(BlobRow.sha256).where(BlobRow.media_type == COPY_TYPE, BlobRow.stored_at < before)
    return list(session.scalars(old.order_by(BlobRow.sha256)))


def sniff(head: bytes) -> str:
    """Return the media type that the first bytes of a file tell; what its sender calls it is not asked."""
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    if head[4:8] == b"ftyp":
        return (
            {b"avif": "image/avif", b"avis": "image/avif"}.get(head[8:12], "image/heic")
            if _is_heif(head)
            else "video/mp4"
        )
    if head.startswith(b"%PDF-"):
        return "application/pdf"
    if head.startswith(b"PK\x03\x04") and head[30:].startswith(COPY_HEAD):
        return COPY_TYPE
    if head.lstrip(b"\xef\xbb\xbf \r\n\t").startswith((b"<?xml", b"<gpx")):
        return "application/gpx+xml"
    return UNKNOWN_TYPE


def _is_heif(head: bytes) -> bool:
    return head[8:12] in (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis")


def verify_all(session: Session, data_dir: Path) -> Verified:
    """Read every whole file again and compare it with its name and row."""
    bad: list[str] = []
    gone: list[str] = []
    rows = session.execute(select(BlobRow.sha256, BlobRow.size_bytes).order_by(BlobRow.sha256)).all()
    for sha256, size_bytes in rows:
        path = blob_path(data_dir, sha256)
        found = length(path)
        if found is None:
            gone.append(sha256)
        elif found != size_bytes or hash_file(path) != sha256:
            bad.append(sha256)
    return Verified(len(rows), bad, gone)


class _Locks:
    """A lock for each hash that is being written, gone when nobody waits for it.

    It holds among the threads of this process and, where a database has several servers, among all their processes.
    """

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._held: dict[str, tuple[threading.Lock, int]] = {}

    @contextmanager
    def hold(self, name: str, wait_s: float = TURN_S) -> Iterator[None]:
        """Be the one writer of a file during the block.

        Raises: Busy when the turn did not come within `wait_s` seconds.
        """
        with self._guard:
            lock, users = self._held.get(name, (threading.Lock(), 0))
            self._held[name] = (lock, users + 1)
        try:
            if not lock.acquire(timeout=wait_s):
                raise among.in_use()
            try:
                with among.one_writer_of(db.engine, name, wait_s):
                    yield
            finally:
                lock.release()
        finally:
            with self._guard:
                lock, users = self._held[name]
                if users == 1:
                    del self._held[name]
                else:
                    self._held[name] = (lock, users - 1)


one_writer = _Locks()


def read_pieces(stream: IO[bytes], piece: int = PIECE) -> Iterator[bytes]:
    """Yield the bytes of a stream piece by piece."""
    while data := stream.read(piece):
        yield data
