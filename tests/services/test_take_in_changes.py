"""One sync request after another: what is taken in, held, refused, and told."""

from __future__ import annotations

import datetime as dt
import json
import threading
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, a_leave, a_request, a_tree, an_id
from flask import Flask
from home_server import wait_for
from sqlalchemy import delete

from field.core.errors import BadInput, Conflict, TooOld
from field.services import build_pack, pair, take_in_changes
from field.services.keep_blob import keep_bytes
from field.services.take_in_changes import take_in
from field.services.write_changes import write_changes
from field.store import db, devices, journal, queries
from field.store.tables import JournalRow

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


def sync(*ops: Any, device: str = PHONE, now: dt.datetime = NOW, **others: Any) -> dict[str, Any]:
    return take_in(a_request(*ops, device=device, **others), device, now)


def states(answer: dict[str, Any]) -> list[str]:
    return [result["s"] for result in answer["results"]]


def seqs(answer: dict[str, Any]) -> list[int]:
    return [entry["op"]["seq"] for entry in answer["ops"]]


def test_a_change_is_taken_in_told_back_and_in_its_table(store: Flask) -> None:
    op = a_change(a_tree(tag="B1"))
    answer = sync(op)
    assert answer["results"] == [{"dev": PHONE, "seq": 1, "s": "ok", "why": None, "clock_suspect": False}]
    assert answer["ops"] == [{"pos": 1, "op": op, "clock_suspect": False, "held": None}]
    assert (answer["have"], answer["cursor"], answer["more"]) == ({PHONE: 1}, 1, False)
    assert (answer["now"], answer["backed_up_to"], answer["blobs_missing"]) == ("2027-03-01T09:00:00.000Z", 0, [])
    assert [tree["tag"] for tree in queries.list_records("tree")] == ["B1"]
    json.dumps(answer, allow_nan=False)


def test_a_lost_answer_costs_nothing(store: Flask) -> None:
    op = a_change()
    sync(op)
    assert states(sync(op)) == ["dup"]
    assert journal.end(db.db.session()) == 1


def test_a_bad_change_never_stops_the_others(store: Flask) -> None:
    held = a_change({"lat": 91}, type="fix", seq=2)
    answer = sync(a_change(seq=1), held, {"no": "name"}, a_change(seq=3))
    assert states(answer) == ["ok", "held", "bad", "ok"]
    assert "lat" in answer["results"][1]["why"]
    assert answer["have"] == {PHONE: 3}
    assert [entry["held"] for entry in answer["ops"]] == [None, answer["results"][1]["why"], None]
    (told,) = take_in_changes.list_held()["held"]
    assert told == {"op": held, "why": answer["results"][1]["why"], "taken_at": "2027-03-01T09:00:00.000Z"}


def test_a_batch_is_all_or_nothing(store: Flask) -> None:
    op = a_change(seq=1)
    sync(op)
    with pytest.raises(Conflict) as fork:
        sync(a_change(seq=2), {**op, "set": {"tag": "other"}}, a_change(seq=3))
    assert fork.value.code == "device-fork"
    assert sync()["have"] == {PHONE: 1}
    assert len(queries.list_records("tree")) == 1


def test_a_clash_under_another_phones_name_does_not_stop_this_one(store: Flask) -> None:
    other = a_change(dev=OTHER_PHONE)
    sync(other, device=OTHER_PHONE)
    answer = sync({**other, "set": {"tag": "changed"}}, a_change())
    assert states(answer) == ["bad", "ok"]
    assert answer["results"][0]["why"] == "Another change is kept under its name."


def test_changes_of_others_are_passed_on(store: Flask) -> None:
    relayed = a_change(dev=OTHER_PHONE)
    assert states(sync(relayed)) == ["ok"]
    assert sync(device=OTHER_PHONE)["have"] == {OTHER_PHONE: 1}


def test_unknown_types_and_fields_are_passed_on_untouched(store: Flask) -> None:
    ops = [a_change({"lean_deg": [1.5, {"x": None}]}, mood="cold"), a_change({"name": "m"}, type="tool", seq=2)]
    assert states(sync(*ops)) == ["ok", "ok"]
    assert [entry["op"] for entry in sync(device=OTHER_PHONE)["ops"]] == ops


def test_news_comes_in_pages_and_ends(store: Flask) -> None:
    sync(*(a_change(seq=number + 1) for number in range(5)))
    epoch = sync()["epoch"]
    seen: list[int] = []
    cursor = 0
    for more in (True, True, False):
        answer = sync(device=OTHER_PHONE, epoch=epoch, cursor=cursor, want=2)
        seen += seqs(answer)
        cursor = answer["cursor"]
        assert answer["more"] is more
    assert seen == [1, 2, 3, 4, 5]
    again = sync(device=OTHER_PHONE, epoch=epoch, cursor=cursor)
    assert (again["ops"], again["cursor"], again["more"]) == ([], 5, False)


def test_exactly_as_many_as_wanted_leaves_no_more(store: Flask) -> None:
    sync(*(a_change(seq=number + 1) for number in range(2)))
    answer = sync(want=2)
    assert (len(answer["ops"]), answer["more"]) == (2, False)


