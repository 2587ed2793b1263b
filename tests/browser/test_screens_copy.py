"""Copy and room, as a person uses it: a copy leaves the phone, comes home, and what home keeps twice may go."""

from __future__ import annotations

import hashlib
import json
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import hill_kit
import phone_kit as kit
import pytest
from builders import a_change
from copy_kit import KEEP_PHOTOS, write_copy
from home_server import RunningServer
from phone_kit import Line, call, run, save, sync, tree
from playwright.sync_api import Browser, Page, expect

from field.store import archive


def keep_copy(page: Page, folder: Path) -> Path:
    """Make a copy on the screen, save it as a browser does, and return the file."""
    page.locator("[data-make]").click()
    with page.expect_download() as saving:
        page.locator("[data-save]").click()
    expect(page.locator("[data-keep-copy] .state.good")).to_contain_text("Kept on")
    file = folder / saving.value.suggested_filename
    saving.value.save_as(file)
    return file


def test_copy_of_a_phone_that_cannot_sync_comes_home_on_a_desk(
    browser: Browser, server: RunningServer, tmp_path: Path
) -> None:
    photo = hashlib.sha256(b"a" * 3000).hexdigest()
    # Never paired, so that nothing of it can come home in another way.
    lonely = browser.new_context(viewport=hill_kit.PHONE)
    page = lonely.new_page()
    page.goto(f"{server.url}/#/copy")
    expect(page.locator("[data-keep-copy] h2")).to_be_visible()
    save(page, tree("LONELY"))
    run(page, KEEP_PHOTOS, [["a", 3000]])
    expect(page.locator("[data-keep-copy]")).to_contain_text("2 changes and 1 photo")
    file = keep_copy(page, tmp_path)
    expect(page.locator("[data-keep-copy]")).to_contain_text("Kept on")
    expect(page.locator("[data-keep-copy]")).to_contain_text("nothing")
    lonely.close()

    with hill_kit.phone(browser, server, viewport=hill_kit.DESK, signal=True) as desk:
        hill_kit.go(desk, "#/copy?part=home")
        files = desk.locator('[name="copy"]')
        part = desk.locator("[data-copy-home]")
        files.set_input_files([str(file)])
        expect(part).to_contain_text("New at home: 2 changes and 1 photo.")
        files.set_input_files([str(file)])
        expect(part).to_contain_text("Home had all of it already.")
        cut = tmp_path / "fellside-copy-cut.zip"
        cut.write_bytes(file.read_bytes()[:-9])
        files.set_input_files([str(cut), str(photo_file(tmp_path))])
        expect(part).to_contain_text("is damaged, or broke off on its way; nothing of it was taken in.")
        expect(part).to_contain_text("This is no copy that a phone kept.")
        assert "LONELY" in [one["fields"].get("tag") for one in hill_kit.records(desk, "tree")]
        got = desk.evaluate(
            """async (sha256) => {
              const {getPhoto} = await import('/static/js/store.js');
              return (await getPhoto(sha256)).bytes.byteLength;
            }""",
            photo,
        )
        assert got == 3000
        other = write_copy(tmp_path / "o.zip", [a_change({"tag": "THEIRS"})], epoch="theirs", have={"somebody": 1})
        for choice, words in (("Leave it", "Left alone"), ("Take it in", "New at home: 1 change and 0 photos.")):
            drop(desk, "[data-copy-home] h2", other)
            desk.get_by_role("dialog").get_by_role("button", name=choice).click()
            expect(part).to_contain_text(words)
        hill_kit.go(desk, "#/intake")
        desk.locator('[name="files"]').set_input_files([str(file)])
        expect(desk.locator("[data-bad]")).to_contain_text("copy that a phone kept")


def drop(page: Page, selector: str, file: Path) -> None:
    """Drop a file on an element, as from a folder's window."""
    page.locator(selector).evaluate(
        """(el, {name, bytes}) => {
          const dataTransfer = new DataTransfer();
          dataTransfer.items.add(new File([new Uint8Array(bytes)], name));
          el.dispatchEvent(new DragEvent('drop', {dataTransfer, bubbles: true, cancelable: true}));
        }""",
        {"name": file.name, "bytes": list(file.read_bytes())},
    )


def photo_file(folder: Path) -> Path:
    file = folder / "green.jpg"
    file.write_bytes(hill_kit.a_photo()["buffer"])
    return file


