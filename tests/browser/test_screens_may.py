"""May I? and Lift as they are read on the hill: whose leave says what, what a yes rests on, the season beside it."""

from __future__ import annotations

import datetime as dt
import re

import hill_kit as kit
import pytest
from home_server import RunningServer, wait_for
from playwright.sync_api import Page, expect

from field.services.build_pack import WINDOW_DAYS

# 0.095 degrees of latitude north of the field; a degree is 111.34 km there (WGS 84 meridian): 10.6 km
FAR = {"latitude": 55.5, "longitude": -3.395, "accuracy": 6}
DRAFT = "async (key) => (await import('/static/js/store.js')).getDraft(key)"


def said(days: int) -> str:
    """Return a date as the screens write it: '3 Feb 2027'."""
    on = dt.date.fromisoformat(kit.day(days))
    return f"{on.day} {on:%b} {on.year}"


@pytest.fixture(scope="module")
def ground():
    return kit.Ground(species=["birch", "larch"], max_girth_mm=450)


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("may") / "data") as running:
        ground.tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240)
        ground.untagged = ground.add("tree", site=ground.site, species="medlar", girth_mm=200)
        gone = ground.add("tree", site=ground.site, tag="K9", species="birch", girth_mm=200)
        ground.add("lift", tree=gone, site=ground.site, leave=ground.leave, lifted_on=kit.day(-2))
        for tree in (ground.tree, ground.untagged):
            ground.add("fix", tree=tree, lat=55.4025, lon=-3.395, accuracy_m=5, source="web-geolocation")
        kit.seed(running, ground)
        yield running


@pytest.fixture(scope="module")
def crowded(tmp_path_factory):
    """Ground of which nobody's leave is good: two in force, two old ones, one not begun, and a consent missing."""
    ground = kit.Ground(species=["rowan"], max_girth_mm=100)
    ground.records[1][2]["phone"] = "+44 0000 000-101"
    estate = ground.add("landholder", name="the estate", role="owner", email="office@estate.example")
    own = {"site": ground.site, "landholder": estate, "form": "signed", "entitled": True}
    ground.nearest = ground.add("leave", **own, species=["rowan"], starts_on=kit.day(-9), ends_on=kit.day(90))
    ground.add("leave", **own, starts_on=kit.day(-400), ends_on=kit.day(-40))
    ground.add("leave", **own, starts_on=kit.day(-90), withdrawn_on=kit.day(-30))
    ground.add("leave", **own, starts_on=kit.day(40), ends_on=kit.day(90))
    ground.add("consent", site=ground.site, kind="tree_order", state="needed")
    ground.tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240)
    ground.add("fix", tree=ground.tree, lat=55.4025, lon=-3.395, accuracy_m=5, source="web-geolocation")
    with RunningServer(tmp_path_factory.mktemp("crowded") / "data") as running:
        kit.seed(running, ground)
        running.ground = ground
        yield running


def codes(page: Page, within: str) -> list[str]:
    return page.locator(f"{within} > .reasons > li").evaluate_all("rows => rows.map(row => row.dataset.code)")


def set_season(page: Page, site: str, windows: list[dict[str, object]]) -> None:
    """Put windows for lifting birch into the pack this phone keeps."""
    page.evaluate(
        """async ([site, windows]) => {
          const store = await import('/static/js/store.js');
          const pack = structuredClone(await store.getPack());
          pack.windows[site].birch.lift = windows;
          await store.putPack('0'.repeat(64), pack);
        }""",
        [site, windows],
    )


def a_window(opens: int, closes: int) -> dict[str, object]:
    return {
        "opens": kit.day(opens),
        "closes": kit.day(closes),
        "hard_close": True,
        "why_opens": "the buds swell (21 days before some day)",
        "why_closes": "leaves show (some other day)",
        "source": "common practice, no source",
    }


