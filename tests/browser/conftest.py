"""A real Chromium for the browser tests. Without one they fail with a sentence; they are never skipped."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import find_chromium
import hill_kit
import phone_kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

HERE = Path(__file__).resolve().parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in Path(item.fspath).resolve().parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    return find_chromium.find_chromium()


@pytest.fixture(scope="session")
def chromium_args() -> list[str]:
    return find_chromium.quiet_args()


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Playwright]:
    with sync_playwright() as p:
        yield p


@pytest.fixture(scope="session")
def browser(playwright_driver: Playwright, chromium_path: str, chromium_args: list[str]) -> Iterator[Browser]:
    got = playwright_driver.chromium.launch(executable_path=chromium_path, args=chromium_args)
    yield got
    got.close()


# A phone with no server anywhere, for the tests of its store; others make their own of the same name.


@pytest.fixture(scope="module")
def line() -> Iterator[phone_kit.Line]:
    with phone_kit.Line() as line:
        yield line


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(timezone_id="Europe/London")
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext, line: phone_kit.Line) -> Page:
    page = context.new_page()
    page.goto(line.url + phone_kit.BLANK)
    return page


@pytest.fixture(scope="module")
def blank(browser: Browser) -> Iterator[Page]:
    """An empty page of the app's own origin, for its pure modules; it is shared, and keeps nothing."""
    with phone_kit.Line() as line:
        context = browser.new_context(timezone_id="UTC")
        page = context.new_page()
        page.goto(line.url + phone_kit.BLANK)
        yield page
        context.close()


# A home with ground on it, for the tests of the screens; those that want other ground make their own of the same name.


@pytest.fixture(scope="module")
def ground() -> hill_kit.Ground:
    return hill_kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, ground: hill_kit.Ground) -> Iterator[RunningServer]:
    with RunningServer(tmp_path_factory.mktemp("home") / "data") as running:
        hill_kit.seed(running, ground)
        yield running


@pytest.fixture(scope="session")
def shared_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningServer]:
    with RunningServer(tmp_path_factory.mktemp("shared") / "data") as running:
        yield running


@pytest.fixture
def empty_home(shared_home: RunningServer) -> RunningServer:
    """A home that knows nothing and nobody; its process has served the tests before this one."""
    shared_home.empty()
    return shared_home


@pytest.fixture
def at_intake(browser: Browser, server: RunningServer) -> Iterator[Page]:
    """The page Intake of a paired desk that has home in reach."""
    with hill_kit.phone(browser, server, viewport=hill_kit.DESK, signal=True) as page:
        hill_kit.go(page, "#/intake")
        yield page
