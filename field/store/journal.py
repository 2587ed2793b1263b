"""The journal: every change as it arrived, in the order it arrived, never altered.

All functions that write are called inside one writing transaction (`engine.writing`); since writers are alone, the
next position is simply one more than the last.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import Table, bindparam, func, insert, select, update
from sqlalchemy.orm import Session

from field.core.who_sees import HANDED_OVER, REFUSALS
from field.store import forgotten
from field.store.tables import Forgetting, JournalRow, KnownRow
from field.sync.blank import BLANKED, forget, is_withheld, read_blanks, same_change
from field.sync.change import UUID, find_fault, find_name, keepable, kept_hash, op_hash, upgrade
from field.sync.hlc import find_stamp, is_suspect
from field.sync.merge import Entry
from field.sync.protocol import BAD, DUP, HELD, OK

MOST_PARAMETERS = 500  # of one IN list: well below what either engine takes
ENCODER = json.JSONEncoder(separators=(",", ":"))  # ASCII: every database keeps it as it is
JUDGED_BY = "judged_by"  # in the books of the house: the rules that changes were last judged by
FORGETTING = forgotten.TYPE
ANOTHER_KIND = "It belongs to a record of another kind."
SAME_STAMP = "Another change has the same stamp."


@dataclass(frozen=True, slots=True)
class Result:
    """What became of one change that was brought."""

    dev: str | None
    seq: int | None
    state: str  # ok, dup, held or bad
    why: str | None
    suspect: bool
    fork: bool = False  # another change is kept under its name

    def as_json(self) -> dict[str, Any]:
        return {"dev": self.dev, "seq": self.seq, "s": self.state, "why": self.why, "clock_suspect": self.suspect}


@dataclass(frozen=True, slots=True)
class Arrival:
    """What became of all changes of one batch, and which records are to be merged again."""

    results: list[Result]
    touched: set[str]
    stamps: list[str]  # of the new, believed changes
    forgot: bool = False  # a person was forgotten by it
    freed: bool = False  # one that was held for who brought it came from a phone that may write it


@dataclass(frozen=True, slots=True)
class Kept:
    """One row of the journal as it is told to others."""

    pos: int
    text: str  # the change, JSON
    suspect: bool
    held: str | None
    taken_at: dt.datetime


class _Beside:
    """What changes are beside each other: which kind each record is of, which stamps are taken, whose seals count."""

    def __init__(self, session: Session) -> None:
        self.kind_of: dict[str, str] = {}
        self.stamps: set[str] = set()
        self._session = session
        self._seals: forgotten.Seals | None = None

    def is_decided_here(self, op: Mapping[str, Any]) -> bool:
        """Whether a change has a person forgotten, and this house decided that, whichever phone brings it."""
        return op.get("type") == FORGETTING and find_fault(op) is None and self._find_refusal(op) is None

    def _find_refusal(self, op: Mapping[str, Any]) -> str | None:
        if self._seals is None:  # few batches need them
            self._seals = forgotten.read_seals(self._session)
        return self._seals.find_refusal(op)

    def find_fault(self, op: Mapping[str, Any]) -> str | None:
        """Why a change cannot be applied, by itself or beside those that are here already."""
        fault = find_fault(op)
        if fault is None and op["type"] == FORGETTING:
            fault = self._find_refusal(op)
        if fault is not None:
            return fault
        if self.kind_of.setdefault(op["rec"], op["type"]) != op["type"]:
            return ANOTHER_KIND
        if op["hlc"] in self.stamps:
            return SAME_STAMP
        self.stamps.add(op["hlc"])
        return None


class _Batch(_Beside):
    """The rows of one batch while they are being decided on."""

    def __init__(self, session: Session, ops: Sequence[Mapping[str, Any]]) -> None:
        super().__init__(session)
        self.kept = _kept_by_name(session, ops)
        recs = {rec for op in ops if (rec := find_rec(op))}
        for part in _parts(sorted(recs)):
            rows = session.execute(
                select(JournalRow.rec, JournalRow.type, JournalRow.stamp).where(
                    JournalRow.rec.in_(part), JournalRow.held.is_(None)
                )
            )
            for rec, record_type, stamp in rows:
                self.kind_of[str(rec)] = str(record_type)
                self.stamps.add(str(stamp))
        self.rows: list[dict[str, Any]] = []


def append(
    session: Session,
    ops: Iterable[Any],
    now: dt.datetime,
    find_refusal: Callable[[Mapping[str, Any]], str | None] = lambda _op: None,
) -> Arrival:
    """Take changes into the journal; what cannot be applied is held with its reason.

    Args:
        ops: changes in any state, as they were sent or written here.
        now: aware; by it is decided whose clock is not believed.
        find_refusal: why the phone that brings it may not write a change; it is held then.
    Returns: a result for each, in order. One without a name is 'bad' and not kept; so is one whose name is taken by
        another change, which is also marked as a fork.
    """
    named = [(keepable(op) if find_name(op) else None, op) for op in ops]
    known = list(session.scalars(select(Forgetting.blanks)))
    blanks = read_blanks(known)
    if blanks:
        named = [(op if op is None else dict(forget(op, blanks)), sent) for op, sent in named]
    batch = _Batch(session, [kept for kept, _ in named if kept is not None])
    now_ms = now.timestamp() * 1000
    pos = end(session)
    results: list[Result] = []
    touched: set[str] = set()
    stamps: list[str] = []
    told: list[Any] = []  # what is forgotten by what came now
    freed: list[dict[str, Any]] = []
    for op, sent in named:
        if op is None:
            results.append(_nameless(sent))
            continue
        if is_withheld(op):
            results.append(Result(op["dev"], op["seq"], BAD, "Home gave it with something left out.", False))
            continue
        dev, seq = op["dev"], op["seq"]
        hashed = kept_hash(op)
        if (dev, seq) in batch.kept:
            if hashed != batch.kept[dev, seq][0] and _is_left(session, op, batch.rows):
                hashed = batch.kept[dev, seq][0]
            if batch.kept[dev, seq][::2] == (hashed, HANDED_OVER) and find_refusal(op) is None:
                held = batch.find_fault(op)
                batch.kept[dev, seq] = (hashed, batch.kept[dev, seq][1], held)
                freed.append({"of": dev, "number": seq, "why": held, **_parts_of(op, held)})
                if held is None:
                    touched.add(op["rec"])
            results.append(_again(dev, seq, hashed, *batch.kept[dev, seq]))
            continue
        stamp = find_stamp(op.get("hlc"))
        suspect = stamp is not None and is_suspect(stamp.clock, now_ms)
        held = (None if batch.is_decided_here(op) else find_refusal(op)) or batch.find_fault(op)
        pos += 1
        batch.rows.append(_row(pos, op, hashed, suspect, held, now))
        batch.kept[dev, seq] = (hashed, suspect, held)
        results.append(Result(dev, seq, OK if held is None else HELD, held, suspect))
        if held is None:
            touched.add(op["rec"])
            if op["type"] == FORGETTING:
                told.append(op["set"].get("blanks"))
            if not suspect:
                stamps.append(op["hlc"])
    if batch.rows:
        # The bare table: through the ORM class each row would be looked at once more.
        session.connection().execute(insert(cast(Table, JournalRow.__table__)), batch.rows)
    if freed:
        _free(session, freed)
    extend_known(session, {row["dev"] for row in batch.rows} | {row["of"] for row in freed})
    newly = read_blanks(told)
    if newly:
        touched |= _forget(session, sorted(newly), read_blanks([*known, *told]))
        forgotten.mark_to_clear(session)
    return Arrival(results, touched, stamps, bool(newly), bool(freed))


def _free(session: Session, freed: Sequence[Mapping[str, Any]]) -> None:
    """Write down how changes are judged that were held until now for who had brought them."""
    table = cast(Table, JournalRow.__table__)
    row = update(table).where(table.c.dev == bindparam("of"), table.c.seq == bindparam("number"))
    row = row.values(held=bindparam("why"), type=bindparam("new_type"), stamp=bindparam("new_stamp"))
    session.connection().execute(row, freed)


def _parts_of(op: Mapping[str, Any], why: str | None) -> dict[str, Any]:
    """Return the columns of a change that depend on whether it takes part."""
    return {"new_type": op["type"] if why is None else None, "new_stamp": op["hlc"] if why is None else None}


def _is_left(session: Session, op: Mapping[str, Any], rows: Iterable[Mapping[str, Any]]) -> bool:
    """Whether the same change is kept with more or less left in it: only one side has forgotten a person yet."""
    dev, seq = op["dev"], op["seq"]
    text = session.scalar(select(JournalRow.op).where(JournalRow.dev == dev, JournalRow.seq == seq))
    if text is None:  # it came in the same batch
        text = next(row["op"] for row in rows if (row["dev"], row["seq"]) == (dev, seq))
    kept = json.loads(text)
    return (BLANKED in op or BLANKED in kept) and same_change(op, kept)


def _forget(session: Session, recs: Sequence[str], blanks: Mapping[str, frozenset[str]]) -> set[str]:
    """Blank what stands here of records already; return those of which something went."""
    table = cast(Table, JournalRow.__table__)
    gone = []
    touched = set()
    for part in _parts(recs):
        for pos, rec, text in session.connection().execute(
            select(table.c.pos, table.c.rec, table.c.op).where(table.c.rec.in_(part))
        ):
            op = json.loads(text)
            less = forget(op, blanks)
            if less is not op:
                gone.append({"at": pos, "text": ENCODER.encode(less), "hashed": kept_hash(less)})
                touched.add(str(rec))
    if gone:
        row = update(table).where(table.c.pos == bindparam("at"))
        session.connection().execute(row.values(op=bindparam("text"), hash=bindparam("hashed")), gone)
    return touched


def judge_anew(session: Session) -> int:
    """Judge every change as if it came today, in the order they came; return of how many it came out otherwise.

    After an update a change of a newer phone, held until then, may take part; and what stands in a field that was not
    known before may be no value of its kind. The changes stay as they came; only whether they are held is written.
    """
    table = cast(Table, JournalRow.__table__)
    rows = session.connection().execute(select(table.c.pos, table.c.op, table.c.held).order_by(table.c.pos))
    beside = _Beside(session)
    otherwise = []
    told = []
    for pos, text, held in rows:
        op = json.loads(text)
        is_kept_from = held in REFUSALS and not beside.is_decided_here(op)
        why = held if is_kept_from else beside.find_fault(op)
        if why is None and op["type"] == FORGETTING:
            told.append(op["set"].get("blanks"))
        if why != held:
            otherwise.append({"at": pos, "why": why, **_parts_of(op, why)})
    if otherwise:
        row = update(table).where(table.c.pos == bindparam("at"))
        row = row.values(held=bindparam("why"), type=bindparam("new_type"), stamp=bindparam("new_stamp"))
        session.connection().execute(row, otherwise)
    blanks = read_blanks(told)
    if _forget(session, sorted(blanks), blanks):  # by one that was held until now
        forgotten.mark_to_clear(session)
    return len(otherwise)


def _nameless(sent: object) -> Result:
    dev = sent.get("dev") if isinstance(sent, dict) else None
    seq = sent.get("seq") if isinstance(sent, dict) else None
    return Result(
        dev if isinstance(dev, str) else None,
        seq if isinstance(seq, int) and not isinstance(seq, bool) else None,
        BAD,
        "It has no name by which it could be kept.",
        False,
    )


def _again(dev: str, seq: int, hashed: str, kept_hash: str, suspect: bool, held: str | None) -> Result:
    if hashed == kept_hash:
        return Result(dev, seq, DUP, held, suspect)
    return Result(dev, seq, BAD, "Another change is kept under its name.", suspect, fork=True)


def _row(
    pos: int, op: Mapping[str, Any], hashed: str, suspect: bool, held: str | None, now: dt.datetime
) -> dict[str, Any]:
    # Of a held change only what a column can hold is put into columns; the whole of it is in `op`.
    return {
        "pos": pos,
        "dev": op["dev"],
        "seq": op["seq"],
        "hash": hashed,
        "rec": find_rec(op),
        "type": op["type"] if held is None else None,
        "stamp": op["hlc"] if held is None else None,
        "op": ENCODER.encode(op),
        "clock_suspect": suspect,
        "held": held,
        "taken_at": now,
    }


def find_rec(op: Mapping[str, Any]) -> str | None:
    """Return the record that a change is of, None where it names none."""
    rec = op.get("rec")
    return rec if isinstance(rec, str) and UUID.fullmatch(rec) else None


def _kept_by_name(
    session: Session, ops: Iterable[Mapping[str, Any]]
) -> dict[tuple[str, int], tuple[str, bool, str | None]]:
    by_dev: dict[str, set[int]] = defaultdict(set)
    for op in ops:
        by_dev[op["dev"]].add(op["seq"])
    found: dict[tuple[str, int], tuple[str, bool, str | None]] = {}
    for dev, seqs in by_dev.items():
        for part in _parts(sorted(seqs)):
            rows = session.execute(
                select(JournalRow.seq, JournalRow.hash, JournalRow.clock_suspect, JournalRow.held).where(
                    JournalRow.dev == dev, JournalRow.seq.in_(part)
                )
            )
            for seq, hashed, suspect, held in rows:
                found[dev, seq] = (hashed, suspect, held)
    return found


def extend_known(session: Session, devs: Iterable[str]) -> None:
    """Write down how far the changes of devices are here without a gap, after more of them were put in.

    One that waits for its own phone is such a gap: that phone would not send it otherwise.
    """
    for dev in sorted(devs):
        row = session.get(KnownRow, dev)
        upto = 0 if row is None else row.upto
        later = session.scalars(
            select(JournalRow.seq)
            .where(JournalRow.dev == dev, JournalRow.seq > upto, JournalRow.held.is_distinct_from(HANDED_OVER))
            .order_by(JournalRow.seq)
        )
        for seq in later:
            if seq != upto + 1:
                break
            upto = seq
        later.close()
        session.merge(KnownRow(dev=dev, upto=upto))
    session.flush()


def end(session: Session) -> int:
    """Return the last position, 0 for an empty journal."""
    return session.scalar(select(func.max(JournalRow.pos))) or 0


def texts_of(session: Session, dev: str, record_type: str, holding: str) -> list[str]:
    """Return the changes of a device to records of a kind in whose text something stands, as JSON."""
    asked = select(JournalRow.op).where(
        JournalRow.dev == dev, JournalRow.type == record_type, JournalRow.op.contains(holding, autoescape=True)
    )
    return list(session.scalars(asked.order_by(JournalRow.pos)))


def is_of_others(session: Session, rec: str, own: Iterable[str]) -> bool:
    """Return whether anybody but these devices has written to a record."""
    asked = select(JournalRow.pos).where(JournalRow.rec == rec, JournalRow.dev.not_in(list(own))).limit(1)
    return session.scalar(asked) is not None


def have(session: Session) -> dict[str, int]:
    """Return for each device how far its changes are here without a gap."""
    return {row.dev: row.upto for row in session.execute(select(KnownRow.dev, KnownRow.upto).order_by(KnownRow.dev))}


def last_seq(session: Session, dev: str) -> int:
    """Return the greatest number of a device's changes, 0 for none."""
    return session.scalar(select(func.max(JournalRow.seq)).where(JournalRow.dev == dev)) or 0


