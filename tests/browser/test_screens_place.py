"""Where it stands: several fixes and what they amount to, holding still, notations, typed places, and the way back."""

from __future__ import annotations

import json
from pathlib import Path

import hill_kit as kit
import mgrs
import pytest
from home_server import RunningServer
from playwright.sync_api import expect
from pyproj import Geod, Transformer

HERE = Path(__file__).resolve().parent
VECTORS = HERE.parent / "vectors"
WGS84 = Geod(ellps="WGS84")

LAT, LON = 55.4025, -3.395  # as kit.INSIDE
# The second has 0.00002 degrees more, the third as much less: 2.2 m by 111.3 km a degree. The mean is the first.
NEAR_BY = (
    (0.0, "2026-04-12T09:00:00.000Z"),
    (0.00002, "2026-04-20T09:00:00.000Z"),
    (-0.00002, "2026-04-28T09:00:00.000Z"),
)
OFF_LON, OFF_LAT, _ = WGS84.fwd(LON, LAT, 0, 41)  # 41 m to the north


def fix_at(ground, tree, lat, lon, accuracy_m, at, **more):
    fields = {"source": "web-geolocation", "platform": "Android", **more}
    return ground.add("fix", tree=tree, lat=lat, lon=lon, accuracy_m=accuracy_m, fixed_at=at, **fields)


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    def tree(tag):
        return ground.add("tree", site=ground.site, tag=tag, species="birch", marked_on="2026-04-12", origin="lifted")

    ground.several, ground.bare, ground.surveyed = tree("K1"), tree("K2"), tree("K3")
    for north, at in NEAR_BY:
        fix_at(ground, ground.several, LAT + north, LON, 5, at)
    ground.stray = fix_at(ground, ground.several, OFF_LAT, OFF_LON, 5, "2026-05-03T09:00:00.000Z")
    ground.point = next(p for p in GRID["os_test_points_etrs89_to_osgb36"]["points"] if p["id"] == "TP04")
    fix_at(ground, ground.surveyed, ground.point["lat"], ground.point["lon"], 5, "2026-04-12T09:00:00.000Z")
    with RunningServer(tmp_path_factory.mktemp("place") / "data") as running:
        kit.seed(running, ground)
        yield running


GRID = json.loads((VECTORS / "grid.json").read_text(encoding="utf-8"))


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
