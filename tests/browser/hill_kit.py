"""What the tests of the hill's screens share: ground that home knows, and a paired phone standing on it."""

from __future__ import annotations

import datetime as dt
import io
import itertools
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from home_server import wait_for
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 800}

# A field of about 630 by 560 m; its north edge is the parallel of 55.405.
WEST, SOUTH, EAST, NORTH = -3.40, 55.40, -3.39, 55.405
FIELD = {
    "type": "Polygon",
    "coordinates": [[[WEST, SOUTH], [EAST, SOUTH], [EAST, NORTH], [WEST, NORTH], [WEST, SOUTH]]],
}
INSIDE = {"latitude": 55.4025, "longitude": -3.395, "accuracy": 6}
# 0.00003 degrees of latitude are 3.3 m: within the margin of 1.62 x 6 m
AT_EDGE = {"latitude": 55.40503, "longitude": -3.395, "accuracy": 6}
# 0.0015 degrees of latitude are 167 m
OUTSIDE = {"latitude": 55.4065, "longitude": -3.395, "accuracy": 6}


def day(days: int = 0) -> str:
    """Return the date so many days from today, in the zone of the test browser (UTC)."""
    return (dt.datetime.now(dt.UTC).date() + dt.timedelta(days=days)).isoformat()


class Ground:
    """A site with a signed leave for all of it, as records to seed."""

    def __init__(self, **leave: Any) -> None:
        self.site, self.leave, self.landholder = (str(uuid.uuid4()) for _ in range(3))
        terms = {
            "site": self.site,
            "landholder": self.landholder,
            "starts_on": day(-30),
            "ends_on": day(200),
            "allowance": 5,
            "form": "signed",
            "entitled": True,
            "conditions": ["close the gates"],
        }
        self.records: list[tuple[str, str, dict[str, Any]]] = [
            (
                "site",
                self.site,
                {
                    "name": "Kettle Brae",
                    "zone": "UTC",
                    "boundary": FIELD,
                    "protected": False,
                    "services_checked_on": day(-10),
                },
            ),
            ("landholder", self.landholder, {"name": "the farm", "role": "owner"}),
            ("leave", self.leave, {**terms, **leave}),
        ]

    def add(self, record_type: str, **fields: Any) -> str:
        """Put one more record in and return its id."""
        rec = str(uuid.uuid4())
        self.records.append((record_type, rec, fields))
        return rec


