"""Back to the tree: distance, bearing, an arrow by walking, the words when near, and the daylight left there."""

from __future__ import annotations

import re

import hill_kit as kit
import pytest
from place_kit import LAT, LON, SUN, WGS84, PlaceGround, in_hand, say
from playwright.sync_api import expect

NORTH, EAST, SOUTH, WEST = 0, 90, 180, 270


@pytest.fixture(scope="module")
def ground():
    return PlaceGround()


class Walker:
    """Somebody on the way to the tree at LAT, LON: begins somewhere, and walks as told."""

    def __init__(self, page, bearing_from_tree, metres):
        page.wait_for_function("listening() > 0")
        self.page, self.after_s = page, 0
        self.lon, self.lat, _ = WGS84.fwd(LON, LAT, bearing_from_tree, metres)
        self.say()

    def say(self, accuracy=5):
        say(self.page, self.after_s, accuracy, self.lat, self.lon)

    def walk(self, bearing, metres, seconds, accuracy=5):
        self.lon, self.lat, _ = WGS84.fwd(self.lon, self.lat, bearing, metres)
        self.after_s += seconds
        self.say(accuracy)

    def to_tree(self):
        bearing, _, metres = WGS84.inv(self.lon, self.lat, LON, LAT)
        return bearing % 360, metres


def turn(page):
    return expect(page.locator("[data-way-turn]"))


def test_the_way_back_tells_distance_and_bearing_at_once(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, 214, 361)
        bearing, metres = walker.to_tree()
        expect(page.locator("[data-way-distance]")).to_have_text(f"{metres:.0f} m")
        expect(page.locator("[data-way-bearing]")).to_have_text(f"{bearing:.0f}°, north-east, from true north.")
        turn(page).to_have_text("Walk a few steps to get the arrow.")
        expect(page.locator(".way-arrow")).to_have_count(0)


def test_the_arrow_follows_from_the_metres_walked(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, SOUTH, 300)  # the tree lies due north
        for bearing, word, degrees in (
            (NORTH, "ahead", 0),
            (EAST, "to the left", 270),
            (SOUTH, "behind", 180),
            (WEST, "to the right", 90),
            (45, "ahead, to the left", 315),
        ):
            walker.walk(bearing, 12, 10)
            turn(page).to_have_text(word)
            expect(page.locator(".way-arrow path")).to_have_attribute("transform", f"rotate({degrees} 50 50)")


def test_no_arrow_before_the_walk_is_longer_than_both_accuracies(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, SOUTH, 300)
        walker.walk(NORTH, 9.9, 8)  # 5 + 5 m are the two accuracies
        expect(page.locator("[data-way-distance]")).to_have_text("290 m")
        turn(page).to_have_text("Walk a few steps to get the arrow.")
        walker.walk(NORTH, 0.2, 1)
        turn(page).to_have_text("ahead")


def test_standing_still_takes_the_arrow_away(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, SOUTH, 300)
        walker.walk(NORTH, 12, 10)
        turn(page).to_have_text("ahead")
        walker.walk(NORTH, 0, 25)  # 12 m in 35 s is no walking
        turn(page).to_have_text("Walk a few steps to get the arrow.")


def test_a_receiver_gone_quiet_takes_the_arrow_away_and_tells_its_age(browser, server, ground):
    with kit.phone(browser, server, fresh=True) as page:
        page.clock.install()
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, SOUTH, 300)
        walker.walk(NORTH, 12, 10)
        turn(page).to_have_text("ahead")
        page.clock.run_for(16_000)
        turn(page).to_have_text("Walk a few steps to get the arrow.")
        page.clock.run_for(20_000)
        expect(page.locator("[data-back-quiet]")).to_contain_text("Your position is 3")


