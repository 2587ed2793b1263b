"""A tree's page: its photos seen and put right, its end and form, its short notes; all of it kept while it is typed."""

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
    with RunningServer(tmp_path_factory.mktemp("tree") / "data") as running:
        birch = {"site": ground.site, "species": "birch", "origin": "lifted"}
        ground.one = ground.add("tree", tag="K1", girth_mm=240, marked_on=kit.day(-30), note="leans", **birch)
        ground.other = ground.add("tree", tag="K2", marked_on=kit.day(-30), **birch)
        ground.lifted = ground.add("tree", tag="K3", marked_on=kit.day(-30), **birch)
        ground.bare = ground.add("tree", marked_on=kit.day(-3), site=ground.site)
        ground.add("lift", tree=ground.lifted, site=ground.site, lifted_on=kit.day(-10))
        kit.seed(running, ground)
        yield running


def open_tree(page: Page, tree: str) -> None:
    kit.go(page, f"#/tree/{tree}")


def fields(page: Page, rec: str) -> dict[str, object]:
    return phone_kit.record(page, rec)["fields"]


def draft(page: Page, key: str) -> object:
    return page.evaluate("async (key) => (await import('/static/js/store.js')).getDraft(key)", key)


def faults_of_axe(page: Page) -> list[tuple[str, str, str]]:
    page.evaluate("scrollTo(0, 0)")  # what slides under the quiet line is too small to press only for as long
    found = kit.hindrances(page)
    return [
        (fault["id"], node["html"][:160], node["failureSummary"][:300]) for fault in found for node in fault["nodes"]
    ]


def take(page: Page, colour: str = "green") -> str:
    """Take a photo on the page that is open and return its record's id."""
    before = {one["id"] for one in kit.records(page, "photo")}
    page.locator('input[name="photo"]').set_input_files(kit.a_photo(colour))
    wait_for(lambda: {one["id"] for one in kit.records(page, "photo")} - before, "the photo is not saved")
    rec = ({one["id"] for one in kit.records(page, "photo")} - before).pop()
    expect(page.locator(f"#photo-{rec}")).to_be_visible()
    return rec


def pack(page: Page, **what: object) -> None:
    """Give this phone a pack of its own."""
    page.evaluate(
        "async (pack) => (await import('/static/js/store.js')).putPack('f'.repeat(64), pack)",
        {
            "v": 1,
            "made_on": kit.day(),
            "paired_phones": 1,
            "sites": {},
            "windows": {},
            "species": [],
            "tasks": [],
            **what,
        },
    )


# --- photos ----------------------------------------------------------------------------------------------------------