def test_a_phone_that_can_hand_on_does_and_a_closed_sheet_loses_nothing(page: Page, line: Line) -> None:
    save(page, tree("B1"))
    said = page.evaluate(
        """async () => {
          const {planCopy, makePart, canHandOn, handOn} = await import('/static/js/hill/keep_copy.js');
          const plan = await planCopy({all: false});
          const {file} = await makePart(plan, 1);
          const before = canHandOn(file);
          const given = [];
          let fault = null;
          navigator.canShare = ({files}) => files.every((one) => one instanceof File);
          navigator.share = async ({files}) => { if (fault) throw fault; given.push(...files); };
          const can = canHandOn(file);
          fault = new DOMException('closed', 'AbortError');
          const closed = await handOn(file);
          fault = null;
          const done = await handOn(file);
          const names = given.map((one) => [one.name, one.type, one.size]);
          return {before, can, closed, done, names, file: [file.name, file.size]};
        }"""
    )
    assert (said["before"], said["can"], said["closed"], said["done"]) == (False, True, False, True)
    assert said["names"] == [[said["file"][0], "application/zip", said["file"][1]]]


def test_page_killed_while_a_copy_is_made_claims_none_and_loses_nothing(page: Page, line: Line, tmp_path: Path) -> None:
    save(page, tree("B1"))
    run(page, KEEP_PHOTOS, [["a", 2000], ["b", 2000]])
    # The page is closed in the middle of the copy.
    run(
        page,
        """const {planCopy, makePart} = await import('/static/js/hill/keep_copy.js');
        const plan = await planCopy({all: false});
        await new Promise((middle) => makePart(plan, 1, {onProgress: (done) => done === 2 && middle()}));""",
    )
    context = page.context
    page.close()
    again = context.new_page()
    again.goto(line.url + "/blank")
    said = run(
        again,
        """const {copyKept, keptHereOnly} = await import('/static/js/store/copy.js');
        return [await copyKept(), await keptHereOnly()];""",
    )
    assert said[0] is None
    assert (said[1]["changes"], said[1]["photos"]) == (3, 2)


def test_what_a_copy_has_is_no_longer_counted_as_here_only(page: Page) -> None:
    save(page, tree("B1"))
    run(page, KEEP_PHOTOS, [["a", 2000]])
    only = """
    const {keptHereOnly, noteCopyKept} = await import('/static/js/store/copy.js');
    const {planCopy, copyLeft} = await import('/static/js/hill/keep_copy.js');
    if (arg) await copyLeft(await planCopy({all: false}), 0);
    return keptHereOnly();
    """
    before = run(page, only, False)
    assert (before["changes"], before["photos"]) == (2, 1)
    assert run(page, only, True) == {"changes": 0, "photos": 0, "oldest_at": None}
    save(page, tree("B2"))
    after = run(page, only, False)
    assert (after["changes"], after["photos"]) == (1, 0)
    assert after["oldest_at"] > before["oldest_at"]


def test_work_of_three_days_that_is_here_only_is_spoken_of(page: Page) -> None:
    save(page, tree("B1"))
    nudge = """
    const {nudgeWords} = await import('/static/js/hill/copy_nudge.js');
    return nudgeWords(Date.now() + arg * 24 * 3600 * 1000);
    """
    assert run(page, nudge, 1)["due"] is None
    assert run(page, nudge, 3)["due"].startswith("Some of it has been on this ")
    run(page, KEEP_PHOTOS, [[letter, 10] for letter in "abcdefgijklmnopqrstuv"])
    assert run(page, nudge, 0)["due"].startswith("21 photos are on this ")


DAY = 24 * 3600 * 1000


def test_when_a_copy_is_due_and_when_room_is_short(blank: Page) -> None:
    now = 1_800_000_000_000

    def due(age_ms: int | None, photos: int = 0) -> Any:
        at = None if age_ms is None else blank.evaluate("(ms) => new Date(ms).toISOString()", now - age_ms)
        return call(blank, "core/copy_due", "copyDue", {"photos": photos, "oldest_at": at}, now)

    assert [due(None), due(2 * DAY), due(2 * DAY + 1)] == [None, None, "old"]
    assert [due(1000, 20), due(1000, 21), due(3 * DAY, 21)] == [None, "photos", "old"]

    def room(free: int, *sizes: int) -> Any:
        return call(blank, "core/room", "roomFor", {"quota": 10**9 + free, "usage": 10**9}, list(sizes))

    mb = 1_000_000
    assert [room(200 * mb)["is_short"], room(200 * mb - 1)["is_short"]] == [False, True]
    # Photos of 20 MB: twenty of them are more than 200 MB.
    assert [room(400 * mb, 20 * mb)["is_short"], room(400 * mb - 1, 20 * mb)["is_short"]] == [False, True]
    assert room(100 * mb, 10 * mb, 30 * mb)["photos_left"] == 5
    assert room(-5)["photos_left"] == 0
    assert call(blank, "core/room", "roomFor", {}, []) == {"is_short": False, "photos_left": None}


