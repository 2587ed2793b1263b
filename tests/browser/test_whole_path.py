"""One tree all the way: marked on the hill, asked about, lifted, brought home, and its first aftercare told.

A real server process and a real Chromium. On the hill the server is not merely out of reach: it is dead.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import urllib.request
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hill_kit as kit
import home_server as server_kit
import killable
import pytest
from playwright.sync_api import Page, Playwright, expect

HERE = Path(__file__).resolve().parent


SECOND_TREE = {"latitude": 55.4030, "longitude": -3.394, "accuracy": 8}


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Any]:
    with server_kit.RunningServer(tmp_path / "data") as server:
        kit.seed(server, kit.Ground())
        yield server


@pytest.fixture
def phone(playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], tmp_path: Path) -> Iterator[Any]:
    browser = killable.KillableBrowser(playwright_driver, chromium_path, chromium_args, tmp_path / "profile")
    yield browser
    browser.kill()


def stand(page: Page, where: dict[str, float]) -> None:
    page.context.grant_permissions(["geolocation"])
    page.context.set_geolocation(where)  # type: ignore[arg-type]


def pair_and_install(page: Page, home: Any) -> None:
    page.goto(f"{home.url}/#/pair/{home.pair_code()}")
    page.get_by_role("button", name="Pair").click()
    expect(page.locator("#line")).to_contain_text("home has", ignore_case=True)
    kit.wait_until(page, "async () => (await import('/static/js/store.js')).getPack()")
    page.evaluate("async () => { await navigator.serviceWorker.ready; }")
    page.reload()
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    faults = page.context.new_cdp_session(page).send("Page.getInstallabilityErrors")
    assert faults["installabilityErrors"] == []


def mark(page: Page, where: dict[str, float], kind: str, photo: dict[str, Any], note: str) -> None:
    stand(page, where)
    kit.go(page, "#/ground")
    page.locator("#nav").get_by_role("link", name="Mark").click()
    expect(page.locator("[data-site-line]")).to_have_text("On Kettle Brae")
    with page.expect_file_chooser() as chooser:
        page.locator("label.button", has_text="Take photo").click()
    chooser.value.set_files(photo)
    expect(page.locator(".mark figure")).to_have_count(1)
    chip = page.locator("label.chip", has=page.get_by_text(kind, exact=True))
    if not chip.is_visible():
        page.locator("[data-more-kinds] > summary").click()
    chip.click()
    page.locator('[name="girth_cm"]').fill("24")
    page.get_by_role("textbox", name="Note").fill(note)
    page.get_by_role("button", name="Save tree").click()
    expect(page.get_by_role("heading", name="Saved on this")).to_be_visible()


def ask(page: Page, where: dict[str, float], answer: str) -> list[str]:
    """Ask May I? at a place, wait for the answer, and return the codes of its reasons."""
    stand(page, where)
    kit.go(page, "#/ground")
    page.locator("#nav").get_by_role("link", name="May I?").click()
    expect(page.locator(".verdict")).to_have_attribute("data-answer", answer)
    return page.locator(".reasons > li").evaluate_all("rows => rows.map(row => row.dataset.code)")


def facts_on_phone(page: Page) -> dict[str, Any]:
    """Return the records, the changes and the hashes of the photo bytes that this phone holds."""
    return page.evaluate(
        """async () => {
          const store = await import('/static/js/store.js');
          const hex = (digest) => [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, '0')).join('');
          const photos = {};
          for (const photo of await store.listRecords('photo')) {
            const bytes = await store.getOwnBytes(photo.fields.sha256);
            photos[photo.fields.sha256] = hex(await crypto.subtle.digest('SHA-256', bytes));
          }
          return { trees: await store.listRecords('tree'), fixes: await store.listRecords('fix'),
                   lifts: await store.listRecords('lift'), photos,
                   changes: await store.changesToSend({}, 100000), counts: await store.counts() };
        }"""
    )


class SecondDevice:
    """Another paired device, that asks home for everything it has."""

    def __init__(self, home: Any) -> None:
        self.home = home
        self.device = str(uuid.uuid4())
        code = home.pair_code()
        self.token = home.post("/api/pair", {"code": code, "device": self.device, "name": "desk"})["token"]

    def changes(self) -> list[dict[str, Any]]:
        asked = {"proto": 1, "device": self.device, "epoch": None, "cursor": 0, "have": {}, "ops": [], "want": 5000}
        answer = self.home.post("/api/sync", asked, self.token)
        assert answer["more"] is False
        return [entry["op"] for entry in answer["ops"]]

    def photo(self, sha256: str) -> bytes:
        ask = urllib.request.Request(
            f"{self.home.url}/api/blob/{sha256}", headers={"Authorization": f"Bearer {self.token}"}
        )
        with urllib.request.urlopen(ask, timeout=30) as answer:
            return bytes(answer.read())


def by_name(changes: list[dict[str, Any]]) -> dict[tuple[str, int], str]:
    return {(op["dev"], op["seq"]): json.dumps(op, sort_keys=True) for op in changes}


def rows_at_home(home: Any, question: str) -> list[tuple[Any, ...]]:
    with sqlite3.connect(home.data / "fellside.sqlite") as base:
        return base.execute(question).fetchall()


def test_one_tree_from_the_hill_to_its_first_aftercare(home: Any, phone: Any) -> None:
    page = phone.open("about:blank")
    pair_and_install(page, home)

    home.kill()  # from here on the hill has no home
    pictures = [kit.a_photo("olive"), kit.a_photo("sienna")]
    mark(page, kit.INSIDE, "birch", pictures[0], "leans to the burn")
    mark(page, SECOND_TREE, "hawthorn", pictures[1], "grazed low")
    assert ask(page, kit.INSIDE, "yes") == []
    assert ask(page, kit.AT_EDGE, "ask") == ["edge"]
    assert "outside" in ask(page, kit.OUTSIDE, "no")

    stand(page, kit.INSIDE)
    birch = next(tree for tree in facts_on_phone(page)["trees"] if tree["fields"]["species"] == "birch")
    kit.go(page, f"#/lift/{birch['id']}")
    expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
    page.get_by_label("close the gates").check()
    page.get_by_role("button", name="Save lift").click()
    expect(page.get_by_role("heading", name="Saved on this")).to_be_visible()
    before = facts_on_phone(page)

    phone.kill()  # the battery is flat
    page = phone.open(f"{home.url}/#/trees")
    expect(page.locator("#app")).to_contain_text(birch["fields"]["tag"])
    after = facts_on_phone(page)
    assert after == before
    hashes = {hashlib.sha256(picture["buffer"]).hexdigest() for picture in pictures}
    assert {**after["photos"]} == {sha256: sha256 for sha256 in hashes}
    assert sorted(tree["fields"]["note"] for tree in after["trees"]) == ["grazed low", "leans to the burn"]
    lift = after["lifts"][0]["fields"]
    assert lift["answer"]["verdict"]["answer"] == "yes"
    assert lift["answer"]["input"]["here"]["lat"] == kit.INSIDE["latitude"]
    assert after["counts"]["photos_unsent"] == 2

    home.start()  # in the evening, at home
    kit.go(page, "#/sync")
    page.get_by_role("button", name="Sync now").click()
    kit.wait_until(
        page,
        """async () => { const said = await (await import('/static/js/store.js')).counts();
                         return said.changes_unsent === 0 && said.photos_unsent === 0; }""",
    )
    second = SecondDevice(home)
    held = facts_on_phone(page)
    assert by_name(second.changes()) == by_name(held["changes"])
    assert dict(rows_at_home(home, "select tag, note from tree where not deleted")) == {
        tree["fields"]["tag"]: tree["fields"]["note"] for tree in held["trees"]
    }
    assert rows_at_home(home, "select count(*) from lift where not deleted") == [(1,)]
    for sha256 in hashes:
        assert hashlib.sha256(second.photo(sha256)).hexdigest() == sha256

    page.get_by_role("button", name="Sync now").click()
    kit.wait_until(
        page,
        """async (tree) => (await (await import('/static/js/store.js')).getPack())
             .tasks.some((task) => task.tree === tree && task.work !== 'lift')""",
        birch["id"],
    )
    kit.go(page, "#/due")
    expect(page.locator("#app")).to_contain_text(birch["fields"]["tag"])
    expect(page.locator("#app")).to_contain_text("water", ignore_case=True)