def test_reasons_stand_under_the_leave_they_are_of_the_nearest_to_a_yes_first(browser, crowded):
    with kit.phone(browser, crowded) as page:
        kit.go(page, f"#/may-i?tree={crowded.ground.tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
        assert codes(page, ".grounds") == ["consent-missing"]  # once, though it binds every leave
        groups = page.locator(".grounds > .leave-said")
        expect(groups.locator("h3")).to_have_text(["Leave of the estate", "Leave of the farm"])
        expect(groups.nth(0)).to_contain_text(f"{said(-9)} to {said(90)}")
        assert codes(page, f'.leave-said[data-leave="{crowded.ground.nearest}"]') == ["species"]
        assert codes(page, f'.leave-said[data-leave="{crowded.ground.leave}"]') == ["species", "girth"]


def test_leaves_not_in_force_are_folded_away_and_counted(browser, crowded):
    with kit.phone(browser, crowded) as page:
        kit.go(page, f"#/may-i?tree={crowded.ground.tree}")
        fold = page.locator(".old-leaves")
        expect(fold.locator("summary")).to_have_text("2 old leaves, 1 leave not begun yet")
        expect(fold.locator(".leave-said").first).to_be_hidden()
        fold.locator("summary").click()
        expect(fold.locator('[data-code="ended"], [data-code="withdrawn"], [data-code="not-begun"]')).to_have_count(3)


def test_the_landholders_number_can_be_tapped_where_one_is_kept(browser, crowded):
    with kit.phone(browser, crowded) as page:
        kit.go(page, f"#/may-i?tree={crowded.ground.tree}")
        links = page.locator('.grounds a[href^="tel:"]')
        expect(links).to_have_count(1)  # the estate has an e-mail only
        expect(links).to_have_attribute("href", "tel:+440000000101")
        expect(page.locator(f'.leave-said[data-leave="{crowded.ground.leave}"] a')).to_have_count(1)
        nearest = page.locator(f'.leave-said[data-leave="{crowded.ground.nearest}"] a')
        expect(nearest).to_have_attribute("href", "mailto:office@estate.example")
        expect(nearest).to_have_text("Write to office@estate.example")


def test_a_lone_leave_that_has_ended_is_told_not_folded(browser, empty_home):
    ground = kit.Ground(starts_on=kit.day(-90), ends_on=kit.day(-1))
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        kit.go(page, "#/may-i")
        expect(page.locator('.grounds > .leave-said [data-code="ended"]')).to_be_visible()
        expect(page.locator(".old-leaves")).to_have_count(0)
        # A tree dug out all the same was dug out under it: that is what the landholder has to be told.
        under = page.evaluate(
            """async () => {
              const { askLeave } = await import('/static/js/hill/ask_leave.js');
              const ask = (lat) => askLeave({ here: { lat, lon: -3.395, accuracy_m: 6 } });
              return [(await ask(55.4025)).leave, (await ask(55.4065)).leave];
            }"""
        )
        assert under == [ground.leave, None]  # inside, and 167 m outside


def test_between_two_sites_each_says_its_own_also_in_the_kept_answer(browser, empty_home):
    ground = kit.Ground()
    # 0.003 degrees of latitude, 334 m, north of the field; one stands half way between
    ring = [[x, y + 0.008] for x, y in kit.FIELD["coordinates"][0]]
    other = ground.add(
        "site", name="Lower Sike", zone="UTC", boundary={"type": "Polygon", "coordinates": [ring]}, protected=True
    )
    estate = ground.add("landholder", name="the estate", role="owner")
    ground.add("leave", site=other, landholder=estate, starts_on=kit.day(-9), form="signed", entitled=True)
    tree = ground.add("tree", tag="K1", species="birch", girth_mm=240)
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home, where=kit.OUTSIDE) as page:
        kit.go(page, f"#/lift/{tree}")
        expect(page.locator(".grounds > p")).to_have_text(["Kettle Brae", "Lower Sike"])
        expect(page.locator(".leave-said h3")).to_have_text(["Leave of the farm", "Leave of the estate"])
        page.get_by_text("I know this says no: log what was done").click()
        page.get_by_role("button", name="Save lift").click()
        page.get_by_role("link", name="Open K1").click()
        page.get_by_text("The answer as it stood").click()
        expect(page.locator(".grounds > p")).to_have_text(["Kettle Brae", "Lower Sike"])
        expect(page.locator('.leave-said [data-code="outside"]')).to_have_count(2)
        assert codes(page, ".grounds") == ["protected"]  # of the second site's ground, once


