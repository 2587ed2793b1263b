"""Where it stands: several fixes and what they amount to, every notation, and a position taken by holding still."""

from __future__ import annotations

import re

import hill_kit as kit
import mgrs
import pytest
from killable import KillableBrowser
from place_kit import LAT, LON, OFF_LAT, WGS84, PlaceGround, fixes_of, in_hand, say
from playwright.sync_api import expect
from pyproj import Transformer

from field.core.fix import average_fixes


@pytest.fixture(scope="module")
def ground():
    return PlaceGround()


def save_fixes(page, tree, fixes):
    """Keep fixes of a tree on this phone, one a day: degrees north of LAT, LON and accuracy."""
    page.evaluate(
        """async ([tree, lat, lon, fixes]) => {
          const store = await import('/static/js/store.js');
          const before = (await store.recordsWhere('fix', 'tree', tree)).length;
          await store.saveChanges(fixes.map(([north, accuracy_m], i) => ({type: 'fix', set: {
            tree, lat: lat + north, lon, accuracy_m, source: 'exif',
            fixed_at: `2026-05-0${before + i + 1}T09:00:00.000Z`}})));
        }""",
        [tree, LAT, LON, fixes],
    )


def test_the_position_is_the_mean_of_the_fixes_that_agree(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.several}")
        expect(page.get_by_role("heading", level=1)).to_have_text("Where it stands")
        expect(page.locator("[data-accuracy]")).to_have_text("± 2.9 m")  # 5 / sqrt(3) = 2.887, over half the best
        # Of 0, 2.2 and 2.2 m the middle one is 2.2 m: 0.00002 x 111,346 m (a degree of the meridian at 55.4)
        expect(page.locator("[data-spread]")).to_have_text(
            "From 3 of 4 fixes. Half of them lie within 2.2 m of it, the furthest 2.2 m away."
        )
        expect(page.locator(".notation.first .notation-text")).to_have_text("55.40250, -3.39500")


def test_a_fix_that_disagrees_is_said_and_taken_out_and_put_back(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.several}")
        said = page.get_by_text("The one of 3 May 2026 lies 41 m off and is set aside.")
        expect(said).to_be_visible()
        page.locator(".aside-fix").get_by_role("button", name="Take it out").click()
        expect(said).to_have_count(0)
        expect(page.locator("[data-spread]")).to_contain_text("From 3 fixes.")
        assert ground.stray not in {fix["id"] for fix in kit.records(page, "fix")}
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(said).to_be_visible()
        assert ground.stray in {fix["id"] for fix in kit.records(page, "fix")}


def test_a_fix_that_disagrees_may_be_kept_and_is_not_asked_about_again(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.several}")
        page.locator(".aside-fix").get_by_role("button", name="Keep it").click()
        expect(page.locator(".aside-fix button")).to_have_count(0)
        page.reload()
        expect(page.get_by_text("The one of 3 May 2026 lies 41 m off and is set aside.")).to_be_visible()
        expect(page.locator(".aside-fix button")).to_have_count(0)
        expect(page.locator("[data-accuracy]")).to_have_text("± 2.9 m")


def test_every_fix_is_listed_with_date_source_and_device(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.several}")
        stays = page.locator(".stay")
        expect(stays).to_have_count(4)
        expect(stays.first).to_contain_text("3 May 2026")
        expect(stays.first).to_contain_text("phone’s receiver, Android")
        expect(stays.first).to_contain_text("set aside")
        expect(stays.last).to_contain_text("12 Apr 2026")
        expect(stays.last).to_contain_text("09:00")
        expect(stays.last).to_contain_text("± 5.0 m")


def test_a_tree_with_no_fix_says_so(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.bare}")
        expect(page.get_by_text("No position is kept of this tree yet.")).to_be_visible()
        expect(page.locator(".notation")).to_have_count(0)


