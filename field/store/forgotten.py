"""What the house keeps about forgettings: the seal that tells its own from forged ones, and whether files still go.

A forgetting blanks for good, and only the owner decides one. So the house seals each that it makes, with a key that no
phone has; a phone that brings one back, after an old backup was put in place, brings the seal with it. The keys stand
in the house's facts: they are in each backup, and go along when the log moves to another database.
"""

from __future__ import annotations

import hmac
import json
import secrets
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from field.core.forgetting import NOT_DECIDED_HERE, find_blanks_fault
from field.store.tables import JournalRow, MetaRow
from field.sync.change import canonical_bytes, op_hash

TYPE = "forgetting"  # the kind of record that says that a person was forgotten
SEAL = (
    "seal"  # beside the frame of a change, as "blanked" is: it belongs to the change, and merging needs nothing for it
)
SEALS = "forgetting_seals"  # in the facts of the house
TO_CLEAR = "forgotten_to_clear"  # there from the moment a forgetting is written down until all it names is gone
KEY_BYTES = 32


@dataclass(frozen=True, slots=True)
class Seals:
    """By what this house knows a forgetting as its own."""

    keys: tuple[
        str, ...
    ] = ()  # hex; the first one seals, all are believed: a store may have been put back over another
    before: frozenset[str] = frozenset()  # hashes of those that were taken in before there were seals

    def make(self, op: Mapping[str, Any]) -> str:
        """Return the seal of a forgetting."""
        return _seal(self.keys[0], op)

    def find_refusal(self, op: Mapping[str, Any]) -> str | None:
        """Return why a change that takes part in a forgetting is held; None when this house decided it."""
        seal = op.get(SEAL)
        if isinstance(seal, str) and seal.isascii():
            if any(hmac.compare_digest(_seal(key, op), seal) for key in self.keys):
                return find_blanks_fault(op["set"].get("blanks"))
        elif self.before and op_hash(op) in self.before:
            return None
        return NOT_DECIDED_HERE

    def beside(self, other: Seals) -> Seals:
        """Return what either knows; this one's key goes on sealing."""
        return Seals(tuple(dict.fromkeys((*self.keys, *other.keys))), self.before | other.before)


def _seal(key: str, op: Mapping[str, Any]) -> str:
    # Not over its name and stamp: it stays the same when it has to be written anew under another name.
    sealed = canonical_bytes({"type": TYPE, "rec": op["rec"], "set": op["set"]})
    return hmac.new(bytes.fromhex(key), sealed, "sha256").hexdigest()


def read_seals(session: Session) -> Seals:
    """Return the seals of the house; none in a store that was not opened by a version that has them."""
    return parse_seals(session.scalar(select(MetaRow.value).where(MetaRow.key == SEALS)))


def parse_seals(text: str | None) -> Seals:
    """Return seals as they stand in the facts of the house."""
    if text is None:
        return Seals()
    told = json.loads(text)
    return Seals(tuple(bytes.fromhex(key).hex() for key in told["keys"]), frozenset(told["before"]))


def save_seals(session: Session, seals: Seals) -> None:
    """Write the seals down, in a writing transaction."""
    told = {"keys": list(seals.keys), "before": sorted(seals.before)}
    session.merge(MetaRow(key=SEALS, value=json.dumps(told)))
    session.flush()


def ensure_seals(session: Session) -> Seals:
    """Return the seals of the house, in a writing transaction; without a key it gets one.

    Forgettings that were taken in by a version without seals stay believed.
    """
    seals = read_seals(session)
    if not seals.keys:
        seals = Seals((secrets.token_hex(KEY_BYTES),), frozenset(hashes_before(list_told(session)))).beside(seals)
        save_seals(session, seals)
    return seals


def list_told(session: Session) -> list[dict[str, Any]]:
    """Return the changes by which people were forgotten, in order of arrival, without those that are held."""
    asked = select(JournalRow.op).where(JournalRow.type == TYPE, JournalRow.held.is_(None))
    return [json.loads(text) for text in session.scalars(asked.order_by(JournalRow.pos))]


def hashes_before(ops: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return the hashes of those of some forgettings that were never sealed."""
    return [op_hash(op) for op in ops if SEAL not in op]


def mark_to_clear(session: Session) -> None:
    """Write down, in the transaction of a forgetting, that files and scraps of it are still to go."""
    session.merge(MetaRow(key=TO_CLEAR, value=str(uuid.uuid4())))
    session.flush()


def find_to_clear(session: Session) -> str | None:
    """Return the mark of what is still to go, another one for each forgetting; None when nothing is."""
    return session.scalar(select(MetaRow.value).where(MetaRow.key == TO_CLEAR))


def drop_to_clear(session: Session, mark: str) -> None:
    """Take the mark away, in a writing transaction, unless another forgetting has set a new one meanwhile."""
    session.execute(delete(MetaRow).where(MetaRow.key == TO_CLEAR, MetaRow.value == mark))
