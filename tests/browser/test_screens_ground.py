"""Ground, leave, house and what home has: drawn, written, faulted, taken back, settled; and their small parts."""

from __future__ import annotations

import re
from pathlib import Path

import hill_kit as kit
import pytest
from playwright.sync_api import expect
from pyproj import Geod, Transformer

HERE = Path(__file__).resolve().parent
GEOD = Geod(ellps="WGS84")
SQUARE_MIDDLES = [(311405, 613045), (312035, 613045)]  # of NT 1140 1304 and NT 1203 1304


@pytest.fixture(scope="module")
def looking(browser, server):
    """A paired phone that saves nothing."""
    with kit.phone(browser, server) as page:
        yield page


# --- writing: each test has a phone of its own -----------------------------------------------------------------------


def test_a_site_is_drawn_by_degrees_by_walking_and_by_the_maps_middle(browser, server) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/site/new")
        page.get_by_role("button", name="Save the site").click()
        expect(page.get_by_text("Name of the site is needed.")).to_be_visible()
        page.get_by_label("Name of the site").fill("Skelf Bank")
        page.get_by_role("button", name="Save the site").click()
        page.get_by_role("button", name="Draw the boundary").click()
        expect(page.locator(".map-paper .me-mark")).to_have_count(1)
        for lat, lon in (("55.40", "-3.40"), ("55.41", "-3.40"), ("55.41", "-3.38")):
            page.get_by_role("button", name="Corner here").click()
            page.locator("[data-corner]").last.click()
            page.get_by_label("Latitude").fill(lat)
            page.get_by_label("Longitude").fill(lon)
            page.get_by_role("button", name="Set these degrees").click()
        sides = """() => ['.map.drawing', '.corner-editor .stuck'].map((one) => {
          const { top, bottom } = document.querySelector(one).getBoundingClientRect();
          return [top, bottom];
        })"""
        page.locator(".corner-editor").evaluate("panel => panel.scrollIntoView({ block: 'end' })")
        [top, bottom], [acts, end] = page.evaluate(sides)
        assert 48 <= top < bottom < acts < end <= 844, "map and buttons stay while the rest goes by between them"
        page.locator("[data-act=save]").click()
        expect(page.get_by_role("button", name="Change the boundary")).to_be_visible()
        frame, line = (page.locator(one).bounding_box() for one in (".map", ".site-line"))
        assert frame["x"] <= line["x"]
        assert line["x"] + line["width"] <= frame["x"] + frame["width"]
        assert frame["y"] <= line["y"]
        assert line["y"] + line["height"] <= frame["y"] + frame["height"], "the whole ground is in view"
        [site] = [one for one in kit.records(page, "site") if one["fields"]["name"] == "Skelf Bank"]
        assert site["fields"]["boundary"] == {
            "type": "Polygon",
            "coordinates": [[[-3.40, 55.40], [-3.40, 55.41], [-3.38, 55.41], [-3.40, 55.40]]],
        }


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("55.4, -3.4\n55.5", "Line 2 is no position in any notation read here: “55.5”"),
        ("NY 2953 0782\nNY 2953 078", "Line 2 is no position in any notation read here"),
        ("NY 2953 0782\nNY 2953", "Line 2 names a whole square of 1.0 km"),
        ("95, -3.4", "Line 1 lies off the earth"),
        ("<gpx><trkpt", "This track cannot be read to its end"),
        ("<gpx/>", "There is no walked line"),
        ("{oops", "cannot be read to its end"),
        ('{"type": "Point", "coordinates": [0, 0]}', "There is no area in this text"),
        ('{"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0]]]}', "has too few corners"),
        ('{"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1]]]}', "is not closed"),
        (
            '{"type": "Polygon", "coordinates": [[[300000, 600000], [1, 0], [1, 1], [300000, 600000]]]}',
            "lies off the earth",
        ),
        ('{"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]}', "crosses itself"),
        (
            '{"type": "Polygon", "coordinates": [[[0, 0], ["x", 1], [1, 0], [0, 0]]]}',
            "corner 2 is not a pair of numbers",
        ),
    ],
)
def test_an_area_that_will_not_do_gets_one_sentence_and_changes_nothing(
    looking, ground, text: str, sentence: str
) -> None:
    kit.go(looking, f"#/site/{ground.site}")
    looking.get_by_role("button", name="Change the boundary").click()
    looking.get_by_text("Type the corners, or bring an area from elsewhere").click()
    looking.get_by_label("Corners, track or area").fill(text)
    looking.get_by_role("button", name="Read it").click()
    field = looking.get_by_label("Corners, track or area")
    expect(looking.locator("[data-paste] .fault")).to_contain_text(sentence)
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_value(text)
    expect(looking.locator("[data-corner]")).to_have_count(4)
    looking.get_by_role("button", name="Not now, leave it as it was").click()
    expect(looking.get_by_role("button", name="Change the boundary")).to_be_visible()


