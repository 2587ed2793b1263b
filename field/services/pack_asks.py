"""The part of the pack from which the phone answers before a cut: dates, values and lines for the kinds there are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from field.core.ask_dates import asked_traits, find_asked
from field.core.ask_lines import lines_for_pack
from field.core.card import Card
from field.core.species import DEFAULT
from field.core.windows import climate_at, place_of_site

AHEAD_DAYS = 400  # the next good date of every yearly work lies within it

_Asked = dict[str, object]
_last: tuple[tuple[object, ...], dict[tuple[object, ...], _Asked]] = ((), {})


def asks_for_pack(
    sites: Iterable[Mapping[str, Any]],
    kinds_at: Mapping[str, Iterable[str]],
    cards: Mapping[str, Card],
    today: dt.date,
    made_from: tuple[object, ...],
) -> dict[str, object]:
    """Return what questions before a cut are answered from.

    Args:
        kinds_at: id of a site -> kinds of the trees there; of trees without a site, under any other name.
        made_from: as long as it is the same, what was worked out of a place and kind is taken from the last time.
    Returns: "lines", "traits" (kind -> values), "at" (site -> kind -> dates at its place), "anywhere" (kind ->
        dates of the reference climate, for every kind that any tree is of).
    """
    global _last
    before = _last[1] if _last[0] == made_from else {}
    used: dict[tuple[object, ...], _Asked] = {}
    wanted = {kind for kinds in kinds_at.values() for kind in kinds} | {DEFAULT}

    def asked(place: Mapping[str, Any], kind: str) -> _Asked:
        key = (place["lat"], place["height_m"], kind)
        if key not in used:
            climate = climate_at(place["lat"], place["height_m"])
            used[key] = before[key] if key in before else find_asked(cards[kind], climate, today, AHEAD_DAYS)
        return used[key]

    nowhere = place_of_site(None)
    found: dict[str, object] = {
        "lines": lines_for_pack(),
        "traits": {kind: asked_traits(cards[kind]) for kind in sorted(wanted)},
        "at": {
            site["id"]: {kind: asked(place_of_site(site), kind) for kind in sorted(kinds_at[site["id"]])}
            for site in sites
            if site["id"] in kinds_at
        },
        "anywhere": {kind: asked(nowhere, kind) for kind in sorted(wanted)},
    }
    _last = (made_from, used)
    return found
