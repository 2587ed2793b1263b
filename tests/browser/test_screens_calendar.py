"""House makes the private address of the calendar, shows it once, and gives the file."""

from __future__ import annotations

import urllib.request
from pathlib import Path

import hill_kit as kit
import icalendar
import pytest
from home_server import RunningServer
from playwright.sync_api import expect


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with RunningServer(tmp_path_factory.mktemp("calendar") / "data") as running:
        ground = kit.Ground()
        tree = ground.add("tree", tag="K1, the «bent» one", site=ground.site, species="birch", origin="lifted")
        ground.add("lift", tree=tree, site=ground.site, lifted_on=kit.day(-2))
        kit.seed(running, ground)
        yield running


def events(data: bytes) -> list[str]:
    return [str(one["SUMMARY"]) for one in icalendar.Calendar.from_ical(data).walk("VEVENT")]


def test_the_address_is_made_read_by_a_stranger_made_anew_and_ended(browser, server, tmp_path: Path) -> None:
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/house")
        part = page.locator("[data-calendar]")
        part.get_by_label("That morning").check()
        part.get_by_role("button", name="Make the address").click()
        first = part.locator("[data-address]").inner_text()
        with urllib.request.urlopen(first, timeout=20) as answer:
            data = answer.read()
        assert any("K1, the «bent» one" in one for one in events(data))
        assert b"TRIGGER:PT7H" in data
        expect(part.get_by_text("A private address is in use")).to_be_visible()
        part.get_by_role("button", name="Make a new address").click()
        page.get_by_role("dialog").get_by_role("button", name="Make it").click()
        expect(part.locator("[data-address]")).not_to_have_text(first)
        with page.expect_download() as taken:
            part.get_by_role("button", name="Take the file").click()
        taken.value.save_as(tmp_path / "due.ics")
        assert taken.value.suggested_filename == "fellside-due.ics"
        assert events((tmp_path / "due.ics").read_bytes())
        part.get_by_role("button", name="End it").click()
        page.get_by_role("dialog").get_by_role("button", name="End it").click()
        expect(part.get_by_text("No address made yet")).to_be_visible()


def test_out_of_reach_of_home_it_says_so(browser, server) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/house")
        expect(page.locator("[data-calendar]")).to_contain_text("Home is not in reach")
