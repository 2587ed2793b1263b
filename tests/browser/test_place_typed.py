"""A place that is typed: found on the map of Ground, and kept as a tree's fix as sure as its figures are."""

from __future__ import annotations

import hill_kit as kit
import mgrs
import pytest
from place_kit import LAT, LON, WGS84, PlaceGround, fixes_of
from playwright.sync_api import expect
from pyproj import Transformer


@pytest.fixture(scope="module")
def ground():
    return PlaceGround()


@pytest.fixture(scope="module")
def looking(browser, server):
    """A paired phone that saves nothing, 445 m north of LAT, LON."""
    with kit.phone(browser, server, where=kit.OUTSIDE) as page:
        yield page


def find(page, text):
    page.get_by_label("Find a place").fill(text)
    page.get_by_role("button", name="Show it").click()


# --- how sure figures are: 68 % of a square lie within sqrt(0.68 / pi) = 0.4652 of its side ---------------------------


@pytest.mark.parametrize(
    ("text", "accuracy_m"),
    [
        ("NY 294 082", 46.52),  # 100 m
        ("NY 2942 0824", 5.0),  # 10 m give 4.65 m, and nothing typed counts as surer than 5 m
        ("54.4609 -3.0886", 5.18),  # 0.0001 degrees of latitude are 11.13 m at 54.46
        ("54.461 -3.0886", 51.8),  # the coarser of the two counts: 0.001
        ("54,4609 -3,0886", 5.18),
        ("54.460912 -3.088634", 5.0),
        ("54°27'39\"N 3°05'19\"W", 14.39),  # one second is 30.92 m
        ("54 27.6 3 5.31", 86.3),  # a tenth of a minute is 185.5 m
        ("54 -3", 51792.0),  # a whole degree: 111.3 km
    ],
)
def test_typed_figures_tell_how_sure_they_are(looking, text, accuracy_m):
    got = looking.evaluate("async (text) => (await import('/static/js/hill/typed_place.js')).readTyped(text)", text)
    assert abs(got["accuracy_m"] / accuracy_m - 1) < 0.003


def test_the_hint_names_one_place_in_two_notations(looking):
    east, north = Transformer.from_crs(4326, 27700, always_xy=True).transform(-3.0886, 54.4609)
    hint = looking.evaluate("async () => (await import('/static/js/hill/typed_place.js')).TYPED_HINT")
    assert hint.endswith(f"54.4609 -3.0886, or NY {east % 100_000 // 10:04.0f} {north % 100_000 // 10:04.0f}")


# --- on Ground -------------------------------------------------------------------------------------------------------


def test_every_notation_finds_the_same_place(looking):
    east, north = Transformer.from_crs(4326, 32630, always_xy=True).transform(LON, LAT)
    british = Transformer.from_crs(4326, 27700, always_xy=True).transform(LON, LAT)
    kit.go(looking, "#/ground")
    for text in (
        "55.40250 -3.39500",
        "55°24'09.0\"N 3°23'42.0\"W",
        f"30U {east:.0f} {north:.0f}",
        mgrs.MGRS().toMGRS(LAT, LON, MGRSPrecision=4),
        # the square of 100 km that begins at 300 km east and 600 km north is NT
        f"NT {int(british[0]) - 300_000:05d} {int(british[1]) - 600_000:05d}",
    ):
        find(looking, text)
        expect(looking.locator(".found-mark")).to_have_count(1)
        shown = looking.locator(".found-place .notation.first .notation-text").inner_text()
        lat, lon = (float(part) for part in shown.split(", "))
        assert WGS84.inv(LON, LAT, lon, lat)[2] < 12, (text, shown)
        expect(looking.locator("[data-found-site]")).to_have_text("On Kettle Brae.")


def test_a_found_place_is_told_from_here_with_the_nearest_tree(looking, ground):
    kit.go(looking, "#/trees")
    kit.go(looking, "#/ground")
    find(looking, f"{LAT} {LON}")
    expect(looking.locator("[data-found-way]")).to_contain_text("once your position is shown")
    looking.get_by_role("button", name="Show where I am", exact=True).first.click()
    here = kit.OUTSIDE
    metres = WGS84.inv(here["longitude"], here["latitude"], LON, LAT)[2]
    expect(looking.locator("[data-found-way]")).to_have_text(f"{metres:.0f} m south of here.")
    expect(looking.locator(".found-place")).to_contain_text("Nearest tree: K1")
    expect(looking.get_by_text("This is no navigation or rescue device.")).to_be_visible()


