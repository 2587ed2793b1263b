"""Intake: files go home, are placed and looked over; a bad one has its sentence; nothing is attached by itself."""

from __future__ import annotations

from pathlib import Path

import hill_kit as kit
import intake_kit as intake
import pytest
from intake_kit import LAT, LON, as_file, choose, photo
from killable import KillableBrowser
from playwright.sync_api import expect

HERE = Path(__file__).resolve().parent
FILES = HERE.parent / "files"


@pytest.fixture
def ground():
    ground = kit.Ground()
    ground.one = ground.add("tree", site=ground.site, tag="K1", species="birch", marked_on=kit.day(-3))
    ground.add("fix", tree=ground.one, lat=LAT, lon=LON, accuracy_m=4)
    return ground


@pytest.fixture
def server(empty_home, ground):
    kit.seed(empty_home, ground)
    return empty_home


@pytest.fixture
def page(at_intake):
    return at_intake


def test_a_photo_with_a_place_is_offered_its_tree_and_kept_when_accepted(page, ground):
    choose(page, as_file("a.jpg", photo(place=(LAT, LON))))
    row = page.locator("[data-photo]")
    expect(row).to_contain_text("by its own position")
    expect(row.locator("[data-preview] img")).to_be_visible()
    accept = row.locator("[data-accept]")
    expect(accept).to_have_attribute("aria-pressed", "false")
    accept.click()
    expect(row.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Save 1 file").click()
    last = page.locator("[data-last]")
    expect(last).to_contain_text("1 file is kept at home")
    expect(last.get_by_role("link", name="K1")).to_have_attribute("href", f"#/tree/{ground.one}")
    expect(last).to_contain_text("1 photo")
    kept = intake.kept_in_time(page, ["a.jpg"])["a.jpg"]
    assert (kept["tree"], kept["site"], kept["placed_by"]) == (ground.one, ground.site, "exif")


def test_with_two_trees_near_nothing_is_attached_by_itself(browser, empty_home, ground):
    two = ground.add("tree", site=ground.site, tag="K2", species="birch", marked_on=kit.day(-3))
    ground.add("fix", tree=two, lat=LAT + 0.00003, lon=LON, accuracy_m=4)  # 3.3 m to the north
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/intake")
        choose(page, as_file("a.jpg", photo(place=(LAT, LON))))
        expect(page.locator("[data-accept]")).to_have_count(2)
        expect(page.locator("[data-accept]").first).to_contain_text("K1")  # the likelier first
        expect(page.locator("[data-accept-plain]")).to_have_count(0)
        intake.save(page)
        expect(page.locator("[data-last]")).to_contain_text("Without a tree")
        assert intake.kept_in_time(page, ["a.jpg"])["a.jpg"].get("tree") is None


def test_bad_files_each_have_their_sentence_and_the_good_one_goes_on(page):
    choose(
        page,
        as_file("good.jpg", photo(place=(LAT, LON))),
        as_file("notes.jpg", b"these are words and no picture"),
        as_file("empty.jpg", b""),
        as_file("page.gpx", (FILES / "gpx" / "html.gpx").read_bytes()),
    )
    expect(page.locator("[data-photo]")).to_have_count(1)
    bad = page.locator("[data-bad] [data-trouble]")
    expect(bad).to_have_count(3)
    for name in ("notes.jpg", "empty.jpg", "page.gpx"):
        sentence = page.locator(f'[data-trouble="{name}"] p').nth(1).inner_text()
        assert sentence.endswith(".")
    intake.save(page)
    assert list(intake.kept_in_time(page, ["good.jpg"])) == ["good.jpg"]


def test_what_is_kept_already_says_where_and_is_not_taken_twice(page, ground):
    content = photo(place=(LAT, LON), colour="red")
    choose(page, as_file("a.jpg", content))
    page.locator("[data-accept]").click()
    page.locator("[data-save]").click()
    expect(page.locator("[data-last]")).to_be_visible()
    choose(page, as_file("again.jpg", content))
    row = page.locator("[data-photo]")
    expect(row).to_contain_text("Kept already, on K1")
    expect(row.get_by_role("link", name="K1")).to_have_attribute("href", f"#/tree/{ground.one}")
    expect(page.locator("[data-save]")).to_be_disabled()


def test_what_was_not_taken_stands_above_the_list_and_is_said_until_it_is_put_away(page):
    """Five that are none and one that is a photo: three are named, two are folded; saving changes nothing of that."""
    bad = [as_file(f"notes{n}.jpg", f"words {n}".encode()) for n in range(5)]
    choose(page, as_file("good.jpg", photo(place=(LAT, LON))), *bad)
    sheet = page.locator("[data-bad]")
    expect(sheet).to_contain_text("Not taken: 5")
    expect(sheet.locator("details")).to_contain_text("2 more")
    assert sheet.bounding_box()["y"] < page.locator("[data-photo]").bounding_box()["y"]
    intake.save(page)
    intake.kept_in_time(page, ["good.jpg"])
    page.reload()
    kit.go(page, "#/intake")
    expect(sheet).to_contain_text("Not taken: 5")
    for n in range(5):
        expect(sheet.locator(f'[data-trouble="notes{n}.jpg"]')).to_have_count(1)
    sheet.get_by_role("button", name="Put this away").click()
    expect(sheet).to_have_count(0)


def test_the_last_intake_is_told_by_what_its_photos_are_now(page):
    choose(
        page,
        as_file("a.jpg", photo(place=(LAT, LON), colour="red")),
        as_file("b.jpg", photo(place=(LAT, LON), colour="blue")),
    )
    intake.save(page)
    intake.kept_in_time(page, ["a.jpg", "b.jpg"])
    last = page.locator("[data-last]")
    expect(last.locator("li").filter(has_text="Without a tree")).to_contain_text("2 photos")
    page.locator("[data-loose]").filter(has_text="a.jpg").locator("[data-give]").click()
    expect(last.locator("li").filter(has_text="Without a tree")).to_contain_text("1 photo")
    expect(last.locator("li").filter(has_text="K1")).to_contain_text("1 photo")
    page.locator("[data-loose]").filter(has_text="b.jpg").locator("[data-delete-loose]").click()
    expect(last).to_contain_text("1 file is kept at home; 1 was deleted since")
    expect(last.locator("li").filter(has_text="Without a tree")).to_have_count(0)


def test_the_tree_chooser_has_its_ways_out_first_then_what_is_near_then_the_rest(browser, empty_home, ground):
    far = ground.add("tree", site=ground.site, tag="K2", species="birch", marked_on=kit.day(-3))
    ground.add("fix", tree=far, lat=LAT + 0.0018, lon=LON, accuracy_m=4)  # 200 m to the north
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/intake")
        choose(page, as_file("a.jpg", photo(place=(LAT, LON))))
        page.locator("[data-other]").click()
        box = page.get_by_role("dialog")
        parts = [
            box.get_by_role("button", name="No tree"),
            box.locator("[data-near] [data-pick]"),
            box.get_by_label("Tag, kind or site"),
            box.locator("[data-found] [data-pick]"),
        ]
        tops = [part.bounding_box()["y"] for part in parts]
        assert tops == sorted(tops)
        assert box.get_by_role("button", name="Not now").bounding_box()["y"] < tops[1]
        expect(parts[1]).to_contain_text("K1")
        expect(parts[3]).to_contain_text("K2")
        parts[3].click()
        page.locator("[data-save]").click()
        assert intake.kept_in_time(page, ["a.jpg"])["a.jpg"]["tree"] == far


def test_a_place_that_is_not_accepted_can_wait(page, ground):
    """Two photos 200 m apart; the first is accepted with its tree, the other stays to be looked at."""
    choose(
        page,
        as_file("near.jpg", photo(place=(LAT, LON), colour="red")),
        as_file("far.jpg", photo(place=intake.on_walk(20), colour="blue")),
    )
    page.locator("[data-accept]").click()
    page.locator("[data-save]").click()
    expect(page.get_by_role("dialog")).to_contain_text("One place is not accepted yet")
    page.get_by_role("button", name="Save the other 1 photo").click()
    expect(page.locator("[data-last]")).to_contain_text("1 file is kept")
    intake.kept_in_time(page, ["near.jpg"])
    expect(page.locator("[data-photo]").filter(has_text="far.jpg")).to_contain_text("by its own position")
    page.locator("[data-accept-places]").click()
    page.locator("[data-save]").click()
    assert set(intake.kept_in_time(page, ["near.jpg", "far.jpg"])) == {"near.jpg", "far.jpg"}


def test_what_is_left_out_stays_out_until_it_is_wanted(page):
    choose(page, as_file("a.jpg", photo(place=(LAT, LON))), as_file("dog.jpg", photo(colour="brown")))
    dog = page.locator("[data-photo]").filter(has_text="dog.jpg")
    dog.locator("[data-leave-out]").click()
    expect(dog).to_contain_text("left out of this intake")
    expect(page.locator("[data-save]")).to_have_text("Save 1 file")
    dog.locator("[data-leave-out]").click()
    expect(page.locator("[data-save]")).to_have_text("Save 2 files")


def test_any_tree_can_be_chosen_by_its_tag(page, ground):
    choose(page, as_file("a.jpg", photo(colour="grey")))
    page.locator("[data-other]").click()
    page.get_by_label("Tag, kind or site").fill("kettle k1")
    page.get_by_role("dialog").get_by_role("button", name="K1").click()
    expect(page.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
    page.locator("[data-save]").click()
    assert intake.kept_in_time(page, ["a.jpg"])["a.jpg"]["tree"] == ground.one


def test_the_whole_intake_is_taken_back_as_one_also_after_the_page_was_left(page):
    choose(
        page,
        as_file("a.jpg", photo(place=(LAT, LON), colour="red")),
        as_file("b.jpg", photo(place=(LAT, LON), colour="blue")),
        as_file("walk.gpx", intake.walk(12)),
    )
    page.locator("[data-photo]").filter(has_text="a.jpg").locator("[data-accept]").click()
    intake.save(page)
    last = page.locator("[data-last]")
    expect(last).to_contain_text("3 files are kept at home")
    expect(last.locator("li").filter(has_text="K1")).to_contain_text("1 photo")
    expect(last.locator("li").filter(has_text="Without a tree")).to_contain_text("1 photo")
    expect(last.locator("li").filter(has_text="Walks")).to_contain_text("1 walk")
    intake.kept_in_time(page, ["a.jpg", "b.jpg"])
    page.reload()
    kit.go(page, "#/intake")
    page.locator("[data-take-back]").click()
    intake.kept_in_time(page, [])
    assert kit.records(page, "track") == []
    # and what had been chosen is there to be looked over again
    expect(page.locator("[data-last]")).to_have_count(0)
    row = page.locator("[data-photo]").filter(has_text="a.jpg")
    expect(row.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("[data-save]")).to_have_text("Save 3 files")


def test_nothing_of_an_intake_is_lost_when_the_tab_is_closed(page):
    choose(
        page,
        as_file("a.jpg", photo(place=(LAT, LON), colour="red")),
        as_file("b.jpg", photo(intake.at(3), colour="blue")),
        as_file("walk.gpx", intake.walk(12)),
    )
    page.locator("[data-photo]").filter(has_text="a.jpg").locator("[data-accept]").click()
    page.get_by_role("button", name="The camera was set to UTC").click()
    moved = page.locator("[data-photo]").filter(has_text="b.jpg")
    expect(moved).to_contain_text("by the walk")
    moved.locator("[data-move]").click()
    page.locator("#place-text").fill("55.4040 -3.3960")
    page.get_by_role("button", name="Set it").click()
    expect(moved).to_contain_text("by hand")
    page.reload()
    kit.go(page, "#/intake")
    expect(moved).to_contain_text("by hand")
    expect(page.locator("[data-clock-line]")).to_contain_text("UTC")
    expect(page.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
    page.locator("[data-save]").click()
    kept = intake.kept_in_time(page, ["a.jpg", "b.jpg"])["b.jpg"]
    assert (kept["lat"], kept["lon"], kept["placed_by"]) == (55.404, -3.396, "hand")
    assert kept["taken_at"] == intake.at(3).strftime("%Y-%m-%dT%H:%M:%S.000Z")


def test_photos_without_a_tree_are_given_one_or_deleted_and_each_can_be_undone(browser, empty_home, ground):
    ground.add("photo", sha256="0" * 64, file_name="loose.jpg", lat=LAT, lon=LON, accuracy_m=5)
    ground.add("photo", sha256="1" * 64, file_name="other.jpg")
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home, viewport=kit.DESK) as page:  # its radio is off: from the phone's own records
        kit.go(page, "#/intake")
        expect(page.get_by_role("heading", name="Photos without a tree: 2")).to_be_visible()
        row = page.locator("[data-loose]").filter(has_text="loose.jpg")
        row.locator("[data-give]").click()
        expect(page.get_by_role("heading", name="Photos without a tree: 1")).to_be_visible()
        assert intake.photos_kept(page)["loose.jpg"]["tree"] == ground.one
        page.locator(".notice [data-undo]").click()
        expect(page.get_by_role("heading", name="Photos without a tree: 2")).to_be_visible()
        assert intake.photos_kept(page)["loose.jpg"]["tree"] is None
        row.locator("[data-delete-loose]").click()
        expect(page.get_by_role("heading", name="Photos without a tree: 1")).to_be_visible()
        assert list(intake.photos_kept(page)) == ["other.jpg"]
        page.locator(".notice").filter(has_text="is deleted").locator("[data-undo]").click()
        expect(row).to_be_visible()


def test_an_intake_whose_answer_was_lost_is_found_again_and_can_be_taken_back(page):
    """Home keeps it, the answer never comes: the next reading tells, and nothing is kept twice."""
    lost = []

    def lose(route):
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    page.route("**/api/intake/save", lose)
    choose(page, as_file("a.jpg", photo(place=(LAT, LON))))
    intake.save(page)
    expect(page.locator("[data-last]")).to_contain_text("1 file is kept at home")
    assert lost == [200]
    intake.kept_in_time(page, ["a.jpg"])
    page.locator("[data-take-back]").click()
    intake.kept_in_time(page, [])


@pytest.fixture
def phone(playwright_driver, chromium_path, chromium_args, tmp_path):
    browser = KillableBrowser(playwright_driver, chromium_path, chromium_args, tmp_path / "profile")
    yield browser
    browser.kill()


def test_what_was_chosen_outlives_a_browser_that_is_killed(phone, server):
    page = phone.open(server.url)
    kit.pair(page, kit.code_for(server))
    kit.go(page, "#/intake")
    choose(page, as_file("a.jpg", photo(place=(LAT, LON), colour="red")), as_file("b.jpg", photo(colour="blue")))
    page.locator("[data-accept]").click()
    page.locator("[data-photo]").filter(has_text="b.jpg").locator("[data-leave-out]").click()
    expect(page.locator("[data-save]")).to_have_text("Save 1 file")
    page.evaluate(
        "async () => (await import('/static/js/store.js')).saveDraft('after', 1)"
    )  # what was before is written
    phone.kill()
    page = phone.open(server.url)
    kit.go(page, "#/intake")
    expect(page.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("[data-photo]").filter(has_text="b.jpg")).to_contain_text("left out of this intake")
    expect(page.locator("[data-save]")).to_have_text("Save 1 file")


def test_a_photo_placed_by_hand_is_offered_the_trees_that_are_near_there(page, ground):
    choose(page, as_file("a.jpg", photo(colour="grey")))
    expect(page.locator("[data-accept]")).to_have_count(0)
    page.get_by_role("button", name="Place it").first.click()
    page.locator("#place-text").fill(f"{LAT} {LON}")
    page.get_by_role("button", name="Set it").click()
    page.locator("[data-accept]").click()
    page.locator("[data-save]").click()
    kept = intake.kept_in_time(page, ["a.jpg"])["a.jpg"]
    assert (kept["tree"], kept["lat"], kept["lon"]) == (ground.one, LAT, LON)


def test_a_folders_own_notes_are_passed_over(page, tmp_path):
    card = tmp_path / "card"
    (card / ".trash").mkdir(parents=True)
    (card / "a.jpg").write_bytes(photo(place=(LAT, LON)))
    (card / ".hidden").write_bytes(b"a note of the machine's own")
    (card / ".trash" / "old.jpg").write_bytes(photo(colour="red"))
    page.locator('input[name="folder"]').set_input_files(card)
    expect(page.locator("[data-photo]")).to_have_count(1)
    expect(page.locator("[data-bad]")).to_have_count(0)


def test_what_is_chosen_while_the_page_is_drawn_anew_is_taken(page):
    """The picker stands open; meanwhile home was asked again and the page was drawn."""
    choose(page, as_file("a.jpg", photo(place=(LAT, LON), colour="red")))
    with page.expect_file_chooser() as opened:
        page.get_by_text("Choose files").click()
    page.locator("[data-clock-fold] summary").click()
    page.get_by_role("button", name="Place them again").click()
    expect(page.locator("[data-clock-said]")).to_be_visible()
    opened.value.set_files([as_file("b.jpg", photo(place=(LAT, LON), colour="blue"))])
    expect(page.locator("[data-photo]").filter(has_text="b.jpg")).to_be_visible()
