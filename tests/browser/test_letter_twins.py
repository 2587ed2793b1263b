"""The leave letter of the phone is the one of the core, letter for letter: what is signed on either is the same."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

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