def test_wanting_nothing_moves_nothing(store: Flask) -> None:
    answer = sync(a_change(), want=0)
    assert (answer["ops"], answer["cursor"], answer["more"]) == ([], 0, True)


@pytest.mark.parametrize("epoch", [None, "another", ""])
def test_with_another_epoch_reading_begins_at_the_start(store: Flask, epoch: str | None) -> None:
    sync(a_change())
    assert seqs(sync(epoch=epoch, cursor=1)) == [1]
    assert seqs(sync(epoch=epoch, cursor=10**6)) == [1]


def test_a_phone_that_read_past_the_end_shows_that_this_is_an_old_copy(store: Flask, data_dir: Path) -> None:
    before = sync(a_change(seq=1), a_change(seq=2))
    own = devices.own_device(db.db.session())
    with db.writing() as session:
        session.execute(delete(JournalRow).where(JournalRow.pos == 2))
    answer = sync(epoch=before["epoch"], cursor=2)
    assert answer["epoch"] != before["epoch"]
    assert seqs(answer) == [1]
    assert (data_dir / "epoch").read_text().split()[0] == answer["epoch"]
    assert devices.own_device(db.db.session()) != own
    assert sync(epoch=answer["epoch"], cursor=1)["epoch"] == answer["epoch"]


def test_a_clock_that_is_far_ahead_is_marked_for_all_and_not_followed(store: Flask) -> None:
    ahead = WALL_MS + 2 * 365 * 86_400_000
    far = a_change({"tag": "far"}, ms=ahead)
    answer = sync(far)
    assert answer["results"][0]["clock_suspect"] is True
    assert sync(device=OTHER_PHONE)["ops"][0]["clock_suspect"] is True
    write_changes([("tree", far["rec"], {"tag": "home"})], NOW)
    (stamp,) = [entry["op"]["hlc"] for entry in sync()["ops"] if entry["op"]["dev"] != PHONE]
    assert int(stamp[:12], 16) < ahead
    assert queries.list_records("tree")[0]["tag"] == "home"


def test_a_clock_a_little_ahead_is_followed(store: Flask) -> None:
    sync(a_change(ms=WALL_MS + 60_000))
    (rec,) = write_changes([("tree", None, {"tag": "home"})], NOW)
    merged = queries.merged_record(rec)
    assert merged is not None
    assert merged["stamps"]["tag"][0] > f"{WALL_MS + 60_000:012x}-0001"


def test_two_phones_conflict_and_one_settles(store: Flask) -> None:
    mine = a_change({"girth_mm": 240})
    theirs = a_change({"girth_mm": 260}, rec=mine["rec"], dev=OTHER_PHONE, ms=WALL_MS + 1)
    sync(mine)
    sync(theirs, device=OTHER_PHONE)
    assert len(queries.list_conflicts()) == 1
    base = {"girth_mm": [mine["hlc"], theirs["hlc"]]}
    sync(a_change({"girth_mm": 250}, rec=mine["rec"], seq=2, base=base))
    assert queries.list_conflicts() == []
    assert queries.list_records("tree")[0]["girth_mm"] == 250


def test_photos_tracks_and_papers_that_are_not_here_are_asked_for(store: Flask) -> None:
    here = keep_bytes(b"a photo that is here")
    gone = [char * 64 for char in "123"]
    ops = [
        a_change({"sha256": here}, type="photo", seq=1),
        a_change({"sha256": gone[2]}, type="photo", seq=2),
        a_change({"sha256": gone[0]}, type="track", seq=3),
        a_change(a_leave(paper=gone[1]), type="leave", seq=4),
        a_change({"sha256": gone[2]}, type="photo", seq=5),
        a_change({"sha256": None}, type="photo", seq=6),
        a_change({"sha256": "4" * 64, "deleted": True}, type="photo", seq=7),
    ]
    assert sync(*ops)["blobs_missing"] == gone


@pytest.mark.parametrize("proto", [0, -1])
def test_a_phone_that_is_too_old_may_bring_but_not_fetch(store: Flask, proto: int) -> None:
    answer = sync(a_change(), proto=proto)
    assert states(answer) == ["ok"]
    assert (answer["ops"], answer["more"]) == ([], False)
    with pytest.raises(TooOld):
        sync(proto=proto)


def test_a_protocol_that_is_too_new_is_told_what_is_spoken_here(store: Flask) -> None:
    with pytest.raises(BadInput, match="newer protocol"):
        sync(a_change(), proto=2)
    assert sync()["have"] == {}


def test_the_servers_own_name_cannot_be_used_by_a_phone(store: Flask) -> None:
    with pytest.raises(BadInput, match="belongs to this server"):
        sync(device=devices.own_device(db.db.session()))


