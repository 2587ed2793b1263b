"""On the hill: a tree in three taps, May I? at the edge of the ground, and a lift with its answer inside."""

from __future__ import annotations

import re
from pathlib import Path

import hill_kit as kit
import pytest
from home_server import RunningServer, wait_for
from playwright.sync_api import expect

HERE = Path(__file__).resolve().parent


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("hill") / "data") as running:
        ground.marked = ground.add(
            "tree", site=ground.site, tag="K1", species="birch", girth_mm=240, marked_on=kit.day(-3), origin="lifted"
        )
        ground.add(
            "fix",
            tree=ground.marked,
            lat=55.4025,
            lon=-3.395,
            accuracy_m=5,
            fixed_at=f"{kit.day(-3)}T10:00:00.000Z",
            source="web-geolocation",
        )
        kit.seed(running, ground)
        yield running


def test_a_tree_is_saved_in_three_taps(browser, server):
    with kit.phone(browser, server) as page:
        page.locator("#nav").get_by_role("link", name="Mark").click()
        with page.expect_file_chooser() as chooser:
            page.locator("label.button", has_text="Take photo").click()
        chooser.value.set_files(kit.a_photo())
        expect(page.locator(".mark figure")).to_have_count(1)
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        trees = [tree for tree in kit.records(page, "tree") if tree["fields"]["marked_on"] == kit.day()]
        assert len(trees) == 1
        fixes = [one["fields"] for one in kit.records(page, "fix") if one["fields"]["tree"] == trees[0]["id"]]
        photos = [one["fields"] for one in kit.records(page, "photo") if one["fields"]["tree"] == trees[0]["id"]]
        assert [(fix["lat"], fix["lon"], fix["accuracy_m"]) for fix in fixes] == [(55.4025, -3.395, 6)]
        assert [(photo["placed_by"], photo["lat"]) for photo in photos] == [("fix_at_capture", 55.4025)]


def test_a_mark_belongs_to_the_site_it_stands_on_and_gets_a_free_tag(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-site-line]")).to_have_text("On Kettle Brae")
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        tree = next(tree["fields"] for tree in kit.records(page, "tree") if tree["fields"]["marked_on"] == kit.day())
        assert (tree["site"], tree["tag"]) == (ground.site, "K2")  # K1 is taken


def test_two_marks_of_a_day_share_one_visit(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-site-line]")).to_have_text("On Kettle Brae")
        page.get_by_role("button", name="Save tree").click()
        page.get_by_role("button", name="Mark another").click()
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        today = [visit for visit in kit.records(page, "visit") if visit["fields"]["visited_on"] == kit.day()]
        assert len(today) == 1


def test_without_a_position_a_mark_is_saved_all_the_same(browser, server):
    with kit.phone(browser, server, where=None) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-position]")).to_contain_text("not allowed")
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        assert any(tree["fields"]["marked_on"] == kit.day() for tree in kit.records(page, "tree"))


def test_undo_takes_a_mark_back_and_keeps_what_was_typed(browser, server):
    with kit.phone(browser, server) as page:
        before = len(kit.records(page, "tree"))
        kit.go(page, "#/mark")
        page.get_by_role("textbox", name="Note").fill("leans over the burn")
        page.get_by_role("button", name="Save tree").click()
        page.get_by_role("button", name="Undo").click()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("leans over the burn")
        assert len(kit.records(page, "tree")) == before


