"""Notations, sun and averaged fixes on the phone: on the vectors the Python core is held to, and as it answers."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path

import phone_kit as kit
import pytest
from playwright.sync_api import Browser, Page

from field.core import dates, fix, gridref, sun, utm
from field.core.errors import BadInput

pytestmark = pytest.mark.browser

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
EVENTS = ("sunrise", "solar_noon", "sunset", "civil_dusk")


def read_vectors(name: str) -> dict:
    return json.loads((VECTORS / name).read_text(encoding="utf-8"))


GRID, SUN, TYPED, FIX = (read_vectors(f"{name}.json") for name in ("grid", "sun", "typed", "fix"))


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    with kit.Line() as line:
        context = browser.new_context()
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        yield page
        context.close()


def put_to(page: Page, module: str, body: str, rows: list) -> list:
    """Return what a script makes of each row: {"ok": value} or {"error": {...}}; `m` is the module, `row` the row."""
    script = f"""async (rows) => {{
        const m = await import('/static/js/core/{module}.js');
        const {{ BadInput }} = await import('/static/js/core/errors.js');
        return rows.map((row) => {{
            try {{ return {{ ok: {body} }}; }}
            catch (fault) {{ if (fault instanceof BadInput) return fault.asJson(); throw fault; }}
        }});
    }}"""
    return page.evaluate(script, rows)


def in_python(call, *args: object) -> dict:
    try:
        return {"ok": call(*args)}
    except BadInput as refused:
        return refused.as_json()


def told(page: Page, module: str, body: str, rows: list) -> list:
    return [row["ok"] for row in put_to(page, module, body, rows)]


def off_m(got: list[float], east_m: float, north_m: float) -> float:
    return max(abs(got[0] - east_m), abs(got[1] - north_m))


# --- grids ---------------------------------------------------------------------------------------------------------


def test_british_points(page: Page) -> None:
    rows = GRID["os_test_points_etrs89_to_osgb36"]["points"] + GRID["more_points"]["points"]
    assert len(rows) == 60
    for row, got in zip(rows, told(page, "national_grid", "m.toBritish(row.lat, row.lon)", rows), strict=True):
        assert off_m(got, row["helmert_easting"], row["helmert_northing"]) < 0.01, row
        assert off_m(got, row["helmert_os_easting"], row["helmert_os_northing"]) < 0.01, row


def test_the_worked_example_of_the_projection(page: Page) -> None:
    want = GRID["worked_example_projection"]
    body = "new m.Projection(m.AIRY, 49, -2, 0.9996012717, 400000, -100000).toGrid(row.lat, row.lon)"
    got = told(page, "mercator", body, [want])[0]
    assert off_m(got, want["easting"], want["northing"]) < 0.001


def test_letters(page: Page) -> None:
    rows = GRID["letters"]["cases"]
    got = told(page, "national_grid", "m.britishLetters(row.easting, row.northing)", rows)
    assert got == [row["letters"] for row in rows]


def test_irish_points(page: Page) -> None:
    rows = GRID["irish"]["points"]
    for row, got in zip(rows, told(page, "national_grid", "m.toIrish(row.lat, row.lon)", rows), strict=True):
        assert off_m(got, row["irish_grid_easting"], row["irish_grid_northing"]) < 0.01, row
    shown = told(page, "gridref", "m.notations(row.lat, row.lon, 100)", rows)
    assert [one["irish_grid"] for one in shown] == [row["six_figure"] for row in rows]
    assert {one["gb_grid"] for one in shown} == {None}


def test_utm_and_mgrs(page: Page) -> None:
    rows = GRID["utm_mgrs"]["points"]
    for row, got in zip(rows, told(page, "utm", "m.toUtm(row.lat, row.lon)", rows), strict=True):
        assert got[:2] == [row["zone"], row["band"]]
        assert off_m(got[2:], row["easting"], row["northing"]) < 0.001, row
    for accuracy_m, name in ((1, "mgrs_1m"), (100, "mgrs_100m")):
        got = told(page, "utm", f"m.showMgrs(row.lat, row.lon, {accuracy_m})", rows)
        assert got == [row[name] for row in rows]


def test_beyond_utm_ups_is_named(page: Page) -> None:
    assert put_to(page, "utm", "m.toUtm(row, 0)", [84.5, -80.5]) == [
        in_python(utm.to_utm, lat, 0) for lat in (84.5, -80.5)
    ]


def test_reading(page: Page) -> None:
    rows = GRID["parsing"]["cases"]
    body = "(({lat, lon, square_m}) => [m2.toBritish(lat, lon), square_m])(m.readPosition(row.text))"
    script = f"""async (rows) => {{
        const m = await import('/static/js/core/gridref.js');
        const m2 = await import('/static/js/core/national_grid.js');
        return rows.map((row) => {body});
    }}"""
    for row, (got, side_m) in zip(rows, page.evaluate(script, rows), strict=True):
        assert off_m(got, row["easting"] + side_m / 2, row["northing"] + side_m / 2) < 0.01, row
    refused = put_to(page, "gridref", "m.readPosition(row.text)", GRID["parsing"]["must_refuse"])
    assert all("error" in one for one in refused)


def test_typed_degrees(page: Page) -> None:
    for row, got in zip(TYPED["reads"], told(page, "gridref", "m.readPosition(row.text)", TYPED["reads"]), strict=True):
        assert (got["lat"], got["lon"]) == pytest.approx((row["lat"], row["lon"]), abs=1e-7), row
        assert (got["notation"], got["square_m"]) == (row["notation"], None)


def test_what_cannot_be_read_is_refused_in_the_same_sentence(page: Page) -> None:
    texts = [row["text"] for row in TYPED["refuses"]]
    got = put_to(page, "gridref", "m.readPosition(row)", texts)
    assert [one["error"]["message"] for one in got] == [row["says"] for row in TYPED["refuses"]]
    assert got == [in_python(gridref.read_position, text) for text in texts]


def test_whatever_is_typed_both_say_the_same(page: Page) -> None:
    signs = random.Random(5)
    seeds = [
        row["text"] for row in TYPED["reads"] + TYPED["squares"] + TYPED["refuses"] if isinstance(row["text"], str)
    ]
    texts = []
    for _ in range(3000):
        text = list(signs.choice(seeds) or "0")
        for _ in range(signs.randint(1, 3)):
            text[signs.randrange(len(text))] = signs.choice("0159 .,-°'\"NSEWuvfi:;é")
        texts.append("".join(text))
    for text, got in zip(texts, put_to(page, "gridref", "m.readPosition(row)", texts), strict=True):
        want = in_python(gridref.read_position, text)
        assert got.get("error") == want.get("error"), text
        if "ok" in want:
            assert (got["ok"]["lat"], got["ok"]["lon"]) == pytest.approx(
                (want["ok"]["lat"], want["ok"]["lon"]), abs=1e-9
            ), text
            assert (got["ok"]["notation"], got["ok"]["square_m"]) == (want["ok"]["notation"], want["ok"]["square_m"])


def test_both_show_the_same_to_the_letter(page: Page) -> None:
    places = random.Random(8)
    rows = [
        [places.uniform(-90, 90), places.uniform(-180, 180), places.choice([None, 0.3, 1, 4, 25, 300, 2e4])]
        for _ in range(400)
    ]
    rows += [[places.uniform(49, 61), places.uniform(-11, 2), places.choice([None, 5, 150])] for _ in range(600)]
    rows += [[0, 0, 1], [54.999999, -3.999999, 50], [91, 0, 1], [0, None, 1], [54, -3, -1], [54, -3, "5"]]
    got = put_to(page, "gridref", "m.notations(row[0], row[1], row[2])", rows)
    assert got == [in_python(gridref.notations, *row) for row in rows]


# --- sun -----------------------------------------------------------------------------------------------------------


def ms(at: datetime | None) -> int | None:
    return None if at is None else round(at.timestamp() * 1000)


def test_sun_times(page: Page) -> None:
    rows = SUN["cases"]
    body = "m.sunTimes(row.local_mean_date, row.lat, row.lon)"
    for row, got in zip(rows, told(page, "sun", body, rows), strict=True):
        limit_s = 60 if abs(row["lat"]) < 60 else 120 if abs(row["lat"]) <= 66 else 300
        for event in EVENTS:
            want = row[event]["pvlib_spa"] if isinstance(row[event], dict) else row[event]
            assert (got[event] is None) == (want is None), (row["name"], event)
            if want is not None:
                assert abs(got[event] / 1000 - datetime.fromisoformat(want).timestamp()) <= limit_s, row["name"]


def test_both_reckon_the_same_sun(page: Page) -> None:
    days = random.Random(3)
    rows = [
        [str(date(1950, 1, 1) + timedelta(days=days.randrange(50_000))), days.uniform(-90, 90), days.uniform(-180, 180),
         days.choice([0, 0, 300, 1344])]
        for _ in range(300)
    ]  # fmt: skip
    rows += [["2024-02-30", 54, -3, 0], ["0999-01-01", 54, -3, 0], ["2024-06-20", 91, 0, 0], ["2024-06-20", 54, -3, -1]]
    got = put_to(page, "sun", "m.sunTimes(row[0], row[1], row[2], row[3])", rows)
    wanted = [in_python(lambda row: asdict(sun.sun_times(dates.read_date(row[0], "The day", "on"), *row[1:])), row)
              for row in rows]  # fmt: skip
    for row, one, want in zip(rows, got, wanted, strict=True):
        assert one.get("error") == want.get("error"), row
        for event, at in want.get("ok", {}).items():
            assert (one["ok"][event] is None) == (at is None), (row, event)
            assert at is None or abs(one["ok"][event] - ms(at)) <= 1000, (row, event)


def test_daylight_left_alike(page: Page) -> None:
    moments = random.Random(4)
    # Half seconds past, so that a rounded second never decides.
    rows = [
        [
            moments.randrange(1_600_000_000, 1_900_000_000) * 1000 + 500,
            moments.uniform(-89, 89),
            moments.uniform(-180, 180),
        ]
        for _ in range(300)
    ]
    for row, got in zip(rows, told(page, "sun", "m.daylightLeft(row[0], row[1], row[2])", rows), strict=True):
        now = datetime.fromtimestamp(row[0] / 1000).astimezone()
        want = asdict(sun.daylight_left(now, row[1], row[2]))
        assert got == {**want, "sunset": ms(want["sunset"]), "civil_dusk": ms(want["civil_dusk"])}, row
    assert {sun.daylight_left(datetime.fromtimestamp(r[0] / 1000).astimezone(), r[1], r[2]).state for r in rows} == {
        "day", "dawn", "dusk", "night",
    }  # fmt: skip


def test_the_day_is_the_places_own(page: Page) -> None:
    rows = [["2024-07-01T18:00:00Z", 179.99], ["2024-07-01T18:00:00Z", -179.99], ["2024-06-22T07:00:00Z", -149.9]]
    assert told(page, "sun", "m.solarDate(row[0], row[1])", rows) == ["2024-07-02", "2024-07-01", "2024-06-21"]


# --- averaged fixes ------------------------------------------------------------------------------------------------


def test_fixes_are_averaged_as_worked_by_hand(page: Page) -> None:
    for case, got in zip(FIX["cases"], told(page, "fix", "m.averageFixes(row.fixes)", FIX["cases"]), strict=True):
        want = case["expect"]
        assert (got["lat"], got["lon"]) == pytest.approx((want["lat"], want["lon"]), abs=1e-9), case["name"]
        for name in ("accuracy_m", "height_m"):
            assert got[name] == (None if want[name] is None else pytest.approx(want[name], abs=1e-6)), case["name"]
        assert (got["used"], got["set_aside"]) == (want["used"], want["set_aside"]), case["name"]


def test_what_is_no_fix_is_refused_in_the_same_sentence(page: Page) -> None:
    rows = [row["fixes"] for row in FIX["refuses"]]
    assert put_to(page, "fix", "m.averageFixes(row)", rows) == [in_python(fix.average_fixes, row) for row in rows]


def test_both_average_alike(page: Page) -> None:
    spots = random.Random(6)
    rows = [
        [
            {
                "lat": 55.4 + spots.gauss(0, 5e-5), "lon": -3.4 + spots.gauss(0, 8e-5),
                "accuracy_m": spots.choice([None, 3, 5, 12, 40]), "height_m": spots.choice([None, 310, 322.5]),
            }
            for _ in range(spots.randint(1, 12))
        ]
        for _ in range(200)
    ]  # fmt: skip
    for row, got in zip(rows, told(page, "fix", "m.averageFixes(row)", rows), strict=True):
        want = fix.average_fixes(row)
        assert (got["used"], got["set_aside"]) == (list(want.used), list(want.set_aside))
        assert (got["lat"], got["lon"]) == pytest.approx((want.lat, want.lon), abs=1e-11)
        for name in ("accuracy_m", "height_m"):
            value = getattr(want, name)
            assert got[name] == (None if value is None else pytest.approx(value, abs=1e-9))