def test_a_yes_tells_what_it_rests_on(browser, server, ground):
    with kit.phone(browser, server) as page:
        for screen in (f"#/may-i?tree={ground.tree}", f"#/lift/{ground.tree}"):
            kit.go(page, screen)
            expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
            leave = page.locator(".leave-said")
            expect(leave.locator("h3")).to_have_text("Leave of the farm")
            expect(leave.locator('[data-fact="dates"]')).to_have_text(f"{said(-30)} to {said(200)}")
            expect(leave.locator('[data-fact="kinds"]')).to_have_text("birch and larch; this tree: birch")
            expect(leave.locator('[data-fact="girth"]')).to_have_text("up to 45 cm; this tree: 24 cm")
            expect(leave.locator('[data-fact="number"]')).to_have_text("5 agreed, 1 lifted: 4 trees left")
            expect(leave.locator('[data-fact="form"]')).to_have_text("in writing, signed")


def test_a_yes_tells_what_is_recorded_of_the_ground(browser, server, ground):
    with kit.phone(browser, server) as page:
        for screen in (f"#/may-i?tree={ground.tree}", f"#/lift/{ground.tree}"):
            kit.go(page, screen)
            facts = page.locator(".ground-said")
            expect(facts.locator('[data-fact="protected"]')).to_have_text("no")
            expect(facts.locator('[data-fact="consents"]')).to_have_text("none recorded")
            expect(facts.locator('[data-fact="services"]')).to_have_text(f"checked {said(-10)}")
            expect(facts.locator('[data-fact="digging"]')).to_have_count(0)  # nothing told that a check is needed for


def test_an_ask_names_the_consents_and_the_digging_as_they_were_told(browser, empty_home):
    ground = kit.Ground()
    ground.records[0][2].update(protected=None, services_checked_on=None)
    ground.add("consent", site=ground.site, kind="protected_area", state="held", until=kit.day(90), reference="PA 12")
    ground.add("consent", site=ground.site, kind="felling_licence", state="not_needed")
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        kit.go(page, "#/may-i")
        page.locator("[name=depth_cm]").fill("60")
        page.get_by_text("With a machine", exact=True).click()
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "ask")
        facts = page.locator(".ground-said")
        expect(facts.locator('[data-fact="protected"]')).to_have_text("not recorded")
        expect(facts.locator('[data-fact="consents"]')).to_have_text(
            f"held: protected area, PA 12, until {said(90)}; not needed: felling licence"
        )
        expect(facts.locator('[data-fact="services"]')).to_have_text("not checked")
        expect(facts.locator('[data-fact="digging"]')).to_have_text("with a machine, 60 cm deep")


def test_far_from_its_mark_the_answer_says_whose_place_it_is_for_and_keeps_how_far_off_one_was(browser, server, ground):
    """0.0975 degrees of latitude from the mark at 55.4025: 10.9 km (a degree is 111.34 km there, WGS 84 meridian)."""
    away = "You are 11 km from where K1 was marked: the answer is for its mark, not for where you stand."
    with kit.phone(browser, server, where=FAR) as page:
        kit.go(page, f"#/may-i?tree={ground.tree}")
        expect(page.locator("[data-from-mark]")).to_have_text(away)
        expect(page.locator("[data-place-line]")).to_contain_text("At the mark of K1, ± 5 m, on Kettle Brae")
        kit.go(page, f"#/lift/{ground.tree}")
        expect(page.locator("[data-from-mark]")).to_have_text(away)
        expect(page.locator("[data-place-line]")).to_contain_text("At the mark of K1, ± 5 m, on Kettle Brae")
        expect(page.locator("[data-whose]")).to_have_count(0)  # no reason speaks of a position
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        lift = next(one["fields"] for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.tree)
        assert lift["answer"]["from_tree_m"] == pytest.approx(97.5 * 111.34, abs=20)
        assert (lift["lat"], lift["lon"]) == (55.4025, -3.395)
        page.get_by_role("link", name="Open K1").click()
        page.get_by_text("The answer as it stood").click()
        expect(page.locator("[data-kept-off]")).to_have_text("Written 11 km from where the tree was marked.")
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        expect(page.locator("[data-from-mark]")).to_have_count(0)


