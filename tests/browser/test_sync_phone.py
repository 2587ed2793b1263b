"""Phones and a real home: two phones, lost answers, a home put back from an old copy, photos cut off, copied phones."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import shutil
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import hill_kit
import phone_kit as kit
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, Playwright

HERE = Path(__file__).resolve().parent
PIECE = 256 * 1024


run, save, sync, record = kit.run, kit.save, kit.sync, kit.record


@pytest.fixture
def server(empty_home: Any) -> Any:
    return empty_home


@pytest.fixture
def line(server: Any) -> Iterator[Any]:
    with kit.Line(server.url) as line:
        yield line


NewPhone = Callable[..., Page]


@pytest.fixture
def new_phone(browser: Browser, server: Any, line: Any) -> Iterator[NewPhone]:
    """Makes phones, each with a store of its own; paired unless said otherwise."""
    contexts = []

    def make(name: str = "phone", *, paired: bool = True) -> Page:
        context = browser.new_context()
        contexts.append(context)
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        if paired:
            pair(page, server, name)
        return page

    yield make
    for context in contexts:
        context.close()


def pair(page: Page, server: Any, name: str = "phone") -> None:
    run(page, "await sync.pair(arg[0], arg[1]);", [server.pair_code(), name])


def good_sync(*pages: Page) -> None:
    for page in pages:
        hill_kit.sync(page)


def trees(page: Page) -> dict[str, dict[str, Any]]:
    """Return the fields of every tree on a phone by its id."""
    return {one["id"]: one["fields"] for one in run(page, "return store.listRecords('tree');")}


def journal(page: Page) -> list[str]:
    """Return the names of all changes that a phone knows, sorted."""
    ops = run(page, "return store.changesToSend({}, 100000);")
    return sorted(f"{op['dev']} {op['seq']:06d} {json.dumps(op['set'], sort_keys=True)}" for op in ops)


def tree(tag: str, **fields: Any) -> dict[str, Any]:
    return {"type": "tree", "set": {"tag": tag, **fields}}


def a_picture(size: int) -> bytes:
    """Return a JPEG of at least so many bytes; what follows its end mark is not looked at by any reader."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "olive").save(out, "JPEG")
    head = out.getvalue()
    return head + bytes(i * 7 % 251 for i in range(max(0, size - len(head))))


def keep_photo(page: Page, content: bytes, small: bytes | None = None) -> str:
    """Save a photo record with its bytes on a phone, and its small picture if there is one; return the hash."""
    sha256 = hashlib.sha256(content).hexdigest()
    run(
        page,
        """
        const from = (text) => text && Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
        await store.saveChanges([{type: 'photo', set: {sha256: arg.sha256, media_type: 'image/jpeg'}}],
          {photos: [{sha256: arg.sha256, type: 'image/jpeg', bytes: from(arg.text), thumb: from(arg.small)}]});
        """,
        {
            "sha256": sha256,
            "text": base64.b64encode(content).decode(),
            "small": small and base64.b64encode(small).decode(),
        },
    )
    return sha256


def blob_at_home(server: Any, page: Page, sha256: str) -> bytes | None:
    """Return a photo as home holds it, None when it does not."""
    token = run(page, "return (await store.getIdentity()).token;")
    question = urllib.request.Request(f"{server.url}/api/blob/{sha256}", headers={"Authorization": f"Bearer {token}"})
    try:
        with urllib.request.urlopen(question, timeout=30) as answer:
            return answer.read()
    except urllib.error.HTTPError as refusal:
        refusal.close()
        if refusal.code != 404:
            raise
        return None


# --- two phones ----------------------------------------------------------------------------------------------------


def test_what_one_phone_saves_the_other_gets(new_phone: NewPhone) -> None:
    one, two = new_phone("one"), new_phone("two")
    [rec] = save(one, tree("B1", girth_mm=240))
    good_sync(one, two)
    assert trees(two) == {rec: {"tag": "B1", "girth_mm": 240}}
    assert run(two, "return store.counts();")["changes_unsent"] == 0