def test_within_both_accuracies_no_direction_is_told(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        walker = Walker(page, SOUTH, 20)
        walker.walk(NORTH, 11.9, 10)  # 8.1 m to go; 5 and 2.887 m are 7.887
        turn(page).to_have_text("ahead")
        walker.walk(NORTH, 0.4, 1)  # 7.7 m
        expect(page.locator("[data-way-near]")).to_have_text("You are within 8 m: look around.")
        expect(page.locator("[data-way-bearing], .way-arrow, [data-way-turn]")).to_have_count(0)


def test_a_screen_reader_hears_near_at_once_and_the_rest_now_and_then(browser, server, ground):
    with kit.phone(browser, server) as page:
        in_hand(page, f"#/place/{ground.several}?back")
        said = page.locator("[data-back-said]")
        walker = Walker(page, SOUTH, 300)
        expect(said).to_have_text("300 m, north")
        walker.walk(NORTH, 12, 10)
        turn(page).to_have_text("ahead")
        expect(said).to_have_text("300 m, north")  # less than 15 s went by
        walker.walk(NORTH, 285, 200)
        expect(said).to_have_text("You are within 8 metres: look around.")


def test_the_screen_is_kept_on_while_it_leads_and_no_longer(browser, server, ground):
    with kit.phone(browser, server, fresh=True) as page:
        page.add_init_script(
            """globalThis.locks = 0;
            Object.defineProperty(navigator, 'wakeLock', {value: {
              request: async () => { locks += 1; return {release: async () => { locks -= 1; }}; }}});"""
        )
        in_hand(page, f"#/place/{ground.several}")
        assert page.evaluate("[locks, listening()]") == [0, 0]
        page.get_by_role("button", name="Lead me there").click()
        page.wait_for_function("locks === 1 && listening() === 1")
        page.get_by_role("button", name="Stop", exact=True).click()
        page.wait_for_function("locks === 0 && listening() === 0")
        page.get_by_role("button", name="Lead me there").click()
        page.wait_for_function("locks === 1")
        kit.go(page, "#/trees")
        page.wait_for_function("locks === 0")


# --- daylight --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def daylight(browser, server):
    """What is said of the daylight of a named case at an instant, by a phone on UTC."""
    with kit.phone(browser, server) as page:

        def ask(name, at):
            case = SUN[name]
            return page.evaluate(
                """async ([at, lat, lon]) => {
                  const daylight = await import('/static/js/ui/daylight.js');
                  return daylight.daylightWords(Date.parse(at), lat, lon);
                }""",
                [at, case["lat"], case["lon"]],
            )

        yield ask


def times_in(said):
    return [int(h) * 60 + int(m) for h, m in re.findall(r"(\d\d):(\d\d)", " ".join(said["words"]))]


def minute_of(instant):
    return int(instant[11:13]) * 60 + int(instant[14:16])


def test_daylight_left_counts_to_sunset_and_dusk_is_told(daylight):
    case = SUN["Lake District autumn"]
    said = daylight("Lake District autumn", "2024-10-15T15:00:00Z")
    assert said["left"] in ("2 h 12 min", "2 h 13 min")  # 17:13:19, known to a minute
    sunset, dusk = times_in(said)
    assert abs(sunset - minute_of(case["sunset"]["ephem"])) <= 1
    assert abs(dusk - minute_of(case["civil_dusk"]["ephem"])) <= 1
    assert re.search(r"Dusk ends at \d\d:\d\d, in 2 h 4[89] min\.", said["words"][1])  # 17:49:27


@pytest.mark.parametrize(
    ("name", "at", "words"),
    [
        ("Tromso midsummer: no sunset", "2024-06-21T20:00:00Z", ["The sun does not set there today."]),
        (
            "Longyearbyen December: no civil dusk",
            "2024-12-21T10:00:00Z",
            ["The sun does not rise there today.", "It stays dark all day."],
        ),
    ],
)
def test_polar_days_are_told_in_words(daylight, name, at, words):
    assert daylight(name, at) == {"left": None, "words": words}


def test_a_polar_noon_has_its_light_told(daylight):
    case = SUN["Tromso midwinter: no sunrise"]
    said = daylight("Tromso midwinter: no sunrise", "2024-12-21T12:00:00Z")
    assert (said["left"], said["words"][0]) == (None, "The sun does not rise there today.")
    [dusk] = times_in(said)
    assert abs(dusk - minute_of(case["civil_dusk"]["ephem"])) <= 5


def test_a_white_night_is_not_called_dark(daylight):
    said = daylight("Longyearbyen April", "2024-04-10T12:00:00Z")
    assert said["words"][1] == "It does not get dark: dusk lasts all night."
    assert abs(times_in(said)[0] - minute_of(SUN["Longyearbyen April"]["sunset"]["ephem"])) <= 5


def test_after_sunset_dusk_runs_out_and_then_it_is_dark(daylight):
    said = daylight("Lake District autumn", "2024-10-15T17:30:00Z")
    assert said["left"] is None
    assert re.fullmatch(r"The sun set at 17:1[234]\.", said["words"][0])
    assert re.fullmatch(r"Dusk ends at 17:(48|49|50), in (18|19|20) min\.", said["words"][1])
    assert daylight("Lake District autumn", "2024-10-15T18:30:00Z")["words"][0].startswith("It is dark there")


def test_before_sunrise_the_sunrise_is_told(daylight):
    said = daylight("Lake District autumn", "2024-10-15T04:00:00Z")
    assert said["words"][0].startswith("It is dark there. The sun rises at 06:4")


def test_the_daylight_at_the_tree_stands_on_its_page(browser, server, ground):
    with kit.phone(browser, server, fresh=True) as page:
        page.clock.set_fixed_time("2024-10-15T15:00:00Z")
        kit.go(page, f"#/place/{ground.lakes}")
        said = expect(page.locator("[data-daylight]"))
        said.to_contain_text(re.compile(r"2 h 1[23] min of daylight left"))  # until 17:13:19
        said.to_contain_text("For a level horizon")
