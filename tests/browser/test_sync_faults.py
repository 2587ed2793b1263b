"""The phone's sync against a home made up for the test: whatever answers in its place or badly costs nothing."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import phone_kit as kit
import pytest
from home_server import wait_for
from made_up_home import HELLO, MadeUpHome, as_json, refusal
from playwright.sync_api import Browser, Page

HERE = Path(__file__).resolve().parent
PIECE = 256 * 1024


run, save, sync = kit.run, kit.save, kit.sync


@pytest.fixture
def home() -> MadeUpHome:
    return MadeUpHome()


@pytest.fixture
def line(home: MadeUpHome) -> Iterator[Any]:
    with kit.Line() as line:
        line.spoil = home.answer
        yield line


@pytest.fixture
def page(browser: Browser, line: Any) -> Iterator[Page]:
    """A phone that is paired already, with one change to send."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(line.url + kit.BLANK)
    run(
        page, "await store.setIdentity({device: await store.deviceId(), token: 'good', name: 'phone', paired_at: 'x'});"
    )
    save(page, {"type": "tree", "set": {"tag": "B1"}})
    yield page
    context.close()


def counts(page: Page) -> dict[str, int]:
    return run(page, "return store.counts();")


def state(page: Page) -> dict[str, Any]:
    """Return what the quiet line is told."""
    return run(page, "let now; sync.onSyncState((state) => { now = state; })(); return now;")


def a_photo(page: Page, size: int, letter: str = "a") -> bytes:
    """Keep a photo on the phone and return its bytes; every byte is the letter."""
    content = letter.encode() * size
    run(
        page,
        """await store.saveChanges([], {photos: [{sha256: arg.sha256, type: 'image/jpeg',
             bytes: new Uint8Array(arg.size).fill(arg.letter.charCodeAt(0)).buffer}]});""",
        {"sha256": hashlib.sha256(content).hexdigest(), "size": size, "letter": letter},
    )
    return content


# --- who answers ---------------------------------------------------------------------------------------------------


def test_home_that_takes_all_in_is_told_as_such(page: Page) -> None:
    assert sync(page) == {"ok": True, "text": "Home has everything."}
    assert counts(page)["changes_unsent"] == 0
    assert run(page, "return sync.lastSync();") is not None


def test_first_question_carries_no_changes(page: Page, line: Any) -> None:
    sync(page)
    assert [len(json.loads(body)["ops"]) for body in line.asked("/api/sync")] == [0, 1]


@pytest.mark.parametrize(
    "portal",
    [
        (200, {"Content-Type": "text/html"}, b"<h1>Accept our terms</h1>"),
        (200, {"Content-Type": "application/json"}, b'{"login": true}'),
        (200, {"Content-Type": "application/json"}, b"not json"),
        (511, {"Content-Type": "text/html"}, b"<h1>Sign in</h1>"),
        (302, {"Location": "http://127.0.0.1:9/login"}, b""),
    ],
    ids=["page", "json-of-another", "no-json", "511", "redirect"],
)
def test_sign_in_page_of_a_network_is_never_taken_for_home(
    page: Page, home: MadeUpHome, line: Any, portal: Any
) -> None:
    home.ways["/api/"] = lambda _method, _body: portal
    assert sync(page)["ok"] is False
    assert counts(page)["changes_unsent"] == 1
    assert line.asked("/api/sync") == []
    assert run(page, "return store.syncPlace();")["epoch"] is None


@pytest.mark.parametrize("kind", ["text/html", "application/json"])
def test_sign_in_page_in_the_middle_of_a_sync_changes_nothing(page: Page, home: MadeUpHome, kind: str) -> None:
    home.ways["/api/sync"] = lambda _method, _body: (200, {"Content-Type": kind}, b"{}")
    said = sync(page)
    assert said["ok"] is False
    assert "sign-in page" in said["text"]
    assert counts(page)["changes_unsent"] == 1


def test_home_out_of_reach_is_an_ordinary_state(page: Page, home: MadeUpHome) -> None:
    home.ways["/api/"] = lambda _method, _body: "cut"
    assert sync(page) == {"ok": False, "text": "Home is not in reach. Everything is kept on this phone."}
    now = state(page)
    assert (now["phase"], now["trouble"], now["unsent_changes"]) == ("away", None, 1)


def test_home_that_hangs_is_not_waited_for_long(page: Page, home: MadeUpHome) -> None:
    # The clock of the page is turned on by hand past the wait, instead of waiting.
    page.clock.install()
    page.evaluate(
        """() => {
          globalThis.fetch = (_path, {signal}) => new Promise((_, fail) => {
            globalThis.asked = true;
            signal.addEventListener('abort', () => fail(signal.reason));
          });
        }"""
    )
    run(page, "globalThis.end = sync.syncNow(); return null;")
    page.wait_for_function("() => globalThis.asked")
    page.clock.run_for(3500)
    assert page.evaluate("end")["ok"] is False


