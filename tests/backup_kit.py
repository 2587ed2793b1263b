"""What tests of backups share: a phone as a small model, a home with something in it, all that is kept as one value."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
from pathlib import Path
from typing import Any

from builders import WALL_MS, a_change, a_request, an_id
from sqlalchemy import select

from field.services import keep_blob
from field.services.take_in_changes import take_in
from field.store import db, devices, journal, photos, projection
from field.store.tables import BlobRow, DeviceRow, JournalRow

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


class Phone:
    """Keeps every change and photo it made or was told of, and sends what home says it lacks."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.dev = an_id()
        self.ops: dict[tuple[str, int], dict[str, Any]] = {}
        self.photos: dict[str, bytes] = {}
        self.epoch: str | None = None
        self.cursor = 0
        self.backed_up_to = 0

    def pair(self) -> None:
        with db.writing() as session:
            devices.save_device(session, self.dev, self.name, hashlib.sha256(self.dev.encode()).hexdigest(), NOW)

    def mark(self, tag: str, picture: bytes | None = None) -> None:
        """Write down a tree, and a photo of it."""
        tree = self._change("tree", {"tag": tag, "species": "birch"})
        if picture is not None:
            sha256 = hashlib.sha256(picture).hexdigest()
            self.photos[sha256] = picture
            self._change("photo", {"tree": tree, "sha256": sha256, "size_bytes": len(picture)})

    def sync(self, at: dt.datetime = NOW) -> None:
        """Exchange until neither has anything the other lacks; photos too."""
        answer = self._exchange([], at)
        while True:
            lacking = [op for (dev, seq), op in sorted(self.ops.items()) if seq > answer["have"].get(dev, 0)]
            if not lacking and not answer["more"]:
                break
            answer = self._exchange(lacking[:50], at)
        for sha256 in answer["blobs_missing"]:
            if sha256 in self.photos:
                self._send_photo(sha256)

    def _change(self, record_type: str, fields: dict[str, Any]) -> str:
        seq = max((seq for dev, seq in self.ops if dev == self.dev), default=0) + 1
        op = a_change(fields, type=record_type, dev=self.dev, seq=seq)
        self.ops[self.dev, seq] = op
        return str(op["rec"])

    def _exchange(self, ops: list[dict[str, Any]], at: dt.datetime) -> dict[str, Any]:
        asked = a_request(*ops, device=self.dev, epoch=self.epoch, cursor=self.cursor, want=500)
        answer = json.loads(json.dumps(take_in(asked, self.dev, at)))
        assert {result["s"] for result in answer["results"]} <= {"ok", "dup"}
        for entry in answer["ops"]:
            self.ops.setdefault((entry["op"]["dev"], entry["op"]["seq"]), entry["op"])
        self.epoch, self.cursor = answer["epoch"], answer["cursor"]
        self.backed_up_to = answer["backed_up_to"]
        return answer

    def _send_photo(self, sha256: str) -> None:
        data = self.photos[sha256]
        for begin in range(0, len(data), keep_blob.MOST_PIECE):
            piece = data[begin : begin + keep_blob.MOST_PIECE]
            keep_blob.append(sha256, begin, len(data), io.BytesIO(piece))


def picture(number: int, size: int = 3000) -> bytes:
    """Return bytes that stand for a photo: no two numbers give the same."""
    return (b"picture %d " % number) * (size // 10)


def fill(trees: int = 3) -> Phone:
    """Pair a phone, and have it bring some trees with a photo each; return it."""
    phone = Phone("Test phone")
    phone.pair()
    for number in range(trees):
        phone.mark(f"B{number}", picture(number))
    phone.sync()
    return phone


def all_kept() -> dict[str, Any]:
    """Return everything that is kept, as one value to compare: changes, records, phones, photos with their bytes."""
    with db.snapshot() as session:
        changes = session.execute(
            select(JournalRow.dev, JournalRow.seq, JournalRow.hash, JournalRow.op, JournalRow.held)
        ).all()
        phones = session.execute(select(DeviceRow.device, DeviceRow.name, DeviceRow.token_hash)).all()
        rows = session.execute(select(BlobRow.sha256, BlobRow.size_bytes, BlobRow.media_type)).all()
        return {
            "changes": sorted(tuple(row) for row in changes),
            "have": journal.have(session),
            "records": sorted((kind, json.dumps(row, default=str)) for kind, row in projection.rows_standing(session)),
            "phones": sorted(tuple(row) for row in phones),
            "photos": sorted(tuple(row) for row in rows),
            "bytes": {row[0]: photos.blob_path(db.photos_dir(), row[0]).read_bytes() for row in rows},
        }


def kept_in(folder: Path, database_url: str | None = None) -> dict[str, Any]:
    """Return `all_kept` of a data folder."""
    with db.alone(database_url, folder):
        return all_kept()
