"""The phone's own store in a real browser, with no server anywhere: what 'saved' means, and when it cannot be."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import phone_kit as kit
import pytest
from playwright.sync_api import Browser, BrowserContext, Page

HERE = Path(__file__).resolve().parent
MIB = 1024 * 1024


run, save, record = kit.run, kit.save, kit.record


@pytest.fixture(scope="module")
def line() -> Iterator[Any]:
    with kit.Line() as line:
        yield line


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(timezone_id="Europe/London")
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext, line: Any) -> Page:
    page = context.new_page()
    page.goto(line.url + kit.BLANK)
    return page


def ops(page: Page) -> list[dict[str, Any]]:
    return run(page, "return store.changesToSend({}, 1000);")


def tree(tag: str, **fields: Any) -> dict[str, Any]:
    return {"type": "tree", "set": {"tag": tag, **fields}}


# --- what a save writes --------------------------------------------------------------------------------------------


def test_change_has_the_form_that_home_takes(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T10:20:30.456Z")
    [rec] = save(page, tree("B1", girth_mm=240))
    [op] = ops(page)
    assert op == {
        "dev": op["dev"],
        "seq": 1,
        # 1811845230456 ms since 1970, by `date -d 2027-06-01T10:20:30.456Z +%s%3N`
        "hlc": f"{1811845230456:012x}-0000-{op['dev']}",
        "wall": "2027-06-01T10:20:30.456Z",
        "tz": "+01:00",
        "rec": rec,
        "type": "tree",
        "set": {"tag": "B1", "girth_mm": 240},
        "base": {"tag": [], "girth_mm": []},
        "v": 1,
    }


def test_next_change_names_what_it_replaces(page: Page) -> None:
    [rec] = save(page, tree("B1"))
    save(page, {"rec": rec, **tree("B2")})
    first, second = ops(page)
    assert (first["seq"], second["seq"]) == (1, 2)
    assert second["base"] == {"tag": [first["hlc"]]}
    assert record(page, rec)["fields"] == {"tag": "B2"}


def test_every_write_is_strict_and_a_save_is_one_transaction(page: Page) -> None:
    modes = run(
        page,
        """
        await store.openStore();
        const seen = [];
        const real = IDBDatabase.prototype.transaction;
        IDBDatabase.prototype.transaction = function (stores, mode, options) {
          seen.push([mode, options?.durability ?? null]);
          return real.call(this, stores, mode, options);
        };
        await store.saveChanges(
          [{type: 'tree', set: {tag: 'B1'}}, {type: 'event', set: {kind: 'bud-break'}}],
          {photos: [{sha256: 'a'.repeat(64), bytes: new ArrayBuffer(9), type: 'image/png', thumb: new ArrayBuffer(3)}]}
        );
        const saves = seen.filter(([mode]) => mode === 'readwrite').length;
        await store.saveDraft('mark', {tag: 'B'});
        await store.dropDraft('mark');
        await store.setMeta('x', 1);
        await store.putPack('h', {v: 1});
        await store.markAtHome('a'.repeat(64));
        IDBDatabase.prototype.transaction = real;
        return {saves, writes: seen.filter(([mode]) => mode === 'readwrite').map(([, durability]) => durability)};
        """,
    )
    assert modes["saves"] == 1
    assert len(modes["writes"]) == 6
    assert set(modes["writes"]) == {"strict"}


def test_failed_save_leaves_nothing_and_costs_no_number(page: Page) -> None:
    said = run(
        page,
        """
        const real = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (row) {
          if (this.name === 'photos') throw new DOMException('no', 'DataError');
          return real.call(this, row);
        };
        const photo = {sha256: 'a'.repeat(64), bytes: new ArrayBuffer(10), type: 'image/jpeg'};
        const save = store.saveChanges([{type: 'tree', set: {tag: 'B1'}}], {photos: [photo]});
        const fault = await save.catch((error) => error.name);
        IDBObjectStore.prototype.put = real;
        await store.saveChange({type: 'tree', set: {tag: 'B2'}});
        return {fault, ops: await store.changesToSend({}, 10), trees: await store.listRecords('tree')};
        """,
    )
    assert said["fault"] == "DataError"
    assert [(op["seq"], op["set"]) for op in said["ops"]] == [(1, {"tag": "B2"})]
    assert [one["fields"]["tag"] for one in said["trees"]] == ["B2"]


def test_form_saved_whole_speaks_only_for_what_was_changed(page: Page) -> None:
    [rec] = save(page, tree("B1", girth_mm=240, note=None))
    save(page, {"rec": rec, **tree("B1", girth_mm=250, note=None)})
    assert [op["set"] for op in ops(page)][1:] == [{"girth_mm": 250}]


def test_form_saved_unchanged_makes_no_change(page: Page) -> None:
    [rec] = save(page, tree("B1", girth_mm=240))
    assert save(page, {"rec": rec, **tree("B1", girth_mm=240)}) == [rec]
    assert len(ops(page)) == 1


def test_value_taken_back_to_unknown_is_a_change(page: Page) -> None:
    [rec] = save(page, tree("B1", girth_mm=0))
    save(page, {"rec": rec, "type": "tree", "set": {"girth_mm": None}})
    assert record(page, rec)["fields"]["girth_mm"] is None


def test_edit_of_an_older_view_does_not_overrule_what_came_meanwhile(page: Page) -> None:
    merged = run(
        page,
        """
        const [rec] = await store.saveChanges([{type: 'tree', set: {tag: 'B1', girth_mm: 240}}]);
        const seen = await store.getRecord(rec);
        await store.saveChange({rec, type: 'tree', set: {girth_mm: 300}});
        await store.saveChange({rec, type: 'tree', set: {girth_mm: 260, tag: 'B1'}, seen});
        return store.getRecord(rec);
        """,
    )
    assert sorted(one["value"] for one in merged["conflicts"]["girth_mm"]) == [260, 300]
    assert list(merged["conflicts"]) == ["girth_mm"]


def test_removed_record_leaves_the_list_and_comes_back(page: Page) -> None:
    [rec] = save(page, tree("B1"))
    save(page, {"rec": rec, "type": "tree", "set": {"deleted": True}})
    assert run(page, "return store.listRecords('tree');") == []
    save(page, {"rec": rec, "type": "tree", "set": {"deleted": False}})
    assert [one["id"] for one in run(page, "return store.listRecords('tree');")] == [rec]
    assert record(page, rec)["conflicts"] == {}


@pytest.mark.parametrize(
    "changes", [{"set": {"x": 1}}, {"type": "tree"}, {"type": "tree", "set": [1]}, {"type": "", "set": {}}]
)
def test_what_is_no_change_is_refused_in_words(page: Page, changes: dict[str, Any]) -> None:
    said = run(page, "return store.saveChange(arg).catch((fault) => [fault.code, fault.message]);", changes)
    assert said == ["bad-change", "There is nothing in this that could be saved."]
    assert ops(page) == []


def test_number_that_json_cannot_hold_is_refused(page: Page) -> None:
    said = run(page, "return store.saveChange({type: 'tree', set: {girth_mm: NaN}}).catch((fault) => fault.message);")
    assert "girth_mm" in said
    assert ops(page) == []


def test_text_that_home_could_not_keep_is_mended(page: Page) -> None:
    rec = run(
        page, "return store.saveChange({type: 'tree', set: {note: 'cut \\ud83c here\\0, whole \\ud83c\\udf33'}});"
    )
    assert record(page, rec)["fields"]["note"] == "cut \ufffd here, whole \U0001f333"


def test_change_too_large_to_travel_is_refused(page: Page) -> None:
    said = run(page, "return store.saveChange({type: 'tree', set: {note: 'x'.repeat(arg)}}).catch((f) => f.code);", MIB)
    assert said == "bad-change"


# --- clocks --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("later", ["1970-01-01T00:00:05Z", "2025-01-01T00:00:00Z", "2029-01-01T00:00:00Z"])
def test_stamps_rise_whatever_the_clock_does(page: Page, later: str) -> None:
    page.clock.set_fixed_time("2027-06-01T10:00:00Z")
    [rec] = save(page, tree("B1"))
    page.clock.set_fixed_time(later)
    save(page, {"rec": rec, **tree("B2")})
    first, second = ops(page)
    assert second["hlc"] > first["hlc"]
    assert record(page, rec)["fields"]["tag"] == "B2"


def test_clock_goes_on_after_the_app_was_closed(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T10:00:00Z")
    [rec] = save(page, tree("B1"))
    page.reload()
    page.clock.set_fixed_time("2027-05-01T10:00:00Z")
    save(page, {"rec": rec, **tree("B2")})
    first, second = ops(page)
    assert (second["seq"], second["dev"]) == (2, first["dev"])
    assert second["hlc"] > first["hlc"]


# --- when the store is lost, newer, or full ------------------------------------------------------------------------


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


# --- other windows, drafts, packs, counts --------------------------------------------------------------------------


def test_other_window_hears_of_a_save(context: BrowserContext, page: Page, line: Any) -> None:
    other = context.new_page()
    other.goto(line.url + kit.BLANK)
    run(other, "globalThis.heard = new Promise((done) => store.onStoreChange(done));")
    save(page, tree("B1"))
    assert other.evaluate("heard")["types"] == ["tree"]
    assert [one["fields"]["tag"] for one in run(other, "return store.listRecords('tree');")] == ["B1"]


def test_two_windows_saving_at_once_give_no_number_twice(context: BrowserContext, page: Page, line: Any) -> None:
    other = context.new_page()
    other.goto(line.url + kit.BLANK)
    for window in (page, other):
        run(
            window,
            """globalThis.saves = Promise.all(Array.from({length: 20}, (_, i) =>
              store.saveChange({type: 'tree', set: {tag: String(i)}}))).then((all) => all.length); return null;""",
        )
    assert (page.evaluate("saves"), other.evaluate("saves")) == (20, 20)
    assert [op["seq"] for op in ops(page)] == list(range(1, 41))


def test_listener_that_stops_hears_no_more(page: Page) -> None:
    heard = run(
        page,
        """
        let heard = 0;
        const stop = store.onStoreChange(() => { heard += 1; });
        await store.saveChange({type: 'tree', set: {tag: 'B1'}});
        stop();
        await store.saveChange({type: 'tree', set: {tag: 'B2'}});
        return heard;
        """,
    )
    assert heard == 1


def test_draft_is_there_again_until_dropped(page: Page) -> None:
    run(page, "await store.saveDraft('mark', {tag: 'B', girth_cm: null});")
    page.reload()
    assert run(page, "return store.getDraft('mark');") == {"tag": "B", "girth_cm": None}
    run(page, "await store.dropDraft('mark');")
    assert run(page, "return store.getDraft('mark');") is None


def test_pack_is_current_only_while_nothing_that_bears_on_leave_is_unsent(page: Page) -> None:
    said = run(
        page,
        """
        const answer = {epoch: 'e', cursor: 0, have: {}, results: [], ops: [], pack: 'h1', blobs_missing: []};
        const seen = [await store.packIsCurrent()];
        await store.putPack('h1', {v: 1});
        seen.push(await store.packIsCurrent());
        await store.applyAnswer(answer);
        seen.push(await store.packIsCurrent());
        await store.saveChange({type: 'tree', set: {tag: 'B1'}});
        seen.push(await store.packIsCurrent());
        await store.saveChange({type: 'leave', set: {allowance: 3}});
        seen.push(await store.packIsCurrent());
        return {seen, pack: await store.getPack()};
        """,
    )
    assert said == {"seen": [False, False, True, True, False], "pack": {"v": 1}}


def test_new_pack_takes_the_place_of_the_old(page: Page) -> None:
    packs = run(
        page,
        """
        await store.putPack('h1', {n: 1});
        const before = await store.getPack();
        await store.putPack('h2', {n: 2});
        return [before, await store.getPack()];
        """,
    )
    assert packs == [{"n": 1}, {"n": 2}]


def test_records_are_found_by_a_field_also_where_it_was_never_set(page: Page) -> None:
    site = "00000000-0000-4000-8000-000000000001"
    [here, nowhere] = save(page, tree("B1", site=site), tree("B2"))
    assert [one["id"] for one in run(page, "return store.recordsWhere('tree', 'site', arg);", site)] == [here]
    assert [one["id"] for one in run(page, "return store.recordsWhere('tree', 'site', null);")] == [nowhere]


# --- answers from home ---------------------------------------------------------------------------------------------

DEV = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"


def foreign(
    seq: int, rec: str, fields: dict[str, Any], base: dict[str, list[str]], ms: int = 1803891600000
) -> dict[str, Any]:
    return {
        "dev": DEV, "seq": seq, "hlc": f"{ms:012x}-{seq:04x}-{DEV}", "wall": "2027-03-01T09:00:00.000Z", "tz": "+00:00",
        "rec": rec, "type": "tree", "set": fields, "base": base, "v": 1,
    }  # fmt: skip


def answer(*entries: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "epoch": "e1",
        "cursor": len(entries),
        "have": {},
        "results": [],
        "ops": list(entries),
        "pack": None,
        **more,
    }


def entry(op: dict[str, Any], pos: int = 1, **more: Any) -> dict[str, Any]:
    return {"pos": pos, "op": op, "clock_suspect": False, "held": None, **more}


def take(page: Page, said: dict[str, Any]) -> dict[str, Any]:
    return run(page, "return store.applyAnswer(arg);", said)


def test_edit_unseen_by_the_other_is_a_conflict_and_one_change_settles_it(page: Page) -> None:
    [rec] = save(page, tree("B1", girth_mm=240))
    take(page, answer(entry(foreign(1, rec, {"girth_mm": 300}, {"girth_mm": []}))))
    merged = record(page, rec)
    assert sorted(one["value"] for one in merged["conflicts"]["girth_mm"]) == [240, 300]
    assert run(page, "return store.counts();")["conflicts"] == 1
    assert [one["id"] for one in run(page, "return store.listConflicts();")] == [rec]
    shown = merged["fields"]["girth_mm"]
    save(page, {"rec": rec, "type": "tree", "set": {"girth_mm": shown}})  # the value that is shown already is chosen
    assert record(page, rec)["conflicts"] == {}
    assert run(page, "return store.counts();")["conflicts"] == 0


def test_held_change_takes_no_part_until_it_is_let_go(page: Page) -> None:
    rec = "00000000-0000-4000-8000-000000000002"
    op = foreign(1, rec, {"tag": "B9"}, {"tag": []})
    take(page, answer(entry(op, held="“tag” is not text.")))
    assert record(page, rec) is None
    assert run(page, "return store.listHeld();") == [{"op": op, "why": "“tag” is not text."}]
    take(page, answer(entry(op)))
    assert record(page, rec)["fields"] == {"tag": "B9"}
    assert run(page, "return store.listHeld();") == []


def test_held_change_that_names_no_record_touches_none(page: Page) -> None:
    [rec] = save(page, tree("B1"))
    before = record(page, rec)
    unreadable = {"dev": DEV, "seq": 1, "unread": "{'rec': nan}"}
    take(page, answer(entry(unreadable, held="It holds something that cannot be written down as it is.")))
    assert record(page, rec) == before
    assert [one["op"] for one in run(page, "return store.listHeld();")] == [unreadable]
    assert run(page, "return store.knownVector();")[DEV] == 1


def test_own_change_that_home_holds_is_shown_with_the_reason(page: Page) -> None:
    [rec] = save(page, tree("B1"))
    [op] = ops(page)
    result = {"dev": op["dev"], "seq": 1, "s": "held", "why": "“tag” is not text.", "clock_suspect": False}
    take(page, answer(results=[result], have={op["dev"]: 1}))
    assert record(page, rec) is None
    assert run(page, "return store.listHeld();") == [{"op": op, "why": "“tag” is not text."}]
    assert run(page, "return store.counts();") == {"changes_unsent": 0, "photos_unsent": 0, "held": 1, "conflicts": 0}


def test_stamp_far_ahead_does_not_carry_the_clock_along(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T10:00:00Z")
    rec = "00000000-0000-4000-8000-000000000003"
    ahead = 1811844000000 + 2 * 365 * 86_400_000
    take(page, answer(entry(foreign(1, rec, {"tag": "B9"}, {"tag": []}, ahead), clock_suspect=True)))
    save(page, tree("B1"))
    assert [op["hlc"][:12] for op in ops(page) if op["dev"] != DEV] == [f"{1811844000000:012x}"]


def test_edit_after_seeing_a_stamp_far_ahead_still_wins(page: Page) -> None:
    rec = "00000000-0000-4000-8000-000000000003"
    ahead = 4102444800000  # 2100-01-01
    take(page, answer(entry(foreign(1, rec, {"tag": "B9"}, {"tag": []}, ahead), clock_suspect=True)))
    save(page, {"rec": rec, **tree("B10")})
    assert record(page, rec)["fields"]["tag"] == "B10"
    assert record(page, rec)["conflicts"] == {}


def test_honest_stamp_just_ahead_carries_the_clock_along(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T10:00:00Z")
    rec = "00000000-0000-4000-8000-000000000003"
    op = foreign(1, rec, {"tag": "B9"}, {"tag": []}, 1811844000000 + 60_000)
    take(page, answer(entry(op)))
    save(page, tree("B1"))
    [mine] = [op for op in ops(page) if op["dev"] != DEV]
    assert mine["hlc"] > op["hlc"]


def test_photo_that_home_lacks_again_waits_again(page: Page) -> None:
    said = run(
        page,
        """
        const sha256 = 'a'.repeat(64);
        await store.saveChanges([], {photos: [{sha256, bytes: new ArrayBuffer(9), type: 'image/jpeg'}]});
        await store.markAtHome(sha256);
        const before = (await store.counts()).photos_unsent;
        await store.applyAnswer({...arg, blobs_missing: [sha256, 'b'.repeat(64)]});
        const waiting = (await store.photosToSend()).map((photo) => photo.sha256);
        return [before, (await store.counts()).photos_unsent, waiting];
        """,
        answer(),
    )
    assert said == [0, 1, ["a" * 64]]


def test_copied_phone_writes_its_changes_anew_under_another_name(page: Page) -> None:
    [mine, later] = [save(page, tree("B1"))[0], save(page, tree("B2"))[0]]
    before = ops(page)
    dev = before[0]["dev"]
    save(page, {"rec": mine, "type": "tree", "set": {"girth_mm": 240}})
    twin = {**before[1], "rec": "00000000-0000-4000-8000-000000000004", "set": {"tag": "T2"}}
    take(page, answer(entry(before[0]), entry(twin, 2), have={dev: 2}))
    after = ops(page)
    assert [op for op in after if op["dev"] == dev] == [before[0], twin]
    fresh = [op for op in after if op["dev"] != dev]
    assert [(op["seq"], op["rec"], op["set"]) for op in fresh] == [
        (1, later, {"tag": "B2"}),
        (2, mine, {"girth_mm": 240}),
    ]
    assert len({op["dev"] for op in fresh}) == 1
    tags = sorted(one["fields"]["tag"] for one in run(page, "return store.listRecords('tree');"))
    assert tags == ["B1", "B2", "T2"]
    assert run(page, "return store.counts();")["changes_unsent"] == 2


def test_phone_put_back_from_an_older_copy_takes_a_new_name(page: Page) -> None:
    save(page, tree("B1"))
    [first] = ops(page)
    dev = first["dev"]
    lost = {**first, "seq": 2, "hlc": first["hlc"].replace("-0000-", "-0001-"), "rec": DEV, "set": {"tag": "lost"}}
    take(page, answer(entry(first), entry(lost, 2), have={dev: 2}))
    [rec] = save(page, tree("B3"))
    [fresh] = [op for op in ops(page) if op["dev"] != dev]
    assert (fresh["seq"], fresh["rec"]) == (1, rec)


def test_answer_not_written_is_no_answer(page: Page) -> None:
    said = run(
        page,
        """
        const real = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (row) {
          if (row.key === 'sync') throw new DOMException('no', 'DataError');
          return real.call(this, row);
        };
        await store.applyAnswer(arg).catch(() => null);
        IDBObjectStore.prototype.put = real;
        return [await store.syncPlace(), await store.listRecords('tree'), await store.knownVector()];
        """,
        answer(entry(foreign(1, DEV, {"tag": "B9"}, {"tag": []}))),
    )
    assert said == [{"epoch": None, "cursor": 0, "have": {}, "pack": None, "backed_up_to": 0}, [], {}]


def test_what_is_known_stops_at_a_gap(page: Page) -> None:
    take(page, answer(*(entry(foreign(seq, DEV, {"tag": "B"}, {"tag": []})) for seq in (1, 2, 4))))
    assert run(page, "return store.knownVector();") == {DEV: 2}


def test_batch_stays_below_what_home_takes_at_once(page: Page) -> None:
    note = "x" * (400 * 1024)
    save(page, *(tree(f"B{i}", note=note) for i in range(4)))
    sizes = run(
        page,
        "const first = await store.changesToSend({}, 200); return [first.length, JSON.stringify(first).length];",
    )
    assert sizes[0] == 2
    assert sizes[1] < MIB
