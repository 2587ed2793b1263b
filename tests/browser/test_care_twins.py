"""The phone plans the care of boxed trees as the core does: the same figures, days, words and refusals."""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import pytest
from playwright.sync_api import Page

from field.core import cold, drying, evapotranspiration, mix, usual_air, wire
from field.core.errors import BadInput
from field.core.materials import Part, materials
from field.core.species import load_cards
from field.services.pack_care import care_for_pack
from field.services.places import Places

pytestmark = pytest.mark.browser
CARDS = load_cards()
PACKED: Any = care_for_pack(CARDS, Places({}, {}, frozenset(), None, {}), {}, dt.date(2026, 11, 27))
DAYS = [dt.date(2026, 1, 1) + dt.timedelta(days=number) for number in range(0, 800, 7)]
CLOSE = 1e-9  # of the figures; sums and sines may differ in their last bits

ON_THE_PHONE = """async (text) => {
  const { file, calls } = JSON.parse(text);
  const twin = await import(file);
  const { BadInput } = await import('/static/js/core/errors.js');
  return JSON.stringify(calls.map(([name, ...args]) => {
    try { return twin[name](...args); } catch (fault) {
      if (fault instanceof BadInput) return fault.asJson();
      throw fault;
    }
  }));
}"""


def on_the_phone(page: Page, file: str, calls: list[list[Any]]) -> list[Any]:
    return json.loads(page.evaluate(ON_THE_PHONE, json.dumps({"file": f"/static/js/core/{file}.js", "calls": calls})))


def in_python(call: Callable[[], Any]) -> Any:
    """Return what the core says, or its refusal, as JSON."""
    try:
        got = call()
    except BadInput as refused:
        return refused.as_json()
    return json.loads(json.dumps(asdict(got) if hasattr(got, "__dataclass_fields__") else got, default=str))


def same(mine: Any, theirs: Any) -> bool:
    """Return whether two answers are equal, figures to within `CLOSE`."""
    if isinstance(mine, dict) and isinstance(theirs, dict):
        return mine.keys() == theirs.keys() and all(same(mine[name], theirs[name]) for name in mine)
    if isinstance(mine, list) and isinstance(theirs, list):
        return len(mine) == len(theirs) and all(map(same, mine, theirs))
    if isinstance(mine, float | int) and isinstance(theirs, float | int) and not isinstance(mine, bool):
        return abs(mine - theirs) <= CLOSE * max(1.0, abs(theirs))
    return bool(mine == theirs)


def test_figures_that_differ_are_not_taken_for_the_same() -> None:
    assert same({"a": [1, 2.0]}, {"a": [1.0, 2]})
    assert not same({"a": [1, 2.001]}, {"a": [1, 2.0]})
    assert not same({"a": 1}, {"a": 1, "b": None})


def test_the_phone_takes_the_same_wire_and_the_same_days_in_the_same_words(blank: Page) -> None:
    rng = random.Random(20261127)
    calls: list[list[Any]] = [
        ["planWire", branch, 300, "aluminium", None] for branch in (0, -1, 1, 6, 18, 19, 100, 101)
    ]
    for _ in range(150):
        branch, length = round(rng.uniform(0.5, 40), 1), rng.choice([0, 50, 312.5, 1200, 20_001])
        anchor = rng.choice([None, None, 12, 40.5, 0, 1001])
        calls.append(["planWire", branch, length, rng.choice(["aluminium", "copper", "iron"]), anchor])
    expected = [in_python(lambda call=call: wire.plan_wire(*call[1:])) for call in calls]
    for kind, packed in PACKED["kinds"].items():
        for on in rng.sample(DAYS, 6):
            south = rng.random() < 0.5
            calls.append(["planWireDates", packed, on.isoformat(), south])
            expected.append(in_python(lambda k=kind, d=on, s=south: wire.plan_wire_dates(CARDS[k], d, south=s)))
    for _ in range(300):
        kind, on, south = rng.choice(list(PACKED["kinds"])), rng.choice(DAYS), rng.random() < 0.3
        looks = [
            (on + dt.timedelta(days=rng.randint(0, 90)), rng.choice(list(wire.BITES))) for _ in range(rng.randint(0, 3))
        ]
        today = on + dt.timedelta(days=rng.randint(0, 400))
        told = [[day.isoformat(), found] for day, found in looks]
        calls.append(["judgeWire", PACKED["kinds"][kind], on.isoformat(), told, today.isoformat(), south])
        expected.append(
            in_python(lambda k=kind, d=on, some=looks, t=today, s=south: wire.judge_wire(CARDS[k], d, some, t, south=s))
        )
    for asked, mine, theirs in zip(calls, on_the_phone(blank, "wire", calls), expected, strict=True):
        assert same(mine, theirs), (asked, mine, theirs)
    assert sum("error" in one for one in expected) > 10
    bites = blank.evaluate("async () => (await import('/static/js/core/wire.js')).BITES")
    assert bites == {name: one.as_json() for name, one in wire.BITES.items()}


