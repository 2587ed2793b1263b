"""The phone's own modules, in a real Chromium, on the vectors the Python core is held to.

Only the repository's static folder is served; nothing of the app runs. Each test loads the modules it names and puts
all cases to them in one call.
"""

from __future__ import annotations

import functools
import json
import random
import threading
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import case_maker
import pytest
import stands_cases
from may_i_cases import ALL, BAD, MORE
from playwright.sync_api import Browser, Page

from field.core import area as areas
from field.core import dates, geodesy, leave, reasons, units
from field.core.errors import BadInput
from field.core.may_dig import RULE, may_dig
from field.core.windows import climate_at

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parent.parent.parent
VECTORS = ROOT / "tests" / "vectors"


def read_vectors(name: str) -> dict:
    return json.loads((VECTORS / name).read_text(encoding="utf-8"))


class StaticFiles(SimpleHTTPRequestHandler):
    """The static folder, and one empty page to load modules into."""

    # The table of the machine may know no type for scripts, and a module of another type is not run.
    extensions_map = {".js": "text/javascript", ".html": "text/html", "": "application/octet-stream"}  # noqa: RUF012

    def do_GET(self) -> None:
        if self.path != "/":
            super().do_GET()
            return
        page = b"<!doctype html><title>twins</title>"
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(page)))
        self.end_headers()
        self.wfile.write(page)

    def log_message(self, *args: object) -> None:
        """Say nothing: the tests' own output is what is read."""


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    handler = functools.partial(StaticFiles, directory=str(ROOT / "static"))
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(f"http://127.0.0.1:{server.server_address[1]}/")
    yield opened
    context.close()
    server.shutdown()
    thread.join()
    server.server_close()


def put_to(page: Page, module: str, body: str, rows: object) -> list:
    """Return what a script makes of each row: {"ok": value} or {"error": {...}}.

    Args:
        module: file in static/js/core without its ending; its exports are `m`.
        body: a JavaScript expression of `m` and `row`.
    """
    script = f"""async (rows) => {{
        const m = await import('/js/core/{module}.js');
        const {{ BadInput }} = await import('/js/core/errors.js');
        return rows.map((row) => {{
            try {{ return {{ ok: {body} }}; }}
            catch (fault) {{ if (fault instanceof BadInput) return fault.asJson(); throw fault; }}
        }});
    }}"""
    return page.evaluate(script, rows)


def in_python(call, *args: object) -> dict:
    """Return what Python makes of it, in the same shape as `put_to`."""
    try:
        return {"ok": call(*args)}
    except BadInput as refused:
        return refused.as_json()


# --- may_dig --------------------------------------------------------------------------------------------------------


def test_all_cases_of_the_rule_are_answered_as_they_must(page: Page) -> None:
    answers = put_to(page, "may_dig", "m.mayDig(row)", [row[1] for row in ALL])
    for (name, _, expect), told in zip(ALL, answers, strict=True):
        got = told["ok"]
        assert got["answer"] == expect["answer"], (name, got)
        decisive = {reason["code"] for reason in got["reasons"] if reason["weight"] == got["answer"]}
        assert decisive == set(expect["codes"]), (name, got)


def test_nonsense_is_refused_with_the_same_sentence(page: Page) -> None:
    got = put_to(page, "may_dig", "m.mayDig(row)", [*BAD, None, [], "here", 3])
    assert [told["error"]["where"] for told in got[: len(BAD)]] == [bad["where"] for bad in MORE["bad"]]
    assert got == [in_python(may_dig, case) for case in [*BAD, None, [], "here", 3]]


def test_numbers_that_are_none_are_refused(page: Page) -> None:
    base = read_vectors("leave.json")["cases"][0]["input"]
    body = "m.mayDig({ ...row[0], here: { ...row[0].here, accuracy_m: [NaN, Infinity, -Infinity][row[1]] } })"
    got = put_to(page, "may_dig", body, [[base, i] for i in range(3)])
    assert [told["error"]["where"] for told in got] == ["here.accuracy_m"] * 3


def test_the_margin_is_that_of_the_rule(page: Page) -> None:
    got = put_to(page, "may_dig", "m.marginM(row)", [None, 0, 0.5, 6, 100])
    assert [told["ok"] for told in got] == pytest.approx([1, 1, 1, 9.72, 162], abs=1e-9)


# --- words ----------------------------------------------------------------------------------------------------------