def test_corners_are_typed_in_any_notation_each_line_in_its_own(browser, server) -> None:
    """The middles of the 10 m squares by pyproj, OSGB36 to WGS 84; the third is the field's north-west corner."""
    squares = [Transformer.from_crs(27700, 4326, always_xy=True).transform(e, n) for e, n in SQUARE_MIDDLES]
    with kit.phone(browser, server) as page:
        kit.go(page, "#/site/new")
        page.get_by_label("Name of the site").fill("Skelf Bank")
        page.get_by_role("button", name="Save the site").click()
        expect(page.locator(".site-line.around")).to_have_count(1)  # the other site shows where one is
        page.get_by_role("button", name="Draw the boundary").click()
        page.get_by_text("Type the corners, or bring an area from elsewhere").click()
        page.get_by_label("Corners, track or area").fill("NT 1140 1304\nnt 1203 1304\n55°24'18\"N 3°24'W")
        page.get_by_role("button", name="Read it").click()
        expect(page.locator("[data-corner]")).to_have_count(3)
        expect(page.get_by_label("Corners, track or area")).to_have_value("")
        page.locator("[data-act=save]").click()
        expect(page.get_by_role("button", name="Change the boundary")).to_be_visible()
        [site] = [one for one in kit.records(page, "site") if one["fields"]["name"] == "Skelf Bank"]
        [ring] = site["fields"]["boundary"]["coordinates"]
        for found, (lon, lat) in zip(ring[:3], [*squares, (-3.4, 55.405)], strict=True):
            assert GEOD.inv(*found, lon, lat)[2] < 0.1


def test_typed_corners_that_make_no_area_stay_to_be_put_right_also_in_a_killed_app(browser, server, ground) -> None:
    crossing = "55.40, -3.40\n55.41, -3.38\n55.41, -3.40\n55.40, -3.38"
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/site/{ground.site}")
        page.get_by_role("button", name="Change the boundary").click()
        page.get_by_text("Type the corners, or bring an area from elsewhere").click()
        page.get_by_label("Corners, track or area").fill(crossing)
        page.get_by_role("button", name="Read it").click()
        expect(page.locator(".corner-editor [role=status]")).to_contain_text("crosses itself")
        expect(page.get_by_label("Corners, track or area")).to_have_value(crossing)
        kit.go(page, "#/ground")
        kit.go(page, f"#/site/{ground.site}")
        expect(page.get_by_label("Corners, track or area")).to_be_visible()
        expect(page.get_by_label("Corners, track or area")).to_have_value(crossing)
        page.get_by_role("button", name="Not now, leave it as it was").click()