def test_a_phone_is_seen_and_its_copy_counts_as_another(store: Flask) -> None:
    pair.pair(pair.make_code(now=NOW)["code"], PHONE, "Anna's phone", NOW)
    later = NOW + dt.timedelta(hours=1)
    sync(now=later)
    copy = an_id()
    take_in(a_request(device=copy), PHONE, later)
    told = pair.list_devices()
    assert {(one["device"], one["name"], one["last_seen_at"]) for one in told} == {
        (PHONE, "Anna's phone", "2027-03-01T10:00:00.000Z"),
        (copy, "Anna's phone", "2027-03-01T10:00:00.000Z"),
    }
    assert json.loads(build_pack.read_pack(sync(now=later)["pack"]))["paired_phones"] == 2


def test_the_pack_is_told_by_its_hash_and_changes_with_the_records(store: Flask) -> None:
    first = sync()["pack"]
    assert sync()["pack"] == first
    assert sync(a_change({"name": "Gledhope"}, type="site"))["pack"] != first


def test_what_is_held_is_told_in_parts(store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = [a_change({"girth_mm": "thick"}, seq=seq, rec=an_id()) for seq in range(1, 6)]
    sync(*bad)
    assert [one["op"]["seq"] for one in take_in_changes.list_held()["held"]] == [1, 2, 3, 4, 5]
    assert "next" not in take_in_changes.list_held()
    for limit, value in (("MOST_HELD", 2), ("MOST_ANSWER_BYTES", 2 * len(json.dumps(bad[0])))):
        with monkeypatch.context() as patch:
            patch.setattr(take_in_changes, limit, value)
            seen: list[int] = []
            told = take_in_changes.list_held()
            while True:
                assert 1 <= len(told["held"]) <= 2
                seen += [one["op"]["seq"] for one in told["held"]]
                if "next" not in told:
                    break
                told = take_in_changes.list_held(told["next"])
            assert seen == [1, 2, 3, 4, 5]


def test_no_pack_is_built_before_a_phone_is_at_its_end(store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[object] = []
    real = build_pack.build
    monkeypatch.setattr(build_pack, "build", lambda *args: (built.append(args), real(*args))[1])
    rec = an_id()
    ops = [a_change({"girth_mm": 100 + seq}, seq=seq, rec=rec) for seq in range(1, 7)]
    have = {PHONE: 6}
    assert sync(*ops[:2], have=have)["pack"] is None
    assert sync(*ops[2:4], have=have)["pack"] is None
    told = sync(*ops[4:], have=have, want=2)
    assert (told["more"], told["pack"]) == (True, None)
    assert built == []
    last = sync(have=have, epoch=told["epoch"], cursor=told["cursor"])
    assert (last["more"], len(last["pack"]), len(built)) == (False, 64, 1)
    # A phone of which home refused something, so that it never has all of it, gets its pack all the same.
    assert sync(a_change({"girth_mm": 1}, seq=9, rec=rec), have={PHONE: 9})["pack"] is not None


def test_phones_that_come_at_once_have_one_pack_built_for_all(store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    phones = [an_id() for _ in range(6)]
    begun: list[int] = []
    real = build_pack.build

    def build(*args: Any) -> dict[str, Any]:
        begun.append(len(begun))
        if len(begun) == 1:  # the first one takes until all the others have brought what they have
            wait_for(lambda: count_changes(store) == len(phones), "not all of them were taken in meanwhile")
        return real(*args)

    monkeypatch.setattr(build_pack, "build", build)
    told: list[str] = []

    def push(phone: str) -> None:
        with store.app_context():
            told.append(sync(a_change(a_tree(), seq=1, dev=phone, rec=an_id()), device=phone)["pack"])

    threads = [threading.Thread(target=push, args=(phone,)) for phone in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(begun) == 2
    assert len(told) == len(phones)
    assert len(set(told)) <= 2
    assert sync()["pack"] in told


def count_changes(store: Flask) -> int:
    with store.app_context():
        return journal.end(db.db.session())


def test_a_fault_in_planning_does_not_keep_a_phone_from_syncing(
    store: Flask, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(now: dt.datetime) -> str:
        raise ZeroDivisionError

    monkeypatch.setattr(take_in_changes, "current_pack", broken)
    answer = sync(a_change())
    assert (states(answer), answer["pack"]) == (["ok"], None)
    assert "the pack could not be built" in caplog.text


# A request exactly as protocol 1 was first sent; it has to be taken for ever.
GOLDEN_1 = """{"proto":1,"device":"11111111-1111-4111-8111-111111111111","epoch":null,"cursor":0,"have":{},"want":500,
"ops":[{"dev":"11111111-1111-4111-8111-111111111111","seq":1,
"hlc":"01a400516a80-0000-11111111-1111-4111-8111-111111111111","wall":"2027-03-01T09:00:00.000Z","tz":"+00:00",
"rec":"0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d","type":"tree","set":{"tag":"B1","girth_mm":240,"site":null},
"base":{"tag":[],"girth_mm":[],"site":[]},"v":1}]}"""


def test_the_first_form_of_a_request_is_still_taken(store: Flask) -> None:
    assert states(take_in(json.loads(GOLDEN_1), PHONE, NOW)) == ["ok"]
    assert queries.get_record("tree", "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d")["girth_mm"] == 240
