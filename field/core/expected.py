"""When the buds of a kind are expected at a place, by the heat logged there: the days that windows and tasks go by.

Only figures that are fit for it move a date: those of which `tables/bud_heat.json` says that heat alone foretells the
kind badly (beech, oak) move none. Bud swell has no figure of its own; it is expected as many days before bud break as
on the card (common practice, no source). What was seen on the tree or in the garden beats all of this.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from field.core.card import Card
from field.core.heat_forecast import Forecast, forecast
from field.core.signs import Expected
from field.core.weather import Day
from field.core.windows import SEASON_REACH_DAYS, Climate, event_date

WEAK = "weak"
ON_CARD_BEFORE = ("bud_swell",)  # events that come with bud break, as far from it as on the card


def expected_events(card: Card, days: Iterable[Day], today: dt.date, climate: Climate) -> dict[str, Expected]:
    """Return event -> when it is expected this season; empty where nothing logged allows to say it.

    Args:
        card: of its kind.
        days: all that is logged for the place, in any order; those after `today` are passed over.
        today: the day on which it is reckoned.
        climate: of the place, which says what is usual there.
    """
    found = forecast(card.kind, days, today, south=climate.south)
    if found is None or found.sure == WEAK or found.earliest_on is None or found.event not in card.events:
        return {}
    season, usual = _season(card, found.event, found.earliest_on, climate)
    # No spring is that far off: then the log is wrong, or is of another place.
    if abs((found.earliest_on - usual).days) > SEASON_REACH_DAYS:
        return {}
    latest = max(found.earliest_on, usual) if found.latest_on is None else found.latest_on
    expected = {found.event: Expected(season, found.earliest_on, latest, _words(found))}
    for event in ON_CARD_BEFORE:
        if event in card.events:
            before = usual - event_date(card, event, season, climate)[0]
            words = f"as many days before bud break as usual ({before.days}), which is reckoned {_words(found)}"
            expected[event] = Expected(season, found.earliest_on - before, latest - before, words)
    return expected


def _season(card: Card, event: str, day: dt.date, climate: Climate) -> tuple[int, dt.date]:
    usual = {year: event_date(card, event, year, climate)[0] for year in (day.year - 1, day.year, day.year + 1)}
    season = min(usual, key=lambda year: abs((usual[year] - day).days))
    return season, usual[season]


def _words(found: Forecast) -> str:
    filled = found.so_far.filled
    so_far = "an unknown number" if filled is None else f"{filled:.0f}"
    springs = {0: "", 1: " and one earlier spring"}.get(len(found.years), f" and {len(found.years)} earlier springs")
    return (
        f"by the heat logged here: {so_far} of {found.low:.0f} to {found.high:.0f} day-degrees above 5 °C so far"
        f"{springs}; the figures are orders of magnitude, so look at the buds"
    )


def gather_expected(
    cards: Iterable[Card], days: Iterable[Day], today: dt.date, climate: Climate
) -> dict[str, Mapping[str, Expected]]:
    """Return kind -> what is expected of it at one place, for the kinds of which anything is."""
    logged = list(days)
    if not logged:
        return {}
    found = {card.kind: expected_events(card, logged, today, climate) for card in cards}
    return {kind: events for kind, events in found.items() if events}
