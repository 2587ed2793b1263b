"""Every screen, with hostile words in every field: nothing is asked of anybody else, and no word is ever run."""

from __future__ import annotations

import re
import socket
import threading
import urllib.request
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import hill_kit as kit
import pytest
from home_server import HOST, RunningServer, wait_for
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Playwright

from field.core.records import RECORD_TYPES
from field.sync.change import WORDS

ELSEWHERE = "elsewhere.example"
HARM = (
    f'"\'><script>window.harmed = 1</script><img src="http://{ELSEWHERE}/a.png" onerror="window.harmed = 1">'
    f'<svg onload="window.harmed = 1"></svg><a href="//{ELSEWHERE}">x</a>${{harmed = 1}}'
)
LINK = f"javascript:window.harmed=1//http://{ELSEWHERE}"
UNSEEN = {("tree", "ended_as"), ("photo", "shows")}  # a tree that stands and a photo of it are shown on more screens


# What the browser asks by itself, whatever page is open, and however it was told not to.
BROWSERS_OWN = re.compile(
    rb"(optimizationguide-pa|content-autofill|update|clientservices|safebrowsing)\.googleapis\.com"
    rb"|(accounts|clients\d|android\.clients|mtalk|www)\.google\.com|\.gvt1\.com"
)


def _read(asked: socket.socket) -> bytes:
    """Read a question: of TLS the whole first record, for the name in it may stand at its end."""
    said = asked.recv(5)
    wanted = 5 + int.from_bytes(said[3:5], "big") if said[:1] == b"\x16" else 2000
    while len(said) < wanted and (more := asked.recv(wanted - len(said))):
        said += more
        if said[:1] != b"\x16":
            break
    return said


@dataclass
class Trap:
    """Where every name but our own leads to: it keeps what was asked, and answers nothing."""

    heard: list[bytes] = field(default_factory=list)
    port: int = 0

    def told(self) -> list[list[bytes]]:
        """Return the names in what was asked, the browser's own questions left out."""
        return [re.findall(rb"[a-z0-9./-]{6,}", one) for one in self.heard if not BROWSERS_OWN.search(one)]

    def listen(self, held: socket.socket) -> None:
        while True:
            try:
                asked, _ = held.accept()
            except OSError:
                return
            with asked:
                asked.settimeout(2)
                try:
                    self.heard.append(_read(asked))
                except OSError:
                    self.heard.append(b"(silent)")


@pytest.fixture(scope="module")
def trap() -> Iterator[Trap]:
    trap = Trap()
    with socket.create_server((HOST, 0)) as held:
        trap.port = held.getsockname()[1]
        listening = threading.Thread(target=trap.listen, args=(held,), daemon=True)
        listening.start()
        yield trap
        held.shutdown(socket.SHUT_RDWR)
        listening.join(5)


@pytest.fixture(scope="module")
def shut_in(
    playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], trap: Trap
) -> Iterator[Browser]:
    """A browser in which every other name is the trap's, for pages and workers alike."""
    rules = f"--host-resolver-rules=MAP * {HOST}:{trap.port}, EXCLUDE {HOST}"
    got = playwright_driver.chromium.launch(executable_path=chromium_path, args=[*chromium_args, rules])
    yield got
    got.close()


class Hostile(kit.Ground):
    """One record of every type, with hostile words in every field that takes words."""

    def __init__(self) -> None:
        super().__init__()
        self.ids = {kind: rec for kind, rec, _ in self.records}
        self.ids |= {kind: str(uuid.uuid4()) for kind in RECORD_TYPES}
        self.ids |= {"site": self.site, "leave": self.leave, "landholder": self.landholder}
        good = {kind: fields for kind, _, fields in self.records}
        self.records = [
            (kind, self.ids[kind], {**self._harmful(kind), **good.get(kind, {}), **self._named(kind)})
            for kind in RECORD_TYPES
            if kind not in ("collector", "forgetting")
        ]

    def _named(self, kind: str) -> dict[str, Any]:
        words = {name: HARM for name in ("name", "conditions", "note") if name in RECORD_TYPES[kind]}
        if "conditions" in words:
            words["conditions"] = [HARM]
        return words

    def _harmful(self, kind: str) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for name, what in RECORD_TYPES[kind].items():
            if (kind, name) in UNSEEN:
                continue
            if (kind, name) in WORDS:
                made[name] = WORDS[kind, name][0]
            elif what == "text":
                made[name] = LINK if name in ("phone", "email", "reference") else HARM
            elif what == "ref" and name in self.ids:
                made[name] = self.ids[name]
            elif what == "date":
                made[name] = kit.day(-3)
            elif what == "instant":
                made[name] = f"{kit.day(-3)}T09:00:00Z"
            elif what in ("lat", "lon"):
                made[name] = kit.INSIDE["latitude" if what == "lat" else "longitude"]
            elif what == "zone":
                made[name] = "UTC"
        return made