def test_the_position_is_written_in_every_notation_that_applies(browser, server, ground):
    lat, lon = ground.point["lat"], ground.point["lon"]
    east, north = Transformer.from_crs(4326, 32630, always_xy=True).transform(lon, lat)
    military = mgrs.MGRS().toMGRS(lat, lon, MGRSPrecision=5)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.surveyed}")
        page.get_by_text("In other notations").click()
        written = {
            row.get_attribute("data-notation"): row.locator(".notation-text").inner_text()
            for row in page.locator(".notation").all()
        }
        assert set(written) == {"decimal", "dms", "utm", "mgrs", "gb_grid"}  # no Irish grid in the south of England
        assert written["decimal"] == "50.57564, -1.29782"  # 5 m: five places
        # 50.57563665 = 50° 34′ 32.2919″, 1.2978227724 = 1° 17′ 52.1620″; 0.1″ is 3 m, under the 5 m known
        assert written["dms"] == "50°34′32.3″N 1°17′52.2″W"
        assert written["utm"].replace(" ", "").startswith("30U")
        assert [int(n) for n in written["utm"].split()[1:3]] == [int(east), int(north)]
        assert written["mgrs"].replace(" ", "") == military
        # 449817.048, 75334.594 by the Helmert step, cut to the ten metres it can vouch for
        assert written["gb_grid"] == "SZ 4981 7533"
        expect(page.get_by_text("This is no navigation or rescue device.")).to_be_visible()


def test_the_notation_a_person_wants_first_is_remembered_and_copied(browser, server, ground):
    with kit.phone(browser, server) as page:
        page.context.grant_permissions(["geolocation", "clipboard-read", "clipboard-write"])
        kit.go(page, f"#/place/{ground.surveyed}")
        page.get_by_text("In other notations").click()
        page.get_by_label("Show first").select_option(label="British grid")
        expect(page.locator(".notation.first .notation-text")).to_have_text("SZ 4981 7533")
        page.reload()
        expect(page.locator(".notation.first .notation-text")).to_have_text("SZ 4981 7533")
        page.locator(".notation.first").get_by_role("button", name="Copy it as British grid").click()
        expect(page.locator(".notice")).to_contain_text("Copied: SZ 4981 7533")
        assert page.evaluate("navigator.clipboard.readText()") == "SZ 4981 7533"


def test_what_is_folded_open_stays_open_when_a_fix_comes_in(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.several}")
        page.get_by_text("In other notations").click()
        page.evaluate(
            """async ([tree, lat, lon]) => (await import('/static/js/store.js')).saveChange({type: 'fix', set: {
              tree, lat, lon, accuracy_m: 5, fixed_at: '2026-05-04T09:00:00.000Z', source: 'track'}})""",
            [ground.several, LAT, LON],
        )
        expect(page.locator("[data-spread]")).to_contain_text("From 4 of 5 fixes.")
        expect(page.locator('.notation[data-notation="mgrs"]')).to_be_visible()
        expect(page.locator(".scatter .used")).to_have_count(4)
        expect(page.locator(".scatter .aside")).to_have_count(1)


def test_a_fix_that_tells_no_accuracy_is_set_aside_beside_one_that_does(browser, server, ground):
    with kit.phone(browser, server) as page:
        save_fixes(page, ground.bare, [(0, 8), (0, 0)])
        kit.go(page, f"#/place/{ground.bare}")
        expect(page.locator("[data-accuracy]")).to_have_text("± 8.0 m")
        said = "The one of 2 May 2026 tells no accuracy beside others that do, and is set aside."
        expect(page.get_by_text(said)).to_be_visible()
        expect(page.locator(".stay").first).to_contain_text("accuracy not known")


def test_a_fix_within_its_own_accuracy_is_said_without_a_question(browser, server, ground):
    with kit.phone(browser, server) as page:
        # 7.8 m off: over 3 MAD, within 1.62 x (5 + 2.9) = 12.8 m
        save_fixes(page, ground.bare, [(0, 5), (0.00001, 5), (-0.00001, 5), (0.00007, 5)])
        kit.go(page, f"#/place/{ground.bare}")
        said = "The one of 4 May 2026 lies 8 m off, within what both claim; the mean goes by the closer group."
        expect(page.get_by_text(said)).to_be_visible()
        expect(page.locator(".aside-fix")).to_have_count(0)


def test_two_fixes_that_contradict_each_other_are_not_passed_off_as_good(browser, server, ground):
    with kit.phone(browser, server) as page:
        save_fixes(page, ground.bare, [(0, 5), (OFF_LAT - LAT, 5)])
        kit.go(page, f"#/place/{ground.bare}")
        # 41 m apart, so 20.5 m from the middle; 1.62 x (5 + 3.5) = 13.8 m
        expect(page.locator("[data-quarrel]")).to_contain_text("They do not agree: they lie up to 21 m from the middle")
        save_fixes(page, ground.bare, [(0.00001, 5)])
        expect(page.locator("[data-quarrel]")).to_have_count(0)
        expect(page.get_by_text("lies 40 m off and is set aside.")).to_be_visible()  # the mean went 0.5 m its way


