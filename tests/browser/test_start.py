"""The start of the app: the way between screens, the quiet line, pairing first, and letting a new version in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hill_kit
import phone_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, BrowserContext, Page, expect

HERE = Path(__file__).resolve().parent
REC = "00000000-0000-4000-8000-000000000001"


run = kit.run


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with RunningServer(tmp_path_factory.mktemp("start") / "data") as server:
        yield server


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext, server: Any) -> Page:
    """The app, just opened on a phone that was never paired."""
    page = context.new_page()
    page.goto(server.url)
    expect(page.locator("#app h1")).to_be_visible()
    return page


@pytest.fixture
def paired(page: Page, server: Any) -> Page:
    run(page, "await sync.pair(arg, 'phone');", server.pair_code())
    hill_kit.sync(page)
    page.evaluate("location.hash = '#/ground'")
    expect(page.locator("#app h1")).to_have_text("Ground")
    return page


def go(page: Page, where: str) -> None:
    page.evaluate("(where) => { location.hash = where; }", where)


# --- the way -------------------------------------------------------------------------------------------------------


def test_phone_that_was_never_paired_starts_with_pairing(page: Page) -> None:
    expect(page.locator("#app h1")).to_have_text("Pair this phone")
    go(page, "#/trees")
    page.wait_for_url("**/#/pair")


def test_phone_that_home_forgot_still_opens_all_it_keeps(paired: Page) -> None:
    run(paired, "await store.setIdentity({...(await store.getIdentity()), token: 'forgotten'}); await sync.syncNow();")
    go(paired, "#/trees")
    expect(paired.locator("#app h1")).to_have_text("Trees")
    expect(paired.locator("#line")).to_contain_text("Pair it again")


@pytest.mark.parametrize(
    ("where", "title"),
    [
        ("#/mark", "Mark a tree"),
        ("#/may-i", "May I dig here?"),
        ("#/due", "Due"),
        ("#/nowhere", "Ground"),
        ("#/trees/%", "Trees"),
    ],
)
def test_address_opens_its_screen_with_the_focus_on_its_title(paired: Page, where: str, title: str) -> None:
    go(paired, where)
    expect(paired.locator("#app h1")).to_have_text(title)
    expect(paired.locator("#app h1")).to_be_focused()
    assert paired.title() == f"{title} · Fellside"


def test_place_of_the_open_screen_is_marked_in_the_bar(paired: Page) -> None:
    go(paired, "#/trees")
    expect(paired.locator("#nav a[aria-current]")).to_have_text("Trees")


@pytest.mark.parametrize(
    ("address", "want"),
    [
        (
            "#/leave/new?site=S%201",
            {"word": "leave", "screen": "leave", "params": {"site": "S 1", "id": "new", "rest": []}},
        ),
        ("#/pair/K7QX", {"word": "pair", "screen": "pair", "params": {"id": "K7QX", "code": "K7QX", "rest": []}}),
        ("#/may-i?tree=T", {"word": "may-i", "screen": "may_dig", "params": {"tree": "T", "rest": []}}),
        ("", {"word": "ground", "screen": "ground", "params": {}}),
        ("#/constructor", {"word": "ground", "screen": "ground", "params": {}}),
    ],
)
def test_address_is_read(page: Page, address: str, want: dict[str, Any]) -> None:
    assert page.evaluate("async (a) => (await import('/static/js/main/router.js')).readRoute(a)", address) == want


ROUTER = """
async () => {
  const {makeRouter} = await import('/static/js/main/router.js');
  const place = document.createElement('main');
  document.body.append(place);
  globalThis.log = [];
  globalThis.gates = {};
  globalThis.router = makeRouter(place, {
    allow: async () => null,
    onOpen: (screen) => log.push(`show ${screen}`),
    load: async (screen) => {
      if (screen === 'due') throw new Error('its file is not here');
      return {open: async (root) => {
        if (screen === 'mark') await new Promise((open) => { gates.mark = open; });
        root.innerHTML = `<h1>${screen}</h1>`;
        log.push(`open ${screen}`);
        return () => log.push(`close ${screen}`);
      }};
    },
  });
  globalThis.place = place;
  globalThis.visit = (where) => { history.replaceState(null, '', where); return router.go(); };
}
"""


@pytest.fixture
def router(context: BrowserContext) -> Iterator[Page]:
    """A router whose screens only say what is done with them."""
    with kit.Line() as line:
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        page.evaluate(ROUTER)
        yield page


def test_old_screen_is_closed_before_the_next_opens(router: Page) -> None:
    router.evaluate("async () => { await visit('#/ground'); await visit('#/trees'); }")
    assert router.evaluate("log") == ["show ground", "open ground", "close ground", "show trees", "open trees"]


def test_screen_that_cannot_be_loaded_says_so_with_a_way_back(router: Page) -> None:
    router.evaluate("async () => { await visit('#/ground'); await visit('#/due'); }")
    assert "close ground" in router.evaluate("log")
    assert "its file is not here" in router.evaluate("place.textContent")
    assert router.evaluate("place.querySelector('a').getAttribute('href')") == "#/ground"


def test_screen_left_while_it_was_still_opening_is_closed_too(router: Page) -> None:
    router.evaluate(
        """async () => {
          const late = visit('#/mark');
          while (!gates.mark) await new Promise((next) => setTimeout(next));
          await visit('#/trees');
          gates.mark();
          await late;
        }"""
    )
    assert router.evaluate("log") == ["show mark", "show trees", "open trees", "open mark", "close mark"]
    assert router.evaluate("place.textContent") == "trees"


# --- the quiet line ------------------------------------------------------------------------------------------------

STATE = {
    "phase": "idle", "unsent_changes": 0, "unsent_photos": 0, "held": 0, "conflicts": 0, "last_ok_at": None,
    "trouble": None, "clock_offset_s": None, "photo_bytes": None,
}  # fmt: skip


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({}, "Saved on this phone."),
        ({"last_ok_at": "NOW"}, "Saved on this phone, and home has it."),
        ({"unsent_changes": 1}, "Saved on this phone; home does not have 1 change yet."),
        (
            {"unsent_changes": 4, "unsent_photos": 2},
            "Saved on this phone; home does not have 4 changes and 2 photos yet.",
        ),
        ({"phase": "sending", "unsent_changes": 4}, "Sending 4 changes."),
        ({"phase": "unpaired"}, "Not paired with home."),
        (
            {"phase": "unpaired", "unsent_changes": 1, "trouble": {"code": "shut-out", "text": "It was shut out."}},
            "Kept on this phone: 1 change. Shut out at home.",
        ),
        ({"conflicts": 1, "held": 2}, "1 record to settle. Saved on this phone. 2 changes held back."),
        ({"clock_offset_s": -300}, "Saved on this phone. This phone’s clock is 5 minutes behind home’s."),
        ({"trouble": {"code": "x", "text": "It broke."}}, "Saved on this phone. It broke."),
    ],
)
def test_line_says_what_is_where(router: Page, part: dict[str, Any], words: str) -> None:
    said = router.evaluate(
        """async (state) => {
          const {lineWords} = await import('/static/js/main/line.js');
          if (state.last_ok_at === 'NOW') state.last_ok_at = new Date().toISOString();
          return lineWords(state);
        }""",
        {**STATE, **part},
    )
    assert said == words


def test_house_bears_a_mark_while_something_is_to_be_settled(router: Page) -> None:
    said = router.evaluate(
        """async () => {
          const {drawNav} = await import('/static/js/ui/nav.js');
          const nav = document.createElement('nav');
          return [0, 2].map((toSettle) => {
            drawNav(nav, 'ground', { toSettle });
            return nav.querySelector('[href="#/house"]').textContent;
          });
        }"""
    )
    assert said == ["House", "House2 to settle"]


def test_line_follows_a_save_and_its_way_home(paired: Page, server: Any) -> None:
    paired.context.set_offline(True)
    run(paired, "await store.saveChange({type: 'tree', set: {tag: 'B1'}});")
    expect(paired.locator("#line")).to_contain_text("home does not have 1 change yet")
    paired.context.set_offline(False)
    hill_kit.sync(paired)
    expect(paired.locator("#line")).to_have_text("Saved on this phone, and home has it.")


def test_photo_that_found_no_room_is_said_on_every_screen(context: BrowserContext, server: Any) -> None:
    page = context.new_page()
    quota = context.new_cdp_session(page)
    # Before the first write: the browser remembers for a while how much room there was.
    quota.send("Storage.overrideQuotaForOrigin", {"origin": server.url, "quotaSize": 16 * 1024 * 1024})
    page.goto(server.url)
    expect(page.locator("#app h1")).to_be_visible()
    run(
        page,
        """await store.saveChanges([{type: 'tree', set: {tag: 'B1'}}],
             {photos: [{sha256: 'a'.repeat(64), bytes: new ArrayBuffer(40 * 1024 * 1024), type: 'image/jpeg'}]});""",
    )
    expect(page.locator("#notices .trouble")).to_contain_text("this photo is not")


# --- opened with no home at all ------------------------------------------------------------------------------------


def test_app_opens_on_every_place_with_the_server_dead(context: BrowserContext, tmp_path: Path) -> None:
    with RunningServer(tmp_path / "data") as server:
        page = context.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.goto(server.url)
        run(page, "await sync.pair(arg, 'phone');", server.pair_code())
        hill_kit.sync(page)
        page.evaluate("navigator.serviceWorker.ready")
        page.reload()
        page.wait_for_function("navigator.serviceWorker.controller !== null")
        server.kill()
        [rec] = kit.save(page, {"type": "tree", "set": {"tag": "B7"}})  # now, so that home cannot have it
        for word, title in (
            ("ground", "Ground"),
            ("mark", "Mark a tree"),
            ("may-i", "May I dig here?"),
            ("due", "Due"),
        ):
            page.goto(f"{server.url}/#/{word}")
            page.reload()
            expect(page.locator("#app h1")).to_have_text(title)
        page.goto(f"{server.url}/#/tree/{rec}")
        page.reload()
        expect(page.locator("#app")).to_contain_text("B7")
        expect(page.locator("#line")).to_contain_text("home does not have")
        assert faults == []


# --- a new version -------------------------------------------------------------------------------------------------

WORKER = """
() => {
  const worker = new EventTarget();
  worker.postMessage = (said) => { globalThis.posted = said; };
  const registration = Object.assign(new EventTarget(), {waiting: null, installing: null});
  registration.update = async () => registration;
  const container = Object.assign(new EventTarget(), {controller: {}, register: async () => registration});
  Object.defineProperty(navigator, 'serviceWorker', {value: container, configurable: true});
  Object.assign(globalThis, {worker, registration, offers: 0});
}
"""


@pytest.fixture
def updating(router: Page) -> Page:
    """A page with a worker in the test's hand."""
    router.evaluate(WORKER)
    router.evaluate("async () => (await import('/static/js/update.js')).startUpdates(() => { offers += 1; })")
    return router