def test_both_tables_of_words_are_equal(page: Page) -> None:
    got = put_to(page, "reasons", "Object.entries(m.REASONS)", [None])[0]["ok"]
    want = [[key, reasons.Reason(w.code, w.weight, w.text, w.cure).as_json()] for key, w in reasons.REASONS.items()]
    assert got == want
    got = put_to(page, "reasons", "[m.CAUTION, m.CAUTION_DEPTH, m.CONSENT_WORDS, m.CONSENT_UNNAMED]", [None])[0]["ok"]
    assert got == [reasons.CAUTION, reasons.CAUTION_DEPTH, dict(reasons.CONSENT_WORDS), reasons.CONSENT_UNNAMED]
    got = put_to(page, "reasons", "[m.KEEP_HAND_TOOLS, m.KEEP_NO_VEHICLE]", [None])[0]["ok"]
    assert got == [reasons.KEEP_HAND_TOOLS, reasons.KEEP_NO_VEHICLE]


def test_both_answer_by_the_same_version_of_the_rule(page: Page) -> None:
    assert put_to(page, "may_dig", "m.RULE", [None])[0]["ok"] == RULE


def test_names_are_listed_alike(page: Page) -> None:
    rows = [["birch"], ["birch", "larch"], ["a", "b", "c"]]
    assert [told["ok"] for told in put_to(page, "reasons", "m.listed(row)", rows)] == [
        "birch",
        "birch and larch",
        "a, b and c",
    ]


# --- areas ----------------------------------------------------------------------------------------------------------


def test_areas_cover_and_measure_as_they_must(page: Page) -> None:
    cases = read_vectors("area.json")["cases"]
    body = (
        "[m.covers(m.readArea(row.geometry), row.lat, row.lon),"
        " m.boundaryDistanceM(m.readArea(row.geometry), row.lat, row.lon)]"
    )
    for case, told in zip(cases, put_to(page, "area", body, cases), strict=True):
        covers, distance_m = told["ok"]
        assert covers == case["covers"], case["name"]
        if case["distance_m"] is not None:
            assert abs(distance_m - case["distance_m"]) < 0.01, case["name"]


def test_areas_are_measured_as_python_does(page: Page) -> None:
    rng = random.Random(55)
    cases = [case for case in read_vectors("area.json")["cases"] if case["name"] != "far outside in longitude"]
    rows = [
        {**case, "lat": case["lat"] + rng.uniform(-0.004, 0.004), "lon": case["lon"] + rng.uniform(-0.006, 0.006)}
        for case in cases
        for _ in range(20)
    ]
    body = (
        "[m.covers(m.readArea(row.geometry), row.lat, row.lon),"
        " m.boundaryDistanceM(m.readArea(row.geometry), row.lat, row.lon)]"
    )
    for row, told in zip(rows, put_to(page, "area", body, rows), strict=True):
        read = areas.read_area(row["geometry"])
        assert told["ok"][0] == areas.covers(read, row["lat"], row["lon"]), row
        assert abs(told["ok"][1] - areas.boundary_distance_m(read, row["lat"], row["lon"])) < 1e-6, row


def test_bad_areas_are_refused_with_the_same_sentence(page: Page) -> None:
    bad = read_vectors("area.json")["bad"]
    got = put_to(page, "area", "m.readArea(row.geometry)", bad)
    assert got == [in_python(areas.read_area, row["geometry"]) for row in bad]
    assert [told["error"]["where"] for told in got] == [row["where"] for row in bad]


def test_a_place_in_an_area_is_told_in_one_call(page: Page) -> None:
    field = read_vectors("area.json")["cases"][0]["geometry"]
    rows = [[field, 55.4045, -3.395], [field, 55.4055, -3.395], [field, 55.405, -3.395], [None, 55.4, -3.4]]
    inside, outside, line, none = put_to(page, "area", "m.placeInArea(...row)", rows)
    assert inside["ok"]["covers"] is True
    assert outside["ok"]["covers"] is False
    assert abs(inside["ok"]["edge_m"] - outside["ok"]["edge_m"]) < 0.01
    assert line["ok"] == {"covers": True, "edge_m": 0}
    assert none["error"]["code"] == "bad-shape"


# --- distances ------------------------------------------------------------------------------------------------------


