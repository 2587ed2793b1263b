"""A landholder is forgotten by the owner: what may have to stay is asked, and no phone keeps what went."""

from __future__ import annotations

import hill_kit as kit
import phone_kit
import pytest
from playwright.sync_api import expect
from test_record_only import EVERYTHING

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
        expect(page.locator(".notice")).to_contain_text("Forgotten")
        expect(page.locator("[data-forgotten]")).to_contain_text("forgotten on")
        assert not names_them(page)
        assert names_them(away)
        away.context.set_offline(False)
        kit.sync(away)
        assert not names_them(away)
        [leave] = kit.records(away, "leave")
        assert (leave["fields"]["allowance"], leave["fields"]["landholder"]) == (5, ground.landholder)
