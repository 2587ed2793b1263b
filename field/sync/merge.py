"""Who wins: the merged record of a set of changes.

Per field a value stands until a change that had seen it replaces it; clocks only break ties. A pure function of the
*set* of changes: order and duplicates cannot matter. Twin of static/js/core/merge.js (tests/vectors/merge.json).

A removal names, in base["deleted"], every stamp of the record that the person had before them. A value it does not
name was written by somebody who had not seen the removal, nor been seen by it: a conflict, and the record stays in
sight until it is settled. A removal that names none of the values (an older phone's) is taken at its word.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from field.core.records import DELETED

Op = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Entry:
    """One change with what was decided about it on arrival."""

    op: Op
    suspect: bool = False  # its clock is not believed: it loses a tie


def value_text(value: object) -> str:
    """Return one text for one JSON value, whatever the order its parts were written in; 1.0 and 1 are the same."""
    return json.dumps(_plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def merge_record(changes: Iterable[Entry]) -> dict[str, Any] | None:
    """Return the record that a set of changes makes, None for no change at all.

    Args:
        changes: all of one record, held ones left out; any order, duplicates allowed.
    Returns: {"id", "type", "fields": {name: value}, "stamps": {name: [stamps of the values that stand]},
        "conflicts": {name: [{"value", "stamp", "dev", "wall"}]}, "deleted"}; lists sorted by stamp.
    """
    named = {entry.op["hlc"]: entry for entry in changes}
    entries = [named[stamp] for stamp in sorted(named)]
    if not entries:
        return None
    fields: dict[str, Any] = {}
    stamps: dict[str, list[str]] = {}
    conflicts: dict[str, list[dict[str, Any]]] = {}
    standing = {name: _standing(name, entries) for name in sorted({n for entry in entries for n in entry.op["set"]})}
    deleted = False
    for name, candidates in standing.items():
        if not candidates:
            continue  # changes that name each other in a ring: none can stand
        values = [(entry, entry.op["set"][name]) for entry in candidates]
        shown = max(candidates, key=lambda entry: (not entry.suspect, entry.op["hlc"])).op["set"][name]
        if name == DELETED:
            deleted = shown is True
            values += [(entry, False) for entry in _unseen(candidates, standing, named)]
            values.sort(key=lambda pair: str(pair[0].op["hlc"]))
        else:
            fields[name] = shown
        stamps[name] = [entry.op["hlc"] for entry, _ in values]
        if len(values) > 1 and len({value_text(value) for _, value in values}) > 1:
            conflicts[name] = [
                {"value": value, "stamp": entry.op["hlc"], "dev": entry.op["dev"], "wall": entry.op.get("wall")}
                for entry, value in values
            ]
            if name == DELETED:
                deleted = False  # kept in sight until a person settles it
    first = entries[0].op
    return {
        "id": first["rec"],
        "type": first["type"],
        "fields": fields,
        "stamps": stamps,
        "conflicts": conflicts,
        "deleted": deleted,
    }


def base_for(record: Mapping[str, Any] | None, values: Mapping[str, object]) -> dict[str, list[str]]:
    """Return the `base` of a new change of a record: for each field the stamps it replaces.

    Args:
        record: as `merge_record` gives it, None for a new one.
        values: the fields that the change sets. A removal is given every stamp of the record: see above.
    """
    stamps: Mapping[str, list[str]] = {} if record is None else record["stamps"]
    base = {name: list(stamps.get(name, ())) for name in values}
    if values.get(DELETED) is True:
        base[DELETED] = sorted({stamp for standing in stamps.values() for stamp in standing})
    return base


def _standing(name: str, entries: list[Entry]) -> list[Entry]:
    """The changes that set a field and that no other change had seen; sorted as given."""
    replaced = {stamp for entry in entries for stamp in entry.op["base"].get(name, ()) if stamp != entry.op["hlc"]}
    return [entry for entry in entries if name in entry.op["set"] and entry.op["hlc"] not in replaced]


def _unseen(removals: list[Entry], standing: Mapping[str, list[Entry]], named: Mapping[str, Entry]) -> list[Entry]:
    """The changes whose values stand and that no standing removal had seen, where the removals tell what they saw."""
    others = {
        entry.op["hlc"]: entry
        for name, candidates in standing.items()
        if name != DELETED
        for entry in candidates
        if DELETED not in entry.op["set"]
    }
    told: list[set[str]] = []
    for removal in removals:
        seen = _seen_by(removal, named) if removal.op["set"][DELETED] is True else set()
        if any(DELETED not in named[stamp].op["set"] for stamp in seen if stamp in named):
            told.append(seen)
    # What one of several removals had seen was removed knowingly.
    unseen = others.keys() - set().union(*told) if told else set()
    return [others[stamp] for stamp in sorted(unseen)]


def _seen_by(removal: Entry, named: Mapping[str, Entry]) -> set[str]:
    """The stamps a removal names, and those that the removals it names had named."""
    seen: set[str] = set()
    waiting = [removal]
    while waiting:
        for stamp in waiting.pop().op["base"].get(DELETED, ()):
            if stamp not in seen:
                seen.add(stamp)
                if stamp in named and DELETED in named[stamp].op["set"]:
                    waiting.append(named[stamp])
    return seen


def _plain(value: object) -> object:
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, list):
        return [_plain(part) for part in value]
    return value
