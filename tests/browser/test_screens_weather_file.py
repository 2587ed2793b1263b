"""A station's file at the desk: read, asked about, looked over, kept once, and taken back to what stood before."""

from __future__ import annotations

from typing import Any

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect

from field.core.weather_day import weather_day_id

PLAIN = "Date;Tmin (°C);Tmax (°C)\n2026-03-01;-2,5;4\n2026-03-02;0,5;6\n2026-03-04;warm;9\n2026-03-05;3;9\n"
ODD = "when,a,b\n3/4/2026,41,50\n4/4/2026,40,52\n"


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("station") / "data") as running:
        ground.garden = ground.add("garden", name="Back green", lat=55.4, lon=-3.4, zone="UTC", is_main=True)
        typed = {"site": ground.garden, "day_on": "2026-03-01", "tmin_c": -1, "tmax_c": 3, "how": "typed"}
        ground.records.append(("weather_day", weather_day_id(ground.garden, "2026-03-01"), typed))
        kit.seed(running, ground)
        yield running


def choose(page: Page, text: str, name: str = "station.csv") -> None:
    file: Any = {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
    page.locator("input[name='station']").set_input_files(file)


def kept(page: Page) -> dict[str, tuple[float, float]]:
    records = kit.records(page, "weather_day")
    return {one["fields"]["day_on"]: (one["fields"]["tmin_c"], one["fields"]["tmax_c"]) for one in records}


def test_a_file_is_looked_over_kept_once_and_taken_back(browser, server, ground) -> None:
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, f"#/weather/{ground.garden}")
        page.get_by_role("link", name="Read a station’s file").click()
        choose(page, PLAIN)
        sheet = page.locator("section", has_text="station.csv").first
        expect(sheet).to_contain_text("3 days, 1 Mar 2026 to 5 Mar 2026")
        expect(sheet).to_contain_text("−2.5 °C on 1 Mar 2026")
        page.get_by_text("1 line not used").click()
        expect(sheet).to_contain_text("Line 4: “warm” is no temperature.")
        page.get_by_text("2 days are missing in between").click()
        expect(sheet).to_contain_text("3 Mar 2026 to 4 Mar 2026: 2 days")
        expect(page.get_by_text("noted by hand otherwise, and left so")).to_be_visible()
        assert kept(page) == {"2026-03-01": (-1, 3)}
        page.locator(".chip", has_text="take the file’s").click()
        expect(page.get_by_text("noted by hand, replaced")).to_be_visible()
        kit.wait_until(page, "() => document.getAnimations().length === 0")
        assert kit.hindrances(page) == []
        page.get_by_role("button", name="Keep 3 days").click()
        expect(page.locator(".notice").first).to_contain_text("3 days kept")
        kit.sync(page)
        assert kept(page) == {"2026-03-01": (-2.5, 4), "2026-03-02": (0.5, 6), "2026-03-05": (3, 9)}
        choose(page, PLAIN)
        expect(page.get_by_text("Nothing in it is new.")).to_be_visible()
        page.get_by_role("button", name="Take back").click()
        page.get_by_role("button", name="Take them back").click()
        expect(page.locator(".notice").last).to_contain_text("2 days gone again, 1 day as before")
        kit.sync(page)
        assert kept(page) == {"2026-03-01": (-1, 3)}


def test_what_the_headings_do_not_tell_is_asked_and_answered_by_hand(browser, server, ground) -> None:
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, f"#/weather-file/{ground.site}")
        choose(page, "no table at all", "letter.txt")
        expect(page.locator(".notice")).to_contain_text("The file is no table")
        choose(page, ODD, "odd.csv")
        expect(page.get_by_text("Which columns hold the date")).to_be_visible()
        for label, column in (("Day", "1: when"), ("Lowest", "2: a"), ("Highest", "3: b")):
            page.get_by_label(label, exact=True).select_option(label=column)
        page.get_by_role("button", name="Read it so").click()
        expect(page.get_by_text("In which unit are the temperatures?")).to_be_visible()
        page.locator(".chip", has_text="°F").click()
        page.locator(".chip", has_text="day first").click()
        page.get_by_role("button", name="Read it so").click()
        expect(page.get_by_text("2 days, 3 Apr 2026 to 4 Apr 2026")).to_be_visible()
        page.context.set_offline(True)
        page.get_by_role("button", name="Keep 2 days").click()
        expect(page.locator(".notice").last).to_contain_text("keep them again once it is, and none is kept twice")
        page.context.set_offline(False)
        page.get_by_role("button", name="Keep 2 days").click()
        done = page.locator(".notice", has_text="2 days kept")
        expect(done).to_be_visible()
        kit.sync(page)
        assert kept(page)["2026-04-03"] == (5, 10)  # 41 and 50 °F
        done.get_by_role("button", name="Undo").click()
        expect(page.locator(".notice", has_text="2 days gone again")).to_be_visible()
