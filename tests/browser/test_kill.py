"""Saved means saved: the whole browser killed at once, its profile opened again, and no server anywhere."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright

HERE = Path(__file__).resolve().parent
PHOTO_BYTES = 6 * 1024 * 1024


def load(name: str):
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


kit = load("phone_kit")
server_kit = load("server")
run = kit.run


class KillableBrowser:
    """A Chromium in a process group of its own, on a profile that outlives it."""

    def __init__(self, driver: Playwright, path: str, args: list[str], profile: Path) -> None:
        self.driver = driver
        self.call = [
            path,
            *args,
            "--headless=new",
            "--remote-debugging-port=0",
            f"--user-data-dir={profile}",
            "about:blank",
        ]
        self.port_file = profile / "DevToolsActivePort"
        self.process: subprocess.Popen[bytes] | None = None

    def open(self, url: str) -> Page:
        """Start it and open a page."""
        self.port_file.unlink(missing_ok=True)
        self.process = subprocess.Popen(
            self.call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        said = server_kit.wait_for(self._port, "the browser does not say where it listens")
        browser = self.driver.chromium.connect_over_cdp(f"http://127.0.0.1:{said}")
        page = browser.contexts[0].new_page()
        page.goto(url)
        return page

    def _port(self) -> str | None:
        text = self.port_file.read_text() if self.port_file.exists() else ""
        return text.splitlines()[0] if text.count("\n") >= 1 else None

    def kill(self) -> None:
        """Kill every process of it at once, as an empty battery would."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(30)
        self.process = None


@pytest.fixture
def phone(
    playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], tmp_path: Path
) -> Iterator[KillableBrowser]:
    browser = KillableBrowser(playwright_driver, chromium_path, chromium_args, tmp_path / "profile")
    yield browser
    browser.kill()


@pytest.fixture
def line() -> Iterator[Any]:
    with kit.Line() as line:
        yield line


def test_saved_tree_and_photo_are_there_after_the_browser_was_killed(phone: KillableBrowser, line: Any) -> None:
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


def test_next_number_and_stamp_rise_after_the_browser_was_killed(phone: KillableBrowser, line: Any) -> None:
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


def test_draft_is_there_after_the_browser_was_killed(phone: KillableBrowser, line: Any) -> None:
    page = phone.open(line.url + kit.BLANK)
    run(page, "await store.saveDraft('mark', {tag: 'B', note: 'half a sent'});")
    phone.kill()
    page = phone.open(line.url + kit.BLANK)
    assert run(page, "return store.getDraft('mark');") == {"tag": "B", "note": "half a sent"}


@pytest.mark.parametrize("after_ms", [0, 5, 20, 60])
def test_kill_in_the_middle_of_saves_leaves_whole_saves_only(phone: KillableBrowser, line: Any, after_ms: int) -> None:
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
