"""What tests of a phone's copy share: one made by Python's own zip, as the phone writes it."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

# Body of a function on a page: keeps photos of one letter each, [[letter, bytes]]; home has those of the letter h.
KEEP_PHOTOS = """
for (const [letter, size] of arg) {
  const bytes = new Uint8Array(size).fill(letter.charCodeAt(0)).buffer;
  const digest = await crypto.subtle.digest('SHA-256', bytes);
  const sha256 = [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  const photos = [{sha256, bytes, type: 'image/jpeg'}];
  await store.saveChanges([{type: 'photo', set: {sha256, size_bytes: size}}], {photos});
  if (letter === 'h') await store.markAtHome(sha256);
}
"""


def write_copy(
    path: Path,
    ops: Iterable[Any] = (),
    photos: Mapping[str, bytes] | None = None,
    *,
    way: int = zipfile.ZIP_STORED,
    **facts: Any,
) -> Path:
    """Write one part of a copy and return where it is.

    Args:
        photos: name -> bytes; a name that is not the hash is left as it is.
        way: how the members are packed; a phone stores them.
        facts: further or replaced facts of the manifest.
    """
    lines = b"".join(json.dumps(op).encode() + b"\n" for op in ops)
    members = {"READ-ME.txt": b"This is a copy of what one phone kept in Fellside.\n", "journal/0001.jsonl": lines}
    members |= {f"photos/{name[:2]}/{name}": data for name, data in (photos or {}).items()}
    told = {
        name: {"sha256": hashlib.sha256(data).hexdigest(), "size_bytes": len(data)} for name, data in members.items()
    }
    usual = {
        "fellside_copy": 1,
        "made_at": "2027-03-01T09:00:00.000Z",
        "part": 1,
        "parts": 1,
        "epoch": None,
        "have": {},
    }
    manifest = json.dumps({**usual, "members": told, **facts}).encode()
    with zipfile.ZipFile(path, "w", way) as zip_:
        for name, data in {**members, "manifest.json": manifest}.items():
            zip_.writestr(name, data)
        zip_.comment = b"manifest sha256 " + hashlib.sha256(manifest).hexdigest().encode()
    return path