@pytest.fixture(scope="module")
def hostile() -> Hostile:
    return Hostile()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory, hostile: Hostile) -> Iterator[RunningServer]:
    with RunningServer(tmp_path_factory.mktemp("hostile") / "data") as running:
        kit.seed(running, hostile)
        yield running


def places(ids: dict[str, str]) -> list[str]:
    return [
        "#/ground", f"#/site/{ids['site']}", "#/site/new", f"#/leave/{ids['leave']}", f"#/leave/new?site={ids['site']}",
        f"#/landholder/{ids['landholder']}", f"#/consent/{ids['consent']}", f"#/checks/{ids['site']}",
        f"#/sign/{ids['leave']}", f"#/signed/{ids['signing']}", "#/mark", "#/may-i", f"#/lift/{ids['tree']}", "#/trees",
        f"#/tree/{ids['tree']}", f"#/cut/{ids['tree']}", f"#/place/{ids['tree']}", "#/due", "#/intake", "#/papers",
        "#/card", "#/card/birch", "#/card-change/birch",
        "#/card-change/birch?part=windows.lift.1", "#/card-copy/birch", "#/seen", "#/garden", "#/garden/new", "#/bench",
        "#/weather", f"#/weather/{ids['site']}", f"#/weather-file/{ids['site']}",
        f"#/papers?leave={ids['leave']}", f"#/papers?leave={ids['leave']}&kind=report", "#/house", "#/sync", "#/copy",
        f"#/forget/{ids['landholder']}", "#/cold", "#/wire", f"#/wire/{ids['tree']}", "#/mix", f"#/mix/{ids['tree']}",
        f"#/water/{ids['tree']}",
        f"#/pair/{'%3Cimg%20src=x%20onerror=harmed=1%3E'}", "#/%3Cscript%3E", f"#/tree/{'%22%3E%3Cscript%3Eharmed=1'}",
    ]  # fmt: skip


def go(page: Page, where: str) -> str:
    """Open a place, wait until a screen stands there, and return what it says."""
    kit.go(page, where)
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
    return page.locator("#app").inner_text()


def test_no_screen_asks_anybody_else_or_runs_a_word(
    shut_in: Browser, home: RunningServer, hostile: Hostile, trap: Trap
) -> None:
    asked: list[str] = []
    refused: list[str] = []

    def hear(said: ConsoleMessage) -> None:
        if "Content Security Policy" in said.text:
            refused.append(said.text)

    def watch(context: BrowserContext) -> None:
        context.on("request", lambda request: asked.append(request.url))
        context.on("console", hear)

    with kit.phone(shut_in, home, signal=True, fresh=True) as page:
        watch(page.context)
        trap.heard.clear()
        page.reload()
        for where in places(hostile.ids):
            said = go(page, where)
            assert page.evaluate("window.harmed") is None, where
            assert "could not be opened" not in said, (where, said)
        assert "<script>" in go(page, "#/ground")  # as the word it is
        shown = page.evaluate(
            """async () => {
              const { SCREENS } = await import('/static/js/main/router.js');
              return Object.keys(SCREENS);
            }"""
        )
        visited = {re.match(r"#/([a-z-]*)", where)[1] for where in places(hostile.ids)}  # type: ignore[index]
        assert set(shown) <= visited
        assert refused == []
        outside = [url for url in asked if not url.startswith((home.url + "/", "blob:", "data:"))]
        assert outside == []
        assert trap.told() == []

        # Each of these watches is of use: what is put in here is seen by it, and does not run.
        page.evaluate(
            """() => {
              const place = document.createElement('div');
              place.innerHTML = '<img src="data:,x" onerror="window.harmed = 1">';
              document.body.append(place);
              const script = document.createElement('script');
              script.textContent = 'window.harmed = 1';
              document.body.append(script);
            }"""
        )
        wait_for(lambda: page.evaluate("1") and len(refused) >= 2, "the policy has not refused what was put in")
        assert page.evaluate("window.harmed") is None
        page.evaluate(f"fetch('http://{ELSEWHERE}/x', {{ mode: 'no-cors' }}).catch(() => null)")
        assert trap.told() == []
        other = page.context.new_page()
        with pytest.raises(Exception, match="ERR_"):
            other.goto(f"http://{ELSEWHERE}/seen", timeout=5000)
        assert any(b"/seen" in one for one in trap.heard)


def test_no_paper_holds_a_script_or_an_address_of_anybody_else(
    home: RunningServer, hostile: Hostile, tmp_path: Path
) -> None:
    for kind in ("leave", "renewal", "report"):
        question = urllib.request.Request(
            f"{home.url}/api/paper/{kind}/{hostile.leave}.html", headers={"Authorization": f"Bearer {home.seed_token}"}
        )
        with urllib.request.urlopen(question) as answer:
            page = answer.read().decode()
            assert answer.headers["Content-Disposition"].startswith("attachment")
        tags = re.findall(r"<[^>]*>", page)
        assert tags
        assert [
            tag for tag in tags if re.search(rf"<script|\son\w+=|javascript:|{ELSEWHERE}|https?://(?!www.w3.org)", tag)
        ] == []