def test_a_lifted_tree_stood_there_and_a_clients_tree_stands(browser, server, ground):
    with kit.phone(browser, server) as page:
        lifted, client = page.evaluate(
            """async (on) => {
              const store = await import('/static/js/store.js');
              const [lifted, client] = [store.newId(), store.newId()];
              await store.saveChanges([
                {rec: lifted, type: 'tree', set: {tag: 'L1', origin: 'lifted'}},
                {type: 'lift', set: {tree: lifted, lifted_on: on}},
                {rec: client, type: 'tree', set: {tag: 'C1', origin: 'client'}}]);
              return [lifted, client];
            }""",
            kit.day(-5),
        )
        kit.go(page, f"#/place/{lifted}")
        expect(page.get_by_role("heading", level=1)).to_have_text("Where it stood")
        kit.go(page, f"#/place/{client}")
        expect(page.get_by_role("heading", level=1)).to_have_text("Where it stands")


DRAFT_HOLDS = """async ([key, count]) =>
  (await (await import('/static/js/store.js')).getDraft(key))?.kept.length === count"""


# --- holding still ---------------------------------------------------------------------------------------------------


def test_holding_still_takes_fixes_a_second_apart_and_gets_better(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        say(page, 0, 8)
        expect(page.locator("[data-steady-accuracy]")).to_have_text("± 8.0 m")
        expect(page.locator("[data-steady-count]")).to_have_text("1 fix")
        say(page, 0.9, 5)  # too soon
        say(page, 1, 60)
        expect(page.locator("[data-steady-latest]")).to_contain_text("± 60 m")
        expect(page.locator("[data-steady-latest]")).to_contain_text("poor")
        for after_s, accuracy in ((2, 6), (3, 5), (4, 5)):
            say(page, after_s, accuracy)
        expect(page.locator("[data-steady-count]")).to_have_text("5 fixes in 4 s")
        # 1 / sqrt(1/64 + 1/3600 + 1/36 + 1/25 + 1/25) = 2.843; half the best is 2.5
        expect(page.locator("[data-steady-accuracy]")).to_have_text("± 2.8 m")
        expect(page.locator(".steady-fixes li")).to_have_text(
            ["± 8.0 m", "± 60 m, poor", "± 6.0 m", "± 5.0 m", "± 5.0 m"]
        )


def test_what_was_held_still_is_saved_as_the_receiver_said_it_and_home_comes_to_the_same(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        said = [(LAT, 6), (LAT + 0.00003, 4), (LAT - 0.00001, 5), (LAT + 0.0005, 4)]
        for i, (lat, accuracy) in enumerate(said):
            say(page, i, accuracy, lat)
        expect(page.locator("[data-steady-aside]")).to_have_text("1 fix lies off and is set aside.")
        page.get_by_role("button", name="Stop and save").click()
        expect(page.locator("[data-spread]")).to_contain_text("From 3 of 4 fixes.")
        assert page.evaluate("listening()") == 0
        saved = fixes_of(page, ground.bare)
        assert sorted((fix["lat"], fix["accuracy_m"]) for fix in saved) == sorted(said)
        assert {fix["source"] for fix in saved} == {"web-geolocation"}
        visits = {visit["id"]: visit["fields"] for visit in kit.records(page, "visit")}
        [visit] = {fix["visit"] for fix in saved}
        assert (visits[visit]["site"], visits[visit]["visited_on"]) == (ground.site, kit.day())
        # weights 1/36, 1/16, 1/25 in all 0.1302778: (3/16 - 1/25) / 0.1302778 = 1.1322 of 0.00001 degrees
        # 1 / sqrt(0.1302778) = 2.7705 m
        expect(page.locator("[data-accuracy]")).to_have_text("± 2.8 m")
        expect(page.locator(".notation.first .notation-text")).to_have_text("55.40251, -3.39500")
        at_home = average_fixes(saved)
        assert abs(at_home.lat - (LAT + 1.1322e-5)) < 1e-9
        assert abs(at_home.accuracy_m - 2.7705) < 0.0005
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.get_by_text("No position is kept of this tree yet.")).to_be_visible()


def test_a_long_stay_keeps_few_fixes_and_the_best_of_them(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        for i in range(13):
            say(page, i, 4 if i == 7 else 9)
        expect(page.locator("[data-steady-count]")).to_contain_text("13 fixes in 12 s, of which 7 are kept")
        # of 0-1, 2-3, 4-5, 6-7 and so on the better one, the earlier of equals: the seventh after the start stays
        expect(page.locator(".steady-fixes li")).to_have_text(["± 9.0 m"] * 3 + ["± 4.0 m"] + ["± 9.0 m"] * 3)
        say(page, 13, 9)  # from here on they are two seconds apart
        say(page, 14, 9)
        expect(page.locator("[data-steady-count]")).to_contain_text("14 fixes in 14 s, of which 8 are kept")


def test_what_was_collected_survives_a_killed_app_and_is_saved_once(browser, server, ground):
    key = f"place-steady-{ground.bare}"
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        say(page, 0, 6)
        say(page, 1, 6)
        expect(page.locator("[data-steady-count]")).to_have_text("2 fixes in 1 s")
        page.wait_for_function(DRAFT_HOLDS, arg=[key, 2])
        draft = page.evaluate("async (key) => (await import('/static/js/store.js')).getDraft(key)", key)
        page.reload()
        expect(page.locator("[data-steady]")).to_contain_text("2 fixes from")
        page.get_by_role("button", name="Save them").click()
        expect(page.locator("[data-spread]")).to_contain_text("From 2 fixes.")
        # killed between the save and the end of the draft, it is offered once more
        page.evaluate(
            "async ([key, draft]) => (await import('/static/js/store.js')).saveDraft(key, draft)", [key, draft]
        )
        page.reload()
        page.get_by_role("button", name="Save them").click()
        expect(page.get_by_role("button", name="Hold still")).to_be_visible()
        assert len(fixes_of(page, ground.bare)) == 2


def test_fixes_put_away_come_back_by_undo(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        say(page, 0, 6)
        page.get_by_role("button", name="Put away").click()
        expect(page.get_by_role("button", name="Hold still")).to_be_visible()
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator("[data-steady]")).to_contain_text("1 fix from")
        assert fixes_of(page, ground.bare) == []


def test_holding_still_far_from_the_kept_position_asks_whether_it_is_the_tree(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}")
        page.get_by_role("button", name="Hold still").click()
        _, lat, _ = WGS84.fwd(LON, LAT, 180, 30)  # over 1.62 x (5 + 2.9) = 12.8 m
        say(page, 0, 5, lat)
        expect(page.locator("[data-steady-advice]")).to_contain_text("lies 30 m from here")
        say(page, 1, 5, lat + 0.0003)  # 33 m on
        expect(page.locator("[data-steady-advice]")).to_contain_text("You seem to have moved")


def test_holding_still_works_with_the_browsers_own_receiver(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        expect(page.locator("[data-steady-accuracy]")).to_have_text("± 6.0 m")
        page.get_by_role("button", name="Stop and save").click()
        expect(page.locator("[data-spread]")).to_contain_text("From one fix.")
        [fix] = fixes_of(page, ground.bare)
        assert (fix["lat"], fix["lon"], fix["accuracy_m"]) == (LAT, LON, 6)


def test_a_position_that_is_not_allowed_is_told_with_its_cure(browser, server, ground):
    with kit.phone(browser, server, where=None) as page:
        kit.go(page, f"#/place/{ground.several}?back")
        cure = re.compile("Allow it in the phone’s settings")
        expect(page.locator("[data-back-live]")).to_have_text(cure)
        page.get_by_role("button", name="Hold still").click()
        expect(page.locator("[data-steady-live]")).to_have_text(cure)
        page.get_by_role("button", name="Stop and save").click()
        expect(page.locator(".notice")).to_contain_text("There is no fix yet.")


def test_what_was_collected_outlives_a_killed_browser(
    playwright_driver, chromium_path, chromium_args, server, ground, tmp_path
):
    phone = KillableBrowser(playwright_driver, chromium_path, chromium_args, tmp_path / "profile")
    try:
        page = phone.open(server.url)
        kit.pair(page, kit.code_for(server))
        in_hand(page, f"#/place/{ground.bare}")
        page.get_by_role("button", name="Hold still").click()
        say(page, 0, 6)
        say(page, 1, 7)
        page.wait_for_function(DRAFT_HOLDS, arg=[f"place-steady-{ground.bare}", 2])
        phone.kill()
        page = phone.open(f"{server.url}/#/place/{ground.bare}")
        expect(page.locator("[data-steady]")).to_contain_text("2 fixes from")
        page.get_by_role("button", name="Save them").click()
        expect(page.locator("[data-spread]")).to_contain_text("From 2 fixes.")
        assert sorted(fix["accuracy_m"] for fix in fixes_of(page, ground.bare)) == [6, 7]
    finally:
        phone.kill()
