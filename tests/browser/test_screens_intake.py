"""Intake: files go home, are placed and looked over; a bad one has its sentence; nothing is attached by itself."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

import hill_kit as kit
import pytest
from home_server import RunningServer
from PIL import Image
from playwright.sync_api import expect

HERE = Path(__file__).resolve().parent
FILES = HERE.parent / "files"


LAT, LON = 55.4025, -3.395


def photo_at(lat: float, lon: float, colour: str) -> bytes:
    """Return a JPEG that says where and when it was taken."""
    exif = Image.Exif()
    gps = {
        1: "N" if lat >= 0 else "S",
        2: (abs(lat), 0.0, 0.0),
        3: "E" if lon >= 0 else "W",
        4: (abs(lon), 0.0, 0.0),
        7: (10.0, 0.0, 0.0),
        29: dt.datetime.now(dt.UTC).strftime("%Y:%m:%d"),
    }
    exif[0x8825] = gps
    out = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", exif=exif.tobytes())
    return out.getvalue()


def as_file(name: str, content: bytes) -> dict[str, object]:
    return {"name": name, "mimeType": "application/octet-stream", "buffer": content}


@pytest.fixture
def ground():
    ground = kit.Ground()
    ground.one = ground.add("tree", site=ground.site, tag="K1", species="birch", marked_on=kit.day(-3))
    ground.add("fix", tree=ground.one, lat=LAT, lon=LON, accuracy_m=4)
    return ground


@pytest.fixture
def server(tmp_path, ground):
    with RunningServer(tmp_path / "data") as running:
        kit.seed(running, ground)
        yield running


def choose(page, *files):
    page.locator('input[name="files"]').set_input_files(list(files))
    expect(page.locator("[data-run] .progress")).to_have_count(0)


def test_a_photo_with_a_place_is_offered_its_tree_and_kept_when_accepted(browser, server, ground):
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/intake")
        choose(page, as_file("a.jpg", photo_at(LAT, LON, "green")))
        row = page.locator("[data-photo]")
        expect(row).to_contain_text("by its own position")
        expect(row.locator("[data-preview] img")).to_be_visible()
        accept = row.locator("[data-accept]")
        expect(accept).to_have_attribute("aria-pressed", "false")
        accept.click()
        expect(row.locator("[data-accept]")).to_have_attribute("aria-pressed", "true")
        page.get_by_role("button", name="Save 1 file").click()
        expect(page.locator(".notice")).to_contain_text("1 file is kept at home")
        photos = [one["fields"] for one in kit.records(page, "photo")]
        assert [(one["tree"], one["site"], one["placed_by"]) for one in photos] == [(ground.one, ground.site, "exif")]


def test_with_two_trees_near_nothing_is_attached_by_itself(browser, tmp_path, ground):
    two = ground.add("tree", site=ground.site, tag="K2", species="birch", marked_on=kit.day(-3))
    ground.add("fix", tree=two, lat=LAT + 0.00003, lon=LON, accuracy_m=4)  # 3.3 m to the north
    with RunningServer(tmp_path / "data2") as server:
        kit.seed(server, ground)
        with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
            kit.go(page, "#/intake")
            choose(page, as_file("a.jpg", photo_at(LAT, LON, "green")))
            expect(page.locator("[data-accept]")).to_have_count(2)
            expect(page.locator("[data-accept]").first).to_contain_text("K1")  # the likelier first
            expect(page.locator("[data-accept-plain]")).to_have_count(0)
            page.get_by_role("button", name="Save 1 file").click()
            expect(page.locator(".notice")).to_contain_text("kept at home")
            assert [one["fields"].get("tree") for one in kit.records(page, "photo")] == [None]


def test_bad_files_each_have_their_sentence_and_the_good_one_goes_on(browser, server):
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/intake")
        choose(
            page,
            as_file("good.jpg", photo_at(LAT, LON, "green")),
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
        page.get_by_role("button", name="Save 1 file").click()
        expect(page.locator(".notice")).to_contain_text("1 file is kept at home")
        assert [one["fields"]["file_name"] for one in kit.records(page, "photo")] == ["good.jpg"]


def test_what_is_kept_already_is_not_taken_twice(browser, server):
    content = photo_at(LAT, LON, "red")
    with kit.phone(browser, server, viewport=kit.DESK, signal=True) as page:
        kit.go(page, "#/intake")
        choose(page, as_file("a.jpg", content))
        page.get_by_role("button", name="Save 1 file").click()
        expect(page.locator(".notice")).to_contain_text("kept at home")
        choose(page, as_file("again.jpg", content))
        expect(page.locator("[data-photo]")).to_contain_text("Kept already")
        expect(page.locator("[data-save]")).to_be_disabled()


def test_without_home_intake_says_so_and_stays(browser, server):
    with kit.phone(browser, server, viewport=kit.DESK) as page:
        kit.go(page, "#/intake")
        page.locator('input[name="files"]').set_input_files([as_file("a.jpg", photo_at(LAT, LON, "blue"))])
        expect(page.locator(".notice.trouble")).to_contain_text("Home is not in reach")
        expect(page.get_by_text("Choose files")).to_be_visible()
