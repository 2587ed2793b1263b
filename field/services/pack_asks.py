"""The part of the pack from which the phone answers before a cut: dates, values and lines for the kinds there are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from field.core.ask_dates import asked_traits, find_asked
from field.core.ask_lines import lines_for_pack
from field.core.card import Card
from field.core.signs import Signs
from field.core.species import DEFAULT
from field.core.windows import climate_of
from field.services.places import Places

AHEAD_DAYS = 800  # a year ahead may be asked about, and from there the next good date of every yearly work

_Asked = dict[str, object]
_last: tuple[tuple[object, ...], dict[tuple[object, ...], _Asked]] = ((), {})


def asks_for_pack(
    places: Places,
    kinds_at: Mapping[str, Iterable[str]],
    cards: Mapping[str, Card],
    today: dt.date,
    made_from: tuple[object, ...],
) -> dict[str, object]:
    """Return what questions before a cut are answered from.

    Args:
        kinds_at: id of a site or garden -> kinds of the trees there; of trees without one, under any other name.
        made_from: as long as it is the same, what was worked out of a place and kind is taken from the last time.
    Returns: "lines", "traits" (kind -> values), "at" (site -> kind -> dates at its place), "anywhere" (kind ->
        dates of the reference climate, for every kind that any tree is of).
    """
    global _last
    before = _last[1] if _last[0] == made_from else {}
    used: dict[tuple[object, ...], _Asked] = {}
    wanted = {kind for kinds in kinds_at.values() for kind in kinds} | {DEFAULT}

    def asked(at: str | None, kind: str) -> _Asked:
        place, expected = places.find(at), places.expected(at, kind)
        key = (*place.values(), *expected.values(), kind)
        if key not in used:
            signs = Signs((), expected)
            known = key in before
            used[key] = before[key] if known else find_asked(cards[kind], climate_of(place), today, AHEAD_DAYS, signs)
        return used[key]

    found: dict[str, object] = {
        "lines": lines_for_pack(),
        "traits": {kind: asked_traits(cards[kind]) for kind in sorted(wanted)},
        "at": {
            at: {kind: asked(at, kind) for kind in sorted(kinds_at[at])}
            for at in (*places.sites, *places.gardens)
            if at in kinds_at
        },
        "anywhere": {kind: asked(None, kind) for kind in sorted(wanted)},
    }
    _last = (made_from, used)
    return found
