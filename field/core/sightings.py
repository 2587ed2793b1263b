"""When each event of a kind comes at a place, in the seasons near a day: what a sighting of it is put beside.

Twin of the rule which sighting counts, as `windows.event_date` has it: `static/js/core/sightings.js`.
"""

from __future__ import annotations

import datetime as dt

from field.core.card import Card
from field.core.signs import Observed
from field.core.windows import Climate, event_date

NEAR_DAYS = 300  # a season further off is neither noted now nor mended now
OF_LEAVES_THAT_FALL = ("leaf_colour", "leaf_fall")  # an evergreen's card has them as dates of the year, not to be seen


def near_seasons(
    card: Card, climate: Climate, today: dt.date, observed: Observed | None = None
) -> dict[str, list[dict[str, str]]]:
    """Return event -> its seasons near a day, the earliest first; none for what a kind does not show.

    Args:
        observed: with what the heat lets expect, as `Signs`.
    Returns: of each season {"usual", "from", "until"}: the day by the card, and the days between which it is expected.
    """
    evergreen = str(card.traits["leaf_type"].value).startswith("evergreen") if "leaf_type" in card.traits else False
    found: dict[str, list[dict[str, str]]] = {}
    for event in card.events:
        if evergreen and event in OF_LEAVES_THAT_FALL:
            continue
        for year in range(today.year - 2, today.year + 2):
            usual = event_date(card, event, year, climate)[0]
            if abs((usual - today).days) > NEAR_DAYS:
                continue
            first = event_date(card, event, year, climate, observed)[0]
            last = event_date(card, event, year, climate, observed, late=True)[0]
            season = {"usual": usual.isoformat(), "from": first.isoformat(), "until": last.isoformat()}
            found.setdefault(event, []).append(season)
    return found
