"""Intake on the walk: places moved on the sketch, the camera's clock, and files that come home in spite of it all."""

from __future__ import annotations

import datetime as dt
import math
import re

import hill_kit as kit
import intake_kit as intake
import pytest
from intake_kit import LAT, LON, STEP_LAT, as_file, at, choose, on_walk, photo, walk
from playwright.sync_api import expect

M_A_DEGREE = 111_360  # of latitude at 55.4 degrees, WGS 84 (hand calculation from the two radii)


@pytest.fixture
def server(empty_home):
    kit.seed(empty_home, kit.Ground())
    return empty_home


@pytest.fixture
def page(at_intake):
    return at_intake


def row(page, name):
    return page.locator("[data-photo]").filter(has_text=name)


def dot(page, n):
    """Return where on the sketch a photo's number stands, in the sketch's own units."""
    mark = page.locator(f'[data-dot="{n}"]')
    return float(mark.get_attribute("data-x")), float(mark.get_attribute("data-y"))


def tap(page, x, y):
    """Tap the sketch, in its own units; once it lies still, for the page may be scrolling to it."""
    page.locator(".intake-sketch").click(position={"x": x, "y": y})


# --- the sketch ---


def test_photos_lie_on_the_walk_and_the_chosen_one_is_marked_in_both_places(page):
    """A photo by the walk from 4 to 8 steps of 10 m, the last in the middle: dots in the same line, evenly apart."""
    choose(page, *(as_file(f"p{n}.jpg", photo(at(n), zone="+00:00")) for n in (4, 6, 8)), as_file("w.gpx", walk(12)))
    places = [dot(page, n) for n in (1, 2, 3)]
    assert max(x for x, _ in places) - min(x for x, _ in places) < 1  # due north
    first, middle, last = (y for _, y in places)
    assert first > middle > last  # north is up
    assert abs((first - middle) - (middle - last)) < 1
    expect(page.locator(".intake-sketch .walk")).to_have_count(1)
    row(page, "p6.jpg").locator("[data-show]").click()
    expect(page.locator('[data-dot="2"]')).to_have_class(re.compile(r"\bchosen\b"))
    expect(page.locator("[data-chosen]")).to_contain_text("Photo 2, p6.jpg")
    row(page, "p8.jpg").hover()
    expect(page.locator('[data-dot="3"]')).to_have_class(re.compile(r"\bhovered\b"))


def test_the_circle_of_a_photo_is_as_large_as_it_is_unsure(page):
    """Two photos 40 m apart give the scale; the circle of one that is 10 m unsure is a quarter of that."""
    choose(page, *(as_file(f"p{n}.jpg", photo(place=on_walk(n), colour=(n, 9, 9))) for n in (0, 4)))
    row(page, "p0.jpg").locator("[data-move]").click()
    page.locator("#place-text").fill("30U 475000 6140000")  # a metre's square: far less than it is drawn
    page.locator("[data-stop-moving]").click()
    apart = dot(page, 1)[1] - dot(page, 2)[1]
    metres = 4 * STEP_LAT * M_A_DEGREE
    row(page, "p4.jpg").locator("[data-move]").click()
    page.locator("#place-text").fill(f"{LAT + 4 * STEP_LAT:.5f} {LON}")
    page.get_by_role("button", name="Set it").click()
    expect(page.locator("[data-chosen]")).to_contain_text("how surely is not known")
    expect(page.locator('[data-unsure="2"]')).to_have_count(0)
    row(page, "p4.jpg").locator("[data-move]").click()
    tap(page, *dot(page, 2))
    circle = page.locator('[data-unsure="2"]')
    expect(circle).to_have_count(1)
    sure = int(page.locator("[data-chosen]").inner_text().split("± ")[1].split(" m")[0])
    assert abs(float(circle.get_attribute("r")) - sure * apart / metres) < 1


