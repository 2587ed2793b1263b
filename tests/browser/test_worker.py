"""The worker in a real browser: a whole version or none, the old one until a person says so, nothing under /api/."""

from __future__ import annotations

import json
import shutil
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, Page, Playwright, expect
from relay import Relay

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
SHELL_CACHE = "fellside-shell-"
# Stands in for the app's own start: these tests are about the worker, and must see which version a page is of.
MARKER = "document.documentElement.dataset.version = '{}';"


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page of a profile of its own."""
    context = browser.new_context()
    yield context.new_page()
    context.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Relay]]:
    """A copy of the app whose files a test may change, and a relay before a server that runs from it."""
    folder = tmp_path_factory.mktemp("worker")
    copy = folder / "checkout"
    for name in ("field", "static", "templates"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "app.py", copy)
    with RunningServer(folder / "data", checkout=copy) as server, Relay(server.url) as relay:
        yield copy, relay


@pytest.fixture
def checkout(house: tuple[Path, Relay]) -> Path:
    """The copy, its start marking the page as of version one."""
    mark(house[0], "one")
    return house[0]


def mark(checkout: Path, version: str) -> None:
    (checkout / "static" / "js" / "main.js").write_text(MARKER.format(version), encoding="utf-8")


@pytest.fixture
def relayed(house: tuple[Path, Relay], checkout: Path) -> Relay:
    """The relay, faultless, before version one."""
    house[1].faults.clear()
    return house[1]


def install(page: Page, url: str) -> None:
    """Open the app and wait until its worker is in charge of the page."""
    page.goto(url)
    page.evaluate(
        """async () => {
            await navigator.serviceWorker.register('/sw.js');
            await navigator.serviceWorker.ready;
            if (!navigator.serviceWorker.controller) {
                await new Promise((done) => navigator.serviceWorker.addEventListener('controllerchange', done));
            }
        }"""
    )


def update(page: Page) -> str:
    """Look for a new version; return 'waiting' or 'failed', whichever it came to."""
    return page.evaluate(
        """async () => {
            const registration = await navigator.serviceWorker.getRegistration();
            await registration.update();
            const coming = registration.installing ?? registration.waiting;
            if (!coming) return 'nothing new';
            for (;;) {
                if (coming.state === 'installed') return 'waiting';
                if (coming.state === 'redundant') return 'failed';
                await new Promise((done) => coming.addEventListener('statechange', done, { once: true }));
            }
        }"""
    )


def caches_of(page: Page) -> list[str]:
    return page.evaluate("() => caches.keys()")


def version_of(page: Page, url: str) -> str | None:
    """Open the app afresh and return which version's start ran."""
    page.goto(url)
    root = page.locator("html[data-version]")
    expect(root).to_have_count(1)
    return root.get_attribute("data-version")


def listed_by(url: str) -> list[str]:
    with urllib.request.urlopen(f"{url}/sw.js", timeout=10) as answer:
        first = answer.read().decode().partition("\n")[0]
    return json.loads(first.removeprefix("const ASSETS = ").removesuffix(";"))


def test_worker_keeps_every_listed_file_in_one_cache(page: Page, relayed: Relay) -> None:
    install(page, relayed.url)
    (cache,) = caches_of(page)
    assert cache.startswith(SHELL_CACHE)
    kept = page.evaluate(
        "async (name) => (await (await caches.open(name)).keys()).map((request) => new URL(request.url).pathname)",
        cache,
    )
    assert sorted(kept) == sorted(listed_by(relayed.url))


def test_the_real_app_can_be_installed(
    playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], tmp_path: Path
) -> None:
    # A profile on the disk: a private one installs nothing.
    profile = playwright_driver.chromium.launch_persistent_context(
        tmp_path / "profile", executable_path=chromium_path, args=chromium_args
    )
    with profile, RunningServer(tmp_path / "data") as server:
        page = profile.new_page()
        page.goto(server.url)
        page.evaluate("async () => { await navigator.serviceWorker.register('/sw.js'); }")
        page.evaluate("async () => { await navigator.serviceWorker.ready; }")
        devtools = profile.new_cdp_session(page)
        manifest = devtools.send("Page.getAppManifest")
        assert manifest["errors"] == []
        assert manifest["url"] == f"{server.url}/manifest.webmanifest"
        assert devtools.send("Page.getInstallabilityErrors")["installabilityErrors"] == []


