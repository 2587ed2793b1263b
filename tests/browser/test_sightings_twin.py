"""Of several sightings in one season the phone says the one counts that home plans by."""

from __future__ import annotations

import datetime as dt
import random

import pytest
from playwright.sync_api import Page

from field.core.card import EVENT_WORDS
from field.core.sightings import near_seasons
from field.core.species import load_cards
from field.core.windows import climate_at, event_date

pytestmark = pytest.mark.browser


def test_the_sighting_that_counts_is_the_one_home_plans_by(blank: Page) -> None:
    pick = random.Random(20261127)
    cards, today = load_cards(), dt.date(2026, 6, 10)
    cases, expected = [], []
    for _ in range(400):
        card = cards[pick.choice(["birch", "larch", "hawthorn"])]
        event, climate = pick.choice(list(EVENT_WORDS)), climate_at(pick.choice([52.0, 58.5, -43.0]), 0.0)
        seasons = near_seasons(card, climate, today)[event]
        season = pick.choice(seasons)
        usual = dt.date.fromisoformat(season["usual"])
        days = sorted({usual + dt.timedelta(days=pick.randrange(-200, 200)) for _ in range(pick.randrange(5))})
        year = next(year for year in range(2023, 2029) if event_date(card, event, year, climate)[0] == usual)
        counts, seen = event_date(card, event, year, climate, {event: tuple(days)})
        texts = [day.isoformat() for day in days]
        cases.append({"event": event, "days": pick.sample(texts, len(texts)), "season": season, "seasons": seasons})
        expected.append(counts.isoformat() if seen else None)
    got = blank.evaluate(
        """async (cases) => {
          const { seasonOf, sightingsIn } = await import('/static/js/core/sightings.js');
          return cases.map(({ event, days, season, seasons }) =>
            [sightingsIn(event, days, season).counts, seasonOf(seasons, season.usual).usual]);
        }""",
        cases,
    )
    assert got == [[counts, case["season"]["usual"]] for counts, case in zip(expected, cases, strict=True)]
    assert len([one for one in expected if one is not None]) > 100