def near_rows() -> list[dict]:
    """Lines the phone's formula promises something about: under 20 km, not beyond 75 degrees."""
    rows = read_vectors("geodesic.json")["inverse"]
    return [row for row in rows if row["distance_m"] < 20_000 and abs(row["lat1"] + row["lat2"]) / 2 <= 75]


def test_near_distances_are_right(page: Page) -> None:
    rows = near_rows()
    assert len(rows) > 20
    got = put_to(page, "geodesy", "m.distanceM(row.lat1, row.lon1, row.lat2, row.lon2)", rows)
    for row, told in zip(rows, got, strict=True):
        limit_m = 0.001 if row["distance_m"] < 1000 else 0.01
        assert abs(told["ok"] - row["distance_m"]) < limit_m, row["id"]


def test_far_distances_are_far(page: Page) -> None:
    rows = [row for row in read_vectors("geodesic.json")["inverse"] if row["distance_m"] > 20_000]
    got = put_to(page, "geodesy", "m.distanceM(row.lat1, row.lon1, row.lat2, row.lon2)", rows)
    assert all(told["ok"] > 20_000 for told in got)


def test_near_bearings_are_right(page: Page) -> None:
    rows = near_rows()
    got = put_to(page, "geodesy", "m.bearingDeg(row.lat1, row.lon1, row.lat2, row.lon2)", rows)
    for row, told in zip(rows, got, strict=True):
        if row["azi1_deg"] is None:
            assert told["ok"] is None
        else:
            assert abs(geodesy.wrap_lon(told["ok"] - row["azi1_deg"])) < 0.01, row["id"]


def test_positions_are_refused_alike(page: Page) -> None:
    rows = [[None, 0], [0, None], ["1", 0], [True, 0], [90.0001, 0], [-91, 0], [0, 180.5], [90, -180], [0, 0]]
    got = put_to(page, "geodesy", "m.readPosition(row[0], row[1], 'here')", rows)
    want = [in_python(lambda lat, lon: list(geodesy.read_position(lat, lon, "here")), *row) for row in rows]
    assert got == want


# --- slips, dates, numbers ------------------------------------------------------------------------------------------


COMPILE = """m.compileSlips(
  row.site, row.consents, row.leaves, row.lifts, row.landholders, row.questions, row.checks, row.signings)"""


def test_slips_of_made_records_are_compiled_alike(page: Page) -> None:
    rng = random.Random(20261126)
    rows = [case_maker.a_site_with_records(rng) for _ in range(600)]
    want = [leave.compile_slips(**row) for row in rows]
    got = [told["ok"] for told in put_to(page, "leave", COMPILE, rows)]
    assert [pair for pair in zip(got, want, strict=True) if pair[0] != pair[1]][:1] == []
    assert sum("checks" in one["site"] for one in want) > 100
    assert sum(any("changed" in slip for slip in one["leaves"]) for one in want) > 50


def test_slips_are_compiled_alike(page: Page) -> None:
    cases = read_vectors("slips.json")["cases"]
    got = put_to(page, "leave", COMPILE, [case["input"] for case in cases])
    assert [told["ok"] for told in got] == [case["expect"] for case in cases]
    assert [told["ok"] for told in got] == [leave.compile_slips(**case["input"]) for case in cases]


INSTANTS = [
    "2027-06-30T22:59:59Z", "2027-06-30T23:00:00Z", "2027-06-30T23:30Z", "2027-06-30T23:30:59.123456789Z",
    "2027-07-01T00:30:00+01:00", "2027-06-30T18:00:00-05:30", "2027-04-01T05:00:00Z", "2028-02-29T23:59:59.999Z",
    "2027-06-30T23:30:00", "2027-06-30 23:30:00Z", "2027-06-30T24:00:00Z", "2027-06-30T23:60:00Z",
    "2027-06-30T23:30:60Z", "2027-02-30T10:00:00Z", "2027-06-30T23:30:00+24:00", "0001-01-01T00:00:00+01:00",
    "9999-12-31T23:59:59-01:00", "0099-12-31T00:00:00Z", "", None,
]  # fmt: skip


def test_instants_are_read_alike(page: Page) -> None:
    body = "m.instantText(m.readInstant(row, 'The moment', 'now'))"
    want = [
        in_python(lambda text: dates.instant_text(dates.read_instant(text, "The moment", "now")), t) for t in INSTANTS
    ]
    assert put_to(page, "dates", body, INSTANTS) == want
    assert sum("error" in told for told in want) == 11