def test_two_answers_to_one_question_are_settled_by_one_tap(browser, server) -> None:
    own = kit.Ground()
    with kit.phone(browser, server, signal=True) as page:
        rec = own.add("tree", tag="Z1", girth_mm=300)
        kit.seed(server, own)
        other = kit.Ground()
        other.records = [("tree", rec, {"girth_mm": 310})]
        kit.seed(server, other)
        kit.sync(page)
        kit.go(page, "#/sync")
        choices = page.locator("[data-settle]")
        expect(choices).to_have_count(2)
        expect(page.locator(".two-values")).to_contain_text("Tree Z1: girth")
        page.get_by_role("button", name="30 cm").click()
        expect(choices).to_have_count(0)
        [tree] = [one for one in kit.records(page, "tree") if one["id"] == rec]
        assert tree["fields"]["girth_mm"] == 300
        assert tree["conflicts"] == {}
        page.get_by_role("button", name="Take the other one").click()
        kit.wait_until(
            page,
            """async (rec) => (await (await import('/static/js/store.js')).getRecord(rec)).fields.girth_mm === 310""",
            rec,
        )


@pytest.mark.parametrize(
    ("field", "mine", "kept"),
    [("note", "ring first", {3}), ("allowance", "9", {3, 9})],
    ids=["another-field", "same-field"],
)
def test_what_came_while_a_form_was_open_is_never_overruled_unseen(
    browser, server, field: str, mine: str, kept: set[int]
) -> None:
    own = kit.Ground()
    kit.seed(server, own)
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/leave/{own.leave}")
        page.get_by_role("button", name="Change", exact=True).click()
        [seen] = [one["stamps"]["allowance"] for one in kit.records(page, "leave") if one["id"] == own.leave]
        other = kit.Ground()
        other.records = [("leave", own.leave, {"allowance": 3})]
        kit.seed(server, other, base={"allowance": seen})  # someone who had seen the old number changed it
        kit.sync(page)
        page.locator(f'[name="{field}"]').fill(mine)
        page.get_by_role("button", name="Save the leave").click()
        expect(page.get_by_role("button", name="Change", exact=True)).to_be_visible()
        [leave] = [one for one in kit.records(page, "leave") if one["id"] == own.leave]
        values = {one["value"] for one in leave["conflicts"].get("allowance", [])} or {leave["fields"]["allowance"]}
        assert values == kept


def test_a_wrong_code_is_answered_at_its_field(browser, server) -> None:
    context = browser.new_context(viewport=kit.PHONE)
    page = context.new_page()
    page.goto(f"{server.url}/#/pair/NO-SUCH-CODE")
    expect(page.get_by_label("Code")).to_have_value("NO-SUCH-CODE")
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.get_by_label("Code")).to_have_attribute("aria-invalid", "true")
    expect(page.locator(".fault:visible")).to_have_count(1)
    context.close()


def test_house_shows_a_code_and_lists_this_phone(browser, server) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/house")
        expect(page.locator(".entry", has_text="Test phone (this one)")).to_have_count(1)
        page.get_by_role("button", name="Pair a phone").click()
        code = page.locator(".pair-code").inner_text()
        expect(page.locator(".address")).to_have_text(re.compile(rf"#/pair/{re.escape(code)}$"))


# --- the small parts -------------------------------------------------------------------------------------------------


def test_what_people_type_never_becomes_markup(looking) -> None:
    got = looking.evaluate(
        """async () => {
          const { html, render } = await import('/static/js/ui/html.js');
          const place = document.createElement('div');
          const typed = '<img src=x onerror=alert(1)>';
          render(place, html`<p title="${'"><b>'}">${typed}${0}${null}${false}${[html`<i>a</i>`, '<i>']}</p>`);
          const number = (selector) => place.querySelectorAll(selector).length;
          return [place.textContent, number('img, b'), number('i'), place.querySelector('p').title];
        }"""
    )
    assert got == ["<img src=x onerror=alert(1)>0a<i>", 0, 1, '"><b>']


def test_plain_text_is_not_rendered(looking) -> None:
    got = looking.evaluate(
        """async () => {
          const { render } = await import('/static/js/ui/html.js');
          try {
            render(document.createElement('div'), '<b>x</b>');
          } catch (fault) { return fault.name; }
          return 'rendered';
        }"""
    )
    assert got == "TypeError"


