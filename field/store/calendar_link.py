"""The private address of the calendar: kept only as a hash of its secret, with what its owner chose for it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from sqlalchemy import delete
from sqlalchemy.orm import Session

from field.store.tables import MetaRow

KEY = "calendar_link"


@dataclass(frozen=True, slots=True)
class Link:
    """What is known of the address."""

    token_hash: str
    made_at: str  # UTC instant
    alarm: str
    names: bool  # whether tasks of leave are told in full, with people's names


def read(session: Session) -> Link | None:
    """Return the link that is good now, None while there is none."""
    row = session.get(MetaRow, KEY)
    return None if row is None else Link(**json.loads(row.value))


def save(session: Session, link: Link) -> None:
    """Keep a link in place of the one before, which is good no longer."""
    session.merge(MetaRow(key=KEY, value=json.dumps(asdict(link))))


def end(session: Session) -> None:
    """Let the link be good no longer."""
    session.execute(delete(MetaRow).where(MetaRow.key == KEY))
