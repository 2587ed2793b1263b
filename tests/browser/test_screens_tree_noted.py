"""What is noted on a tree's page: what it does, what was done, and what of it is refused or taken back."""

from __future__ import annotations

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
    with RunningServer(tmp_path_factory.mktemp("noted") / "data") as running:
        birch = {"site": ground.site, "species": "birch", "origin": "lifted", "marked_on": kit.day(-30)}
        ground.one = ground.add("tree", tag="K1", **birch)
        ground.lifted = ground.add("tree", tag="K3", **birch)
        ground.add("lift", tree=ground.lifted, site=ground.site, lifted_on=kit.day(-10))
        kit.seed(running, ground)
        yield running


def open_tree(page: Page, tree: str) -> None:
    kit.go(page, f"#/tree/{tree}")


def draft(page: Page, key: str) -> object:
    return page.evaluate("async (key) => (await import('/static/js/store.js')).getDraft(key)", key)


def test_a_note_of_what_it_does_survives_a_killed_app_and_can_be_taken_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        page.get_by_role("button", name="Note what it does").click()
        page.get_by_label("green showing").check()
        page.locator('#tree-event [name="note"]').fill("south side first")
        page.locator('[name="happened_on"]').fill(kit.day(-2))
        wait_for(
            lambda: (draft(page, f"tree-{ground.one}-event") or {}).get("happened_on") == kit.day(-2),
            "the draft is not kept",
        )
        page.reload()
        expect(page.locator('#tree-event [name="note"]')).to_have_value("south side first")
        page.locator("#tree-event").get_by_role("button", name="Save").dblclick()  # a cold hand taps twice
        expect(page.locator(".entry", has_text="green showing")).to_contain_text("south side first")
        assert len(kit.records(page, "event")) == 1
        event = kit.records(page, "event")[0]["fields"]
        assert (event["kind"], event["happened_on"], event["tree"]) == ("bud_break", kit.day(-2), ground.one)
        assert draft(page, f"tree-{ground.one}-event") is None
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator(".entry", has_text="green showing")).to_have_count(0)


@pytest.mark.parametrize(
    ("button", "form", "chip", "day"),
    [
        ("Note what it does", "#tree-event", "green showing", "happened_on"),
        ("Note what was done", "#tree-work", "repot", "done_on"),
    ],
)
def test_nothing_was_seen_or_done_on_a_day_to_come(browser, server, ground, button, form, chip, day):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        page.get_by_role("button", name=button).click()
        page.get_by_label(chip).check()
        page.locator(f'[name="{day}"]').fill(kit.day(1))
        page.locator(form).get_by_role("button", name="Save").click()
        expect(page.locator(f"{form} .fault:visible")).to_contain_text("has not come yet")
        assert kit.records(page, "event") + kit.records(page, "work") == []


@pytest.mark.parametrize(
    ("chip", "kind", "note"),
    [("wilt", "wilt", ""), ("pest or disease", "pest_or_disease", "aphids"), ("other", "other", "a nest in it")],
)
def test_what_goes_wrong_with_a_tree_can_be_noted(browser, server, ground, chip, kind, note):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        page.get_by_role("button", name="Note what it does").click()
        page.get_by_label(chip, exact=True).check()
        page.locator('#tree-event [name="note"]').fill(note)
        page.locator("#tree-event").get_by_role("button", name="Save").click()
        expect(page.locator("[data-list=history] > li")).to_contain_text(chip)
        assert [(one["fields"]["kind"], one["fields"]["note"]) for one in kit.records(page, "event")] == [
            (kind, note or None)
        ]


def test_other_alone_tells_nothing(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        page.get_by_role("button", name="Note what it does").click()
        page.get_by_label("other", exact=True).check()
        page.locator("#tree-event").get_by_role("button", name="Save").click()
        expect(page.locator("#tree-event .fault:visible")).to_contain_text("say what was seen")
        assert kit.records(page, "event") == []


def test_watering_is_a_work_and_what_went_into_a_box_is_a_box(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.lifted)
        work = page.locator("#tree-work")
        page.get_by_role("button", name="Note what was done").click()
        page.get_by_label("water", exact=True).check()
        expect(work.get_by_role("textbox", name="Hours")).to_be_visible()
        expect(work.locator('[name="volume_l"]')).to_be_hidden()
        work.get_by_role("button", name="Save").click()
        page.get_by_role("button", name="Note what was done").click()
        page.get_by_label("into a box").check()
        expect(work.get_by_role("textbox", name="Hours")).to_be_hidden()
        work.locator('[name="volume_l"]').fill("35")
        work.get_by_role("button", name="Save").click()
        expect(page.locator("[data-list=history] > li")).to_have_count(2)
        expect(page.locator("[data-list=history]")).to_contain_text("into a box of 35 L")
        works, boxes = ([one["fields"] for one in kit.records(page, kind)] for kind in ("work", "box"))
        assert [(one["tree"], one["kind"], one["done_on"]) for one in works] == [(ground.lifted, "water", kit.day())]
        assert [(one["tree"], one["volume_l"], one["boxed_on"]) for one in boxes] == [(ground.lifted, 35, kit.day())]


def test_a_long_list_of_what_was_seen_unfolds(browser, server, ground):
    with kit.phone(browser, server) as page:
        days = [
            {"type": "event", "set": {"tree": ground.one, "kind": "frost", "happened_on": kit.day(-n)}}
            for n in range(13)
        ]
        phone_kit.save(page, *days)
        open_tree(page, ground.one)
        frosts = page.locator(".entry", has_text="frost")
        expect(frosts).to_have_count(10)
        page.get_by_role("button", name="Show 3 more").focus()
        page.keyboard.press("Enter")
        expect(frosts).to_have_count(13)
        expect(page.locator("[data-list=history] > li").nth(10)).to_be_focused()


def test_what_was_noted_wrongly_is_taken_out_and_had_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        noted = {"tree": ground.one, "kind": "repot", "done_on": kit.day(-5)}
        phone_kit.save(page, {"type": "work", "set": noted})
        open_tree(page, ground.one)
        row = page.locator("[data-list=history] > li", has_text="repot")
        row.get_by_role("button", name="Take out: repot").click()
        expect(row).to_have_count(0)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(row).to_have_count(1)
        assert [one["fields"]["kind"] for one in kit.records(page, "work")] == ["repot"]
