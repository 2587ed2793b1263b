"""The phone's own store when it is lost, newer than the page, or full."""

from __future__ import annotations

from typing import Any

import pytest
from phone_kit import ops, run
from playwright.sync_api import Page

MIB = 1024 * 1024


@pytest.mark.parametrize("name", ["InvalidStateError", "UnknownError"])
def test_lost_connection_is_opened_again_and_the_save_done_once(page: Page, name: str) -> None:
    said = run(
        page,
        """
        await store.openStore();
        const real = IDBDatabase.prototype.transaction;
        let left = 1;
        IDBDatabase.prototype.transaction = function (...args) {
          if (left-- > 0) throw new DOMException('Connection to Indexed Database server lost', arg);
          return real.apply(this, args);
        };
        const rec = await store.saveChange({type: 'tree', set: {tag: 'B1'}});
        IDBDatabase.prototype.transaction = real;
        return {rec, ops: await store.changesToSend({}, 10)};
        """,
        name,
    )
    assert [op["rec"] for op in said["ops"]] == [said["rec"]]


def test_store_lost_for_good_is_said_and_nothing_claimed(page: Page) -> None:
    said = run(
        page,
        """
        await store.openStore();
        const real = IDBDatabase.prototype.transaction;
        IDBDatabase.prototype.transaction = () => { throw new DOMException('lost', 'UnknownError'); };
        const save = store.saveChange({type: 'tree', set: {tag: 'B1'}});
        const fault = await save.catch((error) => [error.name, error.code]);
        IDBDatabase.prototype.transaction = real;
        return {fault, ops: await store.changesToSend({}, 10)};
        """,
    )
    assert said == {"fault": ["StoreError", "lost"], "ops": []}


def test_older_page_meeting_a_newer_store_says_update(page: Page) -> None:
    said = run(
        page,
        """
        await new Promise((done) => {
          const request = indexedDB.open('fellside', 99);
          request.onsuccess = () => { request.result.close(); done(); };
        });
        return store.openStore().catch((fault) => [fault.code, fault.message]);
        """,
    )
    assert said[0] == "update"
    assert "new version" in said[1]


def test_open_page_makes_way_for_a_newer_one(page: Page) -> None:
    said = run(
        page,
        """
        await store.saveChange({type: 'tree', set: {tag: 'B1'}});
        const opened = await new Promise((done) => {
          const request = indexedDB.open('fellside', 99);
          request.onblocked = () => done('blocked');
          request.onsuccess = () => { request.result.close(); done('opened'); };
        });
        const fault = await store.saveChange({type: 'tree', set: {tag: 'B2'}}).catch((error) => error.code);
        return [opened, fault];
        """,
    )
    assert said == ["opened", "update"]


def test_full_phone_keeps_the_words_and_refuses_the_photo_in_words(page: Page, line: Any) -> None:
    run(page, "await store.openStore();")
    quota = page.context.new_cdp_session(page)
    quota.send("Storage.overrideQuotaForOrigin", {"origin": line.url, "quotaSize": 4 * MIB})
    said = run(
        page,
        """
        const photo = (letter, size) => ({sha256: letter.repeat(64), bytes: new ArrayBuffer(size), type: 'image/jpeg'});
        const told = [];
        store.onStoreChange((what) => told.push(what.photos_refused));
        const recs = await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}],
          {photos: [photo('a', 20 * 1024 * 1024), photo('b', 1000)]});
        const after = await store.saveChange({type: 'tree', set: {tag: 'B2'}});
        return {recs: Array.from(recs), refused: recs.photos_refused, told, after, counts: await store.counts(),
          big: await store.getOwnBytes('a'.repeat(64)), small: (await store.getOwnBytes('b'.repeat(64))).byteLength,
          trees: (await store.listRecords('tree')).map((one) => one.fields.tag).sort()};
        """,
    )
    assert said["trees"] == ["B1", "B2"]
    assert [one["sha256"] for one in said["refused"]] == ["a" * 64]
    assert said["refused"][0]["text"].startswith("This phone is full")
    assert said["told"][0] == said["refused"]
    assert said["big"] is None
    assert said["small"] == 1000
    assert said["counts"] == {"changes_unsent": 2, "photos_unsent": 1, "held": 0, "conflicts": 0}


def test_phone_so_full_that_words_do_not_fit_says_so(page: Page, line: Any) -> None:
    run(page, "await store.openStore();")
    quota = page.context.new_cdp_session(page)
    quota.send("Storage.overrideQuotaForOrigin", {"origin": line.url, "quotaSize": 1000})
    fault = run(
        page,
        "return store.saveChange({type: 'tree', set: {note: 'x'.repeat(800000)}}).catch((f) => [f.code, f.message]);",
    )
    quota.send("Storage.overrideQuotaForOrigin", {"origin": line.url})
    assert fault[0] == "full"
    assert "full" in fault[1]
    assert ops(page) == []


def test_small_pictures_of_sent_photos_make_room_and_unsent_ones_never(page: Page) -> None:
    said = run(
        page,
        """
        const bytes = new ArrayBuffer(9);
        const photo = (letter) => ({sha256: letter.repeat(64), bytes, type: 'image/jpeg', thumb: bytes});
        await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}], {photos: [photo('a'), photo('b')]});
        await store.markAtHome('a'.repeat(64));
        const {makeRoom} = await import('/static/js/store/photos.js');
        await makeRoom();
        const has = async (sha256) => [await store.getThumb(sha256), await store.getOwnBytes(sha256)].map(Boolean);
        return {sent: await has('a'.repeat(64)), unsent: await has('b'.repeat(64))};
        """,
    )
    assert said == {"sent": [False, True], "unsent": [True, True]}
