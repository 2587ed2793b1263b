"""Changes whose name another change holds: written anew as the house's own, and known when they come once more."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from field.store import devices
from field.store.journal import MOST_PARAMETERS, last_seq
from field.store.tables import JournalRow
from field.sync.change import UUID, canonical, keepable
from field.sync.hlc import tick, write_stamp

Op = dict[str, Any]
# What a change keeps when it gets another name.
SAME = ("rec", "type", "wall", "tz", "v")


def find_same(session: Session, ops: Sequence[Mapping[str, Any]]) -> list[str | None]:
    """Return for each change the stamp under which the journal has it, whatever its name; None where it has not.

    The same change is one of the same record, instant, zone and values: a person cannot write two of them. Values that
    were blanked on either side are not compared.
    """
    recs = sorted({rec for op in ops if isinstance(rec := op.get("rec"), str) and UUID.fullmatch(rec)})
    kept: dict[str, list[Op]] = defaultdict(list)
    for start in range(0, len(recs), MOST_PARAMETERS):
        some = JournalRow.rec.in_(recs[start : start + MOST_PARAMETERS])
        for rec, text in session.execute(select(JournalRow.rec, JournalRow.op).where(some)):
            kept[str(rec)].append(json.loads(text))
    return [_stamp_of_same(keepable(op), kept.get(str(op.get("rec")), [])) for op in ops]


def _stamp_of_same(op: Op, kept: Sequence[Op]) -> str | None:
    return next((str(one.get("hlc")) for one in kept if _is_same(op, one)), None)


def _is_same(one: Op, other: Op) -> bool:
    if any(one.get(name) != other.get(name) for name in SAME):
        return False
    mine, theirs = one.get("set"), other.get("set")
    if not (isinstance(mine, dict) and isinstance(theirs, dict)):
        return bool(mine == theirs)
    shown = mine.keys() - _blanked(one) - _blanked(other)
    return mine.keys() == theirs.keys() and all(canonical(mine[name]) == canonical(theirs[name]) for name in shown)


def _blanked(op: Op) -> set[str]:
    blanked = op.get("blanked")
    fields = blanked.get("fields") if isinstance(blanked, dict) else None
    return {name for name in fields if isinstance(name, str)} if isinstance(fields, list) else set()


def issue_anew(
    session: Session, ops: Sequence[Mapping[str, Any]], stamps: dict[str, str], now: dt.datetime
) -> list[Op]:
    """Return changes under the next names of the house's own device, in a writing transaction; the caller appends them.

    Args:
        ops: oldest first.
        stamps: what stamps of them became; those made here are added.
        now: aware.
    """
    dev = devices.own_device(session)
    clock = devices.own_clock(session)
    seq = last_seq(session, dev)
    anew: list[Op] = []
    for op in ops:
        clock = tick(clock, now.timestamp() * 1000)
        seq += 1
        stamp = write_stamp(clock, dev)
        stamps[str(op.get("hlc"))] = stamp
        anew.append({**op, "dev": dev, "seq": seq, "hlc": stamp, "base": _seen(op.get("base"), stamps)})
    devices.keep_clock(session, clock)
    return anew


def _seen(base: object, stamps: Mapping[str, str]) -> object:
    """Return what a change had seen, under the stamps that it has now."""
    if not isinstance(base, dict):
        return base  # it has a fault, and is held for it
    return {
        name: [stamps.get(one, one) if isinstance(one, str) else one for one in seen]
        if isinstance(seen, list)
        else seen
        for name, seen in base.items()
    }
