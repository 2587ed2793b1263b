"""A day's record is named after its place and day, and what several records tell of one day is one day."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from field.core.weather import Day, add_up
from field.core.weather_day import days_told, weather_day_id

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "weather_day.json").read_text(encoding="utf-8"))
PLACE = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
STRAY = "ffffffff-ffff-4fff-bfff-ffffffffffff"


def told(day_on: str | None, low: Any, high: Any, rec: str | None = None) -> dict[str, Any]:
    name = rec if rec is not None else weather_day_id(PLACE, str(day_on))
    return {"id": name, "site": PLACE, "day_on": day_on, "tmin_c": low, "tmax_c": high}


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["day_on"])
def test_the_record_of_a_day_is_named_after_its_place_and_day(case: dict[str, str]) -> None:
    assert weather_day_id(case["place"], case["day_on"]) == case["expect"]


@pytest.mark.parametrize("case", VECTORS["told"], ids=lambda case: case["name"])
def test_days_are_told_as_worked_by_hand(case: dict[str, Any]) -> None:
    records = [told(on, low, high, None if name == "named" else STRAY) for name, on, low, high in case["records"]]
    got = days_told(records)
    assert got == [Day(date.fromisoformat(on), low, high) for on, low, high in case["expect"]]
    first, last = (date.fromisoformat(on) for on in VECTORS["span"])
    gaps = add_up(got, first, last, lambda low, high: low + high).missing_on
    assert gaps == tuple((date.fromisoformat(one), date.fromisoformat(other)) for one, other in case["missing"])


def test_a_record_of_no_day_tells_none() -> None:
    assert days_told([told(None, 1, 2)]) == []