def test_a_reason_that_speaks_of_your_position_says_that_it_means_the_mark(browser, empty_home):
    ground = kit.Ground()
    tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240)
    ground.add("fix", tree=tree, lat=55.40503, lon=-3.395, accuracy_m=6, source="web-geolocation")  # as kit.AT_EDGE
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        for screen in (f"#/may-i?tree={tree}", f"#/lift/{tree}"):
            kit.go(page, screen)
            expect(page.locator('[data-code="edge"]')).to_contain_text("Your position is ± 6 m")
            expect(page.locator("[data-whose]")).to_have_text(
                "Where a reason says “you” or “your position”, it means the mark of K1."
            )


def test_the_kept_answer_shows_the_same_and_which_terms_were_not_ticked(browser, server, ground):
    with kit.phone(browser, server) as page:
        set_season(page, ground.site, [a_window(-5, 6)])
        kit.go(page, f"#/lift/{ground.tree}")
        expect(page.locator("[data-season]")).to_have_attribute("data-season", "open")
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        lift = next(one["fields"] for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.tree)
        assert (lift["answer"]["season"]["state"], lift["answer"]["season"]["closes"]) == ("open", kit.day(6))
        page.get_by_role("link", name="Open K1").click()
        page.get_by_text("The answer as it stood").click()
        expect(page.locator('.leave-said [data-fact="number"]')).to_have_text("5 agreed, 1 lifted: 4 trees left")
        expect(page.locator('.terms-kept [data-ticked="no"]')).to_contain_text("close the gates")
        expect(page.locator('.terms-kept [data-ticked="no"]')).to_contain_text("not ticked")
        expect(page.locator(".season")).to_contain_text(f"{said(-5)} to {said(6)}")


def test_the_season_is_told_and_never_part_of_the_answer(browser, server, ground):
    with kit.phone(browser, server) as page:
        set_season(page, ground.site, [a_window(20, 40)])
        kit.go(page, f"#/may-i?tree={ground.tree}")
        season = page.locator("[data-season]")
        opening = f"outside the safe time to lift birch here. It opens {said(20)}: the buds swell."
        expect(season).to_contain_text(opening)
        season.locator("summary").click()
        expect(season).to_contain_text("leaves show")
        expect(season).to_contain_text("Source: common practice, no source")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        page.get_by_label("On which day").fill(kit.day(40))  # the last day of the window is in it
        expect(season).to_contain_text(f"Season: safe to lift birch here, {said(20)} to {said(40)}.")
        page.get_by_label("On which day").fill(kit.day(41))
        expect(season).to_contain_text(f"It closed {said(40)}: leaves show.")


@pytest.mark.parametrize(
    ("screen", "on", "words"),
    [
        ("may-i", 0, "not known, for the kind is not told"),
        ("may-i?tree={tree}", -30, "not known, for the day has passed"),
        ("may-i?tree={untagged}", 0, "not known, for home has no card for medlar"),
    ],
    ids=["no kind", "a past day", "a kind without a card"],
)
def test_a_season_that_is_not_known_is_said_so(browser, server, ground, screen, on, words):
    with kit.phone(browser, server) as page:
        set_season(page, ground.site, [a_window(20, 40)])
        kit.go(page, "#/" + screen.format(tree=ground.tree, untagged=ground.untagged))
        if on:
            page.get_by_label("On which day").fill(kit.day(on))
        expect(page.locator('[data-season="unknown"]')).to_contain_text(words)


def test_the_phone_trusts_the_windows_as_far_as_home_works_them_out(browser, server):
    with kit.phone(browser, server) as page:
        days = page.evaluate("async () => (await import('/static/js/hill/season.js')).WINDOW_DAYS")
        assert days == WINDOW_DAYS


