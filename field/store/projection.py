"""The tables as the journal makes them: `apply` for the records a batch touched, `rows_by_type` for all of them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, cast

from sqlalchemy import Table, delete, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from field.core.records import DELETED, RECORD_TYPES
from field.store import journal
from field.store.tables import RECORD_TABLES
from field.sync.merge import merge_record

AT_ONCE = 1000  # records merged and written together: measured best for both engines

Row = dict[str, Any]


def _to_instant(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


# From a checked JSON value to what its column holds; other kinds are held as they are.
TO_COLUMN: Mapping[str, Callable[[Any], Any]] = {
    "date": dt.date.fromisoformat,
    "instant": _to_instant,
    "real": float,
    "lat": float,
    "lon": float,
}


def to_row(merged: Mapping[str, Any]) -> Row:
    """Return the table row of a merged record of a known type; fields that are not known here stay in the journal."""
    kinds = RECORD_TYPES[merged["type"]]
    conflicts = {name: told for name, told in merged["conflicts"].items() if name in kinds or name == DELETED}
    row: Row = {"id": merged["id"], DELETED: merged["deleted"], "conflicts": conflicts or None}
    for name, kind in kinds.items():
        value = merged["fields"].get(name)
        to_column = TO_COLUMN.get(kind)
        row[name] = value if value is None or to_column is None else to_column(value)
    return row


def rows_by_type(session: Session, recs: Iterable[str]) -> dict[str, list[Row]]:
    """Return the rows that the journal makes of some records, by type; a type not known here has none."""
    by_type: dict[str, list[Row]] = defaultdict(list)
    for entries in journal.entries_of(session, recs).values():
        merged = merge_record(entries)
        if merged is not None and merged["type"] in RECORD_TYPES:
            by_type[merged["type"]].append(to_row(merged))
    return by_type


def apply(session: Session, recs: Iterable[str]) -> None:
    """Merge some records again and write their rows."""
    for part in _parts(sorted(recs)):
        for record_type, rows in rows_by_type(session, part).items():
            _put(session, record_type, rows)
    session.expire_all()


def _put(session: Session, record_type: str, rows: list[Row]) -> None:
    connection = session.connection()
    insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    # The bare table: through the ORM class the rows would not go as one batch.
    statement: Any = insert(cast(Table, RECORD_TABLES[record_type].__table__))
    others = {name: statement.excluded[name] for name in rows[0] if name != "id"}
    connection.execute(statement.on_conflict_do_update(index_elements=["id"], set_=others), rows)


def rows_made(session: Session) -> Iterator[tuple[str, Row]]:
    """Yield type and row of every record as the journal makes it."""
    for part in _parts(sorted(journal.all_recs(session))):
        for record_type, rows in rows_by_type(session, part).items():
            for row in rows:
                yield record_type, row


def rows_standing(session: Session) -> Iterator[tuple[str, Row]]:
    """Yield type and row of every record as the tables hold it."""
    for record_type, table in RECORD_TABLES.items():
        for row in session.connection().execute(select(cast(Table, table.__table__))).mappings():
            yield record_type, dict(row)


def remake(session: Session) -> None:
    """Empty the tables and make them again from the journal."""
    for table in RECORD_TABLES.values():
        session.execute(delete(table))
    for part in _parts(sorted(journal.all_recs(session))):
        for record_type, rows in rows_by_type(session, part).items():
            _put(session, record_type, rows)
    session.expire_all()


def list_differences(before: Iterable[tuple[str, Row]], after: Iterable[tuple[str, Row]]) -> list[dict[str, Any]]:
    """Return what differs between two sets of rows, row by row.

    Returns: [{"type", "id", "fields"}]: the fields that differ; "fields" is None where one side has no such record.
    """
    old = {(record_type, row["id"]): row for record_type, row in before}
    new = {(record_type, row["id"]): row for record_type, row in after}
    differences: list[dict[str, Any]] = []
    for key in sorted(old.keys() | new.keys()):
        one, other = old.get(key), new.get(key)
        if one is None or other is None:
            differences.append({"type": key[0], "id": key[1], "fields": None})
            continue
        fields = sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))
        if fields:
            differences.append({"type": key[0], "id": key[1], "fields": fields})
    return differences


def _parts(recs: list[str]) -> Iterator[list[str]]:
    for start in range(0, len(recs), AT_ONCE):
        yield recs[start : start + AT_ONCE]
