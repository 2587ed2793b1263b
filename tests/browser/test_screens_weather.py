"""Weather of a place: typed with no signal, corrected, taken away and undone; two phones meet in one record."""

from __future__ import annotations

import hill_kit as kit
import pytest
from axe_playwright_python.sync_playwright import Axe
from home_server import RunningServer
from playwright.sync_api import Page, expect

from field.core.weather_day import weather_day_id

AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
}


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
        kit.seed(running, ground)
        yield running


def kept(page: Page, place: str) -> dict[str, tuple[object, object]]:
    return {
        one["fields"]["day_on"]: (one["fields"]["tmin_c"], one["fields"]["tmax_c"])
        for one in kit.records(page, "weather_day")
        if one["fields"]["site"] == place
    }


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
        write(page, "3,5", "")
        page.get_by_role("button", name="Lowest: below zero").click()
        expect(page.get_by_label("Lowest °C")).to_have_value("-3,5")
        page.get_by_role("button", name="Keep today").click()
        expect(page.locator(".notice")).to_contain_text("lowest −3.5 °C. Saved on this phone")
        assert kept(page, ground.garden)[kit.day()] == (-3.5, None)
        expect(heading).not_to_contain_text("Today")  # the latest missing day, two days ago
        write(page, "0", "4")
        page.reload()
        expect(page.get_by_label("Highest °C")).to_have_value("4")  # what was typed is there again
        page.get_by_role("button", name="Keep").click()
        kit.wait_until(page, "() => document.querySelector('.notice')?.textContent.includes('0 to 4')")
        assert kept(page, ground.garden)[kit.day(-2)] == (0, 4)
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert Axe().run(page, options=AXE).response["violations"] == []


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