def test_a_photo_is_seen_large_with_its_day_and_how_it_was_placed(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        take(page)
        page.locator("[data-see]").first.click()
        box = page.get_by_role("dialog", name="Photo 1 of 1")
        expect(box.get_by_role("img")).to_be_visible()
        # The original of 64 x 48, not a small picture of it
        assert box.get_by_role("img").evaluate("(img) => img.naturalWidth") == 64
        expect(box).to_contain_text("by the phone’s clock")
        expect(box).to_contain_text("Where the phone was when it was taken, ± 6 m")
        assert faults_of_axe(page) == []


def test_the_viewer_is_left_by_escape_and_the_keyboard_is_back_on_the_photo(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        rec = take(page)
        page.locator(f"#photo-{rec}").focus()
        page.keyboard.press("Enter")
        expect(page.get_by_role("dialog")).to_be_visible()
        page.keyboard.press("Escape")
        expect(page.get_by_role("dialog")).to_have_count(0)
        expect(page.locator(f"#photo-{rec}")).to_be_focused()


def test_the_arrow_keys_turn_over_the_photos_and_stop_at_the_last(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        for colour in ("green", "brown"):
            take(page, colour)
        page.locator("[data-see]").first.click()
        for heading in ("Photo 2 of 2", "Photo 2 of 2"):
            page.keyboard.press("ArrowRight")
            expect(page.get_by_role("heading", name=heading)).to_be_visible()
        page.keyboard.press("ArrowLeft")
        expect(page.get_by_role("heading", name="Photo 1 of 2")).to_be_visible()


def test_a_photo_moves_to_another_tree_and_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        rec = take(page)
        page.locator("[data-see]").click()
        page.get_by_role("button", name="Move to another tree").click()
        page.get_by_role("button", name="K2").click()
        expect(page.get_by_role("dialog")).to_have_count(0)
        assert fields(page, rec)["tree"] == ground.other
        expect(page.locator("[data-see]")).to_have_count(0)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator("[data-see]")).to_have_count(1)
        assert fields(page, rec)["tree"] == ground.one


def test_a_photo_taken_off_waits_without_a_tree_until_it_is_put_with_one(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        rec = take(page)
        page.locator("[data-see]").click()
        page.get_by_role("button", name="Take it off this tree").click()
        expect(page.locator('[data-see="photos"]')).to_have_count(0)
        assert fields(page, rec)["tree"] is None
        open_tree(page, ground.other)
        page.get_by_text("Photos without a tree: 1").click()
        page.locator('[data-see="loose"]').click()
        page.get_by_role("button", name="Put it with K2").click()
        expect(page.locator('[data-see="photos"]')).to_have_count(1)
        assert fields(page, rec)["tree"] == ground.other


def test_a_deleted_photo_can_be_had_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        rec = take(page)
        page.locator("[data-see]").click()
        page.get_by_role("dialog").get_by_role("button", name="Delete").click()
        expect(page.locator("[data-see]")).to_have_count(0)
        assert phone_kit.record(page, rec)["deleted"] is True
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator("[data-see]")).to_have_count(1)
        assert phone_kit.record(page, rec)["deleted"] is False


def test_the_same_photo_chosen_twice_is_kept_once(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        take(page)
        page.locator('input[name="chosen"]').set_input_files(kit.a_photo())
        expect(page.locator(".notice")).to_contain_text(["one of its photos already"])
        assert len(kit.records(page, "photo")) == 1


def test_of_a_photo_taken_on_another_phone_the_large_one_is_offered_by_its_size_and_kept(browser, tmp_path):
    ground = kit.Ground()
    tree = ground.add("tree", tag="K1", species="birch", site=ground.site, marked_on=kit.day(-3))
    with RunningServer(tmp_path / "data") as server:
        kit.seed(server, ground)
        with kit.phone(browser, server, signal=True) as page:
            open_tree(page, tree)
            take(page)
            assert phone_kit.sync(page)["ok"]
        with kit.phone(browser, server, signal=True) as page:
            open_tree(page, tree)
            expect(page.locator("[data-see] img")).to_have_count(1)  # home's small picture, kept from now on
            page.locator("[data-see]").click()
            image = page.get_by_role("dialog").get_by_role("img")
            says = page.locator("[data-picture-says]")
            fetch = page.get_by_role("button", name=re.compile(r"Fetch the full picture \([0-9.]+ MB\)"))
            expect(image).to_be_visible()
            expect(says).to_have_text("Only the small picture is on this phone.")
            expect(fetch).to_be_visible()
            page.keyboard.press("Escape")
            page.context.set_offline(True)
            page.locator("[data-see]").click()
            expect(says).to_have_text("Only the small picture is on this phone, and home is not in reach.")
            expect(image).to_be_visible()
            expect(fetch).to_be_hidden()
            expect(page.get_by_role("button", name="Ask home again")).to_be_visible()
            page.context.set_offline(False)  # home answers again: the offer comes by itself
            expect(page.get_by_role("button", name="Ask home again")).to_be_hidden()
            page.route(
                "**/api/blob/*", lambda route: route.abort() if route.request.method == "GET" else route.continue_()
            )
            fetch.click()
            expect(says).to_have_text(
                "The full picture did not come through. Try again in a moment. Only the small picture is on this phone."
            )
            page.unroute("**/api/blob/*")
            fetch.click()
            expect(says).to_have_text("")
            expect(fetch).to_be_hidden()
            page.context.set_offline(True)
            page.keyboard.press("Escape")
            page.locator("[data-see]").click()
            expect(image).to_be_visible()
            expect(says).to_have_text("")  # the full one is here


# --- the end ---------------------------------------------------------------------------------------------------------


def say_end(page: Page, as_: str, on: str) -> None:
    page.get_by_role("button", name="It has come to its end").click()
    page.get_by_label(as_).check()
    page.locator('[name="ended_on"]').fill(on)
    page.locator("#tree-end").get_by_role("button", name="Save").click()


@pytest.mark.parametrize(
    ("which", "days", "words"),
    [
        ("one", 1, "has not come yet"),
        ("one", -31, "lies before it was marked"),
        ("lifted", -11, "lies before it was lifted"),
    ],
)
def test_a_tree_ends_on_no_day_that_cannot_be(browser, server, ground, which, days, words):
    with kit.phone(browser, server) as page:
        rec = getattr(ground, which)
        open_tree(page, rec)
        say_end(page, "lost: it died", kit.day(days))
        expect(page.locator("#tree-end .fault:visible")).to_contain_text(words)
        assert fields(page, rec).get("ended_as") is None


@pytest.mark.parametrize(("which", "days"), [("one", 0), ("one", -30), ("lifted", -10)])
def test_the_first_and_the_last_day_a_tree_can_end_on_count_and_undo_takes_it_back(
    browser, server, ground, which, days
):
    with kit.phone(browser, server) as page:
        rec = getattr(ground, which)
        open_tree(page, rec)
        say_end(page, "lost: it died", kit.day(days))
        expect(page.locator(".page-head .state")).to_have_text("lost")
        assert fields(page, rec)["ended_on"] == kit.day(days)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.get_by_role("button", name="It has come to its end")).to_be_visible()
        assert fields(page, rec)["ended_as"] is None


def test_a_lifted_tree_was_not_left_standing(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.lifted)
        page.get_by_role("button", name="It has come to its end").click()
        expect(page.locator('#tree-end [name="ended_as"]')).to_have_count(2)
        expect(page.get_by_label("left standing")).to_have_count(0)


# --- the form --------------------------------------------------------------------------------------------------------


def change(page: Page) -> None:
    page.get_by_role("button", name="Change").click()
    expect(page.locator("#tree-edit")).to_be_visible()


def save(page: Page) -> None:
    page.locator("#tree-edit").get_by_role("button", name="Save").click()


def test_the_form_has_the_conditions_of_mark(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        assert faults_of_axe(page) == []
        page.get_by_label("browsed").check()
        save(page)
        expect(page.locator("#tree-edit")).to_have_count(0)
        assert fields(page, ground.one)["condition"] == "browsed"


def test_a_tag_of_seventeen_signs_is_refused_and_one_of_sixteen_taken(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        page.get_by_label("Tag").fill("K" * 17)
        save(page)
        expect(page.locator("#tree-edit .fault:visible")).to_contain_text("17 characters are too many")
        page.get_by_label("Tag").fill("K" * 16)
        save(page)
        expect(page.locator("#tree-edit")).to_have_count(0)
        assert fields(page, ground.one)["tag"] == "K" * 16


def test_another_tree_s_tag_is_refused_and_it_is_said_whose(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        page.get_by_label("Tag").fill(" k2")
        save(page)
        expect(page.locator("#tree-edit .fault:visible")).to_contain_text("K2 is taken by the birch on Kettle Brae")
        expect(page.get_by_label("Tag")).to_be_focused()
        assert fields(page, ground.one)["tag"] == "K1"


def test_a_kind_of_no_card_is_typed_and_the_page_says_which_card_it_goes_by(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        page.get_by_text("More kinds, or type one").click()
        page.get_by_label("Another kind").fill("  Silver  Fir")
        save(page)
        expect(page.get_by_role("heading", name="silver fir")).to_be_visible()
        assert fields(page, ground.one)["species"] == "silver-fir"
        expect(page.locator("[data-card]")).to_contain_text("No species card is kept for silver fir")
        expect(page.locator("[data-card]")).to_contain_text("cautious card")


def test_what_is_typed_in_the_form_survives_a_killed_app_and_overrules_nothing_unseen(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        page.get_by_role("textbox", name="Note").fill("mine")
        wait_for(lambda: (draft(page, f"tree-{ground.one}") or {}).get("note") == "mine", "the draft is not kept")
        phone_kit.save(page, {"rec": ground.one, "type": "tree", "set": {"note": "theirs"}})
        page.reload()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("mine")
        save(page)
        expect(page.locator(".page-head")).to_contain_text("Two people wrote different things here")
        told = phone_kit.record(page, ground.one)["conflicts"]["note"]
        assert {one["value"] for one in told} == {"mine", "theirs"}
        assert draft(page, f"tree-{ground.one}") is None


def test_a_form_put_away_gives_back_what_was_typed(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        change(page)
        page.get_by_role("textbox", name="Note").fill("by the wall")
        page.get_by_role("button", name="Leave it as it was").click()
        expect(page.locator("#tree-edit")).to_have_count(0)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("by the wall")
        assert fields(page, ground.one)["note"] == "leans"


# --- the page --------------------------------------------------------------------------------------------------------


def test_a_tree_without_a_tag_reads_well(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.bare)
        expect(page.locator("h1")).to_have_text("Kind not known, no tag yet")
        page.get_by_role("button", name="It has come to its end").click()
        expect(page.get_by_role("heading", name="How did the tree end here?")).to_be_visible()
        expect(page.locator("[data-card]")).to_contain_text("Until its kind is noted")


def test_the_word_for_the_stage_is_explained_at_a_tap(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.lifted)
        meaning = page.get_by_text("Out of the ground for less than two weeks.")
        expect(meaning).to_be_hidden()
        page.locator(".stage-fold summary").click()
        expect(meaning).to_be_visible()


def test_where_it_stands_has_its_own_page(browser, server, ground):
    with kit.phone(browser, server) as page:
        open_tree(page, ground.one)
        page.get_by_role("link", name="Take its position").click()
        expect(page.get_by_role("heading", name="Where it stands")).to_be_visible()
        assert page.evaluate("location.hash") == f"#/place/{ground.one}"


def test_what_is_due_says_the_same_words_once_unfolds_and_tells_sources_plainly(browser, server, ground):
    with kit.phone(browser, server) as page:
        task = {"tree": ground.lifted, "site": ground.site, "work": "water", "moved_from": None}
        often = [
            {**task, "id": f"w{n}", "rec": f"w{n}", "from": kit.day(n), "by": kit.day(n), "text": "Water it."}
            for n in (0, 1, 2)
        ]
        rest = [
            {
                **task,
                "id": f"r{n}",
                "rec": f"r{n}",
                "from": kit.day(5),
                "by": kit.day(9),
                "text": f"Look at branch {n}.",
            }
            for n in range(6)
        ]
        often[0]["why"] = "Roots are few (a paper) [seen: abstract]."
        pack(page, tasks=[*often, *rest])
        open_tree(page, ground.lifted)
        due = page.locator("[data-due]")
        expect(due.locator(".entry")).to_have_count(3)
        expect(due.locator(".entry").first).to_contain_text("today, then 2 times more up to")
        due.get_by_text("Why").click()
        expect(due).to_contain_text("Roots are few (a paper) (abstract read).")
        due.get_by_role("button", name="Show 4 more").click()
        expect(due.locator(".entry")).to_have_count(7)
