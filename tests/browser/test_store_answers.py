"""The phone's own store as it takes in the answers of home."""

from __future__ import annotations

from typing import Any

from phone_kit import ops, record, run, save, tree
from playwright.sync_api import Page

MIB = 1024 * 1024
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


def test_what_a_phone_may_do_is_kept_in_one_step_and_only_by_the_phone_that_asked(page: Page) -> None:
    said = run(
        page,
        """const older = {device: 'd1', token: 't1', name: 'one', role: 'full'};
           const newer = {device: 'd2', token: 't2', name: 'two', role: 'full'};
           await store.setIdentity(older);
           await store.keepRole('record', 't1');
           const kept = await store.getIdentity();
           await store.setIdentity(older);
           await Promise.all([store.keepRole('record', 't1'), store.setIdentity(newer)]);
           const raced = await store.getIdentity();
           await store.keepRole('record', 't1');
           await store.keepRole('owner', 't2');
           return [kept, raced, await store.getIdentity()];""",
    )
    assert said[0] == {"device": "d1", "token": "t1", "name": "one", "role": "record"}
    assert said[1] == said[2] == {"device": "d2", "token": "t2", "name": "two", "role": "full"}


def test_a_token_to_take_is_the_same_until_it_is_taken_and_never_that_of_another_name(page: Page) -> None:
    first, again, other = run(
        page, "return [await store.tokenToTake('a'), await store.tokenToTake('a'), await store.tokenToTake('b')];"
    )
    assert first == again != other
    assert [len(one) for one in (first, other)] == [43, 43]
    taken = run(
        page,
        """await store.setIdentity({device: 'd1', token: 't1', name: 'one', role: 'full'});
           const stale = await store.takeToken('t0', {device: 'b', token: 'x'});
           const good = await store.takeToken('t1', {device: 'b', token: 'y'});
           return [stale, good, await store.getIdentity()];""",
    )
    assert taken == [False, True, {"device": "b", "token": "y", "name": "one", "role": "full"}]