def test_app_opens_with_the_server_stopped(page: Page, checkout: Path, tmp_path: Path) -> None:
    with RunningServer(tmp_path / "data", checkout=checkout) as server:
        install(page, server.url)
        assert server.stop() == 0
        for address in ("/", "/?from=home", "/trees"):
            assert version_of(page, server.url + address) == "one"
        # The look comes with it: the colour of the paper is set by a style sheet.
        assert page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--paper')").strip()
        assert page.evaluate("document.fonts.load('16px \"Atkinson Hyperlegible\"').then((faces) => faces.length)") == 1


def test_api_never_passes_through_the_worker(page: Page, checkout: Path, tmp_path: Path) -> None:
    with RunningServer(tmp_path / "data", checkout=checkout) as server:
        install(page, server.url)
        asked = "() => fetch('/api/hello').then((answer) => answer.status, () => 'no answer')"
        assert page.evaluate(asked) == 200
        server.stop()
        assert page.evaluate(asked) == "no answer"


@pytest.mark.parametrize("fault", ["error", "redirect", "cut"])
@pytest.mark.parametrize("address", ["/", "/static/css/tokens.css"])
def test_first_install_with_one_file_amiss_leaves_nothing(page: Page, relayed: Relay, address: str, fault: str) -> None:
    page.goto(f"{relayed.url}/robots.txt")  # a page of the same origin that needs none of the files
    relayed.faults[address] = fault
    state = page.evaluate(
        """async () => {
            const registration = await navigator.serviceWorker.register('/sw.js');
            const worker = registration.installing;
            while (!['activated', 'redundant'].includes(worker.state)) {
                await new Promise((done) => worker.addEventListener('statechange', done, { once: true }));
            }
            return worker.state;
        }"""
    )
    assert state == "redundant"
    assert caches_of(page) == []


@pytest.mark.parametrize("fault", ["error", "redirect", "cut"])
def test_update_with_one_file_amiss_keeps_the_old_version(
    page: Page, relayed: Relay, checkout: Path, fault: str
) -> None:
    install(page, relayed.url)
    before = caches_of(page)
    mark(checkout, "two")
    relayed.faults["/static/css/parts.css"] = fault
    assert update(page) == "failed"
    assert caches_of(page) == before
    relayed.faults |= dict.fromkeys(listed_by(relayed.url), "error")  # from here on only the cache can answer
    assert version_of(page, relayed.url) == "one"


def test_a_failed_update_is_made_good_by_the_next(page: Page, relayed: Relay, checkout: Path) -> None:
    install(page, relayed.url)
    mark(checkout, "two")
    relayed.faults["/static/css/parts.css"] = "error"
    assert update(page) == "failed"
    relayed.faults.clear()
    assert update(page) == "waiting"


def test_new_version_waits_until_it_is_asked_for(page: Page, relayed: Relay, checkout: Path) -> None:
    install(page, relayed.url)
    (old,) = caches_of(page)
    mark(checkout, "two")
    assert update(page) == "waiting"
    # Opening the app anew is no consent: the page may be in the middle of something in another tab.
    assert version_of(page, relayed.url) == "one"
    assert len(caches_of(page)) == 2
    page.evaluate(
        """async () => {
            const changed = new Promise((done) => navigator.serviceWorker.addEventListener('controllerchange', done));
            (await navigator.serviceWorker.getRegistration()).waiting.postMessage('SKIP');
            await changed;
        }"""
    )
    assert version_of(page, relayed.url) == "two"
    (new,) = caches_of(page)
    assert new != old


def test_other_caches_are_left_alone(page: Page, relayed: Relay, checkout: Path) -> None:
    page.goto(f"{relayed.url}/robots.txt")
    page.evaluate("async () => { await caches.open('map-tiles'); await caches.open('fellside-shell-of-old'); }")
    install(page, relayed.url)
    assert "map-tiles" in caches_of(page)
    assert "fellside-shell-of-old" not in caches_of(page)
