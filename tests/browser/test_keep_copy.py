"""A copy as the phone makes it: a zip that any program reads, whole, in parts, with nothing secret in it."""

from __future__ import annotations

import base64
import hashlib
import json
import zipfile
import zlib
from pathlib import Path
from typing import Any

from copy_kit import KEEP_PHOTOS
from phone_kit import ops, run, save, tree
from playwright.sync_api import Page

MAKE = """
const {planCopy, makePart, copyLeft} = await import('/static/js/hill/keep_copy.js');
const plan = await planCopy(arg);
const parts = [];
for (let n = 1; n <= plan.parts.length; n += 1) {
  const {file, missing} = await makePart(plan, n);
  const bytes = new Uint8Array(await file.arrayBuffer());
  parts.push({name: file.name, missing, data: btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(''))});
}
return parts;
"""


def make(page: Page, folder: Path, **options: Any) -> list[Path]:
    """Make a copy on the page and return its parts as files."""
    files = []
    for part in run(page, MAKE, {"all": False, **options}):
        file = folder / part["name"]
        file.write_bytes(base64.b64decode(part["data"]))
        files.append(file)
    return files


def test_crc_is_that_of_zlib(blank: Page) -> None:
    texts = ["", "123456789", "a" * 1000, "\x00\x01\x02"]
    script = """async (texts) => { const {crc32} = await import('/static/js/core/zip.js');
      return texts.map((text) => crc32(new TextEncoder().encode(text))); }"""
    assert blank.evaluate(script, texts) == [zlib.crc32(text.encode()) for text in texts]


def test_a_copy_is_a_whole_zip_with_all_that_is_kept(page: Page, tmp_path: Path) -> None:
    save(page, tree("B1", note="Grüße, 木"), tree("B2"))
    run(page, KEEP_PHOTOS, [["a", 1000], ["h", 2000]])
    run(page, "await store.setIdentity({device: 'd', token: 'SECRET-TOKEN', name: 'Mine'});")
    [file] = make(page, tmp_path)
    with zipfile.ZipFile(file) as zip_:
        assert zip_.testzip() is None
        assert {info.compress_type for info in zip_.infolist()} == {zipfile.ZIP_STORED}
        manifest = json.loads(zip_.read("manifest.json"))
        assert zip_.comment.decode() == "manifest sha256 " + hashlib.sha256(zip_.read("manifest.json")).hexdigest()
        told = {name: one["sha256"] for name, one in manifest["members"].items()}
        assert told == {
            name: hashlib.sha256(zip_.read(name)).hexdigest() for name in zip_.namelist() if name != "manifest.json"
        }
        assert [json.loads(line) for line in zip_.read("journal/0001.jsonl").splitlines()] == ops(page)
        wanted = hashlib.sha256(b"a" * 1000).hexdigest()
        assert [name for name in zip_.namelist() if name.startswith("photos/")] == [f"photos/{wanted[:2]}/{wanted}"]
        assert zip_.read(f"photos/{wanted[:2]}/{wanted}") == b"a" * 1000
        everything = b"".join(zip_.read(name) for name in zip_.namelist())
    assert b"SECRET-TOKEN" not in everything
    assert (manifest["changes"], manifest["photos"], manifest["part"], manifest["parts"]) == (4, 1, 1, 1)
    assert manifest["have"] == {manifest["device"]: 4}


def test_parts_are_zips_of_their_own_and_hold_each_thing_once(page: Page, tmp_path: Path) -> None:
    save(page, tree("B1"))
    run(page, KEEP_PHOTOS, [["a", 5000], ["h", 5000], ["b", 5000], ["c", 20_000]])
    files = make(page, tmp_path, all=True, mostPart=12_000)
    held = []
    for number, file in enumerate(files, 1):
        assert file.name.endswith(f"-{number}-of-{len(files)}.zip")
        with zipfile.ZipFile(file) as zip_:
            assert zip_.testzip() is None
            held += [name for name in zip_.namelist() if name not in ("READ-ME.txt", "manifest.json")]
    assert len(files) == 3
    assert len(held) == len(set(held)) == 5  # a photo larger than a part has one for itself


def test_photos_wait_the_smallest_first(page: Page) -> None:
    run(page, KEEP_PHOTOS, [["a", 3000], ["b", 1000], ["h", 10], ["c", 2000]])
    assert [one["size"] for one in run(page, "return store.photosToSend();")] == [1000, 2000, 3000]


def test_a_photo_whose_bytes_are_gone_stops_nothing(page: Page, tmp_path: Path) -> None:
    run(page, KEEP_PHOTOS, [["a", 1000], ["b", 1000]])
    gone = hashlib.sha256(b"a" * 1000).hexdigest()
    run(
        page,
        """const {write, ask} = await import('/static/js/store/db.js');
        await write(['photos'], (tx) => ask(tx.objectStore('photos').delete(arg)));""",
        gone,
    )
    [part] = run(page, MAKE, {"all": False})
    assert part["missing"] == [gone]
    (tmp_path / "c.zip").write_bytes(base64.b64decode(part["data"]))
    with zipfile.ZipFile(tmp_path / "c.zip") as zip_:
        assert len([name for name in zip_.namelist() if name.startswith("photos/")]) == 1
