"""The phone names a day's record as home does."""

from __future__ import annotations

import json
from pathlib import Path

from phone_kit import call
from playwright.sync_api import Page

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "weather_day.json").read_text(encoding="utf-8"))


def test_the_phone_names_the_record_of_a_day_as_home_does(blank: Page) -> None:
    named = [call(blank, "core/weather_day", "weatherDayId", one["place"], one["day_on"]) for one in VECTORS["cases"]]
    assert named == [one["expect"] for one in VECTORS["cases"]]
    sums = [bytes(call(blank, "core/sha1", "sha1", list(one["text"].encode()))).hex() for one in VECTORS["sha1"]]
    assert sums == [one["expect"] for one in VECTORS["sha1"]]
