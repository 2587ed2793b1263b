"""The round sheet on a screen: chosen, shown, saved; with no signal it is said that home makes it."""

from __future__ import annotations

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import expect


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("bench") / "data") as running:
        ground.garden = ground.add("garden", name="Frame yard", is_main=True)
        tree = ground.add("tree", tag="K2", site=ground.site, species="birch")
        ground.add("lift", tree=tree, site=ground.site, lifted_on=kit.day(-3))
        kit.seed(running, ground)
        yield running


def test_the_sheet_is_shown_and_saved(browser, server, ground, tmp_path) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/bench/{ground.garden}")
        expect(page.locator(".chip", has_text="Frame yard").locator("input")).to_be_checked()
        page.locator(".chip", has_text="14 days").click()
        page.get_by_role("button", name="Show it here").click()
        expect(page.locator(".letter-page h2").first).to_contain_text("Frame yard: water look")
        expect(page.locator(".letter-page .grid tbody tr")).to_contain_text(["K2, birch"])
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert kit.hindrances(page) == []
        page.locator(".chip", has_text="today").click()
        expect(page.locator(".letter-page")).to_have_count(0)  # what is shown is what is chosen
        with page.expect_download() as saved:
            page.get_by_role("button", name="Save as PDF").click()
        saved.value.save_as(tmp_path / "sheet.pdf")
        assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")


def test_with_no_signal_it_is_said_that_home_makes_it(browser, server) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/bench")
        page.get_by_role("button", name="Show it here").click()
        expect(page.locator(".notice.trouble")).to_be_visible()
        expect(page.locator(".letter-page")).to_have_count(0)