def test_a_photo_is_moved_by_a_tap_and_put_back_by_the_walk(page):
    """On a walk due north, a tap half-way between two photos lies half-way between their places."""
    choose(page, *(as_file(f"p{n}.jpg", photo(at(n), zone="+00:00")) for n in (2, 6, 10)), as_file("w.gpx", walk(12)))
    (x1, y1), (x2, y2) = dot(page, 1), dot(page, 2)
    row(page, "p10.jpg").locator("[data-move]").click()
    tap(page, (x1 + x2) / 2, (y1 + y2) / 2)
    expect(row(page, "p10.jpg")).to_contain_text("by hand")
    row(page, "p10.jpg").get_by_role("button", name="Put it back").click()
    expect(row(page, "p10.jpg")).to_contain_text("by the walk, from its time")
    row(page, "p10.jpg").locator("[data-move]").click()
    tap(page, (x1 + x2) / 2, (y1 + y2) / 2)
    page.locator("[data-accept-places]").click()
    page.locator("[data-save]").click()
    kept = intake.kept_in_time(page, ["p2.jpg", "p6.jpg", "p10.jpg"])
    assert [kept[name]["placed_by"] for name in ("p2.jpg", "p6.jpg", "p10.jpg")] == ["track", "track", "hand"]
    north_m = (kept["p10.jpg"]["lat"] - on_walk(4)[0]) * M_A_DEGREE
    east_m = (kept["p10.jpg"]["lon"] - LON) * M_A_DEGREE * math.cos(math.radians(LAT))
    assert math.hypot(north_m, east_m) < 1.5
    assert kept["p10.jpg"]["accuracy_m"] >= 3


def test_a_place_by_hand_is_as_sure_as_it_was_told_and_never_as_the_walk_is(page):
    """A tap is as sure as 8 px on the sketch; degrees tell nothing; of a square the circle with 68 % of its area."""
    choose(page, *(as_file(f"p{n}.jpg", photo(at(n), zone="+00:00")) for n in (2, 12)), as_file("w.gpx", walk(12)))
    (x1, y1), (_, y2) = dot(page, 1), dot(page, 2)
    one = row(page, "p2.jpg")
    expect(one).to_contain_text("by the walk, from its time, ± 10 m")  # on a point of the walk: the receiver's 10 m
    one.locator("[data-move]").click()
    tap(page, x1 + 30, y1)
    metres = max(3, round(8 * 10 * STEP_LAT * M_A_DEGREE / (y1 - y2)))
    expect(one).to_contain_text(f"by hand, ± {metres} m, as near as the tap")
    one.get_by_role("button", name="Put it back").click()
    expect(one).to_contain_text("by the walk, from its time, ± 10 m")
    one.locator("[data-move]").click()
    page.locator("#place-text").fill("55.4030 -3.3970")
    page.get_by_role("button", name="Set it").click()
    expect(one).to_contain_text("by hand, accuracy not known")
    intake.save(page)
    kept = intake.kept_in_time(page, ["p2.jpg", "p12.jpg"])["p2.jpg"]
    assert (kept["placed_by"], kept.get("accuracy_m")) == ("hand", None)


def test_what_is_kept_already_shows_its_kept_place_and_calls_for_nothing(page):
    """One was placed by the walk once its zone was set, one by hand; taken in again, nobody has set that zone."""
    card = [
        as_file("a.jpg", photo(at(3), colour="red")),
        as_file("b.jpg", photo(at(5), colour="blue")),
        as_file("w.gpx", walk(12)),
    ]
    choose(page, *card)
    page.get_by_role("button", name="The camera was set to UTC").click()
    expect(row(page, "b.jpg")).to_contain_text("by the walk")
    row(page, "b.jpg").locator("[data-move]").click()
    page.locator("#place-text").fill("55.4030 -3.3970")
    page.get_by_role("button", name="Set it").click()
    intake.save(page)
    intake.kept_in_time(page, ["a.jpg", "b.jpg"])
    choose(page, *card)
    expect(row(page, "a.jpg")).to_contain_text("by the walk, from its time")
    expect(row(page, "b.jpg")).to_contain_text("by hand, accuracy not known")
    for name in ("a.jpg", "b.jpg"):
        expect(row(page, name)).to_contain_text("Kept already")
        expect(row(page, name)).not_to_contain_text("not placed")
        expect(row(page, name)).not_to_contain_text("camera’s clock")
    expect(page.locator("[data-clock-line]")).to_contain_text("kept already")