# Both days of a leave count, and a withdrawal counts from its very day (design, section 4); "ends soon" is three days.
def test_area_agrees_with_a_geodesic_reckoning_within_one_part_in_ten_thousand(looking) -> None:
    rings = [
        [[-3.40, 55.40], [-3.39, 55.40], [-3.39, 55.405], [-3.40, 55.405], [-3.40, 55.40]],
        [[179.99, -41.0], [-179.99, -41.0], [-179.99, -41.01], [179.99, -41.01], [179.99, -41.0]],
    ]
    for ring in rings:
        want, _ = Geod(ellps="WGS84").polygon_area_perimeter([lon for lon, _ in ring], [lat for _, lat in ring])
        got = looking.evaluate(
            """async (ring) => {
              const { areaHa } = await import('/static/js/core/area_text.js');
              return areaHa({ type: 'Polygon', coordinates: [ring] });
            }""",
            ring,
        )
        assert abs(got / (abs(want) / 10_000) - 1) < 0.0001


def test_photos_that_wait_are_counted_and_home_out_of_reach_is_said(browser, server) -> None:
    with kit.phone(browser, server) as page:
        page.evaluate(
            """async (photos) => {
              const store = await import('/static/js/store.js');
              const made = await Promise.all(photos.map(async (text) => {
                const bytes = new TextEncoder().encode(text).buffer;
                const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
                const sha256 = [...digest].map((one) => one.toString(16).padStart(2, '0')).join('');
                return { sha256, bytes, type: 'image/jpeg' };
              }));
              const changes = made.map(({ sha256 }) => ({ type: 'photo', set: { sha256 } }));
              await store.saveChanges(changes, { photos: made });
            }""",
            ["one", "two"],
        )
        kit.go(page, "#/sync")
        state = page.locator("[data-state]")
        expect(state.locator("dt", has_text="Photos that wait").locator("+ dd")).to_have_text("2 photos")
        page.get_by_role("button", name="Sync now").click()
        expect(page.locator(".notice")).to_contain_text("Home is not in reach just now. 2 changes and 2 photos wait")
        expect(page.locator(".notice")).to_contain_text("It is tried again by itself in about")
        page.context.set_offline(False)  # and nobody taps anything
        expect(state).to_contain_text("Home has everything", timeout=25_000)


def test_two_answers_say_which_device_gave_each(browser, server) -> None:
    own = kit.Ground()
    rec = own.add("tree", tag="Z2", girth_mm=300)
    kit.seed(server, own)
    with kit.phone(browser, server, signal=True) as page:
        [stamps] = [one["stamps"]["girth_mm"] for one in kit.records(page, "tree") if one["id"] == rec]
        # Its own first: once the app had by itself fetched the other answer, this one would be given in sight of it.
        page.evaluate(
            """async (rec) => {
              await (await import('/static/js/store.js')).saveChange({ rec, type: 'tree', set: { girth_mm: 355 } });
            }""",
            rec,
        )
        other = kit.Ground()
        other.records = [("tree", rec, {"girth_mm": 345})]
        kit.seed(server, other, base={"girth_mm": stamps})
        kit.sync(page)
        page.context.set_offline(True)
        kit.go(page, "#/sync")
        expect(page.locator("[data-settle]", has_text="35.5 cm")).to_contain_text("this phone")
        expect(page.locator("[data-settle]", has_text="34.5 cm")).to_contain_text("seed")


def test_one_value_of_two_writers_is_shown_once_and_a_held_change_is_told_in_the_words_of_forms(
    browser, server
) -> None:
    own = kit.Ground()
    rec = own.add("tree", tag="Z3", girth_mm=300)
    kit.seed(server, own)
    for girth in (310, 310):
        other = kit.Ground()
        other.records = [("tree", rec, {"girth_mm": girth})]
        kit.seed(server, other)
    wrong = kit.Ground()
    wrong.records = [("tree", rec, {"girth_mm": "a lot"})]
    with pytest.raises(AssertionError, match="held"):
        kit.seed(server, wrong)
    with kit.phone(browser, server) as page:
        kit.go(page, "#/sync")
        mine = page.locator(".two-values", has_text="Tree Z3")
        expect(mine.get_by_role("button")).to_have_count(2)
        expect(page.locator("[data-held]")).to_contain_text("Tree Z3: girth")
        expect(page.locator("[data-held]")).to_contain_text("“girth” is not a number.")


