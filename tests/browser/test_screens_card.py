"""Kinds and their cards on the phone: the year in bands and words, at a site, and once read with no home in reach."""

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
    with RunningServer(tmp_path_factory.mktemp("card") / "data") as running:
        ground.tree = ground.add("tree", tag="K1", site=ground.site, species="birch")
        kit.seed(running, ground)
        yield running


def test_a_card_is_found_read_for_a_site_and_kept_for_where_home_is_out_of_reach(browser, server, ground) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/tree/{ground.tree}")
        page.get_by_role("link", name="birch", exact=True).click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Birch")
        trim = page.locator('[data-work="trim"]')
        expect(trim.get_by_role("img")).to_be_visible()
        before = trim.locator("summary").inner_text()
        assert kit.hindrances(page) == []
        page.locator("[data-site]").select_option(ground.site)
        expect(trim.locator("summary")).not_to_have_text(before)
        trim.locator("summary").click()
        expect(trim).to_contain_text("Not all agree")
        expect(trim).to_contain_text("Source")
        page.get_by_text("The year as a table").click()
        row = page.get_by_role("row", name="Trim")
        first, last = (one.strip() for one in trim.locator("summary").inner_text().split(" to "))
        expect(row).to_contain_text(first)
        expect(row).to_contain_text(last)
        page.locator("[data-year]").select_option(index=1)
        expect(page.get_by_role("heading", name=f"The year {int(kit.day()[:4]) + 1}")).to_be_visible()
        page.get_by_role("link", name="Kinds").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Kinds")
        expect(page.get_by_role("link", name="Hawthorn")).to_be_visible()
        page.context.set_offline(True)
        kit.go(page, "#/card/birch")
        page.locator("[data-year]").select_option(index=1)  # opened for a site only: there is no such year here
        expect(page.get_by_text("Home is not in reach.")).to_be_visible()
        expect(page.locator("[data-year]")).to_have_value("")
        expect(page.locator('[data-work="trim"] summary')).to_have_text(before)
        expect(page.get_by_text("it is not in reach now")).to_be_visible()
        kit.go(page, "#/card/larch")
        expect(page.get_by_text("What was opened once stays on this phone.")).to_be_visible()
