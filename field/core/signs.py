"""What tells when an event comes: the days on which it was seen, and the days by which the heat lets it be expected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

Observed = Mapping[str, tuple[dt.date, ...]]  # event -> the dates it was seen, the earliest first


@dataclass(frozen=True, slots=True)
class Expected:
    """When an event of one season may come, by the heat that was logged."""

    season: int  # the year of the reference climate
    earliest_on: dt.date
    latest_on: dt.date  # not before `earliest_on`
    words: str  # how it is reckoned and how sure it is, without a full stop at its end


class Signs(dict[str, tuple[dt.date, ...]]):
    """What was observed, as `Observed`, and beside it event -> what is expected; what was seen beats it."""

    def __init__(
        self,
        seen: Observed | Iterable[tuple[str, tuple[dt.date, ...]]] = (),
        expected: Mapping[str, Expected] | None = None,
    ) -> None:
        super().__init__(seen)
        self.expected: Mapping[str, Expected] = MappingProxyType(dict(expected or {}))


def find_expected(observed: Observed | None, event: str, season: int) -> Expected | None:
    """Return what is expected of an event in a season, or None."""
    if not isinstance(observed, Signs):
        return None
    found = observed.expected.get(event)
    return found if found is not None and found.season == season else None