def read_from(session: Session, cursor: int, want: int, most_bytes: int) -> list[Kept]:
    """Return the changes after a position, in order: at most `want`, and after the first at most so many bytes."""
    return _within(_read(session, want, JournalRow.pos > cursor), most_bytes)


def list_held(session: Session, after: int, want: int, most_bytes: int) -> list[Kept]:
    """Return the changes after a position that could not be applied, as `read_from` does."""
    return _within(_read(session, want, JournalRow.pos > after, JournalRow.held.is_not(None)), most_bytes)


def _within(rows: Iterable[Kept], most_bytes: int) -> list[Kept]:
    found: list[Kept] = []
    size = 0
    for row in rows:
        size += len(row.text)
        if found and size > most_bytes:
            break
        found.append(row)
    return found


def _read(session: Session, most: int | None, *conditions: Any) -> Iterator[Kept]:
    columns = (JournalRow.pos, JournalRow.op, JournalRow.clock_suspect, JournalRow.held, JournalRow.taken_at)
    rows = session.execute(select(*columns).where(*conditions).order_by(JournalRow.pos).limit(most))
    for row in rows:
        yield Kept(*row)
    rows.close()


def entries_of(session: Session, recs: Iterable[str]) -> dict[str, list[Entry]]:
    """Return the changes of records that take part, brought to the newest form."""
    by_rec: dict[str, list[Entry]] = defaultdict(list)
    for part in _parts(sorted(recs)):
        rows = session.execute(
            select(JournalRow.rec, JournalRow.op, JournalRow.clock_suspect).where(
                JournalRow.rec.in_(part), JournalRow.held.is_(None)
            )
        )
        for rec, text, suspect in rows:
            by_rec[str(rec)].append(Entry(upgrade(json.loads(text)), suspect))
    return dict(by_rec)


