"""A landholder is forgotten by the owner: what may have to stay is asked, and no phone keeps what went."""

from __future__ import annotations

import re

import hill_kit as kit
import phone_kit
import pytest
from playwright.sync_api import expect
from test_record_only import EVERYTHING

# Bodies of functions on a page: saves that would lift what was forgotten; what the screen says of backups.
LIFTS = """
const codes = [];
for (const set of [{blanks: {}}, {deleted: true}, {blanks: null}]) {
  await store.saveChanges([{rec: arg, type: 'forgetting', set}]).catch((fault) => codes.push(fault.code));
}
return codes;
"""
HELD = """
const { shelfWords } = await import('/static/js/ui/shelf_words.js');
return arg.map((told) => shelfWords(told)[0]);
"""
SHELVES = (
    (None, "Backups that home makes by itself hold it for a year at most, where home runs each day."),
    ({"by_itself": False, "there": 0, "gone_on": None}, "No backup of home’s own holds it: it makes none by itself."),
    ({"by_itself": True, "there": 0, "gone_on": None}, "No backup of home’s own holds it: none is there yet."),
    (
        {"by_itself": True, "there": 9, "gone_on": "2027-10-01"},
        "The backups that home makes by itself (9 files) hold it until they go: the last on 1 Oct 2027, "
        "if home runs each day.",
    ),
    (
        {"by_itself": True, "there": None, "gone_on": None},
        "The backups that home makes by itself could not be looked at. Where home runs each day, none of them holds it "
        "longer than a year.",
    ),
    (
        {"by_itself": True, "there": 2, "gone_on": None},
        "One of the backups that home makes by itself is dated years ahead, and stays until you delete it.",
    ),
)
NAME, NUMBER = "Morag Tennant", "01632 960 001"


@pytest.fixture
def ground() -> kit.Ground:
    ground = kit.Ground(signed_by=NAME)
    ground.records[1] = ("landholder", ground.landholder, {"name": NAME, "phone": NUMBER, "role": "owner"})
    ground.add("visit", site=ground.site, visited_on=kit.day(-9), note=f"tea with {NAME}")
    ground.add("paper", leave=ground.leave, sha256="ab" * 32, file_name="lease.pdf", added_on=kit.day(-8))
    return ground


def names_them(page) -> bool:
    said = page.evaluate(EVERYTHING)
    return NAME in said or NUMBER in said


def test_a_landholder_is_forgotten_here_and_on_the_phone_that_was_away(browser, empty_home, ground) -> None:
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home, signal=True) as page, kit.phone(browser, empty_home) as away:
        words = {"rec": ground.landholder, "type": "landholder", "set": {"address": f"{NAME}, Byre Cottage"}}
        phone_kit.save(away, words)  # of its own, written while it was away
        kit.go(page, f"#/landholder/{ground.landholder}")
        page.get_by_role("link", name="Forget them for good").click()
        expect(page.get_by_role("heading", name=f"Forget {NAME}", exact=True)).to_be_visible()
        page.get_by_role("button", name="Forget them").click()
        expect(page.locator(".fault:visible").first).to_contain_text("choose one")  # what may have to stay is asked
        page.locator("label.chip", has_text="It goes").click()
        page.locator("label.toggle", has_text=f"tea with {NAME}").click()
        page.get_by_role("button", name="Forget them").click()
        page.get_by_role("dialog").get_by_role("button", name="Forget them").click()
        expect(page.get_by_role("heading", name="Forgotten", exact=True)).to_be_focused()
        expect(page.locator("[data-held]")).to_contain_text("it makes none by itself")
        page.locator("a.primary", has_text="The landholder").click()
        expect(page.locator("[data-forgotten]")).to_contain_text("forgotten on")
        assert not names_them(page)
        assert names_them(away)
        away.context.set_offline(False)
        kit.sync(away)
        assert not names_them(away)
        [leave] = kit.records(away, "leave")
        assert (leave["fields"]["allowance"], leave["fields"]["landholder"]) == (5, ground.landholder)
        # What it would hand back to a home put back from an old backup has its seal, and nothing lifts it here.
        [told] = [op for op in phone_kit.ops(away) if op["type"] == "forgetting"]
        assert re.fullmatch("[0-9a-f]{64}", told["seal"])
        assert phone_kit.run(away, LIFTS, told["rec"]) == ["bad-change"] * 3
        assert [one["fields"]["blanks"] for one in kit.records(away, "forgetting")] == [told["set"]["blanks"]]
        assert phone_kit.run(away, HELD, [one for one, _ in SHELVES]) == [words for _, words in SHELVES]