def test_edits_of_two_fields_join_without_a_conflict(new_phone: NewPhone) -> None:
    one, two = new_phone("one"), new_phone("two")
    [rec] = save(one, tree("B1"))
    good_sync(one, two)
    save(one, {"rec": rec, "type": "tree", "set": {"girth_mm": 240}})
    save(two, {"rec": rec, "type": "tree", "set": {"height_mm": 900}})
    good_sync(one, two, one)
    for phone in (one, two):
        merged = record(phone, rec)
        assert merged["fields"] == {"tag": "B1", "girth_mm": 240, "height_mm": 900}
        assert merged["conflicts"] == {}


@pytest.mark.parametrize("first", ["one", "two"])
def test_one_field_edited_on_two_phones_is_shown_on_both_and_settled_by_one(new_phone: NewPhone, first: str) -> None:
    phones = {"one": new_phone("one"), "two": new_phone("two")}
    [rec] = save(phones["one"], tree("B1", girth_mm=200))
    good_sync(*phones.values())
    save(phones["one"], {"rec": rec, "type": "tree", "set": {"girth_mm": 240}})
    save(phones["two"], {"rec": rec, "type": "tree", "set": {"girth_mm": 260}})
    order = [phones[first], *(phone for name, phone in phones.items() if name != first)]
    good_sync(*order, order[0])
    merged = [record(phone, rec) for phone in phones.values()]
    assert merged[0] == merged[1]
    assert sorted(one["value"] for one in merged[0]["conflicts"]["girth_mm"]) == [240, 260]
    before = len(journal(order[0]))
    save(order[0], {"rec": rec, "type": "tree", "set": {"girth_mm": 240}})
    good_sync(*order)
    for phone in phones.values():
        settled = record(phone, rec)
        assert (settled["fields"]["girth_mm"], settled["conflicts"]) == (240, {})
        assert len(journal(phone)) == before + 1


def test_removed_on_one_phone_and_edited_on_the_other_stays_in_sight(new_phone: NewPhone) -> None:
    one, two = new_phone("one"), new_phone("two")
    [rec] = save(one, tree("B1", girth_mm=200))
    good_sync(one, two)
    save(one, {"rec": rec, "type": "tree", "set": {"deleted": True}})
    save(two, {"rec": rec, "type": "tree", "set": {"girth_mm": 260}})
    good_sync(one, two, one)
    for phone in (one, two):
        assert list(trees(phone)) == [rec]
        assert sorted(one["value"] for one in record(phone, rec)["conflicts"]["deleted"]) == [False, True]
    save(two, {"rec": rec, "type": "tree", "set": {"deleted": True}})
    good_sync(two, one)
    assert (trees(one), trees(two)) == ({}, {})


