"""Trees: the list and its order, who is left out of it, and the way back of a tree that was taken away."""

from __future__ import annotations

import re

import hill_kit as kit
import phone_kit
import pytest
from home_server import RunningServer, wait_for
from playwright.sync_api import Page, expect


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("trees") / "data") as running:
        birch = {"site": ground.site, "species": "birch", "origin": "lifted", "marked_on": kit.day(-30)}
        ground.one = ground.add("tree", tag="K1", girth_mm=240, **birch)
        ground.other = ground.add("tree", tag="K2", **birch)
        ground.lifted = ground.add("tree", tag="K3", **birch)
        ground.bare = ground.add("tree", marked_on=kit.day(-3), site=ground.site)
        ground.add("tree", tag="K9", ended_as="lost", ended_on=kit.day(-5), **birch)
        ground.add("lift", tree=ground.lifted, site=ground.site, lifted_on=kit.day(-10))
        ground.fix, ground.wrong_fix = (
            ground.add("fix", tree=ground.one, lat=55.4025, lon=-3.395, accuracy_m=accuracy) for accuracy in (5, 80)
        )
        kit.seed(running, ground)
        yield running


def pack(page: Page, *tasks: dict[str, object]) -> None:
    """Give this phone a pack of its own."""
    page.evaluate(
        "async (pack) => (await import('/static/js/store.js')).putPack('f'.repeat(64), pack)",
        {"v": 1, "made_on": kit.day(), "paired_phones": 1, "sites": {}, "windows": {}, "species": [], "tasks": tasks},
    )


def a_task(tree: str, name: str, begins: int, ends: int, text: str = "Water it.") -> dict[str, object]:
    when = {"from": kit.day(begins), "by": kit.day(ends), "moved_from": None}
    return {"id": name, "rec": name, "tree": tree, "work": "water", "why": "", "text": text, **when}


def tags(page: Page) -> list[str]:
    return page.locator("a.entry .entry-title > :first-child").all_inner_texts()


def is_deleted(page: Page, rec: str) -> bool:
    return phone_kit.record(page, rec)["deleted"]


# --- the list --------------------------------------------------------------------------------------------------------


def test_a_row_of_the_list_is_low_and_says_what_is_due_next(browser, server, ground):
    with kit.phone(browser, server) as page:
        pack(page, a_task(ground.lifted, "b", -9, -1), a_task(ground.lifted, "a", 3, 4))
        kit.go(page, "#/trees")
        row = page.locator("a.entry", has_text="K3")
        expect(row.locator("[data-next]")).to_have_text("overdue: water it.")
        expect(row.locator(".state")).to_have_text("lifted")
        expect(page.locator("a.entry", has_text="K1").locator("[data-next]")).to_have_text("Kettle Brae, girth 24 cm")
        heights = [box["height"] for box in (one.bounding_box() for one in page.locator("a.entry").all())]
        assert min(heights) >= 48
        assert max(heights) <= 64


