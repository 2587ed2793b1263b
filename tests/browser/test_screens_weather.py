"""Weather of a place: typed with no signal, corrected, taken away and undone; two phones meet in one record."""

from __future__ import annotations

import datetime as dt
import json
import urllib.request

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect

from field.core.weather_day import weather_day_id

YEAR = int(kit.day()[:4])


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("weather") / "data") as running:
        ground.garden = ground.add("garden", name="Back green", lat=55.4, lon=-3.4, zone="UTC", is_main=True)
        for days, low, high in ((-1, -1.5, 6), (-3, 2, 8)):
            day = {"site": ground.garden, "day_on": kit.day(days), "tmin_c": low, "tmax_c": high, "how": "typed"}
            ground.records.append(("weather_day", weather_day_id(ground.garden, kit.day(days)), day))
        ground.other_garden = ground.add("garden", name="Wall side", lat=55.4, lon=-3.4, zone="UTC")
        ground.late_garden = ground.add("garden", name="New yard", lat=55.4, lon=-3.4, zone="UTC")
        ground.half_garden = ground.add("garden", name="Half yard", lat=55.4, lon=-3.4, zone="UTC")
        kit.seed(running, ground)
        yield running


def kept(page: Page, place: str) -> dict[str, tuple[object, object]]:
    return {
        one["fields"]["day_on"]: (one["fields"]["tmin_c"], one["fields"]["tmax_c"])
        for one in kit.records(page, "weather_day")
        if one["fields"]["site"] == place
    }


def bring_two_years(server: RunningServer, place: str) -> None:
    """Have home read a station's file: last year every day at 6 °C, this year to today at 15 °C."""
    first, today = dt.date(YEAR - 1, 1, 1), dt.date.fromisoformat(kit.day())
    days = [first + dt.timedelta(days=n) for n in range((today - first).days + 1)]
    lines = [
        "date;tmin °C;tmax °C",
        *(f"{on};{15 if on.year == YEAR else 6};{15 if on.year == YEAR else 6}" for on in days),
    ]
    headers = {"Authorization": f"Bearer {server.seed_token}", "Content-Type": "text/csv"}
    address = f"{server.url}/api/weather/{place}/keep"
    with urllib.request.urlopen(urllib.request.Request(address, "\n".join(lines).encode(), headers), timeout=30) as got:
        assert json.load(got)["kept"] == len(days)


def write(page: Page, low: str, high: str) -> None:
    page.get_by_label("Lowest °C").fill(low)
    page.get_by_label("Highest °C").fill(high)