def test_a_place_off_every_site_says_how_far_the_next_is(looking):
    kit.go(looking, "#/trees")
    kit.go(looking, "#/ground")
    find(looking, "55.4100 -3.3950")
    metres = WGS84.inv(-3.395, 55.41, -3.395, kit.NORTH)[2]
    expect(looking.locator("[data-found-site]")).to_have_text(f"On no site: Kettle Brae is {metres:.0f} m away.")
    find(looking, "55.41 -3.395")  # known to 518 m, of which the 95 % radius is 839 m
    expect(looking.locator("[data-found-site]")).to_have_text(
        f"Perhaps on Kettle Brae: {metres:.0f} m outside it by its figures."
    )
    looking.get_by_role("button", name="Take it off the map").click()
    expect(looking.locator(".found-mark, .found-place")).to_have_count(0)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "No position is given."),
        ("NT 12 345", "The figures of the grid reference are uneven."),
        ("95 3", "The latitude must lie between -90 and 90 degrees."),
        ("54 27 75 3 5 19", "There are 60 seconds or more."),
        ("by the gate", "Write"),
    ],
)
def test_what_is_no_place_is_refused_in_one_sentence(looking, text, sentence):
    kit.go(looking, "#/trees")
    kit.go(looking, "#/ground")
    find(looking, f"{LAT} {LON}")
    expect(looking.locator(".found-mark")).to_have_count(1)
    find(looking, text)
    expect(looking.locator("#find-place .fault")).to_contain_text(sentence)
    expect(looking.locator(".found-mark, .found-place")).to_have_count(0)


# --- as a fix of a tree ----------------------------------------------------------------------------------------------


def test_a_typed_position_becomes_a_fix_as_sure_as_its_figures(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.bare}")
        page.get_by_text("Type its position").click()
        page.get_by_label("Position", exact=True).fill("55.4025 -3.3950")
        expect(page.locator("[data-typed-read]")).to_have_text("On Kettle Brae, ± 5.2 m")  # 0.0001 of 111.3 km x 0.4652
        page.get_by_role("button", name="Save this position").click()
        expect(page.locator("[data-accuracy]")).to_have_text("± 5.2 m")
        [fix] = fixes_of(page, ground.bare)
        assert (fix["lat"], fix["lon"], fix["source"]) == (LAT, LON, "hand")
        assert fix["fixed_at"].startswith(kit.day())
        expect(page.locator(".stay")).to_contain_text("typed or set by hand")
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.get_by_text("No position is kept of this tree yet.")).to_be_visible()
        expect(page.get_by_label("Position", exact=True)).to_have_value("55.4025 -3.3950")


def test_what_the_person_says_of_it_counts_but_never_finer_than_the_figures(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.bare}")
        page.get_by_text("Type its position").click()
        page.get_by_label("Position", exact=True).fill("55.4025 -3.3950")
        page.locator('[name="said_m"]').fill("30")
        expect(page.locator("[data-typed-read]")).to_have_text("On Kettle Brae, ± 30 m")
        page.locator('[name="said_m"]').fill("1")
        expect(page.locator("[data-typed-read]")).to_have_text("On Kettle Brae, ± 5.2 m")
        page.locator('[name="said_m"]').fill("30")
        page.get_by_role("button", name="Save this position").click()
        expect(page.locator("[data-accuracy]")).to_have_text("± 30 m")


def test_a_typed_position_that_is_none_changes_nothing_and_stays_to_be_mended(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/place/{ground.bare}")
        page.get_by_text("Type its position").click()
        field = page.get_by_label("Position", exact=True)
        field.fill("NT 12 345")
        page.get_by_role("button", name="Save this position").click()
        expect(page.locator("#place-type .fault").first).to_contain_text(
            "The figures of the grid reference are uneven."
        )
        assert fixes_of(page, ground.bare) == []
        kit.wait_until(
            page,
            "async (key) => (await (await import('/static/js/store.js')).getDraft(key))?.position === 'NT 12 345'",
            f"place-type-{ground.bare}",
        )
        page.reload()
        expect(field).to_have_value("NT 12 345")


def test_a_word_that_is_no_position_is_said_to_be_none_first(looking):
    kit.go(looking, "#/ground")
    find(looking, "banana")
    fault = looking.locator("#find-place .fault")
    expect(fault).to_contain_text("That is no position in any notation read here: 'B' has no place in a position.")
    expect(looking.get_by_label("Find a place")).to_have_value("banana")