def test_what_came_of_a_copy_in_words(blank: Page) -> None:
    nothing: dict[str, Any] = {"changes_new": 0, "changes_known": 0, "changes_anew": 0, "changes_held": []}
    nothing |= {"changes_bad": [], "photos_new": 0, "photos_known": 0, "photos_bad": [], "photos_missing": 0}

    def lines(**told: Any) -> list[str]:
        return [one["text"] for one in call(blank, "screens/copy_home", "takenLines", {**nothing, **told})]

    assert lines(changes_known=5) == ["Home had all of it already."]
    assert lines(changes_new=1, photos_new=2, changes_known=3, changes_anew=1, photos_missing=4) == [
        "New at home: 1 change and 2 photos.",
        "There already: 3 changes and 0 photos.",
        "1 change was kept under home’s own name, for the phone’s name was used twice.",
        "4 photos of the log still missing: in another part, or on a phone.",
    ]
    bad = [{"dev": None, "seq": None, "why": "It has no name."}]
    assert lines(changes_bad=bad)[1] == "A change could not be used: It has no name."


def test_a_file_that_is_no_copy_is_called_what_it_is_before_it_is_sent(blank: Page, tmp_path: Path) -> None:
    with (tmp_path / "b.zip").open("xb") as out, archive.writing(out) as writer:
        writer.finish({"made_at": "2027-03-01T09:00:00.000Z"})
    backup = (tmp_path / "b.zip").read_bytes()
    copy = write_copy(tmp_path / "c.zip", [a_change()]).read_bytes()
    said = blank.evaluate(
        """async (files) => {
          const {whyNoCopy} = await import('/static/js/screens/copy_home.js');
          return Promise.all(files.map((bytes) => whyNoCopy(new Blob([new Uint8Array(bytes)]))));
        }""",
        [list(data) for data in (copy, backup, backup[:-9], b"", b"PK\x03\x04 and more")],
    )
    assert said[0] is None
    assert said[1] == said[2]
    assert said[1].startswith("This is a backup of a whole home")
    assert "fellside restore" in said[1]
    assert (
        said[3] == said[4] == "This is no copy that a phone kept. Choose a file whose name begins with fellside-copy."
    )
    # What a phone writes into a copy is what home knows one by, when it is taken for a backup.
    assert archive.BACKUP.other[0].decode() in (kit.STATIC / "js/hill/keep_copy.js").read_text(encoding="utf-8")


# --- room ----------------------------------------------------------------------------------------------------------


def test_full_pictures_that_home_keeps_twice_go_and_come_back(
    browser: Browser, server: RunningServer, tmp_path: Path
) -> None:
    with hill_kit.phone(browser, server, signal=True) as page:
        run(page, KEEP_PHOTOS, [["a", 4000], ["b", 4000]])
        assert sync(page)["ok"]
        hill_kit.go(page, "#/copy?part=room")
        room = page.locator("[data-room]")
        room.locator("[data-ask-twice]").click()
        expect(page.locator("#notices")).to_contain_text("Nothing can go now")
        made = server.call("backup", str(tmp_path / "b.zip"), "--json")
        said = subprocess.run(made, capture_output=True, check=True, env=server.environment())
        assert json.loads(said.stdout)["ok"]
        run(page, KEEP_PHOTOS, [["c", 4000]])  # home gets it now, and has it in no backup yet
        run(page, "await store.setMeta('kept_twice_asked_at', arg);", 0)  # as after some hours
        assert sync(page)["ok"]
        expect(room).to_contain_text("Home keeps 2 full pictures twice")
        room.locator("[data-drop-spare]").click()
        expect(page.locator("#notices")).to_contain_text("2 full pictures removed here")
        expect(room).to_contain_text("Nothing can go now")
        hashes = [hashlib.sha256(letter * 4000).hexdigest() for letter in (b"a", b"c")]
        here = run(page, "return Promise.all(arg.map(async (one) => Boolean(await store.getOwnBytes(one))));", hashes)
        assert here == [False, True]
        assert run(page, "return (await store.getPhoto(arg)).bytes.byteLength;", hashes[0]) == 4000
    with zipfile.ZipFile(tmp_path / "b.zip") as zip_:
        assert zip_.read(f"photos/{hashes[0][:2]}/{hashes[0]}") == b"a" * 4000


NOISE = """
const noise = (size) => {
  const bytes = new Uint8Array(size); // what repeats itself would be packed, and take no room
  for (let at = 0; at < size; at += 65536) crypto.getRandomValues(bytes.subarray(at, Math.min(size, at + 65536)));
  return bytes.buffer;
};
const photo = (letter, size) => ({sha256: letter.repeat(64), bytes: noise(size), type: 'image/jpeg'});
"""


