"""The phone's own store in a real browser, with no server anywhere: what 'saved' means, and when it cannot be."""

from __future__ import annotations

from typing import Any

import pytest
from phone_kit import BLANK, ops, record, run, save, tree
from playwright.sync_api import BrowserContext, Page

MIB = 1024 * 1024


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


def test_what_came_from_home_never_counts_as_waiting_and_what_waited_does_no_more(page: Page) -> None:
    told = run(
        page,
        """
        await store.openStore();
        const [came, own] = ['a', 'b'].map((one) => one.repeat(64));
        await store.saveChanges([], {photos: [{sha256: own, bytes: new ArrayBuffer(5), type: 'image/png'}]});
        const counted = [], unsent = [];
        const stop = store.onStoreChange((what) => {
          unsent.push(Boolean(what.unsent));
          counted.push(store.counts());
        });
        await store.keepOfHome({sha256: came, bytes: new ArrayBuffer(9), type: 'application/pdf'});
        await store.keepOfHome({sha256: own, bytes: new ArrayBuffer(5), type: 'image/png'});
        stop();
        const waiting = (await Promise.all(counted)).map((one) => one.photos_unsent);
        return {waiting, unsent, kept: await store.isKeptHere(came)};
        """,
    )
    assert told["waiting"][0] == 1, "only the one taken here"
    assert told["waiting"][-1] == 0
    assert told["unsent"] == [False, False], "nothing of it has to go home"
    assert told["kept"]


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


# --- other windows, drafts, packs, counts --------------------------------------------------------------------------


def test_other_window_hears_of_a_save(context: BrowserContext, page: Page, line: Any) -> None:
    other = context.new_page()
    other.goto(line.url + BLANK)
    run(other, "globalThis.heard = new Promise((done) => store.onStoreChange(done));")
    save(page, tree("B1"))
    assert other.evaluate("heard")["types"] == ["tree"]
    assert [one["fields"]["tag"] for one in run(other, "return store.listRecords('tree');")] == ["B1"]


def test_two_windows_saving_at_once_give_no_number_twice(context: BrowserContext, page: Page, line: Any) -> None:
    other = context.new_page()
    other.goto(line.url + BLANK)
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