@pytest.mark.parametrize("screen", ["may-i?tree={tree}", "lift/{tree}"], ids=["May I?", "Lift"])
def test_the_answer_stays_in_sight_when_the_page_is_scrolled(browser, server, ground, screen):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/" + screen.format(tree=ground.tree))
        expect(page.locator(".verdict")).to_be_in_viewport()
        short = page.locator(".actions.stuck [data-short-answer]")
        expect(short).to_be_hidden()
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        expect(short).to_be_in_viewport()
        expect(short).to_have_text("Yes")
        expect(short.locator("svg")).to_have_count(1)
        short.click()
        expect(page.locator(".verdict")).to_be_in_viewport()


def test_mark_is_given_the_kind_and_girth_that_were_asked(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/may-i")
        page.locator(".chip", has_text="birch").first.click()
        page.locator('[name="girth_cm"]').fill("31.5")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        # Read at the very change of place: the slot must be full by then, and Mark may empty it right after.
        page.evaluate(
            f"""() => addEventListener('hashchange', () => {{
              globalThis.carried = ({DRAFT})('mark-from-may-i'); }}, {{once: true, capture: true}})"""
        )
        page.get_by_role("button", name="Mark a tree here").click()
        page.locator(".mark h1").wait_for()
        carried = page.evaluate("globalThis.carried")
        assert (carried["species"], carried["girth_cm"]) == ("birch", 31.5)
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", carried["at"])
        expect(page.locator('.mark [name="girth_cm"]')).to_have_value("31.5")
        expect(page.locator('.mark [name="species"]:checked')).to_have_value('"birch"')


def test_far_from_every_site_no_reasons_of_a_far_site_are_told(browser, server):
    with kit.phone(browser, server, where=FAR) as page:
        kit.go(page, "#/may-i")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
        sentence = "None of your sites is near: the nearest is Kettle Brae, 11 km away."
        expect(page.locator("[data-far]")).to_contain_text(sentence)
        expect(page.locator(".reasons > li")).to_have_count(1)
        expect(page.locator(".leave-said")).to_have_count(0)


def test_a_position_that_is_not_allowed_reads_otherwise_than_one_searched_for(browser, server):
    with kit.phone(browser, server, where=None) as page:
        for screen in ("#/may-i", "#/mark"):
            kit.go(page, screen)
            panel = page.locator("[data-position]")
            expect(panel).to_contain_text("switched off")
            expect(panel).to_contain_text("Allow it in the phone’s settings")
            expect(panel).not_to_contain_text("searching")
        kit.go(page, "#/may-i")
        expect(page.locator("[data-no-answer]")).to_contain_text("Without your position there is no answer")
        expect(page.locator("[data-no-answer]")).not_to_contain_text("searching")


def test_a_coarse_position_is_told_with_its_number_at_once(browser, server):
    with kit.phone(browser, server, where={**kit.INSIDE, "accuracy": 240}) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-position]")).to_contain_text("± 240 m, which is too coarse")
        page.evaluate(
            """async () => {
              const place = document.body.appendChild(document.createElement('div'));
              place.id = 'shown';
              (await import('/static/js/ui/position.js')).livePosition(place).show({accuracy_m: 240});
            }"""
        )
        expect(page.locator("#shown .big-number")).to_have_text("± 240 m")
        expect(page.locator("#shown .state")).to_have_text("too coarse")


@pytest.mark.parametrize("typed", ["abc", "-5", "2000"], ids=["no number", "negative", "twenty metres round"])
@pytest.mark.parametrize("screen", ["may-i?tree={tree}", "lift/{tree}"], ids=["May I?", "Lift"])
def test_no_answer_stands_beside_a_girth_that_cannot_be_read(browser, server, ground, screen, typed):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/" + screen.format(tree=ground.tree))
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        page.locator('[name="girth_cm"]').fill(typed)
        expect(page.locator("[data-refused]")).to_contain_text("Girth")
        expect(page.locator(".verdict")).to_have_count(0)
        expect(page.locator('[data-short-answer="none"]')).to_have_count(1)
        page.locator('[name="girth_cm"]').fill("24")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")