@pytest.mark.parametrize("spare", [True, False])
def test_full_phone_lets_go_only_of_what_home_keeps_twice(page: Page, line: Line, spare: bool) -> None:
    mib = 1024 * 1024
    run(page, "await store.openStore();")
    quota = page.context.new_cdp_session(page)
    quota.send("Storage.overrideQuotaForOrigin", {"origin": line.url, "quotaSize": 20 * mib})
    run(
        page,
        NOISE
        + """
        const paper = {type: 'paper', set: {sha256: 'd'.repeat(64)}};
        await store.saveChanges([paper], {photos: ['d', 'a', 'b'].map((one) => photo(one, arg))});
        for (const one of ['a', 'd']) await store.markAtHome(one.repeat(64));
        """,
        4 * mib,
    )
    if spare:
        call(page, "store/room", "markTwice", ["a" * 64, "b" * 64, "d" * 64])
    told = run(
        page,
        NOISE
        + """
        const recs = await store.saveChanges([{type: 'tree', set: {tag: 'LAST'}}], {photos: [photo('c', arg)]});
        const has = async (one) => Boolean(await store.getOwnBytes(one.repeat(64)));
        const here = await Promise.all(['a', 'b', 'c', 'd'].map(has));
        return {here, refused: recs.photos_refused.length, trees: (await store.listRecords('tree')).length};
        """,
        9 * mib,
    )
    quota.send("Storage.overrideQuotaForOrigin", {"origin": line.url})
    assert told["trees"] == 1
    assert told["here"] == ([False, True, True, True] if spare else [True, True, False, True])
    assert told["refused"] == (0 if spare else 1)


def test_a_short_phone_says_so_once_when_photos_are_taken(page: Page) -> None:
    # This browser tells the same room whatever is free, so what a short phone would tell stands in for it.
    page.evaluate(
        """() => {
          document.body.innerHTML = '<main id="app"></main><div id="notices"></div>';
          navigator.storage.estimate = async () => ({quota: 61_000_000, usage: 0});
        }"""
    )
    take = """async (jpeg) => {
      const {takeShot} = await import('/static/js/hill/shots.js');
      return (await takeShot(new File([new Uint8Array(jpeg)], 'a.jpg'), null)).size;
    }"""
    jpeg = list(hill_kit.a_photo()["buffer"])
    assert page.evaluate(take, jpeg) == len(jpeg)
    said = page.locator("#notices .trouble")
    # 61 MB with nothing kept: twelve photos of the usual 5 MB.
    expect(said).to_contain_text("is getting short: about 12 more photos. Let home take")
    expect(said.get_by_role("button", name="See what can go")).to_be_visible()
    said.locator("[data-close]").click()
    page.evaluate(take, jpeg)
    expect(said).to_have_count(0)


def test_what_a_home_said_before_it_was_put_back_holds_no_longer(page: Page) -> None:
    said = run(
        page,
        """
        const {markTwice, perhapsTwice, photoSums} = await import('/static/js/store/room.js');
        const sha256 = 'a'.repeat(64);
        const photos = [{sha256, bytes: new ArrayBuffer(9), type: 'image/jpeg'}];
        await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}], {photos});
        await store.markAtHome(sha256);
        const answer = (epoch) => store.applyAnswer({epoch, cursor: 0, have: {}, ops: [], results: []});
        const spare = async () => (await photoSums()).spare.count;
        await answer('one');
        await markTwice([sha256]);
        const before = await spare();
        await answer('another');
        return [before, await spare(), await perhapsTwice()];
        """,
    )
    assert said == [1, 0, ["a" * 64]]


def test_a_photo_home_lost_again_is_kept_and_sent(page: Page) -> None:
    said = run(
        page,
        """
        const {markTwice, dropSpare} = await import('/static/js/store/room.js');
        const {write} = await import('/static/js/store/db.js');
        const {markMissing} = await import('/static/js/store/photos.js');
        const sha256 = 'a'.repeat(64);
        const photos = [{sha256, bytes: new ArrayBuffer(9), type: 'image/jpeg'}];
        await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}], {photos});
        await store.markAtHome(sha256);
        await markTwice([sha256]);
        await write(['photo_facts'], (tx) => markMissing(tx, [sha256]));
        const before = (await dropSpare()).count;
        await store.markAtHome(sha256); // sent anew; that a backup has it is to be told anew
        return {before, after: (await dropSpare()).count, kept: Boolean(await store.getOwnBytes(sha256))};
        """,
    )
    assert said == {"before": 0, "after": 0, "kept": True}