def test_several_are_moved_at_once_and_undone_as_one(page):
    choose(page, *(as_file(f"p{n}.jpg", photo(place=on_walk(n), colour=(n, 9, 9))) for n in (0, 4, 8)))
    row(page, "p0.jpg").locator("[data-tick]").check()
    row(page, "p4.jpg").locator("[data-tick]").check()
    page.locator('[data-many="move"]').click()
    page.locator("#place-text").fill("55.4030 -3.3970")
    page.get_by_role("button", name="Set it").click()
    expect(page.locator("[data-photo]").filter(has_text="by hand")).to_have_count(2)
    page.locator(".notice [data-undo]").click()
    expect(page.locator("[data-photo]").filter(has_text="by its own position")).to_have_count(3)


def test_a_place_that_is_none_has_its_sentence_and_moves_nothing(page):
    choose(page, as_file("a.jpg", photo(place=(LAT, LON))))
    page.locator("[data-move]").click()
    page.locator("#place-text").fill("somewhere up there")
    page.get_by_role("button", name="Set it").click()
    expect(page.locator("#place-fault")).to_be_visible()
    assert page.locator("#place-fault").inner_text().endswith(".")
    expect(row(page, "a.jpg")).to_contain_text("by its own position")


# --- the camera's clock ---

SLOW = dt.timedelta(hours=7, minutes=3)  # what the camera lacks


def test_the_estimate_stands_above_the_photos_with_its_spread_and_number(page):
    """Four photos that know their place on the walk, by a camera 7 h 3 min behind; the fifth is placed by it."""
    seen = [as_file(f"p{n}.jpg", photo(at(n) - SLOW, on_walk(n), (n, 9, 9))) for n in (2, 5, 8, 11)]
    choose(page, *seen, as_file("q.jpg", photo(at(6) - SLOW, colour="red")), as_file("w.gpx", walk(14)))
    line = page.locator("[data-clock-line]")
    expect(line).to_contain_text("from 4 photos")
    expect(line).to_contain_text("give or take")
    assert "+7 h 3 min" in line.inner_text() or "+7 h 2 min 5" in line.inner_text()  # within 2 s
    expect(row(page, "q.jpg")).to_contain_text("by the walk, from its time")
    assert line.bounding_box()["y"] < page.locator("[data-photo]").first.bounding_box()["y"]


def test_without_an_estimate_it_says_why(page):
    choose(page, as_file("a.jpg", photo(at(2))), as_file("w.gpx", walk(12)))
    expect(page.locator("[data-clock-line]")).to_contain_text("at least 3 photos")


def test_photos_that_know_their_place_and_zone_are_said_to_tell_nothing_of_the_clock(page):
    seen = [as_file(f"p{n}.jpg", photo(at(n), on_walk(n), (n, 9, 9), zone="+00:00")) for n in (2, 5, 8)]
    choose(page, *seen, as_file("q.jpg", photo(at(6), colour="red")), as_file("w.gpx", walk(12)))
    line = page.locator("[data-clock-line]")
    expect(line).to_contain_text("there are none: of those with a place of their own, 3 tell their time with a zone")


def test_a_photo_of_a_clock_sets_it_and_what_changed_is_said(page):
    """The camera showed 01:57 when the clock showed 09:00: the photos 2 and 6 steps on are then at their places."""
    choose(
        page,
        as_file("0clock.jpg", photo(at(0) - SLOW, colour="white")),
        as_file("p2.jpg", photo(at(2) - SLOW, colour="red")),
        as_file("p6.jpg", photo(at(6) - SLOW, colour="blue")),
        as_file("w.gpx", walk(12)),
    )
    expect(page.locator("[data-photo]").filter(has_text="not placed")).to_have_count(3)
    row(page, "0clock.jpg").locator("[data-see]").click()
    page.get_by_role("button", name="It shows a clock").click()
    expect(page.locator(".clock-photo img")).to_be_visible()
    expect(page.locator(".clock-photo")).to_contain_text("01:57:00")
    page.get_by_label("The time the clock shows").fill("9.00.00")
    page.get_by_label("The zone that clock kept").fill("UTC")
    page.get_by_role("button", name="Place them again").click()
    expect(page.locator("[data-clock-said]")).to_have_text("Placed again: 3 photos have a place now that had none.")
    expect(page.locator("[data-clock-line]")).to_contain_text("+7 h 3 min 0 s")
    expect(page.locator("[data-clock-line]")).to_contain_text("read off the photo of a clock")
    intake.save(page)
    kept = intake.kept_in_time(page, ["0clock.jpg", "p2.jpg", "p6.jpg"])
    for name, steps in (("p2.jpg", 2), ("p6.jpg", 6)):
        assert abs(kept[name]["lat"] - on_walk(steps)[0]) * M_A_DEGREE < 0.1