def test_a_hole_counts_as_filled_only_when_that_is_said(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        expect(page.get_by_label("The hole is filled")).not_to_be_checked()
        page.get_by_role("button", name="Save lift").click()
        expect(page.locator("[data-hole-open]")).to_have_text("The hole is not noted as filled.")
        saved = next(one["fields"] for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.tree)
        assert saved["hole_filled"] is None
        page.get_by_role("button", name="Undo").click()
        page.get_by_label("The hole is filled").check()
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        expect(page.locator("[data-hole-open]")).to_have_count(0)
        saved = next(one["fields"] for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.tree)
        assert saved["hole_filled"] is True


def test_lift_belongs_to_trees_in_the_bar(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        expect(page.locator('#nav [aria-current="page"]')).to_have_text("Trees")


def test_a_killed_lift_comes_back_whole(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        page.get_by_label("close the gates").check()
        page.get_by_label("The hole is filled").check()
        page.locator('[name="ball_depth_cm"]').fill("30")
        page.locator(".chip", has_text="about half").click()
        page.get_by_role("textbox", name="Note").fill("one thick root to the north")
        page.locator('input[name="photo"]').set_input_files(kit.a_photo())
        expect(page.locator("[data-photos] img")).to_have_count(1)
        kept = f"async (key) => [(await ({DRAFT})(key))?.note, (await ({DRAFT})(`${{key}}-photos`))?.length]"
        wait_for(
            lambda: page.evaluate(kept, f"lift-{ground.tree}") == ["one thick root to the north", 1],
            "the draft is not kept",
        )
        page.context.set_geolocation(None)  # no receiver yet when it opens again: the mark's own position answers
        page.reload()
        expect(page.get_by_label("close the gates")).to_be_checked()
        expect(page.get_by_label("The hole is filled")).to_be_checked()
        expect(page.locator('[name="ball_depth_cm"]')).to_have_value("30")
        expect(page.get_by_label("about half")).to_be_checked()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("one thick root to the north")
        expect(page.locator("[data-photos] img")).to_have_count(1)


def test_ticks_last_while_there_is_no_answer(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        page.get_by_label("close the gates").check()
        page.locator('[name="girth_cm"]').fill("x")
        expect(page.locator("[data-refused]")).to_be_visible()
        page.get_by_role("textbox", name="Note").fill("typed meanwhile")
        page.locator('[name="girth_cm"]').fill("24")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        expect(page.get_by_label("close the gates")).to_be_checked()


def test_a_lift_cannot_lie_ahead(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/lift/{ground.tree}")
        page.get_by_label("Lifted on").fill(kit.day(1))
        expect(page.locator("[data-refused]")).to_contain_text("has not come yet")
        page.get_by_role("button", name="Save lift").click()
        expect(page.locator(".field .fault", has_text="has not come yet")).to_be_visible()
        assert [one for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.tree] == []


def test_a_tree_without_a_tag_reads_well(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/may-i?tree={ground.untagged}")
        expect(page.locator("#may-tree option:checked")).to_contain_text("a tree without a tag, medlar")
        expect(page.locator(".page-head")).to_contain_text("A tree without a tag, medlar")
        expect(page.locator("[data-place-line]")).to_contain_text("At the mark of a tree without a tag")
        kit.go(page, f"#/lift/{ground.untagged}")
        expect(page.locator(".page-head")).to_contain_text("A tree without a tag, medlar")


def test_a_tree_whose_ground_was_never_drawn_is_asked_of_its_own_site(browser, empty_home):
    """Whoever has leave and no map has no "no": whether the tree stands on that ground is what is open."""
    ground = kit.Ground()
    del ground.records[0][2]["boundary"]
    tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240)
    ground.add("fix", tree=tree, lat=55.4025, lon=-3.395, accuracy_m=5, source="web-geolocation")
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        kit.go(page, f"#/may-i?tree={tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "ask")
        assert page.locator(".reasons [data-code]").evaluate_all("all => all.map(one => one.dataset.code)") == [
            "no-boundary"
        ]
        expect(page.locator("[data-place-line]")).to_contain_text("on Kettle Brae")
        kit.go(page, "#/may-i")  # of a place nobody said to be that site's, nothing is known
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
