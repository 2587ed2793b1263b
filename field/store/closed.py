"""A store that is not to be used: its log was moved elsewhere, or a move into it was not finished.

The mark stands in the database itself, so that nobody opens it by mistake, whatever the settings say; it is looked at
whenever the store is opened and again with each writing transaction.
"""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, inspect, text
from sqlalchemy.orm import Session

from field.core.errors import StoreTrouble

KEY = "closed"
MOVED = "moved"  # to "to": what is here is as it was then
UNFINISHED = "unfinished"  # from "from"; "whole": whether all of it is here already

Mark = dict[str, Any]


def read(connection: Connection | Session) -> Mark | None:
    """Return the mark of a store whose tables are there, None when it is open."""
    value = connection.execute(text("SELECT value FROM meta WHERE key = :key"), {"key": KEY}).scalar()
    return None if value is None else dict(json.loads(value))


def find(connection: Connection) -> Mark | None:
    """Return the mark of a store, None when it is open or there is none yet."""
    return read(connection) if inspect(connection).has_table("meta") else None


def write(connection: Connection, mark: Mark | None) -> None:
    """Mark a store, or open it again, in a transaction of the caller."""
    connection.execute(text("DELETE FROM meta WHERE key = :key"), {"key": KEY})
    if mark is not None:
        row = {"key": KEY, "value": json.dumps(mark)}
        connection.execute(text("INSERT INTO meta (key, value) VALUES (:key, :value)"), row)


def refuse(mark: Mark) -> StoreTrouble:
    """Return what is said to whoever opens a store with that mark."""
    if mark["why"] == MOVED:
        return StoreTrouble(
            f"This log was moved to {mark['to']} on {mark['on']}; what is here is as it was then.",
            f"{mark['use']} To go on with this one instead: 'fellside move --undo'.",
            code="moved",
        )
    return StoreTrouble(
        f"A move from {mark['from']} into this database was not finished.",
        "Have the settings name the old one again, and move once more: it goes on by itself.",
        code="move-unfinished",
    )