def test_the_clock_is_set_by_hand_in_hours_minutes_and_seconds(page):
    """A camera set to UTC and 2 min 10 s ahead: put right, the photo lies 13 steps of 10 s earlier on the walk."""
    choose(page, as_file("a.jpg", photo(at(20))), as_file("w.gpx", walk(24)))
    page.get_by_role("button", name="The camera was set to UTC").click()
    expect(row(page, "a.jpg")).to_contain_text("by the walk")
    page.locator("[data-clock-fold] summary").click()
    page.locator("#clock").get_by_label("ahead").check()
    page.locator('#clock [name="minutes"]').fill("2")
    page.locator('#clock [name="seconds"]').fill("10")
    page.get_by_role("button", name="Place them again").click()
    expect(page.locator("[data-clock-said]")).to_have_text("Placed again: 1 photo moved.")
    expect(page.locator("[data-clock-line]")).to_contain_text("−2 min 10 s")
    intake.save(page)
    kept = intake.kept_in_time(page, ["a.jpg"])["a.jpg"]
    assert abs(kept["lat"] - on_walk(7)[0]) * M_A_DEGREE < 0.1


def test_a_zone_that_is_none_has_its_sentence_and_changes_nothing(page):
    choose(page, as_file("a.jpg", photo(at(2))), as_file("w.gpx", walk(12)))
    page.locator("[data-clock-fold] summary").click()
    page.locator("#clock").get_by_label("By hand").check()
    page.locator('#clock [name="zone"]').fill("Nowhere/Atall")
    page.get_by_role("button", name="Place them again").click()
    expect(page.locator(".notice.trouble")).to_be_visible()
    page.reload()
    kit.go(page, "#/intake")
    expect(page.locator("[data-clock-line]")).to_contain_text("at least 3 photos")


# --- bringing them home ---