def apply(page: Page) -> str | None:
    return page.evaluate("async () => (await import('/static/js/update.js')).applyUpdate()")


def look(page: Page) -> bool:
    return page.evaluate("async () => (await import('/static/js/update.js')).checkForUpdate()")


def test_check_without_a_waiting_worker_is_no_success(updating: Page) -> None:
    assert look(updating) is False
    assert updating.evaluate("offers") == 0
    assert apply(updating) == "There is no new version waiting."


def test_waiting_version_is_offered_once_and_let_in_when_asked(updating: Page) -> None:
    updating.evaluate("registration.waiting = worker")
    assert (look(updating), look(updating)) == (True, True)
    assert updating.evaluate("[offers, globalThis.posted ?? null]") == [1, None]
    assert apply(updating) is None
    assert updating.evaluate("posted") == "SKIP"


def test_version_is_not_let_in_under_an_open_form(updating: Page) -> None:
    updating.evaluate("registration.waiting = worker")
    updating.evaluate("place.innerHTML = '<form><input name=tag></form>'")
    updating.locator("[name=tag]").fill("B")
    assert "still being typed" in apply(updating)
    assert updating.evaluate("globalThis.posted ?? null") is None
    updating.evaluate("place.innerHTML = ''")
    assert apply(updating) is None