NO_ZONES = [
    "Europe/Nowhere", "../etc", "", None, "IST", "pst", "posix/Europe/London", "right/UTC", "localtime", "SystemV/EST5",
    "Europe", "UTC+1", "+01:00", "Z",
]  # fmt: skip


def test_days_of_places_are_told_alike(page: Page) -> None:
    zones = ["Europe/London", "AMERICA/vancouver", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu", "utc"]
    rows = [[text, zone] for text in INSTANTS[:8] for zone in [*zones, *NO_ZONES]]

    def told(text: str, zone: str | None) -> str:
        return dates.local_date(dates.read_instant(text, "The moment", "now"), dates.read_zone(zone)).isoformat()

    assert put_to(page, "dates", "m.localDate(row[0], row[1])", rows) == [in_python(told, *row) for row in rows]


def test_dates_are_read_alike(page: Page) -> None:
    rows = [
        "2027-02-14", "2028-02-29", "2000-02-29", "0001-01-01", "0099-12-31", "9999-12-31", "2027-02-29", "1900-02-29",
        "2027-04-31", "2027-00-10", "2027-13-01", "2027-01-00", "0000-01-01", "2027-2-14", "20270214", "", None,
        "2027-02-14\n", "٢٠٢٧-٠٢-١٤", 20270214,
    ]  # fmt: skip
    want = [in_python(lambda text: dates.read_date(text, "The day", "on").isoformat(), row) for row in rows]
    assert put_to(page, "dates", "m.readDate(row, 'The day', 'on')", rows) == want


def test_days_are_counted_and_shown(page: Page) -> None:
    body = "[m.daysBetween(row[0], row[1]), m.plusDays(row[0], m.daysBetween(row[0], row[1])), m.showDate(row[0])]"
    rows = [["2028-02-27", "2028-03-01"], ["2027-03-01", "2027-02-27"], ["2027-03-27", "2027-03-29"]]
    got = [told["ok"] for told in put_to(page, "dates", body, rows)]
    assert got == [
        [3, "2028-03-01", "27 February 2028"],
        [-2, "2027-02-27", "1 March 2027"],
        [2, "2027-03-29", "27 March 2027"],
    ]


def test_numbers_are_read_and_shown_alike(page: Page) -> None:
    rows = [0, 240, 2.5, None, "240", True, [], -1, -0.001, 2**53, 2**53 - 1]
    for python, script in ((units.read_measure, "readMeasure"), (units.read_count, "readCount")):
        got = put_to(page, "units", f"m.{script}(row, 'The number', 'spot')", rows)
        assert got == [in_python(python, row, "The number", "spot") for row in rows]
    metres = [0, 0.999, 1, 1.5, 2.5, 12.4, 999.4, 999.5, 1449, 1450, 9949, 9950, 123456]
    got = [told["ok"] for told in put_to(page, "units", "m.showDistance(row)", metres)]
    assert got == [units.show_distance(number) for number in metres]
    assert put_to(page, "units", "m.showLength(row)", [240.5])[0]["ok"] == "241 mm"


def test_trees_stand_where_the_core_says(page: Page) -> None:
    cases = [
        [tree, is_lifted, [{"id": one["id"], "fields": one} for one in gardens], where]
        for tree, is_lifted, gardens, where in stands_cases.CASES
    ]
    got = page.evaluate(
        """async (cases) => {
          const { standsAt } = await import('/js/core/stands_at.js');
          return cases.map(([tree, isLifted, gardens]) => (
            [gardens, [...gardens].reverse()].map((order) => standsAt(tree, isLifted, order))));
        }""",
        cases,
    )
    assert got == [[where, where] for _, _, _, where in stands_cases.CASES]


def test_seasons_move_with_the_place_as_in_the_core(page: Page) -> None:
    places = [
        (lat, height)
        for lat in (-71.0, -52.0, -40.1, 0.0, 36.99, 52.0, 55.43, 67.0, 90.0)
        for height in (0, 61, 340, 2400)
    ]
    got = page.evaluate(
        """async (places) => {
          const { laterDays } = await import('/js/core/climate.js');
          return [...places.map(([lat, height]) => laterDays(lat, height)), laterDays(55, null), laterDays(null, 300)];
        }""",
        places,
    )
    assert got == [*(climate_at(*place).later_days for place in places), climate_at(55, None).later_days, None]
