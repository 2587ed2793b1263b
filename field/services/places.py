"""The places of the log, ground and gardens alike: where each tree stands, and how the seasons run there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from field.core.card import Card
from field.core.expected import gather_expected
from field.core.signs import Expected, Signs
from field.core.stands_at import main_garden, stands_at
from field.core.weather_day import days_told
from field.core.windows import Place, climate_of, gather_observed, place_of_site
from field.store import queries

_Record = dict[str, Any]
_Expected = Mapping[str, Mapping[str, Expected]]  # kind -> event -> when it is expected

# Of the last reckoning: what it was made from, and place id -> what is expected there. Replaced whole.
_last: tuple[tuple[object, ...], dict[str, _Expected]] = ((), {})


@dataclass(frozen=True, slots=True)
class Places:
    """All sites and gardens by id, and what is known of the season at each."""

    sites: Mapping[str, _Record]
    gardens: Mapping[str, _Record]
    lifted: frozenset[str]  # ids of the trees that have a lift
    main: str | None
    expected_at: Mapping[str, _Expected]
    events: tuple[_Record, ...] = ()  # those noted for a place and no tree

    def of_tree(self, tree: Mapping[str, object]) -> str | None:
        """Return the id of the site or garden where a tree stands, None when it is not told."""
        return stands_at(tree, is_lifted=tree.get("id") in self.lifted, gardens=self.gardens, main=self.main)

    def find(self, place: str | None) -> Place:
        """Return where a site or garden lies; all unknown for None and for one that is not kept."""
        return place_of_site(None if place is None else self.gardens.get(place) or self.sites.get(place))

    def expected(self, place: str | None, kind: str) -> Mapping[str, Expected]:
        """Return event -> when it is expected this season for a kind at a place."""
        return self.expected_at.get(place or "", {}).get(kind, {})

    def signs(self, place: str | None, kind: str) -> Signs:
        """Return what was seen at a place as a whole, and what is expected there of a kind."""
        seen = gather_observed(one for one in self.events if one["site"] in (None, place))
        return Signs(seen, self.expected(place, kind))


def read_places(today: dt.date, cards: Mapping[str, Card], lifts: Iterable[_Record] | None = None) -> Places:
    """Return the places as they are kept now.

    Args:
        today: the day that the weather so far is reckoned to.
        cards: all kinds.
        lifts: lift records where they were read before.
    """
    sites = {one["id"]: one for one in queries.list_records("site")}
    gardens = {one["id"]: one for one in queries.list_records("garden")}
    told = queries.list_records("lift") if lifts is None else lifts
    return Places(
        sites=sites,
        gardens=gardens,
        lifted=frozenset(one["tree"] for one in told if one.get("tree")),
        main=main_garden(gardens.values()),
        expected_at=_expected_at({**sites, **gardens}, cards, today),
        events=tuple(one for one in queries.list_records("event") if one["tree"] is None),
    )


def _expected_at(records: Mapping[str, _Record], cards: Mapping[str, Card], today: dt.date) -> dict[str, _Expected]:
    global _last
    told: dict[str, list[_Record]] = {}
    for one in queries.list_records("weather_day"):
        if one["site"] in records:
            told.setdefault(one["site"], []).append(one)
    days = {place: days_told(some) for place, some in told.items()}
    if not days:
        return {}
    made_from = (today, days, {place: records[place] for place in days}, dict(cards))
    if _last[0] != made_from:
        found: dict[str, _Expected] = {
            place: gather_expected(cards.values(), logged, today, climate_of(place_of_site(records[place])))
            for place, logged in days.items()
        }
        _last = (made_from, found)
    return _last[1]
