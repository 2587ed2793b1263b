"""Signing at the gate: the letter, the glass, what is kept of it, and what a page says of it afterwards."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import hill_kit as kit
import phone_kit
import pytest
from home_server import RunningServer, wait_for
from playwright.sync_api import Browser, Page, expect

from field.core.signing import content_sha256

ZEST = {"starts_on": kit.day(-1), "ends_on": kit.day(90), "allowance": 2, "form": "spoken", "conditions": ["Shut it."]}

SMALL = """() => [...document.querySelectorAll('button, input:not(.unseen), .button, .chip')]
  .filter((el) => el.checkVisibility() && el.getBoundingClientRect().height < 55.5).map((el) => el.outerHTML)"""


@pytest.fixture(scope="module")
def gate(browser: Browser, server: RunningServer) -> Iterator[Page]:
    """A paired phone without a signal; each test has a leave of its own on it."""
    with kit.phone(browser, server, has_touch=True) as page:
        yield page


def a_leave(page: Page, ground: kit.Ground, **terms: Any) -> str:
    fields = {"site": ground.site, "landholder": ground.landholder, "by_role": "owner", **ZEST, **terms}
    script = "async (set) => (await import('/static/js/store.js')).saveChange({ type: 'leave', set })"
    return page.evaluate(script, fields)


def change(page: Page, rec: str, type_: str, **fields: Any) -> None:
    script = "async (one) => (await import('/static/js/store.js')).saveChange(one)"
    page.evaluate(script, {"rec": rec, "type": type_, "set": fields})


def record(page: Page, rec: str) -> dict[str, Any]:
    return page.evaluate("async (rec) => (await import('/static/js/store.js')).getRecord(rec)", rec)


def signings(page: Page, leave: str) -> list[dict[str, Any]]:
    return [one for one in kit.records(page, "signing") if one["fields"]["leave"] == leave]


def open_letter(page: Page, leave: str) -> None:
    kit.go(page, f"#/sign/{leave}")
    page.get_by_role("button", name="Hand it over").click()
    expect(page.locator(".letter")).to_be_visible()


def draw(page: Page, *, from_: float = 0.2, to: float = 0.7) -> None:
    """Draw a wave on the glass with the mouse."""
    page.locator("[data-glass]").evaluate("glass => glass.scrollIntoView({ block: 'center' })")
    box = page.locator("[data-glass]").bounding_box()
    assert box is not None
    for i in range(9):
        x, y = from_ + (to - from_) * i / 8, 0.5 + 0.2 * math.sin(i)
        page.mouse.move(box["x"] + box["width"] * x, box["y"] + box["height"] * y)
        if i == 0:
            page.mouse.down()
    page.mouse.up()


def drawn(page: Page) -> int:
    return page.locator("[data-ink] path").count()


def sign(page: Page) -> None:
    page.get_by_role("button", name="Sign", exact=True).click()
    page.get_by_role("button", name="Yes, sign").click()


def test_a_leave_is_signed_without_a_signal_and_home_would_reckon_the_same_hash(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground, entitled=None)
    open_letter(gate, leave)
    expect(gate.locator(".letter")).to_contain_text("no more than 2 trees in all")
    assert gate.locator(".letter").evaluate("letter => parseFloat(getComputedStyle(letter).fontSize)") >= 20
    for chrome in (".head", "#nav"):
        expect(gate.locator(chrome)).to_be_hidden()
    expect(gate.get_by_role("textbox", name="Your name")).to_have_value("the farm")
    gate.get_by_role("textbox", name="Your name").fill("Zoë Ó Briain")
    gate.get_by_role("textbox", name="Place").fill("At the gate")
    gate.set_input_files("input[name=choose]", kit.a_photo("red"))
    expect(gate.get_by_role("img", name="The paper, photographed")).to_be_visible()
    expect(gate.locator("[data-position]")).to_contain_text("± 6 m")
    draw(gate)
    sign(gate)
    expect(gate.get_by_text("Signed and saved on this phone.")).to_be_visible()
    expect(gate.get_by_role("heading", name="Signed letter, version 1")).to_be_visible()
    [signing] = [one["fields"] for one in signings(gate, leave)]
    assert content_sha256(signing) == signing["content_sha256"]
    assert (signing["name"], signing["role"], signing["place"]) == ("Zoë Ó Briain", "owner", "At the gate")
    assert (signing["lat"], signing["lon"], signing["accuracy_m"]) == (55.4025, -3.395, 6)
    assert (signing["signed_on"], signing["zone"], signing["version"]) == (kit.day(), "UTC", 1)
    assert signing["letter"]["terms"]["allowance"] == 2
    now = record(gate, leave)["fields"]
    assert (now["form"], now["signed_by"], now["given_on"]) == ("signed", "Zoë Ó Briain", kit.day())
    assert now.get("entitled") is None
    groups = gate.locator(".hash span").all_inner_texts()
    assert {len(group) for group in groups} == {4}
    assert "".join(groups) == signing["content_sha256"]
    expect(gate.locator(".page-head .state")).to_have_text("stands as it was signed")
    expect(gate.get_by_role("img", name="The signed paper")).to_be_visible()
    kit.go(gate, f"#/leave/{leave}")
    expect(gate.locator("[data-papers]")).to_contain_text("with the signature of Zoë Ó Briain")


def test_an_app_killed_right_after_signing_does_not_offer_the_same_signature_again(
    gate: Page, ground: kit.Ground
) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    draw(gate)
    sign(gate)
    expect(gate.get_by_role("heading", name="Signed letter, version 1")).to_be_visible()
    [signing] = signings(gate, leave)
    left = """async ([id, strokes]) => {
      const store = await import('/static/js/store.js');
      await store.saveDraft(`sign-${id}`, { step: 'letter', values: null, typed: false, at: Date.now() });
      await store.saveDraft(`sign-${id}-strokes`, strokes);
    }"""
    gate.evaluate(left, [leave, signing["fields"]["strokes"]])
    assert leave not in begun(gate), "what lies there was signed"
    kit.go(gate, f"#/sign/{leave}")
    expect(gate.get_by_text("Version 1 was signed by")).to_be_visible()
    gate.get_by_role("button", name="Hand it over").click()
    assert drawn(gate) == 0


def begun(page: Page) -> list[str]:
    """Return the leaves whose signing is said to have been begun."""
    script = "async () => (await import('/static/js/hill/begun_signings.js')).begunSignings()"
    return [one["leave"] for one in page.evaluate(script)]


def test_a_begun_signing_is_offered_where_the_app_opens_and_can_be_put_away(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    draw(gate)
    wait_for(lambda: leave in begun(gate), "the ink is kept")
    kit.go(gate, "#/ground")
    row = gate.locator(".begun > li", has=gate.locator(f'[href="#/sign/{leave}"]'))
    expect(row).to_contain_text("A signing was begun: the leave for Kettle Brae, the farm")
    row.get_by_role("button", name="Put it away").click()
    expect(row).to_have_count(0)
    gate.get_by_role("button", name="Bring it back").click()
    row.get_by_role("link", name="Go on with it").click()
    expect(gate.locator(".letter")).to_be_visible()
    assert drawn(gate) == 1


def test_what_is_left_open_is_said_before_the_phone_is_handed_over(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground, ends_on=None, conditions=[], by_role="agent")
    kit.go(gate, f"#/sign/{leave}")
    open_ones = gate.locator(".sign-check .plain-list li").all_inner_texts()
    assert {"the last day", "the terms to keep", "by what right they may give leave", "a girth limit"} <= {*open_ones}
    assert not {"the first day", "how many trees"} & {*open_ones}
    expect(gate.get_by_role("link", name="Change the leave")).to_have_attribute("href", f"#/leave/{leave}")


def test_a_leave_that_is_over_warns_before_and_while_it_is_signed(gate: Page, ground: kit.Ground) -> None:
    ended = a_leave(gate, ground, starts_on=kit.day(-9), ends_on=kit.day(-1))
    kit.go(gate, f"#/sign/{ended}")
    expect(gate.locator(".caution.bad")).to_contain_text("This leave ended on")
    withdrawn = a_leave(gate, ground, withdrawn_on=kit.day())
    kit.go(gate, f"#/sign/{withdrawn}")
    expect(gate.locator(".caution.bad")).to_contain_text("This leave was withdrawn on")
    gate.get_by_role("button", name="Hand it over all the same").click()
    draw(gate)
    gate.get_by_role("button", name="Sign", exact=True).click()
    expect(gate.get_by_role("dialog")).to_contain_text("This leave was withdrawn on")
    gate.get_by_role("button", name="Not yet").click()
    assert signings(gate, withdrawn) == []


def test_the_draft_outlives_a_killed_app_and_a_turned_phone(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    gate.get_by_role("textbox", name="Your name").fill("Isla Invented")
    draw(gate)
    draw(gate, from_=0.3, to=0.5)
    before = gate.locator("[data-ink] path").evaluate_all("paths => paths.map((path) => path.getAttribute('d'))")
    kept = "async (key) => (await (await import('/static/js/store.js')).getDraft(key))?.length"
    wait_for(lambda: gate.evaluate(kept, f"sign-{leave}-strokes") == 2, "the strokes are kept")
    gate.reload()
    expect(gate.get_by_role("textbox", name="Your name")).to_have_value("Isla Invented")
    gate.set_viewport_size({"width": 844, "height": 390})
    paths = gate.locator("[data-ink] path")
    assert paths.evaluate_all("paths => paths.map((path) => path.getAttribute('d'))") == before
    inside = """glass => {
      const [frame, ink] = [glass, glass.querySelector('[data-ink]')].map((one) => one.getBoundingClientRect());
      return ink.left >= frame.left && ink.right <= frame.right && ink.top >= frame.top && ink.bottom <= frame.bottom
        && frame.height <= innerHeight;
    }"""
    assert gate.locator("[data-glass]").evaluate(inside)
    gate.set_viewport_size(kit.PHONE)


def test_a_finger_on_the_glass_draws_and_does_not_scroll(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    glass = gate.locator("[data-glass]")
    glass.evaluate("glass => glass.scrollIntoView({ block: 'center' })")
    before = gate.evaluate("scrollY")
    box = glass.bounding_box()
    assert box is not None
    cdp = gate.context.new_cdp_session(gate)
    x, y = box["x"] + 60, box["y"] + 30
    cdp.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 9):
        points = [{"x": x + 10 * step, "y": y + 14 * step}]
        cdp.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": points})
    cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert (drawn(gate), gate.evaluate("scrollY")) == (1, before)


def test_strokes_are_taken_back_one_by_one_and_a_clearing_as_a_whole(gate: Page, ground: kit.Ground) -> None:
    open_letter(gate, a_leave(gate, ground))
    undo, clear = (gate.get_by_role("button", name=name) for name in ("Undo", "Clear"))
    expect(undo).to_be_disabled()
    for to in (0.4, 0.6):
        draw(gate, to=to)
    undo.click()
    assert drawn(gate) == 1
    clear.click()
    assert drawn(gate) == 0
    undo.click()
    assert drawn(gate) == 1


def test_an_empty_glass_is_refused_and_a_name_can_be_typed_by_the_keyboard_alone(
    gate: Page, ground: kit.Ground
) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    gate.get_by_role("button", name="Sign", exact=True).press("Enter")
    expect(gate.locator("[data-glass-fault]")).to_contain_text("The glass is empty.")
    gate.get_by_role("button", name="Type the name instead").press("Enter")
    expect(gate.locator("[data-typed-note]")).to_contain_text("It is marked as typed")
    gate.get_by_role("button", name="Sign", exact=True).press("Enter")
    gate.get_by_role("button", name="Yes, sign").press("Enter")
    expect(gate.locator(".signature-typed")).to_contain_text("typed as the signature, not drawn")
    assert [one["fields"]["strokes"] for one in signings(gate, leave)] == [None]


def test_a_leave_changed_while_it_was_read_is_not_signed_unread(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    draw(gate)
    change(gate, leave, "leave", allowance=7)
    sign(gate)
    expect(gate.get_by_text("The leave was changed on another phone meanwhile.")).to_be_visible()
    expect(gate.locator(".letter")).to_contain_text("no more than 7 trees in all")
    assert (signings(gate, leave), drawn(gate)) == ([], 1)
    sign(gate)
    expect(gate.get_by_role("heading", name="Signed letter, version 1")).to_be_visible()


def test_a_signed_leave_that_changes_is_told_and_signed_anew_as_the_next_version(
    gate: Page, ground: kit.Ground
) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    draw(gate)
    sign(gate)
    change(gate, leave, "leave", allowance=3)
    expect(gate.locator(".changed-since")).to_contain_text("Number: 2 when signed, 3 now")
    expect(gate.locator(".letter")).to_contain_text("no more than 2 trees in all")
    gate.get_by_role("link", name="Sign the new version").click()
    gate.get_by_role("button", name="Hand it over").click()
    draw(gate)
    sign(gate)
    expect(gate.get_by_role("heading", name="Signed letter, version 2")).to_be_visible()
    expect(gate.locator(".changed-since")).to_have_count(0)
    assert sorted(one["fields"]["version"] for one in signings(gate, leave)) == [1, 2]


def test_an_altered_letter_is_told_as_such_and_shown_as_it_was_signed(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    gate.get_by_role("textbox", name="Your name").fill("Isla Invented")
    draw(gate)
    sign(gate)
    expect(gate.get_by_role("heading", name="Signed letter, version 1")).to_be_visible()
    [signing] = signings(gate, leave)
    change(gate, signing["id"], "signing", name="Somebody Else")
    expect(gate.locator(".page-head .state")).to_have_text("altered after signing")
    expect(gate.locator(".signed")).to_contain_text("Isla Invented")
    expect(gate.locator(".signed")).not_to_contain_text("Somebody Else")


def test_a_letter_signed_by_mistake_is_removed_and_put_back_with_its_leave(gate: Page, ground: kit.Ground) -> None:
    leave = a_leave(gate, ground)
    open_letter(gate, leave)
    draw(gate)
    sign(gate)
    gate.get_by_role("button", name="Remove, signed by mistake").click()
    expect(gate.get_by_text("The leave counts as spoken only.")).to_be_visible()
    assert (signings(gate, leave), record(gate, leave)["fields"]["form"]) == ([], "spoken")
    gate.get_by_role("button", name="Undo the removal").click()
    expect(gate.locator(".page-head .state")).to_have_text("stands as it was signed")
    assert record(gate, leave)["fields"]["form"] == "signed"


def test_the_letter_can_be_read_and_pressed_by_anybody(gate: Page, ground: kit.Ground) -> None:
    open_letter(gate, a_leave(gate, ground))
    for scheme in ("light", "dark"):
        gate.emulate_media(color_scheme=scheme)
        found = kit.hindrances(gate)
        assert [(fault["id"], [node["html"] for node in fault["nodes"]]) for fault in found] == []
    assert gate.evaluate(SMALL) == []
    for _ in range(4):
        gate.get_by_role("button", name="Larger letters").click()
    gate.evaluate("document.documentElement.style.fontSize = '200%'")
    assert gate.evaluate("[document.documentElement.scrollWidth, innerWidth]") == [390, 390]
    gate.evaluate("document.documentElement.style.fontSize = ''")
    for _ in range(4):
        gate.get_by_role("button", name="Smaller letters").click()


def test_by_an_address_that_is_not_secure_nothing_is_signed_and_nothing_lost(browser: Browser) -> None:
    with phone_kit.Line() as line:
        context = browser.new_context()
        page = context.new_page()

        def bring(route: Any) -> None:
            path = "/" + route.request.url.split("/", 3)[3]
            status, headers, body = line._answer("GET", path, {}, b"") or (404, {}, b"")
            route.fulfill(status=status, headers=headers, body=body)

        page.route("http://gate.example/**", bring)
        page.goto("http://gate.example" + phone_kit.BLANK)
        [leave] = phone_kit.save(page, {"type": "leave", "set": ZEST})
        script = """async (id) => {
          document.body.innerHTML = '<div id="notices"></div><main></main>';
          const { open } = await import('/static/js/screens/sign.js');
          await open(document.querySelector('main'), { id });
        }"""
        page.evaluate(script, leave)
        expect(page.locator(".caution", has_text="Signing needs the secure address")).to_be_visible()
        page.get_by_role("button", name="Hand it over").click()
        page.get_by_role("textbox", name="Your name").fill("Isla Invented")
        page.get_by_role("radio", name="owner").check()
        draw(page)
        page.get_by_role("button", name="Sign", exact=True).click()
        expect(page.locator("[data-save-fault]")).to_contain_text("Signing needs the secure address (https) of home")
        assert phone_kit.run(page, "return store.listRecords('signing');") == []
        expect(page.get_by_role("textbox", name="Your name")).to_have_value("Isla Invented")
        context.close()