def many_photos(count):
    return [as_file(f"n{n:04}.jpg", photo(at(n / 10), on_walk(n / 10), (n % 256, n // 256, 80))) for n in range(count)]


def test_a_long_list_is_shown_sixty_at_a_time(page):
    choose(page, *many_photos(130))
    expect(page.locator("[data-photo]")).to_have_count(60)
    page.get_by_role("button", name="Show the next 60").click()
    expect(page.locator("[data-page-words]")).to_have_text("61 to 120 of 130")
    expect(page.locator("[data-photo]").first).to_contain_text("n0060.jpg")
    page.get_by_role("button", name="Show the next 10").click()
    expect(page.locator("[data-photo]")).to_have_count(10)
    page.get_by_role("button", name="Show the 60 before").click()
    expect(page.locator("[data-photo]").first).to_contain_text("n0060.jpg")
    # small pictures only for what is in sight, not for the whole page of the list
    assert page.locator("[data-preview] img").count() < 30
    page.locator("[data-accept-places]").click()
    page.locator("[data-save]").click()
    expect(page.locator("[data-last]")).to_contain_text("130 files are kept at home", timeout=intake.LONGEST_MS)


def test_home_out_of_reach_is_said_and_it_goes_on_by_itself(browser, server):
    with kit.phone(browser, server, viewport=kit.DESK) as page:
        kit.go(page, "#/intake")
        page.locator('input[name="files"]').set_input_files([as_file("a.jpg", photo(place=(LAT, LON)))])
        words = page.locator("[data-run-words]")
        expect(words).to_contain_text("Home is not in reach")
        expect(words).to_contain_text("0 of 1 home")
        expect(page.locator("[data-go-on-now]")).to_be_visible()
        page.context.set_offline(False)
        expect(row(page, "a.jpg")).to_contain_text("by its own position")


def test_a_line_that_breaks_midway_keeps_what_was_sent_and_sends_nothing_twice(browser, server):
    """After ten files the line is cut; then one tap goes on. Each of the 24 files is sent in one piece, once."""
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        pieces: list[str] = []
        line = {"mended": False}

        def spoil(route, request):
            if len(pieces) >= 10 and not line["mended"]:
                route.abort()
                return
            if request.method == "PATCH":
                pieces.append(request.url)
            route.continue_()

        page.route("**/api/blob/*", spoil)
        kit.go(page, "#/intake")
        page.locator('input[name="files"]').set_input_files(many_photos(24))
        expect(page.locator("[data-run-words]")).to_contain_text("10 of 24 home", timeout=intake.LONGEST_MS)
        expect(page.locator("[data-run-words]")).to_contain_text("Home is not in reach")
        line["mended"] = True
        page.locator("[data-go-on-now]").click()
        expect(page.locator("[data-photo]")).to_have_count(24, timeout=intake.LONGEST_MS)
        assert len(pieces) == 24
        assert len(set(pieces)) == 24


def test_what_was_stopped_or_killed_goes_on_and_no_file_is_sent_again(browser, server, tmp_path):
    """Stopped, gone on with; killed, and the same folder chosen again: 24 files, each sent once."""
    folder = tmp_path / "card"
    folder.mkdir()
    for file in many_photos(24):
        (folder / str(file["name"])).write_bytes(file["buffer"])
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        pieces: list[str] = []
        gate = {"open": 6}

        def hold(route, request):
            if request.method == "PATCH" and len(pieces) >= gate["open"]:
                route.abort()
                return
            if request.method == "PATCH":
                pieces.append(request.url)
            route.continue_()

        page.route("**/api/blob/*", hold)
        kit.go(page, "#/intake")
        page.locator('input[name="folder"]').set_input_files(folder)
        expect(page.locator("[data-run-words]")).to_contain_text("6 of 24 home", timeout=intake.LONGEST_MS)
        page.locator("[data-stop]").click()
        expect(page.locator("[data-unsent]")).to_contain_text("6 of 24 files are home")
        gate["open"] = 12
        page.locator("[data-send-rest]").click()
        expect(page.locator("[data-go-on-now]")).to_be_visible(timeout=intake.LONGEST_MS)
        expect(page.locator("[data-run-words]")).to_contain_text("Home is not in reach")
        page.reload()
        kit.go(page, "#/intake")
        expect(page.locator("[data-unsent]")).to_contain_text("of 24 files are home")
        expect(page.locator("[data-unsent]")).to_contain_text("Choose the same files or folder again")
        gate["open"] = 1000
        page.locator('input[name="folder"]').set_input_files(folder)
        expect(page.locator("[data-photo]")).to_have_count(24, timeout=intake.LONGEST_MS)
        assert len(pieces) == 24
        assert len(set(pieces)) == 24


def test_a_file_that_goes_from_its_disk_is_told_and_the_others_come_home(page, tmp_path):
    """A card pulled out: to the browser it looks as if the line had broken."""
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(photo(place=(LAT, LON), colour="red" if name == "a.jpg" else "blue"))
    blocked = {"on": True}
    page.route("**/api/blob/*", lambda route: route.abort() if blocked["on"] else route.continue_())
    page.locator('input[name="files"]').set_input_files([tmp_path / "a.jpg", tmp_path / "b.jpg"])
    expect(page.locator("[data-run-words]")).to_contain_text("Home is not in reach")
    (tmp_path / "a.jpg").unlink()
    blocked["on"] = False
    page.locator("[data-go-on-now]").click()
    expect(row(page, "b.jpg")).to_contain_text("by its own position")
    expect(page.locator('[data-trouble="a.jpg"]')).to_contain_text("could not be read from its disk")
    expect(page.locator("[data-photo]")).to_have_count(1)


# --- which tree ---


def test_near_trees_are_those_within_both_uncertainties_the_likeliest_first(page):
    """Worked by hand: 12 m away with 5 and 4 m unsure; 40 m with 5 and 30 m (95 % radius 49 m); 60 m with the same."""
    trees = [
        {"id": tag, "tag": tag, "place": {"lat": LAT + metres / M_A_DEGREE, "lon": LON, "accuracy_m": accuracy}}
        for tag, metres, accuracy in (("far", 60, 30), ("vague", 40, 30), ("close", 12, 4), ("next", 17, 1))
    ]
    found = page.evaluate(
        """async ([place, trees]) => (await import('/static/js/hill/near_trees.js')).nearTrees(place, trees)""",
        [{"lat": LAT, "lon": LON, "accuracy_m": 5}, [*trees, {"id": "none", "tag": "none", "place": None}]],
    )
    assert [one["tree"] for one in found] == ["close", "vague"]
    assert abs(found[0]["distance_m"] - 12) < 0.1