def test_asked_for_while_one_runs_one_more_sync_follows_and_its_end_is_told(page: Page, home: MadeUpHome) -> None:
    hold, asked = threading.Event(), []

    def slow(_method: str, body: bytes) -> Any:
        asked.append(json.loads(body))
        assert hold.wait(30)
        return as_json(home.take_in(asked[-1]))

    home.ways["/api/sync"] = slow
    run(page, "globalThis.ends = [sync.syncNow()]; return null;")
    wait_for(lambda: asked, "the phone asked")
    run(page, "globalThis.ends.push(sync.syncNow(), sync.syncNow()); return null;")
    hold.set()
    assert [end["ok"] for end in run(page, "return Promise.all(globalThis.ends);")] == [True, True, True]
    # The first asks what home has and sends its change; the one that follows for both others finds nothing to send.
    assert [len(one["ops"]) for one in asked] == [0, 1, 0]


def test_unpaired_phone_keeps_everything_and_says_pair_again(page: Page, home: MadeUpHome) -> None:
    home.ways["/api/sync"] = lambda _method, _body: refusal(401, "unpaired")
    said = sync(page)
    assert "Pair it again" in said["text"]
    assert state(page)["phase"] == "unpaired"
    assert counts(page)["changes_unsent"] == 1
    assert [one["fields"]["tag"] for one in run(page, "return store.listRecords('tree');")] == ["B1"]


def test_never_paired_phone_asks_nobody(page: Page, line: Any) -> None:
    run(page, "await store.setIdentity(null);")
    assert sync(page)["ok"] is False
    assert line.seen == []


@pytest.mark.parametrize("status", [500, 503, 507])
def test_fault_of_home_is_said_and_tried_again(page: Page, home: MadeUpHome, status: int) -> None:
    home.ways["/api/sync"] = lambda _method, _body: refusal(status, "server-fault", "It broke.", "Try once more.")
    assert sync(page) == {"ok": False, "text": "It broke. Try once more."}
    home.ways.clear()
    assert sync(page)["ok"] is True
    assert counts(page)["changes_unsent"] == 0
    assert state(page)["trouble"] is None


def test_version_too_old_still_sends_and_says_update(page: Page, home: MadeUpHome) -> None:
    def old(_method: str, body: bytes) -> Any:
        request = json.loads(body)
        return refusal(426, "too-old") if request["want"] > 0 else as_json(home.take_in(request))

    home.ways["/api/sync"] = old
    said = sync(page)
    assert said["ok"] is False
    assert "too old" in said["text"]
    assert counts(page)["changes_unsent"] == 0


@pytest.mark.parametrize("spoken", [[1], [1, 7], [0, 1]])
def test_of_what_both_speak_the_newest_is_spoken(page: Page, home: MadeUpHome, spoken: list[int]) -> None:
    asked = []
    home.ways["/api/hello"] = lambda _method, _body: as_json({**HELLO, "proto": spoken})
    home.ways["/api/sync"] = lambda _method, body: (asked.append(json.loads(body)), as_json(home.take_in(asked[-1])))[1]
    assert sync(page)["ok"] is True
    assert {one["proto"] for one in asked} == {1}


def test_home_that_speaks_only_newer_words_is_not_asked(page: Page, home: MadeUpHome, line: Any) -> None:
    home.ways["/api/hello"] = lambda _method, _body: as_json({**HELLO, "proto": [7], "min_proto": 7})
    assert "too old" in sync(page)["text"]
    assert line.asked("/api/sync") == []