def test_a_day_is_typed_with_no_signal_and_the_next_missing_one_comes_up(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/weather")
        page.get_by_role("link", name="Back green").click()
        heading = page.locator("form h2")
        expect(heading).to_contain_text("Today")
        # The first press begins at what was noted last.
        page.get_by_role("button", name="Lowest: 0.5 more").click()
        expect(page.get_by_label("Lowest °C")).to_have_value("-1.5")
        write(page, "3", "1")
        page.get_by_role("button", name="Keep today").click()
        expect(page.locator(".fault:visible")).to_contain_text("3 °C, is above the highest, 1 °C")
        write(page, "24.5", "25")
        page.get_by_role("button", name="Keep today").click()
        expect(page.locator("dialog")).to_contain_text("The day noted before it had −1.5 to 6 °C")
        page.get_by_role("button", name="Look again").click()
        write(page, "3,5", "")
        page.get_by_role("button", name="Lowest: below zero").click()
        expect(page.get_by_label("Lowest °C")).to_have_value("-3,5")
        page.get_by_role("button", name="Keep today").click()
        expect(page.locator(".notice")).to_contain_text("lowest −3.5 °C. Saved on this phone")
        assert kept(page, ground.garden)[kit.day()] == (-3.5, None)
        expect(heading).not_to_contain_text("Today")  # the latest missing day, two days ago
        write(page, "0", "4")
        kit.wait_until(
            page,
            "async (key) => Object.values((await (await import('/static/js/store.js')).getDraft(key))?.typed ?? {})[0]"
            "?.tmax_c === 4",
            f"weather-{ground.garden}",
        )
        page.reload()
        expect(page.get_by_label("Highest °C")).to_have_value("4")  # what was typed is there again
        page.get_by_role("button", name="Keep").click()
        kit.wait_until(page, "() => document.querySelector('.notice')?.textContent.includes('0 to 4')")
        assert kept(page, ground.garden)[kit.day(-2)] == (0, 4)
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert kit.hindrances(page) == []


def test_a_day_is_corrected_taken_away_and_given_back(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/weather/{ground.garden}")
        row = page.locator(f"[data-day-on='{kit.day(-1)}']").first
        expect(row).to_contain_text("−1.5 to 6 °C")
        row.click()
        write(page, "-2", "7")
        page.get_by_role("button", name="Keep").click()
        expect(row).to_contain_text("−2 to 7 °C")
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(row).to_contain_text("−1.5 to 6 °C")
        row.click()
        page.get_by_role("button", name="Take this day away").click()
        expect(row).to_contain_text("missing")
        page.locator(".notice").get_by_role("button", name="Undo the removal").click()
        expect(row).to_contain_text("−1.5 to 6 °C")
        row.click()
        page.get_by_role("button", name="Take this day away").click()
        expect(row).to_contain_text("missing")
        write(page, "1", "2")
        page.get_by_role("button", name="Keep").click()
        expect(row).to_contain_text("1 to 2 °C")
        page.get_by_label("Choose a day").fill("2020-02-29")
        expect(page.locator("form h2")).to_have_text("Saturday, 29 February 2020")
        write(page, "-7", "-0.5")
        page.get_by_role("button", name="Keep 29 Feb 2020").click()
        expect(page.locator(".notice", has_text="−7 to −0.5 °C. Saved")).to_be_attached()
        assert kept(page, ground.garden)["2020-02-29"] == (-7, -0.5)


def test_the_first_frost_of_a_log_that_begins_in_winter_is_told_as_the_day_it_came_by(browser, server, ground) -> None:
    lines = ["date;tmin °C;tmax °C", *(f"{YEAR - 1}-02-{on:02};{-4 if on == 3 else 2};9" for on in range(1, 29))]
    headers = {"Authorization": f"Bearer {server.seed_token}", "Content-Type": "text/csv"}
    address = f"{server.url}/api/weather/{ground.late_garden}/keep"
    with urllib.request.urlopen(urllib.request.Request(address, "\n".join(lines).encode(), headers), timeout=30) as got:
        assert json.load(got)["kept"] == 28
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/weather/{ground.late_garden}")
        row = page.get_by_role("table", name="Air frosts").locator("tbody tr")
        expect(row).to_contain_text("by 3 Feb")


def test_what_is_missing_means_the_same_in_the_strip_as_in_the_year_and_an_earlier_day_comes_into_sight(
    browser, server, ground
) -> None:
    strip = "[data-strip] [data-day-on='{}']"
    with kit.phone(browser, server) as page:
        page.evaluate(
            """async ([site, days]) => {
              const { saveChanges } = await import('/static/js/store.js');
              const { weatherDayId } = await import('/static/js/core/weather_day.js');
              await saveChanges(days.map(([day_on, tmin_c, tmax_c]) => ({
                rec: weatherDayId(site, day_on), type: 'weather_day',
                set: { site, day_on, tmin_c, tmax_c, how: 'typed' },
              })));
            }""",
            [ground.half_garden, [[kit.day(-4), 1, 9], [kit.day(-2), 3, None]]],
        )
        kit.go(page, f"#/weather/{ground.half_garden}")
        said = {-5: "not noted", -4: "1 to 9 °C", -3: "missing", -2: "lowest 3 °C, highest missing", -1: "missing"}
        for days, words in said.items():
            expect(page.locator(strip.format(kit.day(days)))).to_contain_text(words)
        expect(page.locator(strip.format(kit.day()))).to_contain_text("not noted")
        if kit.day(-4)[:4] == kit.day()[:4]:
            expect(page.get_by_text("3 days are missing this year")).to_be_visible()
        for choose in (
            lambda: page.get_by_label("Choose a day").fill("2020-02-29"),
            lambda: page.locator(strip.format(kit.day(-13))).click(),
        ):
            page.get_by_label("Choose a day").scroll_into_view_if_needed()
            choose()
            expect(page.locator("form h2")).to_be_in_viewport()
            expect(page.get_by_label("Highest °C")).to_be_in_viewport()


def test_two_phones_that_note_the_same_day_unseen_meet_in_one_record(browser, server, ground) -> None:
    day = kit.day(-5)
    with kit.phone(browser, server) as one, kit.phone(browser, server) as other:
        for page in (one, other):
            kit.go(page, f"#/weather/{ground.site}")
            page.locator(f"[data-day-on='{day}']").first.click()
            write(page, "4", "9")
            page.get_by_role("button", name="Keep").click()
            expect(page.locator(f"[data-day-on='{day}']").first).to_contain_text("4 to 9 °C")
        for page in (one, other, one):
            page.context.set_offline(False)
            kit.sync(page)
        for page in (one, other):
            records = [rec for rec in kit.records(page, "weather_day") if rec["fields"]["site"] == ground.site]
            assert [rec["id"] for rec in records] == [weather_day_id(ground.site, day)]
            assert records[0]["conflicts"] == {}


def test_the_season_is_drawn_beside_earlier_ones_told_in_a_table_and_kept_for_when_home_is_away(
    browser, server, ground
) -> None:
    bring_two_years(server, ground.other_garden)
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/weather/{ground.other_garden}")
        heat = page.get_by_role("table", name="Degree days above 5 °C")
        expect(heat).to_be_visible()
        rows = [row.split() for row in heat.locator("tbody tr").all_inner_texts()]
        assert [row[0] for row in rows] == [str(YEAR), str(YEAR - 1)]
        # A year of days at 6 °C is 1 a day; this one, at 15 °C, is 10 a day up to today.
        passed = (dt.date.fromisoformat(kit.day()) - dt.date(YEAR, 1, 1)).days + 1
        assert rows[0][1] == f"{10 * passed:,}"
        assert rows[1][1:] == [f"{passed:,}", f"{(dt.date(YEAR, 1, 1) - dt.date(YEAR - 1, 1, 1)).days:,}"]
        expect(page.get_by_role("img", name="How degree days add up")).to_be_visible()
        assert page.locator(".season-line.now, .season-line.last").count() == 4  # two lines, and their keys
        chart = page.locator(".season-chart")
        expect(chart.locator(".season-name")).to_have_text([str(YEAR), str(YEAR - 1)])
        expect(chart).to_contain_text("degree days, °C d")
        one, other = (chart.locator(".season-name").nth(n).bounding_box() for n in (0, 1))
        assert one is not None
        assert other is not None
        assert one["y"] + one["height"] <= other["y"] + 1  # apart, even where two lines end alike
        expect(page.get_by_role("table", name="Air frosts")).to_be_visible()
        expect(page.get_by_text(f"{9 * passed:,} more than by then in {YEAR - 1}")).to_be_visible()
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert kit.hindrances(page) == []
        for size in ("100%", "200%"):
            page.evaluate("(size) => { document.documentElement.style.fontSize = size; }", size)
            assert page.evaluate("document.documentElement.scrollWidth") == kit.PHONE["width"], size
        page.evaluate("() => { document.documentElement.style.fontSize = ''; }")
        page.context.set_offline(True)
        page.locator(f"[data-day-on='{kit.day(-1)}']").first.click()
        page.get_by_role("button", name="Take this day away").click()
        page.reload()
        expect(page.get_by_text("it is not in reach now")).to_be_visible()
        expect(heat.locator("tbody tr").first).to_contain_text(f"{10 * passed:,}")
