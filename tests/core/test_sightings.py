"""The seasons of an event that a sighting is put beside."""

from __future__ import annotations

import datetime as dt

import pytest

from field.core.sightings import near_seasons
from field.core.signs import Expected, Signs
from field.core.species import load_cards
from field.core.windows import climate_at

CARDS = load_cards()
HERE = climate_at(52.0, 0.0)
TODAY = dt.date(2026, 4, 10)


def test_each_event_of_a_birch_has_the_seasons_near_the_day() -> None:
    found = near_seasons(CARDS["birch"], HERE, TODAY)
    assert set(found) == {"bud_swell", "bud_break", "flush_hardened", "leaf_colour", "leaf_fall", "frost"}
    for seasons in found.values():
        days = [season["usual"] for season in seasons]
        assert days == sorted(days)
        assert all(season["from"] == season["usual"] == season["until"] for season in seasons)
        assert all(abs((dt.date.fromisoformat(day) - TODAY).days) <= 300 for day in days)


@pytest.mark.parametrize("kind", ["scots-pine", "box", "yew"])
def test_an_evergreen_is_never_bare_and_a_larch_is(kind: str) -> None:
    assert not {"leaf_colour", "leaf_fall"} & set(near_seasons(CARDS[kind], HERE, TODAY))
    assert "leaf_fall" in near_seasons(CARDS["larch"], HERE, TODAY)


def test_what_the_heat_lets_expect_is_told_beside_the_usual_day() -> None:
    expected = Expected(2026, dt.date(2026, 4, 1), dt.date(2026, 4, 8), "by the heat")
    plain = near_seasons(CARDS["birch"], HERE, TODAY)["bud_break"]
    told = near_seasons(CARDS["birch"], HERE, TODAY, Signs((), {"bud_break": expected}))["bud_break"]
    this = next(season for season in told if season["usual"].startswith("2026"))
    assert (this["from"], this["until"]) == ("2026-04-01", "2026-04-08")
    assert [season["usual"] for season in told] == [season["usual"] for season in plain]


def test_south_of_the_equator_the_seasons_are_those_of_the_place() -> None:
    (swell, *_) = near_seasons(CARDS["birch"], climate_at(-43.0, 0.0), dt.date(2026, 9, 1))["bud_swell"]
    assert swell["usual"][5:7] in {"08", "09", "10"}
