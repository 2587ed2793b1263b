"""The leave letter of the phone is that of the core, letter for letter, and it names the ground by the same place."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from field.core.area import covers, read_area
from field.core.ground_middle import middle_of
from field.core.leave_letter import COLLECTOR_ID, leave_letter

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
TEXTS = (
    "",
    " a  b ",
    "Żółw",
    "close the gates.",
    "ßx, \n y",
    "\u00a0",
    "…",
    "x\r\n\r\ny",
    "éa",
    "agent",
    "owner",
    None,
    5,
    True,
    ["x"],
)
DAYS = (
    "2027-02-14",
    "2028-02-29",
    "2027-02-29",
    "0001-01-01",
    "9999-12-31",
    "0000-01-01",
    "2027-13-01",
    "2027-1-1",
    None,
    3,
)
NUMBERS = (0, 1, 2, 9, 10, 455, 455.0, 12.5, -1, 2**53, 1e-7, 0.005, 0.125, 1.005, 99.995, 1e300, None, True, "7")
METHODS = ("hand_tools", "machine", "vehicle", "spoon", 4)


def made_facts(rng: random.Random) -> dict[str, Any]:
    """Return facts of any kind, sound and unsound, each of them there or not."""

    def person() -> Any:
        return rng.choice([None, 4, {name: rng.choice(TEXTS) for name in ("name", "address", "phone", "email")}])

    def some(of: tuple[Any, ...]) -> Any:
        return rng.choice([None, "x", [rng.choice(of) for _ in range(rng.randrange(4))]])

    leave = {
        "area": rng.choice([None, {"type": "Polygon"}]),
        **{name: rng.choice(DAYS) for name in ("starts_on", "ends_on", "withdrawn_on", "given_on")},
        **{name: rng.choice(NUMBERS) for name in ("max_girth_mm", "allowance")},
        **{name: rng.choice(TEXTS) for name in ("by_role", "by_right", "renews")},
        **{name: some(TEXTS) for name in ("species", "conditions")},
        "methods": some(METHODS),
        "form": rng.choice(["signed", "spoken", None]),
    }
    facts = {
        "collector": person(),
        "landholder": person(),
        "role": rng.choice(TEXTS),
        "by_right": rng.choice(TEXTS),
        "site": {"name": rng.choice(TEXTS), "grid_ref": rng.choice(TEXTS), "area_ha": rng.choice(NUMBERS)},
        "leave": {name: value for name, value in leave.items() if rng.random() < 0.9},
        "kinds": {"Żółw": "turtle", "a b": rng.choice(TEXTS)},
        "made_on": rng.choice(DAYS),
        "signed_before_on": rng.choice(DAYS),
    }
    return {name: value for name, value in facts.items() if rng.random() < 0.9}


def test_the_letters_of_both_languages_are_the_same(blank: Page) -> None:
    rng = random.Random(20270214)
    written = json.loads((VECTORS / "leave_letter.json").read_text(encoding="utf-8"))["cases"]
    facts = [*(case["facts"] for case in written), *(made_facts(rng) for _ in range(300))]
    got = blank.evaluate(
        """async (all) => {
          const m = await import('/static/js/core/leave_letter.js');
          return { letters: all.map((facts) => m.leaveLetter(facts)), id: m.COLLECTOR_ID };
        }""",
        facts,
    )
    assert got["id"] == COLLECTOR_ID
    assert [index for index, one in enumerate(facts) if got["letters"][index] != leave_letter(one)] == []


def made_area(rng: random.Random) -> dict[str, Any]:
    """Return an area of one to three wild stars, some with a hole, some across the 180th meridian."""
    parts = []
    for number in range(rng.randint(1, 3)):
        lon, lat = rng.choice([-3.4, 177.999, 0.0]) + number, rng.uniform(-60, 60)
        corners = rng.randint(3, 12)
        out = [(rng.uniform(0.3, 1) * 0.01, math.tau * turn / corners) for turn in range(corners)]
        ring = [[lon + far * math.cos(turn), lat + far * math.sin(turn)] for far, turn in out]
        inner = [[lon + far * 0.4 * math.cos(turn), lat + far * 0.4 * math.sin(turn)] for far, turn in out]
        parts.append([[*ring, ring[0]], *([[*inner, inner[0]]] if rng.random() < 0.5 else [])])
    return {"type": "MultiPolygon", "coordinates": parts}


def test_the_middle_of_the_ground_is_the_same_and_lies_on_it(blank: Page) -> None:
    rng = random.Random(17)
    areas = [made_area(rng) for _ in range(200)]
    got = blank.evaluate(
        """async (areas) => {
          const [{ readArea }, { middleOf }] = await Promise.all(
            ['area', 'ground_middle'].map((name) => import(`/static/js/core/${name}.js`)));
          return areas.map((area) => middleOf(readArea(area)));
        }""",
        areas,
    )
    for geometry, phone in zip(areas, got, strict=True):
        area = read_area(geometry)
        lat, lon = middle_of(area)
        assert abs(lat - phone["lat"]) < 1e-9
        assert abs(lon - phone["lon"]) < 1e-9
        assert covers(area, lat, lon) != "outside"