def test_clock_far_off_is_told(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T10:05:00Z")
    sync(page)
    assert state(page)["clock_offset_s"] == 300


def test_clock_within_two_minutes_is_not_worth_a_word(page: Page) -> None:
    page.clock.set_fixed_time("2027-06-01T09:58:01Z")
    sync(page)
    assert state(page)["clock_offset_s"] is None


def test_home_that_promises_more_for_ever_ends_the_sync(page: Page, home: MadeUpHome) -> None:
    home.ways["/api/sync"] = lambda _method, body: as_json({**home.take_in(json.loads(body)), "more": True})
    assert "tried again later" in sync(page)["text"]


# --- forks ---------------------------------------------------------------------------------------------------------


def test_name_taken_at_home_is_given_up_and_nothing_lost(page: Page, home: MadeUpHome) -> None:
    [first] = run(page, "return store.changesToSend({}, 9);")

    def taken(_method: str, body: bytes) -> Any:
        request = json.loads(body)
        if any(op["dev"] == first["dev"] for op in request["ops"]):
            return refusal(409, "device-fork")
        return as_json(home.take_in(request))

    home.ways["/api/sync"] = taken
    assert sync(page)["ok"] is True
    [sent] = run(page, "return store.changesToSend({}, 9);")
    assert sent["dev"] != first["dev"]
    assert (sent["rec"], sent["set"], sent["wall"]) == (first["rec"], first["set"], first["wall"])
    assert home.have == {sent["dev"]: 1}


# --- the pack ------------------------------------------------------------------------------------------------------


def test_pack_is_fetched_by_its_hash_once(page: Page, home: MadeUpHome, line: Any) -> None:
    body = b'{"made_on":"2027-06-01","v":1}'
    home.pack = hashlib.sha256(body).hexdigest()
    home.ways["/api/pack/"] = lambda _method, _body: (200, {"Content-Type": "application/json"}, body)
    sync(page)
    sync(page)
    assert run(page, "return store.getPack();") == {"made_on": "2027-06-01", "v": 1}
    assert len(line.asked(f"/api/pack/{home.pack}")) == 1


def test_damaged_pack_is_not_kept(page: Page, home: MadeUpHome) -> None:
    run(page, "await store.putPack('old', {v: 1});")
    home.pack = hashlib.sha256(b'{"v":1}').hexdigest()
    home.ways["/api/pack/"] = lambda _method, _body: (200, {"Content-Type": "application/json"}, b'{"v":2}')
    assert "damaged" in sync(page)["text"]
    assert run(page, "return [await store.getPack(), await store.packIsCurrent()];") == [{"v": 1}, False]


# --- photos --------------------------------------------------------------------------------------------------------


class BlobPlace:
    """The part of home that takes photos in pieces, with faults on demand."""

    def __init__(self) -> None:
        self.parts: dict[str, bytearray] = {}
        self.lengths: dict[str, int] = {}
        self.log: list[tuple[str, str]] = []
        self.faults: list[int] = []

    def way(self, line: Any) -> Callable[[str, bytes], Any]:
        def answer(method: str, body: bytes) -> Any:
            path = line.seen[-1][1]
            sha256 = path.rpartition("/")[2]
            self.log.append((method, sha256))
            part = self.parts.setdefault(sha256, bytearray())
            if method == "PATCH":
                if self.faults:
                    status = self.faults.pop(0)
                    if status == 422:
                        part.clear()
                    return refusal(
                        status, {422: "hash-wrong", 507: "no-room", 409: "offset"}[status], "No room at home."
                    )
                part += body
            whole = hashlib.sha256(part).hexdigest() == sha256
            return 204, {"Upload-Offset": str(len(part)), "Upload-Complete": "?1" if whole else "?0"}, b""

        return answer


@pytest.fixture
def blobs(home: MadeUpHome, line: Any) -> BlobPlace:
    place = BlobPlace()
    home.ways["/api/blob/"] = place.way(line)
    return place


def test_photo_travels_in_pieces_and_counts_as_home_when_whole(page: Page, blobs: BlobPlace) -> None:
    content = a_photo(page, 2 * PIECE + 100)
    assert sync(page)["ok"] is True
    assert [method for method, _ in blobs.log] == ["HEAD", "PATCH", "PATCH", "PATCH"]
    assert bytes(blobs.parts[hashlib.sha256(content).hexdigest()]) == content
    assert counts(page)["photos_unsent"] == 0


def test_photo_that_home_has_is_only_asked_after(page: Page, blobs: BlobPlace) -> None:
    content = a_photo(page, 1000)
    blobs.parts[hashlib.sha256(content).hexdigest()] = bytearray(content)
    sync(page)
    assert [method for method, _ in blobs.log] == ["HEAD"]
    assert counts(page)["photos_unsent"] == 0


def test_photo_goes_on_where_home_stopped(page: Page, blobs: BlobPlace) -> None:
    content = a_photo(page, 2 * PIECE)
    sha256 = hashlib.sha256(content).hexdigest()
    blobs.parts[sha256] = bytearray(content[:PIECE])
    sync(page)
    assert [method for method, _ in blobs.log] == ["HEAD", "PATCH"]
    assert bytes(blobs.parts[sha256]) == content


def test_largest_photo_waits_for_the_smaller_ones(page: Page, blobs: BlobPlace) -> None:
    sizes = {"a": 3000, "b": 1000, "c": 2000}
    names = {hashlib.sha256(a_photo(page, size, letter)).hexdigest(): letter for letter, size in sizes.items()}
    sync(page)
    asked = [names[sha256] for method, sha256 in blobs.log if method == "HEAD"]
    assert sorted(asked[:2]) == ["b", "c"]  # two go side by side; which of them is heard first is chance
    assert asked[2:] == ["a"]


def test_photo_that_arrived_wrong_is_begun_once_more(page: Page, blobs: BlobPlace) -> None:
    a_photo(page, 1000)
    blobs.faults = [422]
    assert sync(page)["ok"] is True
    assert [method for method, _ in blobs.log] == ["HEAD", "PATCH", "HEAD", "PATCH"]


def test_photo_that_arrives_wrong_twice_is_said_and_waits(page: Page, blobs: BlobPlace) -> None:
    a_photo(page, 1000)
    blobs.faults = [422, 422]
    assert sync(page)["ok"] is False
    assert counts(page)["photos_unsent"] == 1


def test_one_bad_photo_does_not_keep_the_others(page: Page, blobs: BlobPlace) -> None:
    a_photo(page, 1000, "a")
    for letter in "bcd":
        a_photo(page, 2000, letter)
    blobs.faults = [422, 422, 422]
    sync(page)
    assert counts(page)["photos_unsent"] < 4
    blobs.faults = []
    assert sync(page)["ok"] is True
    assert counts(page)["photos_unsent"] == 0


def test_offset_that_is_not_homes_is_asked_again(page: Page, blobs: BlobPlace) -> None:
    a_photo(page, 1000)
    blobs.faults = [409]
    assert sync(page)["ok"] is True
    assert [method for method, _ in blobs.log] == ["HEAD", "PATCH", "HEAD", "PATCH"]


def test_standstill_of_two_phones_ends(page: Page, blobs: BlobPlace) -> None:
    a_photo(page, 1000)
    blobs.faults = [409] * 50
    assert sync(page)["ok"] is False
    assert len(blobs.faults) > 30


def test_home_with_a_full_disk_is_said_in_words_and_photos_wait(page: Page, blobs: BlobPlace) -> None:
    for letter in "abcd":
        a_photo(page, 1000, letter)
    blobs.faults = [507] * 50
    said = sync(page)
    assert said == {"ok": False, "text": "No room at home."}
    assert len(blobs.faults) >= 48  # two were on their way; no more were tried
    assert counts(page) == {"changes_unsent": 0, "photos_unsent": 4, "held": 0, "conflicts": 0}


def test_small_picture_comes_from_home_once_and_is_kept(page: Page, home: MadeUpHome, line: Any) -> None:
    home.ways["/api/blob/"] = lambda _method, _body: (200, {"Content-Type": "image/jpeg"}, b"picture")
    sha256 = "c" * 64
    sizes = run(
        page,
        """
        const one = await store.getThumb(arg);
        const two = await store.getThumb(arg);
        return [one.bytes.byteLength, two.bytes.byteLength];
        """,
        sha256,
    )
    assert sizes == [7, 7]
    assert len(line.asked(f"/api/blob/{sha256}/preview")) == 1


def test_small_picture_that_is_a_sign_in_page_is_none(page: Page, home: MadeUpHome) -> None:
    home.ways["/api/blob/"] = lambda _method, _body: (200, {"Content-Type": "text/html"}, b"<h1>Sign in</h1>")
    assert run(page, "return store.getThumb('c'.repeat(64));") is None


# --- pairing -------------------------------------------------------------------------------------------------------


def test_pairing_keeps_what_was_recorded_before_it(page: Page, home: MadeUpHome, line: Any) -> None:
    run(page, "await store.setIdentity(null);")
    home.ways["/api/pair"] = lambda _method, body: as_json(
        {"token": "t", "device": json.loads(body)["device"], "epoch": "e1", "now": HELLO["now"]}
    )
    identity = run(page, "return sync.pair(' K7QX ', ' Ann ');")
    [asked] = line.asked("/api/pair")
    assert json.loads(asked) == {"code": "K7QX", "device": identity["device"], "name": "Ann"}
    assert (identity["token"], identity["name"]) == ("t", "Ann")
    assert sync(page)["ok"] is True
    assert home.have == {identity["device"]: 1}


def test_wrong_code_is_said_in_homes_own_words(page: Page, home: MadeUpHome) -> None:
    run(page, "await store.setIdentity(null);")
    home.ways["/api/pair"] = lambda _method, _body: refusal(
        403, "pair-code", "This code is not known.", "Ask for a new one."
    )
    said = run(page, "return sync.pair('x', 'Ann').catch((fault) => [fault.code, fault.message]);")
    assert said == ["pair-code", "This code is not known. Ask for a new one."]
    assert run(page, "return store.getIdentity();") is None
