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


def test_the_phone_tells_days_and_gaps_as_home_does(blank: Page) -> None:
    got = blank.evaluate(
        """async ({ told, span, place }) => {
          const { daysTold, missingRuns, weatherDayId } = await import('/static/js/core/weather_day.js');
          return told.map(({ records }) => {
            const days = daysTold(records.map(([name, on, low, high]) => ({
              id: name === 'named' ? weatherDayId(place, on) : 'ffffffff-ffff-4fff-bfff-ffffffffffff',
              fields: { site: place, day_on: on, tmin_c: low, tmax_c: high },
            })));
            return [[...days].map(([on, { low, high }]) => [on, low, high]), missingRuns(days, ...span)];
          });
        }""",
        {"told": VECTORS["told"], "span": VECTORS["span"], "place": VECTORS["cases"][0]["place"]},
    )
    assert got == [[case["expect"], case["missing"]] for case in VECTORS["told"]]