def test_version_is_not_let_in_during_a_sync(updating: Page) -> None:
    updating.evaluate("registration.waiting = worker")
    said = run(
        updating,
        """
        const {applyUpdate} = await import('/static/js/update.js');
        const going = sync.syncNow();
        const said = applyUpdate();
        await going;
        return said;
        """,
    )
    assert "exchanging" in said


def test_typing_in_a_search_holds_nothing_up(updating: Page) -> None:
    updating.evaluate("place.innerHTML = '<form role=search><input name=text></form>'")
    updating.locator("[name=text]").fill("B")
    updating.evaluate("registration.waiting = worker")
    assert apply(updating) is None


# --- notices -------------------------------------------------------------------------------------------------------


def notify(page: Page, *calls: tuple[str, dict[str, Any]]) -> None:
    page.evaluate(
        """async (calls) => {
          const { notice } = await import('/static/js/ui/notice.js');
          for (const [text, options] of calls) notice(text, options);
        }""",
        list(calls),
    )


def test_a_notice_takes_no_tap_that_is_meant_for_the_page(page: Page) -> None:
    notify(page, ("Kept.", {"kind": "plain"}), ("Kept.", {"kind": "plain"}), ("Not saved.", {"kind": "trouble"}))
    expect(page.locator(".notice")).to_have_count(2)  # the same words stand once
    under = page.evaluate(
        """() => [...document.querySelectorAll('.notice p')].map((words) => {
          const box = words.getBoundingClientRect();
          return document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2).closest('.notice') === null;
        })"""
    )
    assert under == [True, True]
    page.get_by_role("button", name="Close this notice").click()
    expect(page.locator(".notice.trouble")).to_have_count(0)