def test_what_is_being_typed_survives_a_reload(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_role("textbox", name="Note").fill("among boulders")
        page.get_by_role("textbox", name="Girth").fill("24.5")
        wait_for(
            lambda: (
                page.evaluate("async () => (await (await import('/static/js/store.js')).getDraft('mark'))?.girth_cm")
                == 24.5
            ),
            "the draft is not kept",
        )
        page.reload()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("among boulders")
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        assert [
            t["fields"]["girth_mm"] for t in kit.records(page, "tree") if t["fields"].get("note") == "among boulders"
        ] == [245]


def test_a_text_file_is_refused_as_a_photo_and_the_form_stays(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_role("textbox", name="Note").fill("kept")
        page.locator('input[name="photo"]').set_input_files(
            {"name": "notes.jpg", "mimeType": "image/jpeg", "buffer": b"no picture, words"}
        )
        expect(page.locator(".notice.trouble")).to_be_visible()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("kept")
        expect(page.locator(".mark figure")).to_have_count(0)


@pytest.mark.parametrize(
    ("where", "answer", "code"),
    [(kit.INSIDE, "yes", None), (kit.AT_EDGE, "ask", "edge"), (kit.OUTSIDE, "no", "outside")],
    ids=["inside", "at the edge", "outside"],
)
def test_may_i_answers_for_where_one_stands_with_no_signal(browser, server, where, answer, code):
    with kit.phone(browser, server, where=where) as page:
        kit.go(page, "#/may-i")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", answer)
        codes = page.locator(".reasons > li").evaluate_all("rows => rows.map(row => row.dataset.code)")
        assert codes == ([code] if code else [])
        expect(page.locator(".caution").first).to_contain_text("landholder")


def test_may_i_follows_the_walker(browser, server):
    with kit.phone(browser, server, where=kit.INSIDE) as page:
        kit.go(page, "#/may-i")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        kit.move(page.context, kit.OUTSIDE)
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")


def test_no_answer_stands_beside_a_number_that_cannot_be(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/may-i")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        page.locator('[name="girth_cm"]').fill("-50")
        expect(page.locator("[data-refused]")).to_contain_text("Girth")
        expect(page.locator(".verdict")).to_have_count(0)
        page.locator('[name="girth_cm"]').fill("24")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")


def test_may_i_asks_for_another_day(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/may-i")
        page.get_by_label("On which day").fill(kit.day(201))  # the leave's last day is the 200th
        expect(page.locator('.reasons [data-code="ended"]')).to_be_visible()
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")


def test_no_ground_near_is_no_leave(browser, empty_home):
    with kit.phone(browser, empty_home) as page:
        kit.go(page, "#/may-i")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
        expect(page.locator('.reasons [data-code="no-leave"]')).to_be_visible()


def test_a_lift_keeps_its_answer_and_its_input(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.marked}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        page.get_by_label("close the gates").check()
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        lift = kit.records(page, "lift")[0]["fields"]
        assert lift["answer"]["verdict"]["answer"] == "yes"
        assert lift["answer"]["input"]["species"] == "birch"
        assert lift["answer"]["input"]["girth_mm"] == 240
        assert lift["answer"]["input"]["here"]["lat"] == 55.4025
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", lift["answer"]["asked_at"])
        assert (lift["leave"], lift["kept_conditions"], lift["lifted_on"]) == (
            ground.leave,
            ["close the gates"],
            kit.day(),
        )
        page.get_by_role("link", name="Open K1").click()
        expect(page.locator("[data-lift-answer]")).to_have_attribute("data-lift-answer", "yes")
        expect(page.locator(".page-head .state")).to_have_text("lifted")


def test_a_lift_counts_at_once_against_the_number_agreed(browser, empty_home):
    ground = kit.Ground(allowance=1)
    tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=200, marked_on=kit.day(-3))
    ground.add("tree", site=ground.site, tag="K2", species="birch", girth_mm=200, marked_on=kit.day(-3))
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        kit.go(page, f"#/lift/{tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        kit.go(page, "#/may-i")
        expect(page.locator('.reasons [data-code="used-up"]')).to_be_visible()


def test_a_lift_against_no_must_be_owned_up_to_and_is_kept_so(browser, server, ground):
    with kit.phone(browser, server, where=kit.OUTSIDE) as page:
        kit.go(page, "#/mark")
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        tree = next(t["id"] for t in kit.records(page, "tree") if t["fields"]["marked_on"] == kit.day())
        kit.go(page, f"#/lift/{tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
        page.get_by_role("button", name="Save lift").click()
        expect(page.locator("[data-gate-fault]")).to_be_visible()
        assert kit.records(page, "lift") == []
        page.get_by_text("I know this says no: log what was done").click()
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        lift = kit.records(page, "lift")[0]["fields"]
        assert lift["answer"]["verdict"]["answer"] == "no"
        assert lift["answer"]["knew_no"] is True
