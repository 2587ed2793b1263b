"""What a phone that may only record is told, and what it may write: sites and its own work, no one's contact data.

What it needs on the hill it gets whole: the ground, the terms of the leaves, the consents, which trees stand there and
how many were lifted. Who the landholders are, how to reach them, what was signed, papers, photos, notes and the care
of others' trees it does not get. Common practice, no source: no more than the work asks for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from field.core.records import DELETED, RECORD_TYPES

FULL = "full"
RECORD = "record"

# The kinds of record that it writes; its own changes of these it keeps whole.
WRITES = frozenset(
    {"visit", "tree", "fix", "lift", "photo", "track", "event", "work", "task_state", "box", "weather_day", "garden"}
)

# Of every other change: the fields it is told. A kind that is not here, known or not, is told by none.
SHOWN: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "site": frozenset(RECORD_TYPES["site"]) - {"note"},
        # The conditions are terms to keep on the day, also where a name stands in one.
        "leave": frozenset(RECORD_TYPES["leave"])
        - {"by_role", "by_right", "withdrawn_how", "signed_by", "paper", "note"},
        "consent": frozenset({"site", "kind", "name", "state", "starts_on", "until", "reference"}),
        "ground_check": frozenset({"site", "question", "answer", "settled_on"}),
        # So that no two people dig one tree, and the number that is left comes out right.
        "tree": frozenset({"site", "tag", "species", "origin", "girth_mm", "ended_as", "ended_on"}),
        "fix": frozenset({"tree", "lat", "lon", "accuracy_m", "fixed_at", "source", "platform"}),
        "lift": frozenset({"tree", "site", "leave", "lifted_on", "zone", "girth_mm"}),
        # So that a phone at the garden notes the day that is missing, and puts right what was read wrong.
        "weather_day": frozenset(RECORD_TYPES["weather_day"]) - {"note"},
        "species_card": frozenset(RECORD_TYPES["species_card"]),
        "forgetting": frozenset(RECORD_TYPES["forgetting"]) - {"note"},  # names nobody, and binds this phone too
    }
)

# Of these it may go on with one that others began; their other records it leaves as they are, and removes none.
SHARED = frozenset({"tree", "visit", "weather_day"})

MAY_ONLY_RECORD = "This phone may only record: who keeps the log writes this down."
# Of another phone's change, after home was put back: that phone still has it, and brings it by right.
HANDED_OVER = "A phone that may only record brought it: it waits for the phone that wrote it."
REFUSALS = frozenset({MAY_ONLY_RECORD, HANDED_OVER})  # by who brought a change, and not by what it says


def find_hidden(op: Mapping[str, Any], *, own: bool) -> frozenset[str]:
    """Return the fields of a change that a phone which may only record is not told.

    Args:
        op: a change with "type" and "set".
        own: whether it was written on that phone.
    """
    record_type = op["type"]
    if own and record_type in WRITES:
        return frozenset()
    shown = SHOWN.get(record_type, frozenset())
    return frozenset(
        name for name, value in op["set"].items() if name not in shown and name != DELETED and value is not None
    )


def find_refusal(op: Mapping[str, Any], is_of_others: Callable[[str], bool]) -> str | None:
    """Return why a change of a phone that may only record is held; None when it may write it.

    Args:
        is_of_others: whether anybody else has written to a record.
    """
    if op.get("type") not in WRITES:
        return MAY_ONLY_RECORD
    set_, rec = op.get("set"), op.get("rec")
    is_removal = isinstance(set_, Mapping) and DELETED in set_
    if (is_removal or op["type"] not in SHARED) and isinstance(rec, str) and is_of_others(rec):
        return MAY_ONLY_RECORD
    return None