def ops_of(records: list[tuple[str, str, dict[str, Any]]], device: str, base: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the changes that make records, as a phone would send them."""
    now = dt.datetime.now(dt.UTC)
    ms = int(now.timestamp() * 1000)
    return [
        {
            "dev": device,
            "seq": seq,
            "hlc": f"{ms:012x}-{seq:04x}-{device}",
            "wall": now.strftime("%Y-%m-%dT%H:%M:%S.000Z"),
            "tz": "+00:00",
            "rec": rec,
            "type": kind,
            "set": fields,
            "base": base,
            "v": 1,
        }
        for seq, (kind, rec, fields) in zip(itertools.count(1), records, strict=False)
    ]


def seed(server: Any, ground: Ground, base: dict[str, Any] | None = None) -> None:
    """Bring records home through another paired device, which then lends its word to pair the test's phones."""
    device = str(uuid.uuid4())
    paired = server.post("/api/pair", {"code": code_for(server), "device": device, "name": "seed"})
    changes = ops_of(ground.records, device, base or {})
    body = {"proto": 1, "device": device, "epoch": None, "cursor": 0, "have": {}, "ops": changes, "want": 1}
    answer = server.post("/api/sync", body, paired["token"])
    assert {result["s"] for result in answer["results"]} == {"ok"}, answer["results"]
    server.seed_token = paired["token"]


def code_for(server: Any) -> str:
    """Return a code to pair a phone: by the seeding device where there is one, which is quicker than the command."""
    token = getattr(server, "seed_token", None)
    return server.pair_code() if token is None else server.post("/api/pair-code", {}, token)["code"]


class Shelf:
    """One phone that was put down, to be wiped and taken up again: the worker and the scripts are on it already."""

    def __init__(self) -> None:
        self.kind: object = None
        self.context: BrowserContext | None = None

    def take(self, kind: object) -> BrowserContext | None:
        """Return the phone put down, if it is of this kind and nobody has it; another one is done away with."""
        context, self.context = self.context, None
        if context is not None and self.kind != kind:
            context.close()
            return None
        return context

    def put(self, kind: object, context: BrowserContext) -> None:
        """Put a phone down as the one to be taken up next."""
        self.take(None)
        for page in context.pages:
            page.close()
        self.kind, self.context = kind, context


shelf = Shelf()


@contextmanager
def phone(
    browser: Browser,
    server: Any,
    where: dict[str, float] | None = INSIDE,
    viewport: dict[str, int] = PHONE,
    *,
    signal: bool = False,
    fresh: bool = False,
    code: str | None = None,
    **more: Any,
) -> Iterator[Page]:
    """A paired phone with the shell kept and everything from home on it. Any fault on its page fails the test.

    Without `signal` its radio is off from then on: what the test does works offline, and no other test sees it.
    `code`: to pair it by; else one that lets it do everything.
    `fresh`: never used before or after; for a test that turns its clock or puts scripts into every page.
    """
    kind = (id(browser), server.url, sorted(viewport.items()), sorted(more.items()))
    context = None if fresh else shelf.take(kind)
    if context is None:
        context = browser.new_context(viewport=viewport, timezone_id="UTC", locale="en-GB", **more)  # type: ignore[arg-type]
    good = False
    try:
        context.set_offline(False)
        context.clear_permissions()
        context.set_geolocation(where)  # type: ignore[arg-type]
        if where:
            context.grant_permissions(["geolocation"])
        page = context.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        wipe(page, server)
        pair(page, code or code_for(server))
        context.set_offline(not signal)
        yield page
        assert faults == [], faults
        good = True
    finally:
        if good and not fresh:
            shelf.put(kind, context)
        else:
            context.close()


def wipe(page: Page, server: Any) -> None:
    """Leave a page that keeps nothing at an address of home where no app runs; the worker and its shell stay."""
    page.context.clear_cookies()
    page.goto(f"{server.url}/api/hello")
    page.evaluate(
        """async () => {
          localStorage.clear();
          sessionStorage.clear();
          for (const { name } of await indexedDB.databases()) {
            await new Promise((done, failed) => {
              const gone = indexedDB.deleteDatabase(name);
              gone.onsuccess = done;
              gone.onerror = gone.onblocked = () => failed(new Error(`${name} is still in use`));
            });
          }
        }"""
    )


def pair(page: Page, code: str) -> None:
    """Pair this page's phone, bring everything from home to it, and open the app on it."""
    page.evaluate(
        "async (code) => { await (await import('/static/js/sync.js')).pair(code, 'Test phone'); }",
        code,
    )
    sync(page)
    page.goto(page.evaluate("location.origin"))
    page.evaluate(
        """async () => {
          const worker = navigator.serviceWorker;
          await worker.ready;
          if (worker.controller) return;
          await new Promise((done) => worker.addEventListener('controllerchange', done, { once: true }));
        }"""
    )


def sync(page: Page) -> None:
    """Have the phone exchange everything with home. A busy machine may miss the wait for home's word: asked again."""
    for _ in range(5):
        said, phase = page.evaluate(
            """async () => {
              const { syncNow, onSyncState } = await import('/static/js/sync.js');
              const said = await syncNow();
              let phase = null;
              onSyncState((state) => { phase = state.phase; })();
              return [said, phase];
            }"""
        )
        if said["ok"]:
            return
        assert phase not in ("idle", "unpaired"), said  # home did answer, and it was no good end
    raise AssertionError(said)


def wait_until(page: Page, question: str, arg: Any = None) -> None:
    """Wait until an async function on the page gives something true; `wait_for_function` takes its promise for that."""
    wait_for(lambda: page.evaluate(question, arg), f"on the page: {question}")


def go(page: Page, where: str) -> None:
    """Open a place by its hash and wait until its own page has taken the place of the one before."""
    page.evaluate(
        """(where) => {
          if (location.hash === where) return; // it is open already, and nothing will take its place
          document.getElementById('app').firstElementChild?.setAttribute('data-before', '');
          location.hash = where;
        }""",
        where,
    )
    page.locator("#app > :not([data-before]) h1").first.wait_for()


def records(page: Page, kind: str) -> list[dict[str, Any]]:
    """Return the phone's own merged records of a type."""
    return page.evaluate("async (kind) => (await import('/static/js/store.js')).listRecords(kind)", kind)


def move(context: BrowserContext, where: dict[str, float]) -> None:
    context.set_geolocation(where)  # type: ignore[arg-type]


def a_photo(colour: str = "green") -> dict[str, Any]:
    """Return a small JPEG as a file for an input."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG")
    return {"name": f"{colour}.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


# What every screen is held to: the rules of the web's accessibility guidelines, with targets and the strong contrast.
AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
}


def hindrances(page: Page, part: str | None = None) -> list[Any]:
    """Return what of a page, or a part of it, hinders people who see or reach badly, as the checking engine tells."""
    return list(Axe().run(page, context=part, options=AXE).response["violations"])