def test_the_phone_judges_a_night_as_the_core_does(blank: Page) -> None:
    rng = random.Random(20261128)
    calls: list[list[Any]] = []
    expected = []
    for _ in range(600):
        kind, on = rng.choice(list(PACKED["kinds"])), rng.choice(DAYS)
        tmin = rng.choice([-91, 61, *(round(rng.uniform(-25, 4), rng.randint(0, 2)) for _ in range(20))])
        lifted = rng.choice([None, on - dt.timedelta(days=rng.choice([0, 1, 364, 365, 366, 2000]))])
        south, depth = rng.random() < 0.3, rng.choice([None, 8, 14.9, 15, 30])
        told = {"south": south, "box_depth_cm": depth}
        lifted_text = None if lifted is None else lifted.isoformat()
        calls.append(["judgeNight", PACKED["kinds"][kind], tmin, on.isoformat(), lifted_text, told])
        expected.append(
            in_python(
                lambda k=kind, t=tmin, d=on, up=lifted, s=south, deep=depth: cold.judge_night(
                    CARDS[k], t, d, up, south=s, box_depth_cm=deep
                )
            )
        )
    for asked, mine, theirs in zip(calls, on_the_phone(blank, "cold", calls), expected, strict=True):
        assert same(mine, theirs), (asked, mine, theirs)
    assert {one.get("answer", "refused") for one in expected} == {"safe", "near", "shelter", "refused"}


def a_mix(rng: random.Random) -> tuple[list[Part], list[Any]]:
    """Return the parts of a made mix, and how the phone is told them."""
    names = rng.sample(sorted(materials()), rng.randint(1, 4))
    amounts = [rng.randint(1, 100) for _ in names]
    parts = [Part(materials()[name], amount / sum(amounts)) for name, amount in zip(names, amounts, strict=True)]
    return parts, [{"material": PACKED["materials"][part.material.name], "share": part.share} for part in parts]


def test_the_phone_plans_mixes_and_the_drying_of_boxes_as_the_core_does(blank: Page) -> None:
    rng = random.Random(20261129)
    for file, calls, expected in (made_mixes(rng), made_days(rng), made_dryings(rng), made_usual(rng)):
        for asked, mine, theirs in zip(calls, on_the_phone(blank, file, calls), expected, strict=True):
            assert same(mine, theirs), (asked, mine, theirs)
        assert 10 < sum("error" in one for one in expected if isinstance(one, dict)) < len(expected) / 2


def made_mixes(rng: random.Random) -> tuple[str, list[list[Any]], list[Any]]:
    calls, expected = [], []
    for _ in range(200):
        parts, told = a_mix(rng)
        litres, depth = rng.choice([0, 20_001, *[rng.uniform(0.5, 200)] * 12]), rng.choice([None, 0.5, 3, 7.6, 12, 40])
        calls.append(["planMix", told, litres, depth])
        expected.append(in_python(lambda p=parts, b=litres, d=depth: mix.plan_mix(p, b, d)))
        size = [rng.randint(50, 900), rng.choice([None, rng.randint(50, 900)]), rng.randint(30, 400)]
        calls.append(["boxVolumeL", *size])
        expected.append(mix.box_volume_l(*size))
    return "mix", calls, expected


def made_days(rng: random.Random) -> tuple[str, list[list[Any]], list[Any]]:
    calls, expected = [], []
    for _ in range(300):
        low = rng.choice([-91, *[round(rng.uniform(-20, 20), 1)] * 12])
        high = low + rng.choice([-0.5, *[round(rng.uniform(0, 20), 1)] * 12])
        lat, on = rng.choice([-90, -91, 90.5, 0, *[round(rng.uniform(-90, 90), 2)] * 20]), rng.choice(DAYS)
        calls.append(["dryingOfDay", low, high, lat, on.isoformat()])
        expected.append(in_python(lambda a=low, b=high, c=lat, d=on: evapotranspiration.drying_of_day(a, b, c, d)))
    return "evapotranspiration", calls, expected


def made_usual(rng: random.Random) -> tuple[str, list[list[Any]], list[Any]]:
    calls, expected = [], []
    for _ in range(200):
        lat, on = rng.choice([-91, 90.5, 0, *[round(rng.uniform(-90, 90), 2)] * 15]), rng.choice(DAYS)
        height = rng.choice([None, 0, -9999, 99_999, 850])
        calls.append(["usualAir", lat, on.isoformat(), height])
        expected.append(in_python(lambda a=lat, d=on, h=height: usual_air.usual_air(a, d, h)))
    return "usual_air", calls, expected


def made_dryings(rng: random.Random) -> tuple[str, list[list[Any]], list[Any]]:
    calls, expected = [], []
    for _ in range(400):
        parts, told = a_mix(rng)
        litres, crown = rng.choice([0, *[rng.uniform(0.5, 200)] * 20]), rng.choice([0, 20, 60, 180, 2001])
        et0 = rng.choice([0, -1, *[rng.uniform(0, 8)] * 12])
        more = {
            "state": rng.choice([None, "fresh", "recovering", "vigorous"]),
            "depth_cm": rng.choice([None, 8, 15.5, 40]),
            "moisture_1_5": rng.choice([None, 3, 4, 5]),
            "is_bare": rng.random() < 0.3,
        }
        calls.append(["boxDrying", told, litres, crown, et0, more])
        expected.append(in_python(lambda p=parts, b=litres, c=crown, e=et0, m=more: drying.box_drying(p, b, c, e, **m)))
    return "drying", calls, expected


def test_numbers_in_words_are_rounded_as_the_core_rounds_them(blank: Page) -> None:
    numbers = [0.5, 1.5, 2.5, 12.5, 0.25, 0.35, 0.75, 2.675, 1e-7, 99.95, -2.5, -0.25, 37.0, 1234.565]
    calls = [["fixed", number, digits] for number in numbers for digits in (0, 1, 2)]
    assert on_the_phone(blank, "rounded", calls) == [f"{number:.{digits}f}" for _, number, digits in calls]