def test_many_changes_travel_in_batches(new_phone: NewPhone, line: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    save(one, *(tree(f"B{i}") for i in range(450)))
    good_sync(one, two)
    sizes = [len(json.loads(body)["ops"]) for body in line.asked("/api/sync")]
    assert max(sizes) == 200
    assert len(trees(two)) == 450
    assert run(one, "return store.counts();")["changes_unsent"] == 0


def test_change_made_during_a_sync_goes_home_with_it(new_phone: NewPhone, line: Any) -> None:
    one = new_phone()
    save(one, tree("B1"))
    stop = run(one, "globalThis.stop = sync.startSync(); return sync.syncNow();")
    assert stop["ok"]
    run(one, "const now = sync.syncNow(); await store.saveChange({type: 'tree', set: {tag: 'B2'}}); await now;")
    run(one, "await sync.syncNow(); globalThis.stop();")
    assert run(one, "return store.counts();")["changes_unsent"] == 0


def test_change_that_home_cannot_apply_is_held_on_both_and_stops_nothing(new_phone: NewPhone) -> None:
    one, two = new_phone("one"), new_phone("two")
    save(one, {"type": "tree", "set": {"girth_mm": "thick"}}, tree("B2"))
    good_sync(one, two)
    for phone in (one, two):
        [held] = run(phone, "return store.listHeld();")
        assert held["op"]["set"] == {"girth_mm": "thick"}
        assert "girth_mm" in held["why"]
        assert [fields["tag"] for fields in trees(phone).values()] == ["B2"]


# --- answers lost, home killed -------------------------------------------------------------------------------------


def test_lost_answer_is_sent_again_and_kept_once(new_phone: NewPhone, line: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    [rec] = save(one, tree("B1"))
    losses = iter(["lose"])
    line.spoil = lambda _m, path, body: next(losses, None) if path == "/api/sync" and json.loads(body)["ops"] else None
    assert sync(one)["ok"] is False
    assert run(one, "return store.counts();")["changes_unsent"] == 1
    good_sync(one, two)
    assert run(one, "return store.counts();")["changes_unsent"] == 0
    assert journal(two) == journal(one)
    assert list(trees(two)) == [rec]


def test_batch_lost_half_way_is_sent_whole(new_phone: NewPhone, server: Any, line: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    save(one, *(tree(f"B{i}") for i in range(300)))
    batches = iter([None, "kill"])

    def kill_at_the_second(_method: str, path: str, body: bytes) -> Any:
        if path != "/api/sync" or not json.loads(body)["ops"]:
            return None
        if next(batches, None) == "kill":
            server.kill()
        return None

    line.spoil = kill_at_the_second
    assert sync(one)["ok"] is False
    server.start()
    good_sync(one, two)
    assert len(trees(two)) == 300
    assert journal(two) == journal(one)


def test_home_put_back_from_an_old_copy_gets_again_what_it_lacks(
    new_phone: NewPhone, server: Any, tmp_path: Path
) -> None:
    one, two = new_phone("one"), new_phone("two")
    save(one, tree("B1"))
    early = keep_photo(one, a_picture(3000))
    good_sync(one, two)
    server.kill()
    shutil.copytree(server.data, tmp_path / "old")
    server.start()
    save(one, tree("B2"))
    save(two, tree("B3"))
    late = keep_photo(two, a_picture(4000))
    good_sync(one, two, one)
    server.kill()
    shutil.rmtree(server.data)
    shutil.copytree(tmp_path / "old", server.data)
    server.start()
    assert blob_at_home(server, one, late) is None
    good_sync(one, two, one)
    fresh = new_phone("fresh")
    good_sync(fresh)
    assert sorted(fields["tag"] for fields in trees(fresh).values()) == ["B1", "B2", "B3"]
    assert journal(fresh) == journal(one) == journal(two)
    assert [len(blob_at_home(server, one, sha256) or b"") for sha256 in (early, late)] == [3000, 4000]
    told = [run(phone, "return store.getMeta('home_put_back');") for phone in (one, two, fresh)]
    assert (told[0]["changes"], told[1:]) == (3, [None, None])  # B2, B3 and the photo; the others brought nothing again
    assert told[0]["from"] == run(one, "return (await store.changesToSend({}, 99)).map((op) => op.wall).sort();")[-3]


def test_phone_shut_out_is_paired_anew_and_brings_what_it_kept(new_phone: NewPhone, server: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    good_sync(one)
    run(
        two,
        """const {askHomeJson} = await import('/static/js/store/home.js');
           await askHomeJson(`/api/devices/${arg}/revoke`, {json: {}, waitMs: 9000});""",
        run(one, "return store.deviceId();"),
    )
    [rec] = save(one, tree("B1"))
    assert "This phone was shut out at home on" in sync(one)["text"]
    assert list(trees(one)) == [rec]
    pair(one, server, "one again")
    good_sync(one, two)
    assert list(trees(two)) == [rec]


# --- photos --------------------------------------------------------------------------------------------------------


def test_photo_cut_off_by_a_killed_home_goes_on_where_it_stopped(new_phone: NewPhone, server: Any, line: Any) -> None:
    one = new_phone()
    content = a_picture(6 * PIECE + 1000)
    sha256 = keep_photo(one, content)
    pieces = iter([None, None, None, "kill"])

    def kill_at_the_fourth(method: str, _path: str, _body: bytes) -> Any:
        if method == "PATCH" and next(pieces, None) == "kill":
            server.kill()
        return None

    line.spoil = kill_at_the_fourth
    assert sync(one)["ok"] is False
    assert run(one, "return store.counts();")["photos_unsent"] == 1
    server.start()
    line.seen.clear()
    good_sync(one)
    assert len(line.asked(f"/api/blob/{sha256}")) == 1 + 4  # where to go on, then the four pieces that were missing
    assert blob_at_home(server, one, sha256) == content
    assert run(one, "return store.counts();")["photos_unsent"] == 0


def test_lost_answer_to_a_piece_costs_no_byte(new_phone: NewPhone, server: Any, line: Any) -> None:
    one = new_phone()
    content = a_picture(2 * PIECE + 10)
    sha256 = keep_photo(one, content)
    losses = iter([None, "lose"])
    line.spoil = lambda method, _path, _body: next(losses, None) if method == "PATCH" else None
    assert sync(one)["ok"] is False
    good_sync(one)
    assert blob_at_home(server, one, sha256) == content


def test_one_photo_from_two_phones_is_kept_once(new_phone: NewPhone, server: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    content = a_picture(3 * PIECE)
    sha256 = keep_photo(one, content)
    assert keep_photo(two, content) == sha256
    for phone in (one, two):
        run(phone, "globalThis.end = sync.syncNow(); return null;")
    for phone in (one, two):
        phone.evaluate("end")
    good_sync(one, two)
    assert blob_at_home(server, one, sha256) == content
    assert [run(phone, "return store.counts();")["photos_unsent"] for phone in (one, two)] == [0, 0]


def test_second_phone_shows_the_small_picture_and_keeps_it(new_phone: NewPhone, line: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    sha256 = keep_photo(one, a_picture(2000))
    good_sync(one, two)
    assert run(two, "return store.getOwnBytes(arg);", sha256) is None
    assert run(two, "return (await store.getThumb(arg)).type;", sha256) == "image/jpeg"
    line.target = None
    assert run(two, "return (await store.getThumb(arg)).type;", sha256) == "image/jpeg"


def test_small_pictures_go_ahead_and_other_phones_see_them_the_same_evening(new_phone: NewPhone, line: Any) -> None:
    one, two = new_phone("one"), new_phone("two")
    large = [keep_photo(one, a_picture(n * PIECE), a_picture(900 + n)) for n in (3, 2)]
    little = keep_photo(one, a_picture(3000), a_picture(950))
    line.spoil = lambda method, _path, _body: "cut" if method == "PATCH" else None  # too thin for the photos
    for _ in range(2):
        assert sync(one)["ok"] is False
    asked = [(method, path) for method, path, _ in line.seen if path.startswith("/api/blob/")]
    ahead = [f"/api/blob/{sha256}/preview" for sha256 in reversed(large)]
    assert asked[:2] == [("PUT", path) for path in ahead]  # the smallest photo's first, before anything of the photos
    assert [method for method, _ in asked].count("PUT") == 2  # each once; a little photo goes itself
    good_sync(two)
    for sha256 in large:
        assert run(two, "return (await store.getThumb(arg)).type;", sha256) == "image/jpeg"
        assert run(two, "return store.getPhoto(arg);", sha256) is None
        assert run(two, "return store.askAboutPhoto(arg);", sha256) == {"size": None}
    assert run(two, "return store.getThumb(arg);", little) is None
    line.spoil = lambda _method, _path, _body: None
    good_sync(one)
    assert run(two, "return (await store.getPhoto(arg)).bytes.byteLength;", large[0]) == 3 * PIECE
    assert run(two, "return store.askAboutPhoto(arg);", large[0]) == {"size": 3 * PIECE}
    assert run(one, "return store.smallToSend();") == []


def test_small_pictures_that_home_refuses_keep_no_photo_from_going_home(
    new_phone: NewPhone, line: Any, server: Any
) -> None:
    one = new_phone()
    content = a_picture(2 * PIECE)
    sha256 = keep_photo(one, content, b"no picture at all")
    good_sync(one)
    assert blob_at_home(server, one, sha256) == content
    older = keep_photo(one, a_picture(2 * PIECE + 1), a_picture(900))
    line.spoil = lambda method, _path, _body: (405, {}, b"") if method == "PUT" else None  # a home of before
    good_sync(one)
    assert blob_at_home(server, one, older) == a_picture(2 * PIECE + 1)


# --- the pack ------------------------------------------------------------------------------------------------------


def test_pack_arrives_and_its_hash_holds(new_phone: NewPhone) -> None:
    one = new_phone()
    [site] = save(one, {"type": "site", "set": {"name": "Kettle Brae", "zone": "Europe/London"}})
    assert run(one, "return store.packIsCurrent();") is False
    good_sync(one)
    assert site in run(one, "return (await store.getPack()).sites;")
    assert run(one, "return store.packIsCurrent();") is True


# --- a copied phone ------------------------------------------------------------------------------------------------


def test_copied_phone_and_its_original_both_bring_everything_home(
    playwright_driver: Playwright,
    chromium_path: str,
    chromium_args: list[str],
    tmp_path: Path,
    server: Any,
    line: Any,
    new_phone: NewPhone,
) -> None:
    def open_profile(name: str) -> tuple[Any, Page]:
        context = playwright_driver.chromium.launch_persistent_context(
            tmp_path / name, executable_path=chromium_path, args=chromium_args
        )
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        return context, page

    context, page = open_profile("first")
    pair(page, server)
    save(page, tree("shared"))
    good_sync(page)
    context.close()
    shutil.copytree(tmp_path / "first", tmp_path / "copy", ignore=shutil.ignore_patterns("Singleton*"))

    tags = {"first": ["F1", "F2"], "copy": ["C1", "C2", "C3"]}
    shown: dict[str, dict[str, str]] = {}
    for name, own in tags.items():
        context, page = open_profile(name)
        save(page, *(tree(tag) for tag in own))
        good_sync(page)
        context.close()
    # Each goes on after the other has been home.
    for name in tags:
        context, page = open_profile(name)
        save(page, tree(f"{name} later"))
        good_sync(page)
        assert run(page, "return store.counts();")["changes_unsent"] == 0
        shown[name] = run(page, "return store.getIdentity();")
        assert shown[name]["device"] == run(page, "return store.deviceId();")
        context.close()
    assert len({one["token"] for one in shown.values()}) == 2

    fresh = new_phone("fresh")
    good_sync(fresh)
    found = sorted(fields["tag"] for fields in trees(fresh).values())
    assert found == sorted(["shared", *tags["first"], *tags["copy"], "first later", "copy later"])

    # Home tells the two apart: with the first shut out, its copy goes on.
    asked = "const {askHomeJson} = await import('/static/js/store/home.js'); "
    listed = run(fresh, f"{asked} return (await askHomeJson('/api/devices', {{waitMs: 9000}})).devices;")
    copies = {one["device"]: one["copy_of"] for one in listed if one["copy_of"] is not None}
    assert copies == {shown["copy"]["device"]: shown["first"]["device"]}
    run(
        fresh,
        f"{asked} await askHomeJson(`/api/devices/${{arg}}/revoke`, {{json: {{}}, waitMs: 9000}});",
        shown["first"]["device"],
    )
    context, page = open_profile("copy")
    good_sync(page)
    context.close()
    context, page = open_profile("first")
    assert "This phone was shut out at home on" in sync(page)["text"]
    context.close()
