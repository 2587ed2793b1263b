"""Saved means saved: the whole browser killed at once, its profile opened again, and no server anywhere."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import phone_kit as kit
import pytest
from killable import KillableBrowser
from playwright.sync_api import Playwright

HERE = Path(__file__).resolve().parent
PHOTO_BYTES = 6 * 1024 * 1024


run = kit.run


@pytest.fixture
def phone(playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], tmp_path: Path) -> Iterator[Any]:
    browser = KillableBrowser(playwright_driver, chromium_path, chromium_args, tmp_path / "profile")
    yield browser
    browser.kill()


@pytest.fixture
def line() -> Iterator[Any]:
    with kit.Line() as line:
        yield line


def test_saved_tree_and_photo_are_there_after_the_browser_was_killed(phone: Any, line: Any) -> None:
    page = phone.open(line.url + kit.BLANK)
    rec = run(
        page,
        """
        const bytes = new Uint8Array(arg.size).map((_, i) => (i * 7) % 251).buffer;
        const sha256 = arg.sha256;
        const [rec] = await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}, {type: 'photo', set: {sha256}}],
          {photos: [{sha256, bytes, type: 'image/jpeg'}]});
        return rec;
        """,
        {"size": PHOTO_BYTES, "sha256": hashlib.sha256(bytes(i * 7 % 251 for i in range(PHOTO_BYTES))).hexdigest()},
    )
    phone.kill()
    page = phone.open(line.url + kit.BLANK)
    found = run(
        page,
        """
        const [photo] = await store.listRecords('photo');
        const digest = await crypto.subtle.digest('SHA-256', await store.getOwnBytes(photo.fields.sha256));
        return {
          trees: (await store.listRecords('tree')).map((one) => [one.id, one.fields.tag]),
          named: photo.fields.sha256,
          hash: [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join(''),
          counts: await store.counts(),
        };
        """,
    )
    assert found["trees"] == [[rec, "B1"]]
    assert found["hash"] == found["named"]
    assert found["counts"] == {"changes_unsent": 2, "photos_unsent": 1, "held": 0, "conflicts": 0}


def test_next_number_and_stamp_rise_after_the_browser_was_killed(phone: Any, line: Any) -> None:
    page = phone.open(line.url + kit.BLANK)
    rec = run(page, "return store.saveChange({type: 'tree', set: {tag: 'B1'}});")
    phone.kill()
    page = phone.open(line.url + kit.BLANK)
    run(page, "await store.saveChange({rec: arg, type: 'tree', set: {tag: 'B2'}});", rec)
    first, second = run(page, "return store.changesToSend({}, 9);")
    assert (first["seq"], second["seq"]) == (1, 2)
    assert second["dev"] == first["dev"]
    assert second["hlc"] > first["hlc"]
    assert second["base"] == {"tag": [first["hlc"]]}


def test_draft_is_there_after_the_browser_was_killed(phone: Any, line: Any) -> None:
    page = phone.open(line.url + kit.BLANK)
    run(page, "await store.saveDraft('mark', {tag: 'B', note: 'half a sent'});")
    phone.kill()
    page = phone.open(line.url + kit.BLANK)
    assert run(page, "return store.getDraft('mark');") == {"tag": "B", "note": "half a sent"}


@pytest.mark.parametrize("after_ms", [0, 5, 20, 60])
def test_kill_in_the_middle_of_saves_leaves_whole_saves_only(phone: Any, line: Any, after_ms: int) -> None:
    page = phone.open(line.url + kit.BLANK)
    run(
        page,
        """
        globalThis.said = [];
        globalThis.go = (async () => {
          for (let i = 0; i < 2000; i += 1) {
            await store.saveChanges([{type: 'tree', set: {tag: `T${i}`}}, {type: 'fix', set: {note: `F${i}`}}]);
            globalThis.said.push(i);
          }
        })();
        return null;
        """,
    )
    page.wait_for_function(
        "(ms) => { globalThis.begun ??= performance.now(); return performance.now() - begun >= ms; }", arg=after_ms
    )
    said = page.evaluate("said.length")
    phone.kill()
    page = phone.open(line.url + kit.BLANK)
    trees, fixes, ops = run(
        page,
        """return [(await store.listRecords('tree')).length, (await store.listRecords('fix')).length,
             (await store.changesToSend({}, 100000)).map((op) => op.seq)];""",
    )
    assert trees >= said  # all that was called saved is there; one more may have been on its way
    assert fixes == trees
    assert ops == list(range(1, 2 * trees + 1))