def test_a_plain_notice_goes_after_four_seconds_and_one_that_can_be_undone_after_ten(page: Page) -> None:
    page.clock.install()
    page.evaluate(
        """async () => {
          const { notice } = await import('/static/js/ui/notice.js');
          notice('Marked.', { undo: () => {}, undoWords: 'Undo the mark' });
        }"""
    )
    page.clock.run_for(4_100)
    expect(page.get_by_role("button", name="Undo the mark")).to_be_visible()
    page.clock.run_for(6_000)
    expect(page.locator(".notice")).to_have_count(0)
    notify(page, ("Kept.", {"kind": "plain"}))
    page.clock.run_for(3_900)
    expect(page.get_by_text("Kept.")).to_have_count(1)
    page.clock.run_for(200)
    expect(page.locator(".notice")).to_have_count(0)


def test_what_was_removed_can_be_put_back_for_a_minute_also_from_behind_a_newer_notice(page: Page) -> None:
    page.clock.install()
    page.evaluate(
        """async () => {
          const { notice } = await import('/static/js/ui/notice.js');
          window.back = [];
          notice('Removed.', { undo: () => window.back.push('removed'), undoWords: 'Undo the removal' });
          notice('Changed.', { undo: () => window.back.push('changed'), undoWords: 'Undo the change' });
        }"""
    )
    removal = page.get_by_role("button", name="Undo the removal")
    expect(page.get_by_role("button", name="Undo the change")).to_be_visible()
    expect(removal).to_be_hidden()  # on a phone one way back is shown at a time
    page.clock.run_for(10_100)
    expect(page.locator(".notice:visible")).to_have_count(0)  # it does not come up by itself
    go(page, "#/house")
    page.clock.run_for(45_000)
    page.get_by_role("button", name="1 more can be undone").focus()
    page.keyboard.press("Enter")
    expect(removal).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".notice:visible")).to_have_text(["Undone."])
    assert page.evaluate("window.back") == ["removed"]


def test_the_time_of_a_notice_runs_out_while_newer_ones_stand_before_it(page: Page) -> None:
    page.clock.install()
    for n in range(3):
        page.evaluate(
            """async (n) => {
              const { notice } = await import('/static/js/ui/notice.js');
              notice(`Noted ${n}.`, { undo: () => {} });
            }""",
            n,
        )
        page.clock.run_for(4_000)
    # The first is 12 seconds old, the second 8, the third 4.
    older = page.get_by_role("button", name="1 more can be undone")
    expect(older).to_be_visible()
    expect(page.locator(".notice:visible p")).to_have_text(["Noted 2."])
    page.clock.run_for(2_100)
    expect(older).to_have_count(0)
    expect(page.locator(".notice:visible p")).to_have_text(["Noted 2."])
    page.clock.run_for(4_000)
    expect(page.locator(".notice")).to_have_count(0)


def test_a_notice_does_not_lie_on_the_button_that_is_pressed_next(page: Page) -> None:
    """The page is bare but for one button, at the foot or at the head of the window."""
    script = """async (end) => {
      const { notice } = await import('/static/js/ui/notice.js');
      const button = document.createElement('button');
      button.className = 'button primary';
      button.textContent = 'Next';
      Object.assign(button.style, { position: 'fixed', insetInline: '0', [end]: '5rem', blockSize: '6rem' });
      document.getElementById('app').replaceChildren(button);
      const dismiss = notice('Saved. Now go on.');
      const [mine, its] = [button, document.querySelector('.notice')].map((one) => one.getBoundingClientRect());
      dismiss();
      return { apart: its.bottom <= mine.top || mine.bottom <= its.top, below: its.top > mine.top };
    }"""
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate(script, "insetBlockEnd") == {"apart": True, "below": False}
    assert page.evaluate(script, "insetBlockStart") == {"apart": True, "below": True}


def test_notices_do_not_pile_up_but_one_that_stays_is_not_pushed_out(page: Page) -> None:
    notify(
        page,
        ("No room.", {"kind": "plain", "stays": True}),
        ("Shade is done.", {}),
        ("Not saved.", {"kind": "trouble"}),
        ("Copied.", {"kind": "plain"}),
        ("Label is done.", {}),
        ("Not sent.", {"kind": "trouble"}),
    )
    expect(page.locator(".notice")).to_have_text(["No room.", "Label is done.", "Not sent."])


def test_a_trouble_goes_with_its_screen_and_one_that_stays_does_not(page: Page) -> None:
    page.clock.install()
    notify(page, ("Not saved.", {"kind": "trouble"}), ("No room.", {"kind": "trouble", "stays": True}))
    page.clock.run_for(20_000)
    expect(page.locator(".notice")).to_have_count(2)
    go(page, "#/house")
    expect(page.locator(".notice")).to_have_text(["No room."])
