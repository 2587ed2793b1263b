"""Here and at home: what the screen says when home was put back or shut the phone out, and of two answers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import phone_kit as kit
import pytest
from made_up_home import MadeUpHome, as_json, refusal
from playwright.sync_api import Browser, Page, expect

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


def open_screen(page: Page) -> Any:
    page.set_viewport_size({"width": 390, "height": 844})
    run(
        page,
        """const {open} = await import('/static/js/screens/sync_state.js');
           document.body.innerHTML = '<main id="app"></main><div id="notices"></div>';
           await open(document.getElementById('app')); return null;""",
    )
    return page.locator("#app")


def test_a_phone_that_was_shut_out_says_so_and_how_its_work_is_handed_over(page: Page, home: MadeUpHome) -> None:
    said = "This phone was shut out at home on 3 March 2027."
    home.ways["/api/sync"] = lambda _method, _body: refusal(401, "shut-out", said, "Keep a copy.")
    assert sync(page) == {"ok": False, "text": f"{said} Keep a copy."}
    state = run(page, "let now; sync.onSyncState((state) => { now = state; })(); return now;")
    assert (state["phase"], state["trouble"]["code"]) == ("unpaired", "shut-out")
    screen = open_screen(page)
    expect(screen.get_by_text(said)).to_be_visible()
    expect(screen.get_by_text("Shut out at home", exact=True)).to_be_visible()
    expect(screen.get_by_text("On this phone only: 1 change.")).to_be_visible()
    expect(screen.locator(".actions a[href='#/copy']").first).to_be_visible()
    assert run(page, "return store.counts();")["changes_unsent"] == 1


def test_after_home_was_put_back_the_screen_says_what_was_handed_over_again(page: Page, home: MadeUpHome) -> None:
    assert sync(page)["ok"]
    home.have = {}
    home.ways["/api/sync"] = lambda _method, body: as_json({**home.take_in(json.loads(body)), "epoch": "e2"})
    assert sync(page)["ok"]
    assert list(home.have.values()) == [1]
    screen = open_screen(page)
    told = screen.locator("[data-told]")
    expect(told).to_contain_text("found home put back to an earlier day")
    expect(told).to_contain_text("This phone has handed it over again.")
    expect(told).to_contain_text("It lacked 1 change written since ")
    told.get_by_role("button", name="I have read it").click()
    expect(told.locator("section")).to_have_count(0)
    assert sync(page)["ok"]
    assert run(page, "return store.getMeta('home_put_back');") is None


def test_what_is_to_be_settled_is_seen_first_on_a_phone(page: Page, home: MadeUpHome) -> None:
    [rec] = [one["id"] for one in run(page, "return store.listRecords('tree');")]
    dev = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
    op = {
        "dev": dev, "seq": 1, "hlc": f"01a4013ab180-0001-{dev}", "wall": "2027-03-01T09:00:00.000Z", "tz": "+00:00",
        "rec": rec, "type": "tree", "set": {"tag": "B7"}, "base": {"tag": []}, "v": 1,
    }  # fmt: skip
    told = {"epoch": "e1", "cursor": 1, "have": {}, "ops": [{"pos": 1, "op": op}]}
    run(page, "await store.applyAnswer(arg); return null;", told)
    screen = open_screen(page)
    settle = screen.locator("[data-settle]").first
    expect(settle).to_be_visible()
    box = settle.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 844
    assert box["y"] < screen.locator("[data-state]").bounding_box()["y"]
