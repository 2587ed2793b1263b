"""One event noted for many trees: tapped, saved and undone once, kept while half done, seen beside other years."""

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
    with RunningServer(tmp_path_factory.mktemp("seen") / "data") as running:
        birch = {"site": ground.site, "species": "birch"}
        ground.trees = [ground.add("tree", tag=tag, **birch) for tag in ("K1", "K2", "K3")]
        ground.thorn = ground.add("tree", tag="H1", site=ground.site, species="hawthorn")
        ground.dead = ground.add("tree", tag="K9", ended_as="lost", ended_on=kit.day(-9), **birch)
        ground.add("event", tree=ground.trees[0], site=ground.site, kind="bud_swell", happened_on=kit.day(-366))
        ground.add("event", tree=ground.trees[1], site=ground.site, kind="bud_swell", happened_on=kit.day(-4))
        kit.seed(running, ground)
        yield running


def noted(page: Page, kind: str) -> list[tuple[str, str]]:
    return sorted(
        (one["fields"]["tree"], one["fields"]["happened_on"])
        for one in kit.records(page, "event")
        if one["fields"]["kind"] == kind and not one["fields"].get("deleted")
    )


def test_an_event_is_noted_for_all_of_a_kind_in_one_go_and_taken_back_in_one(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        page.get_by_role("link", name="What do they show?").click()
        page.locator(".chip", has_text="Green showing").click()
        page.get_by_role("button", name="All of").first.click()
        expect(page.get_by_role("button", name="Note it for 3 trees")).to_be_visible()
        page.get_by_role("button", name="Note it for 3 trees").click()
        expect(page.locator(".notice")).to_contain_text("3 trees: green showing")
        assert noted(page, "bud_break") == sorted((tree, kit.day()) for tree in ground.trees)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        kit.wait_until(
            page,
            "async () => (await (await import('/static/js/store.js')).listRecords('event'))"
            ".every(({ fields }) => fields.kind !== 'bud_break')",
        )
        expect(page.locator(".notice")).to_contain_text("Undone")
        kit.wait_until(page, "() => document.getAnimations().length === 0")  # a notice half risen is half see-through
        assert Axe().run(page, options=AXE).response["violations"] == []


def test_other_years_stand_beside_and_what_is_noted_already_comes_last(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        page.locator(".chip", has_text="Buds swelling").click()
        lines = page.locator("section", has_text="birch").locator("li").all_inner_texts()
        assert [line.split()[0] for line in lines] == ["K1", "K3", "K2"]
        assert "before:" in lines[0]
        assert "noted already:" in lines[2]
        assert not any("K9" in line for line in page.locator("li").all_inner_texts())


def test_what_was_tapped_outlives_the_page_and_nothing_is_saved_without_a_tree(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        page.locator(".chip", has_text="Bare").click()
        page.locator("form").get_by_role("button", name="Tap the trees first").click()
        expect(page.locator(".notice")).to_contain_text("Tap the trees")
        page.locator("label", has_text="H1").click()
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        page.reload()
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        page.locator('[name="happened_on"]').fill(kit.day(3))
        page.get_by_role("button", name="Note it for 1 tree").click()
        assert noted(page, "leaf_fall") == []
        page.locator('[name="happened_on"]').fill(kit.day(-1))
        page.get_by_role("button", name="Note it for 1 tree").click()
        expect(page.locator(".notice", has_text="1 tree: bare")).to_be_visible()
        assert noted(page, "leaf_fall") == [(ground.thorn, kit.day(-1))]
