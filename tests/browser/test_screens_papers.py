"""Papers on the screen: chosen, made at home, kept as files; and what is said where home is not in reach."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import hill_kit
import pytest
from axe_playwright_python.sync_playwright import Axe
from hill_kit import DESK, Ground, day, go, phone, records
from home_server import RunningServer
from pdf_reader import page_sizes, text_of
from playwright.sync_api import Browser, Page

from field.core.leave_letter import COLLECTOR_ID
from field.core.signing import content_sha256


@pytest.fixture(scope="module")
def ground() -> Ground:
    made = Ground(conditions=["close the gates"], by_role="owner")
    tree = made.add("tree", site=made.site, tag="K1", species="birch")
    lift = {"tree": tree, "site": made.site, "leave": made.leave, "lifted_on": day(-3), "lat": 55.4025, "lon": -3.395}
    made.add("lift", **lift, accuracy_m=4.0, hole_filled=True)
    for version, name in ((1, "Ann at first"), (2, "Ann again")):
        letter = {"v": 1, "kind": "leave", "title": "Leave", "blocks": []}
        content = {"leave": made.leave, "version": version, "letter": letter, "name": name, "signed_on": day(-9)}
        made.add("signing", **content, content_sha256=content_sha256(content))
    return made


@pytest.fixture(scope="module")
def desk(browser: Browser, server: RunningServer) -> Iterator[Page]:
    """A paired desk with home in reach; the tests of this file share it in their order."""
    with phone(browser, server, viewport=DESK, signal=True) as page:
        yield page


def letter(page: Page) -> str:
    """Return the words of the letter once the one that was asked for is there."""
    page.locator('[data-part="preview"]:not([aria-busy])').wait_for()
    return page.locator(".letter-page").inner_text()


def test_papers_begin_with_a_leave_and_ask_once_who_writes(desk: Page, ground: Ground) -> None:
    go(desk, "#/papers")
    desk.get_by_role("link", name="the farm").click()
    desk.get_by_role("heading", name="Who writes these letters?").wait_for()
    desk.get_by_label("Your name").fill("Zofia Wrzesień")
    desk.get_by_label("Your address").fill("3 Kiln Row\nAlderhope")
    desk.get_by_role("button", name="Save", exact=True).click()
    # Home makes the letter with the name: what was written here went there first.
    desk.locator(".letter-page .sender", has_text="Zofia Wrzesień").wait_for()
    (kept,) = records(desk, "collector")
    assert kept["id"] == COLLECTOR_ID
    assert kept["fields"]["address"] == "3 Kiln Row\nAlderhope"
    assert desk.get_by_role("heading", name="Who writes these letters?").count() == 0
    assert "owner of the ground named above, give Zofia Wrzesień leave" in letter(desk)


def test_report_shows_where_the_tree_stood_and_nothing_of_it_needs_a_script(desk: Page, ground: Ground) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=report")
    said = letter(desk)
    assert "NT 1175 1294" in said
    assert "The hole was filled." in said
    assert desk.locator(".letter-page svg text", has_text="K1").count() == 1
    assert desk.locator(".letter-page script, .letter-page style").count() == 0


def test_own_words_are_printed_in_the_report_and_come_back_when_it_is_opened_again(desk: Page, ground: Ground) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=report&own")
    letter(desk)
    desk.get_by_label("In your own words").fill("I am sorry\nabout the gate.")
    desk.locator("label", has_text="A4").click()  # away from the field: the letter is made anew
    desk.locator(".letter-page", has_text="about the gate.").wait_for()
    go(desk, "#/papers")
    go(desk, f"#/papers?leave={ground.leave}&kind=report")
    assert desk.get_by_label("In your own words").input_value() == "I am sorry\nabout the gate."
    assert "about the gate." in letter(desk)
    desk.locator("label", has_text="renewal letter").click()
    desk.locator(".letter-page", has_text="Your answer").wait_for()
    assert desk.get_by_label("In your own words").input_value() == ""
    assert "about the gate." not in letter(desk)


def test_each_signed_version_opens_as_the_paper_it_is(desk: Page, ground: Ground) -> None:
    first = next(rec for kind, rec, fields in ground.records if kind == "signing" and fields["version"] == 1)
    go(desk, f"#/signed/{first}")
    desk.get_by_role("link", name="Version 1 as a paper").click()
    assert "Ann at first" in letter(desk)
    desk.locator("label", has_text="version 2").click()
    desk.locator(".letter-page", has_text="Ann again").wait_for()
    assert "Ann at first" not in letter(desk)


def test_letter_beside_its_form_has_no_fault_that_axe_can_find(desk: Page, ground: Ground) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=report")
    letter(desk)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = Axe().run(desk, options={"runOnly": {"type": "tag", "values": tags}}).response["violations"]
    assert [(fault["id"], node["html"][:160]) for fault in found for node in fault["nodes"]] == []


def test_pdf_is_kept_on_the_sheet_that_was_chosen(desk: Page, ground: Ground, tmp_path: Path) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=leave")
    letter(desk)
    desk.locator("label", has_text="US letter").click()
    letter(desk)
    with desk.expect_download() as waited:
        desk.get_by_role("button", name="Save as PDF").click()
    assert waited.value.suggested_filename == "leave-to-lift-trees-kettle-brae.pdf"
    waited.value.save_as(tmp_path / "letter.pdf")
    data = (tmp_path / "letter.pdf").read_bytes()
    assert set(page_sizes(data)) == {(612, 792)}
    assert "Close the gates." in text_of(data)
    go(desk, "#/papers")
    go(desk, f"#/papers?leave={ground.leave}")
    assert desk.get_by_role("radio", name="US letter").is_checked()  # remembered


def test_days_out_of_order_are_refused_at_their_field(desk: Page, ground: Ground) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=report&x")
    letter(desk)
    desk.get_by_label("Last day of the visit").fill(day(-9))
    desk.get_by_label("Last day of the visit").blur()
    desk.get_by_text("The last day lies before the first. Set one of them again.").wait_for()


def test_only_the_letter_goes_to_the_printer(desk: Page, ground: Ground) -> None:
    go(desk, f"#/papers?leave={ground.leave}&kind=renewal")
    letter(desk)
    desk.emulate_media(media="print", color_scheme="dark")
    try:
        seen = desk.evaluate(
            """() => [...document.querySelectorAll('.head, #nav, .page-head, form, button')]
                 .filter((el) => el.getClientRects().length > 0).map((el) => el.className || el.tagName)"""
        )
        colours = desk.evaluate(
            """() => {
              const look = getComputedStyle(document.querySelector('.letter-page'));
              return [look.color, look.backgroundColor];
            }"""
        )
    finally:
        desk.emulate_media(media="screen", color_scheme="light")
    assert seen == []
    assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]


def test_out_of_reach_says_so_and_still_shows_the_words_of_the_letter(desk: Page, ground: Ground) -> None:
    desk.context.set_offline(True)
    try:
        go(desk, f"#/papers?leave={ground.leave}&kind=leave&y")
        desk.get_by_text("Papers are made at home, and home is not in reach.").wait_for()
        assert "Close the gates." in desk.locator(".letter").inner_text()
        assert desk.get_by_role("button", name="Save as PDF").is_disabled()
        desk.locator("label", has_text="signed letter").click()
        desk.get_by_role("link", name="Read it as it was signed").wait_for()
        desk.locator("label", has_text="letter to sign").click()
        desk.get_by_role("link", name="Sign at the gate").wait_for()
    finally:
        desk.context.set_offline(False)
    desk.get_by_role("button", name="Try again").click()
    desk.locator(".letter-page").wait_for()
    assert desk.get_by_role("button", name="Save as PDF").is_enabled()


def test_a_leave_that_is_gone_and_a_site_without_one_lead_on(desk: Page) -> None:
    go(desk, "#/papers?leave=00000000-0000-4000-8000-000000000000")
    assert "This leave is not here any more." in desk.locator("#app").inner_text()
    go(desk, f"#/papers?site={hill_kit.uuid.uuid4()}")
    assert "No leave is written down for this site yet." in desk.locator("#app").inner_text()
