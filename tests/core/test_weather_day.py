"""A day's record is named after its place and day, and what several records tell of one day is one day."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from field.core.weather import Day
from field.core.weather_day import days_told, weather_day_id

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "weather_day.json").read_text(encoding="utf-8"))
PLACE = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"


def told(day_on: str | None, low: Any, high: Any, rec: str | None = None) -> dict[str, Any]:
    name = rec if rec is not None else weather_day_id(PLACE, str(day_on))
    return {"id": name, "site": PLACE, "day_on": day_on, "tmin_c": low, "tmax_c": high}


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["day_on"])
def test_the_record_of_a_day_is_named_after_its_place_and_day(case: dict[str, str]) -> None:
    assert weather_day_id(case["place"], case["day_on"]) == case["expect"]


def test_days_come_in_order_and_a_value_that_is_not_known_stays_so() -> None:
    got = days_told([told("2026-01-02", None, 0), told("2026-01-01", -1.5, 4)])
    assert got == [Day(date(2026, 1, 1), -1.5, 4.0), Day(date(2026, 1, 2), None, 0.0)]


@pytest.mark.parametrize("named_first", [True, False])
def test_of_two_records_of_one_day_the_one_that_is_named_after_it_counts(named_first: bool) -> None:
    two = [told("2026-01-01", 1, 2), told("2026-01-01", 8, 9, rec="ffffffff-ffff-4fff-bfff-ffffffffffff")]
    assert days_told(two if named_first else two[::-1]) == [Day(date(2026, 1, 1), 1.0, 2.0)]


def test_what_cannot_be_a_day_is_not_known() -> None:
    assert days_told([told(None, 1, 2), told("2026-01-01", None, None), told("2026-01-02", 5, 1)]) == []
    assert days_told([told("2026-01-03", -91, 1), told("2026-01-04", None, 61)]) == []