def test_a_tag_that_two_trees_bear_is_told_above_the_list(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        expect(page.locator("a.entry").first).to_be_visible()
        expect(page.locator("[data-twins]")).to_have_count(0)
        # As it comes from a phone that was out of sight: here the form would refuse it.
        phone_kit.save(page, {"type": "tree", "set": {"tag": "k2", "marked_on": kit.day()}})
        expect(page.locator("[data-twins]")).to_have_text(re.compile("^2 trees have the tag [Kk]2[.]"))


def test_a_long_list_of_trees_unfolds(browser, server, ground):
    with kit.phone(browser, server) as page:
        phone_kit.save(page, *[{"type": "tree", "set": {"tag": f"Z{n}", "marked_on": kit.day()}} for n in range(70)])
        kit.go(page, "#/trees")
        expect(page.locator("a.entry")).to_have_count(60)
        page.get_by_role("button", name="Show 14 more").click()
        expect(page.locator("a.entry")).to_have_count(74)
        expect(page.locator("a.entry").nth(60)).to_be_focused()


def test_a_task_is_told_by_its_first_sentence_and_told_whole(browser, server, ground):
    with kit.phone(browser, server) as page:
        text = "Look at the roots between 25 March and 18 April of the coming year, and at the mix. Then water it."
        pack(page, a_task(ground.lifted, "a", 0, 0, text))
        kit.go(page, "#/trees")
        line = page.locator("a.entry", has_text="K3").locator("[data-next]")
        want = "today: look at the roots between 25 March and 18 April of the coming year, and at the mix."
        expect(line).to_have_text(want)
        assert line.evaluate("(el) => el.scrollWidth <= el.clientWidth && el.scrollHeight <= el.clientHeight + 1")


def test_who_ended_is_left_out_said_and_shown_at_a_tap(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        said = page.locator("[data-list] [role=status]")
        expect(said).to_have_text("4 of 5 trees; 1 that ended is not shown")
        page.get_by_role("button", name="Show it").click()
        expect(said).to_have_text("5 trees")
        expect(page.get_by_label("all, ended too")).to_be_focused()
        page.get_by_label("all still here").check()
        page.get_by_label("Find by tag").fill("k1")
        expect(said).to_have_text("1 of 5 trees")


def test_what_is_due_first_stands_first_and_the_order_is_remembered(browser, server, ground):
    with kit.phone(browser, server) as page:
        pack(page, a_task(ground.lifted, "a", -9, -1), a_task(ground.other, "b", -9, 2))
        kit.go(page, "#/trees")
        expect(page.locator("a.entry")).to_have_count(4)
        assert tags(page) == ["K1", "K2", "K3", "no tag"]
        page.get_by_label("due first").check()
        wait_for(lambda: tags(page) == ["K3", "K2", "K1", "no tag"], "what is due first does not stand first")
        script = "async () => (await import('/static/js/store.js')).getMeta('trees-order')"
        wait_for(lambda: page.evaluate(script) == "due", "the order is not kept")
        page.reload()
        expect(page.get_by_label("due first")).to_be_checked()
        expect(page.locator("a.entry")).to_have_count(4)
        assert tags(page) == ["K3", "K2", "K1", "no tag"]


# --- taken away and put back -----------------------------------------------------------------------------------------


def with_photo(page: Page, ground: kit.Ground) -> str:
    """Open K1 and take a photo of it; give its record's id."""
    kit.go(page, f"#/tree/{ground.one}")
    page.locator('input[name="photo"]').set_input_files(kit.a_photo())
    expect(page.locator("[data-see=photos]")).to_have_count(1)
    return kit.records(page, "photo")[0]["id"]


def take_away(page: Page) -> None:
    page.get_by_role("button", name="Marked by mistake").click()
    expect(page.get_by_role("heading", name="Trees", exact=True)).to_be_visible()


def test_a_tree_marked_by_mistake_goes_with_its_positions_and_its_photos_stay(browser, server, ground):
    with kit.phone(browser, server) as page:
        photo = with_photo(page, ground)
        take_away(page)
        expect(page.locator(".notice")).to_contain_text("K1 is taken away. Its photo waits without a tree.")
        expect(page.locator("a.entry", has_text="K1")).to_have_count(0)
        assert is_deleted(page, ground.one)
        assert is_deleted(page, ground.fix)
        assert not is_deleted(page, photo)
        assert phone_kit.record(page, photo)["fields"]["tree"] is None
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator("a.entry", has_text="K1")).to_have_count(1)
        assert not is_deleted(page, ground.fix)
        assert phone_kit.record(page, photo)["fields"]["tree"] == ground.one


def test_long_after_the_notice_it_is_put_back_but_not_what_was_taken_out_before_or_moved_since(browser, server, ground):
    with kit.phone(browser, server) as page:
        photo = with_photo(page, ground)
        phone_kit.save(page, {"rec": ground.wrong_fix, "type": "fix", "set": {"deleted": True}})
        take_away(page)
        phone_kit.save(page, {"rec": photo, "type": "photo", "set": {"tree": ground.other}})
        page.reload()
        page.get_by_text("Taken away: 1 tree").click()
        page.get_by_role("button", name="Put back").click()
        expect(page.locator("a.entry", has_text="K1")).to_have_count(1)
        expect(page.get_by_text("Taken away")).to_have_count(0)
        assert not is_deleted(page, ground.fix)
        assert is_deleted(page, ground.wrong_fix)
        assert phone_kit.record(page, photo)["fields"]["tree"] == ground.other
        page.get_by_role("button", name="Open it").click()
        expect(page.locator("h1")).to_contain_text("K1")


def test_the_page_of_a_tree_taken_away_says_so_and_puts_it_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/tree/{ground.bare}")
        take_away(page)
        expect(page.locator(".notice")).to_contain_text("The tree is taken away.")
        kit.go(page, f"#/tree/{ground.bare}")
        expect(page.get_by_text("This tree was taken away.")).to_be_visible()
        page.get_by_role("button", name="Put it back").click()
        expect(page.get_by_role("button", name="Change")).to_be_visible()


def test_a_lifted_tree_cannot_be_taken_away(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/tree/{ground.lifted}")
        expect(page.get_by_role("button", name="It has come to its end")).to_be_visible()
        expect(page.get_by_role("button", name="Marked by mistake")).to_have_count(0)


# --- the day it was marked -------------------------------------------------------------------------------------------


def mark_on(page: Page, on: str) -> None:
    page.locator('#tree-edit [name="marked_on"]').fill(on)
    page.locator("#tree-edit").get_by_role("button", name="Save").click()


@pytest.mark.parametrize(
    ("which", "days", "words"), [("one", 1, "has not come yet"), ("lifted", -9, "lies after it was lifted")]
)
def test_a_tree_was_not_marked_on_a_day_that_cannot_be(browser, server, ground, which, days, words):
    with kit.phone(browser, server) as page:
        rec = getattr(ground, which)
        kit.go(page, f"#/tree/{rec}?change=1")
        mark_on(page, kit.day(days))
        expect(page.locator("#tree-edit .fault:visible")).to_contain_text(words)
        assert phone_kit.record(page, rec)["fields"]["marked_on"] == kit.day(-30)


@pytest.mark.parametrize(("which", "days"), [("one", 0), ("lifted", -10), ("lifted", -400)])
def test_the_day_it_was_marked_can_be_put_right(browser, server, ground, which, days):
    with kit.phone(browser, server) as page:
        rec = getattr(ground, which)
        kit.go(page, f"#/tree/{rec}")
        page.get_by_role("button", name="Change").click()
        mark_on(page, kit.day(days))
        expect(page.locator("#tree-edit")).to_have_count(0)
        assert phone_kit.record(page, rec)["fields"]["marked_on"] == kit.day(days)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        wait_for(
            lambda: phone_kit.record(page, rec)["fields"]["marked_on"] == kit.day(-30), "Undo did not take it back"
        )
