"""Wire on the phone: which one, noted with its figures, looked at, and off; all with no signal."""

from __future__ import annotations

import hill_kit as kit
import pytest
from axe_playwright_python.sync_playwright import Axe
from home_server import RunningServer
from playwright.sync_api import Page, expect

AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
}


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("garden") / "data") as running:
        birch = {"site": ground.site, "species": "birch", "origin": "lifted"}
        ground.old = ground.add("tree", tag="G1", marked_on=kit.day(-2000), **birch)
        ground.add("lift", tree=ground.old, site=ground.site, lifted_on=kit.day(-1900))
        kit.seed(running, ground)
        yield running


def works(page: Page, kind: str) -> list[dict[str, object]]:
    return [one["fields"] for one in kit.records(page, "work") if one["fields"]["kind"] == kind and not one["deleted"]]


def test_wire_is_chosen_noted_looked_at_and_off_with_no_signal(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/tree/{ground.old}")
        page.get_by_role("link", name="Wire", exact=True).click()
        page.get_by_label("Copper").check()
        page.locator("input[name=branch_mm]").fill("6")
        page.locator("input[name=length_mm]").fill("400")
        # a third of 6 mm; one and a half times 400 mm and 100 mm for the anchor; 7.854 mm3 x 700 x 8.96 g/cm3 = 19.7 g
        expect(page.locator("[data-gauge]")).to_have_text("2 mm copper")
        expect(page.locator("[data-length]")).to_have_text("0.7 m of it, about 20 g")
        expect(page.locator("[data-code=cut-off]")).to_contain_text("never unwind")
        page.get_by_label("2", exact=True).check()
        page.locator("input[name=done_on]").fill(kit.day(-80))
        assert Axe().run(page, options=AXE).response["violations"] == []
        page.get_by_role("button", name="Note the wire").click()
        row = page.locator("[data-wiring]")
        expect(row).to_contain_text("2 mm copper on a branch of 6 mm")
        expect(row.locator("[data-state]")).to_have_attribute("data-state", "over")  # birch: 10 weeks at most
        (wire,) = works(page, "wire")
        assert wire["detail"] == {"material": "copper", "gauge_mm": 2, "branch_mm": 6, "length_mm": 400}
        assert wire["done_on"] == kit.day(-80)
        row.get_by_role("button", name="Begins to mark").click()
        expect(row.locator("[data-state]")).to_have_attribute("data-state", "begins")
        (look,) = works(page, "look")
        assert (look["detail"]["bites"], look["done_on"]) == ("begins", kit.day())
        page.get_by_role("button", name="It is off").click()
        expect(row).to_have_count(0)
        page.get_by_role("button", name="Undo").click()
        expect(row).to_have_count(1)
        kit.go(page, f"#/tree/{ground.old}")
        expect(page.locator("[data-list=history]")).to_contain_text("wire: 2 mm copper on a branch of 6 mm")
        expect(page.locator("[data-list=history]")).to_contain_text("look along the wire: begins to mark")


def test_without_a_tree_wire_is_only_worked_out_and_nonsense_is_refused_in_words(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/wire")
        assert page.get_by_role("button", name="Note the wire").count() == 0
        page.locator("input[name=branch_mm]").fill("30")
        page.locator("input[name=length_mm]").fill("1000")
        expect(page.locator("[data-code=too-thick]")).to_contain_text("two strands")
        page.locator("input[name=branch_mm]").fill("thumb")
        expect(page.get_by_role("alert").filter(has_text="is not a number")).to_be_visible()
        kit.go(page, "#/wire/11111111-1111-4111-8111-111111111111")
        expect(page.get_by_text("That tree is not kept on this phone.")).to_be_visible()