def all_recs(session: Session) -> list[str]:
    """Return the ids of all records that any change taking part belongs to."""
    return list(session.scalars(select(JournalRow.rec).where(JournalRow.held.is_(None)).distinct()))


def find_bad_rows(session: Session) -> Iterator[dict[str, Any]]:
    """Yield, as {"pos", "dev", "seq", "why"}, each row that is not what was taken in."""
    expected = 1
    columns = (JournalRow.pos, JournalRow.dev, JournalRow.seq, JournalRow.hash, JournalRow.op)
    names: set[tuple[str, int]] = set()
    # Row by row: the texts of a whole journal are more than a small machine's memory.
    rows = select(*columns).order_by(JournalRow.pos).execution_options(yield_per=MOST_PARAMETERS)
    for pos, dev_, seq, hashed, op in session.execute(rows):
        dev = sys.intern(dev_)  # a few devices, each in thousands of rows
        why = find_damage(dev, seq, hashed, op)
        if why is None and (dev, seq) in names:
            why = "Two changes have the same name."
        if why is None and pos != expected:
            why = "A change before it is missing."
        names.add((dev, seq))
        expected = pos + 1
        if why is not None:
            yield {"pos": pos, "dev": dev, "seq": seq, "why": why}


def find_damage(dev: str, seq: int, hashed: str, text: str) -> str | None:
    """Return why a row is not what was taken in; None when it is."""
    try:
        op = json.loads(text)
        good = op_hash(op) == hashed
    except (ValueError, RecursionError):
        return "Its text cannot be read."
    if not good:
        return "It is not what was taken in."
    return None if find_name(op) == (dev, seq) else "It stands under another name."


def _parts(values: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for start in range(0, len(values), MOST_PARAMETERS):
        yield values[start : start + MOST_PARAMETERS]
