"""Gardens: made where one stands, changed, removed and brought back; trees stand in them; no signal is needed."""

from __future__ import annotations

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect

MAIN, COLD = "6d3c1f64-6a0c-4a39-9f5d-35a5f1f2a001", "6d3c1f64-6a0c-4a39-9f5d-35a5f1f2a002"


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("garden") / "data") as running:
        ground.wild = ground.add("tree", tag="W1", site=ground.site, species="birch")
        ground.lifted = ground.add("tree", tag="L1", site=ground.site, species="birch")
        ground.add("lift", tree=ground.lifted, site=ground.site, lifted_on=kit.day(-40))
        kit.seed(running, ground)
        yield running


def gardens(page: Page) -> list[dict]:
    return [one["fields"] for one in kit.records(page, "garden") if not one["fields"].get("deleted")]


def test_a_garden_is_made_where_one_stands_and_takes_the_lifted_trees_in(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        page.get_by_text("Seasons, gardens, weather, boxes, wire").click()
        page.get_by_role("link", name="Gardens").click()
        expect(page.get_by_text("No garden is kept yet")).to_be_visible()
        page.get_by_role("link", name="Add your garden").click()
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".field", has_text="Name").locator(".fault")).to_be_visible()
        page.locator("[name=name]").fill("Behind the house")
        page.locator("[name=position]").fill("nowhere at all")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".field", has_text="Position").locator(".fault")).to_contain_text("position")
        assert gardens(page) == []
        page.locator("[name=position]").fill("55.00000 -3.00000")
        page.locator("[name=height_m]").fill("122")
        page.get_by_role("button", name="Save").dblclick()  # wet hands shake
        expect(page.get_by_role("heading", name="Behind the house")).to_be_visible()
        # Hopkins: 4 days for each of 3 degrees and 4 for 400 ft (122 m)
        expect(page.locator(".under").first).to_contain_text("16 days later than on the cards, by latitude and height")
        assert [(one["lat"], one["lon"], one["is_main"]) for one in gardens(page)] == [(55, -3, True)]
        expect(page.locator(".entry", has_text="L1")).to_be_visible()
        expect(page.locator(".entry", has_text="W1")).to_have_count(0)

        page.get_by_role("button", name="Change").click()
        page.locator("[name=shift_days]").fill("-3")
        kit.wait_until(
            page,
            "async () => { const { getDraft } = await import('/static/js/store.js');"
            " const kept = await getDraft(`garden-${location.hash.split('/')[2]}`);"
            " return kept?.values.shift_days === -3; }",
        )
        page.reload()  # what was typed is there again
        expect(page.locator("[name=shift_days]")).to_have_value("-3")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".under").first).to_contain_text("3 days earlier than on the cards, by your own number")
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert kit.hindrances(page) == []

        kit.go(page, "#/garden/new")
        page.locator("[name=name]").fill("Frame yard")
        page.get_by_text("Lifted trees stand here unless told otherwise").click()
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("heading", name="Frame yard")).to_be_visible()
        assert sorted((one["name"], one["is_main"]) for one in gardens(page)) == [
            ("Behind the house", False),
            ("Frame yard", True),
        ]
        expect(page.locator(".entry", has_text="L1")).to_be_visible()

        kit.go(page, f"#/tree/{ground.lifted}")
        expect(page.locator("dl.facts").first).to_contain_text("Frame yard")
        page.get_by_role("button", name="Change").first.click()
        page.locator(".chip", has_text="Behind the house").click()
        page.locator("#tree-edit").get_by_role("button", name="Save").click()
        expect(page.locator("dl.facts").first).to_contain_text("Behind the house")
        kit.go(page, f"#/tree/{ground.wild}")
        expect(page.locator("dl.facts").first).not_to_contain_text("Stands in")

        kit.go(page, "#/garden")
        page.locator(".entry", has_text="Behind the house").click()
        page.get_by_role("button", name="Remove the garden").click()
        page.locator(".notice", has_text="is removed").get_by_role("button", name="Undo").click()
        expect(page.locator(".entry", has_text="Behind the house")).to_contain_text("1 tree")


def test_a_lift_says_to_which_of_several_gardens_the_tree_goes_and_its_undo_takes_that_back(
    browser, server, ground
) -> None:
    with kit.phone(browser, server) as page:
        page.evaluate(
            "async (changes) => { await (await import('/static/js/store.js')).saveChanges(changes); }",
            [
                {"rec": MAIN, "type": "garden", "set": {"name": "Main", "is_main": True}},
                {"rec": COLD, "type": "garden", "set": {"name": "Cold house"}},
            ],
        )
        kit.go(page, f"#/lift/{ground.wild}")
        expect(page.locator(".chip", has_text="Main").locator("input")).to_be_checked()
        page.locator(".chip", has_text="Cold house").click()
        page.get_by_role("button", name="Save lift").click()
        expect(page.locator("[data-saved]")).to_be_visible()

        def stands_at() -> str | None:
            return next(one["fields"].get("stands_at") for one in kit.records(page, "tree") if one["id"] == ground.wild)

        assert stands_at() == COLD
        page.locator("[data-undo-lift]").click()
        expect(page.locator("#lift-form")).to_be_visible()
        assert stands_at() is None
