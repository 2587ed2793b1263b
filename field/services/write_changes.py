"""Writes changes of the server's own: the one door for whatever is recorded at the desk, by intake or by the demo."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from field.core.dates import instant_text
from field.core.errors import BadInput
from field.store import db, devices, forgotten, journal, projection
from field.sync.change import VERSION, canonical, find_fault
from field.sync.hlc import tick, write_stamp
from field.sync.merge import Entry, base_for, merge_record

Change = tuple[str, str | None, Mapping[str, Any]]


def write_changes(changes: Iterable[Change], now: dt.datetime | None = None, *, sealed: bool = False) -> list[str]:
    """Write changes in one transaction and return the ids of their records.

    Args:
        changes: (type, id of the record or None for a new one, {field: value}) each; values as core/records.py
            describes them. A later one may build on an earlier one of the same call.
        now: aware; None: the clock's.
        sealed: they are forgettings that the owner decided just now; without the seal they would be held.
    Returns: an id for each change, in order.
    Raises: BadInput when one of them cannot be applied: then none is written.
    """
    at = dt.datetime.now(dt.UTC) if now is None else now
    wanted = [(record_type, str(uuid.uuid4()) if rec is None else rec, set_) for record_type, rec, set_ in changes]
    with db.writing() as session:
        dev = devices.own_device(session)
        clock = devices.own_clock(session)
        seq = journal.last_seq(session, dev)
        known = journal.entries_of(session, {rec for _, rec, _ in wanted})
        ops: list[dict[str, Any]] = []
        for number, (record_type, rec, set_) in enumerate(wanted):
            clock = tick(clock, at.timestamp() * 1000)
            entries = known.setdefault(rec, [])
            op = canonical(
                {
                    "dev": dev,
                    "seq": seq + 1 + number,
                    "hlc": write_stamp(clock, dev),
                    "wall": instant_text(at),
                    "tz": "+00:00",
                    "rec": rec,
                    "type": record_type,
                    "set": dict(set_),
                    "base": base_for(merge_record(entries), set_),
                    "v": VERSION,
                }
            )
            if sealed:
                op[forgotten.SEAL] = forgotten.ensure_seals(session).make(op)
            fault = find_fault(op)
            if fault is not None:
                raise BadInput(fault, None, f"{record_type} {rec}", code="bad-change")
            ops.append(op)
            entries.append(Entry(op))
        arrival = journal.append(session, ops, at)
        for result in arrival.results:
            if result.state != "ok":
                raise BadInput(result.why or "The change could not be applied.", code="bad-change")
        devices.keep_clock(session, clock)
        projection.apply(session, arrival.touched)
    return [rec for _, rec, _ in wanted]