CORNERS = [(55.40, -3.40), (55.41, -3.40), (55.41, -3.38)]
TRIANGLE = {"type": "Polygon", "coordinates": [[[lon, lat] for lat, lon in [*CORNERS, CORNERS[0]]]]}
POINTS = "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lat, lon in [*CORNERS, CORNERS[0]])


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(f"{lat}, {lon}" for lat, lon in CORNERS),
        "\n".join(f"{lat}; {lon}".replace(".", ",") for lat, lon in CORNERS),
        f'<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{POINTS}</trkseg></trk></gpx>',
    ],
    ids=["lines", "decimal-commas", "track"],
)
def test_corners_are_typed_or_come_from_a_walk(browser, server, text: str) -> None:
    own = kit.Ground()
    own.records = [("site", own.site, {"name": "Typed Rig", "zone": "UTC"})]
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/site/{own.site}")
        page.get_by_role("button", name="Draw the boundary").click()
        page.get_by_text("Type the corners, or bring").click()
        page.get_by_label("Corners, track or area").fill(text)
        page.get_by_role("button", name="Read it").click()
        expect(page.locator("[data-corner]")).to_have_count(3)
        page.locator("[data-act=save]").click()
        expect(page.get_by_role("button", name="Change the boundary")).to_be_visible()
        [site] = [one for one in kit.records(page, "site") if one["id"] == own.site]
        assert site["fields"]["boundary"] == TRIANGLE


def test_ground_larger_than_any_site_is_refused_in_words(browser, server) -> None:
    own = kit.Ground()
    own.records = [("site", own.site, {"name": "Wide Rig", "zone": "UTC"})]
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/site/{own.site}")
        page.get_by_role("button", name="Draw the boundary").click()
        page.get_by_text("Type the corners, or bring").click()
        page.get_by_label("Corners, track or area").fill("55, -3\n56, -3\n56, -5")
        page.get_by_role("button", name="Read it").click()
        page.locator("[data-act=save]").click()
        expect(page.locator(".corner-editor [role=status]")).to_contain_text("one site has at most 10,000")
        assert [one["fields"].get("boundary") for one in kit.records(page, "site") if one["id"] == own.site] == [None]


def test_nonsense_is_refused_at_its_field(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/site/{ground.site}")
        page.locator("[data-edit=facts]").click()
        page.get_by_label("Buried services checked on").fill(kit.day(2))
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(".fault:visible")).to_contain_text("has not come yet")
        page.get_by_label("Buried services checked on").fill(kit.day(-2))
        page.get_by_label("Name of the site").fill("x" * 121)
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(".fault:visible")).to_contain_text("121 characters are too many. At most 120 fit.")
        expect(page.locator(".notice")).to_have_count(0)
        kit.go(page, f"#/leave/{ground.leave}")
        page.get_by_role("button", name="Change").click()
        page.get_by_role("textbox", name="Number of trees agreed").fill("1001")
        page.get_by_role("button", name="Save the leave").click()
        expect(page.locator(".fault:visible")).to_contain_text("1001 is too large. It is at most 1000.")


def test_house_draws_the_address_to_pair_by_and_says_who_can_use_it(browser, server) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/house")
        page.get_by_role("button", name="Pair a phone").click()
        drawn = page.get_by_role("img", name="The address to pair by")
        expect(drawn).to_be_visible()
        assert drawn.evaluate("async (img) => { await img.decode(); return img.naturalWidth; }") > 100
        expect(page.locator(".address")).to_contain_text(f"{server.url}/#/pair/")
        expect(page.locator("[data-devices]")).to_contain_text("works on this machine only")


def test_the_way_to_the_page_comes_first_by_keyboard(browser, server) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        page.reload()
        expect(page.locator("#app h1")).to_be_visible()
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("Tab")
        expect(page.get_by_role("link", name="To the page")).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("#app")).to_be_focused()
        assert page.evaluate("location.hash") == "#/trees"
