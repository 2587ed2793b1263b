"""Questions to the tables; answers are plain records: fields as JSON values, with "id", deleted ones left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from sqlalchemy import Select, select, union
from sqlalchemy.orm import Session

from field.core.dates import instant_text
from field.core.errors import NotFound
from field.store import journal
from field.store.engine import db
from field.store.tables import RECORD_TABLES, BlobRow, Leave, Paper, Photo, Signing, Track
from field.sync.blank import blanked_fields
from field.sync.merge import merge_record

MOST_MISSING = 1000  # names of missing photos told at once
NAMING_FILES: tuple[tuple[Any, Any], ...] = (
    (Photo, Photo.sha256),
    (Track, Track.sha256),
    (Leave, Leave.paper),
    (Paper, Paper.sha256),
    (Signing, Signing.paper),
)


def list_records(record_type: str) -> list[dict[str, Any]]:
    """Return all records of a type that are not deleted, by id.

    Returns: merged fields with "id"; dates 'YYYY-MM-DD', instants 'YYYY-MM-DDTHH:MM:SS.mmmZ', None where not known.
    """
    return _select(record_type)


def records_where(record_type: str, field: str, value: object) -> list[dict[str, Any]]:
    """Return the records of a type whose field holds a value, as `list_records` does.

    Args:
        field: a text, reference, number or truth field.
        value: None finds those where it is not known.
    """
    column = getattr(RECORD_TABLES[record_type], field)
    return _select(record_type, column == value)


def find_record(record_type: str, rec: str) -> dict[str, Any] | None:
    """Return one record as `list_records` does, None when there is none or it is deleted."""
    found = _select(record_type, RECORD_TABLES[record_type].id == rec)
    return found[0] if found else None


def get_record(record_type: str, rec: str) -> dict[str, Any]:
    """Return one record as `list_records` does; raise NotFound when there is none or it is deleted."""
    found = find_record(record_type, rec)
    if found is None:
        raise NotFound(f"There is no {record_type.replace('_', ' ')} of that name.", None, rec)
    return found


def merged_record(rec: str) -> dict[str, Any] | None:
    """Return a record of any type as the journal makes it, with stamps, conflicts and unknown fields; None if none."""
    entries = journal.entries_of(db.session(), [rec]).get(rec)
    return None if entries is None else merge_record(entries)


def signing_histories(session: Session) -> dict[str, tuple[dict[str, Any], list[dict[str, Any]]]]:
    """Return every signed letter, also a removed one, with its history: merged fields, and what each change of it set.

    From the journal, as the phones wrote it: a hash is over the very numbers and texts. The oldest change comes first.
    A letter that went when a person was forgotten is none any more.
    """
    entries = journal.entries_of(session, session.scalars(select(Signing.id).order_by(Signing.id)))
    histories = {}
    for rec, some in sorted(entries.items()):
        merged = merge_record(some)
        if merged is not None and not any(blanked_fields(one.op) for one in some):
            written = sorted((one.op for one in some), key=lambda op: str(op["hlc"]))
            histories[rec] = (merged["fields"], [op["set"] for op in written])
    return histories


def list_histories() -> dict[str, list[dict[str, Any]]]:
    """Return all records by type, removed ones too: merged fields with "id"; "was" is {field: every value it ever had}.

    Out of the journal, where what was overwritten still stands.
    """
    session = db.session()
    found: dict[str, list[dict[str, Any]]] = {}
    for rec, entries in sorted(journal.entries_of(session, journal.all_recs(session)).items()):
        merged = merge_record(entries)
        if merged is None:
            continue
        was: dict[str, list[Any]] = {}
        for entry in entries:
            for name, value in entry.op["set"].items():
                was.setdefault(name, []).append(value)
        found.setdefault(str(merged["type"]), []).append({**merged["fields"], "id": rec, "was": was})
    return found


def list_conflicts() -> list[dict[str, Any]]:
    """Return the records with something to settle: {"type", "id", "conflicts"}."""
    session = db.session()
    return [
        {"type": record_type, "id": rec, "conflicts": conflicts}
        for record_type, table in RECORD_TABLES.items()
        for rec, conflicts in session.execute(
            select(table.id, table.conflicts).where(table.conflicts.is_not(None)).order_by(table.id)
        )
    ]


def list_missing_blobs(session: Session) -> list[str]:
    """Return the photos, tracks and papers that records speak of and that are not here, in order of their names."""
    return list(session.scalars(_missing_blobs()))


def is_named(session: Session, sha256: str) -> bool:
    """Return whether a record speaks of a photo, track or paper of that name."""
    return any(
        session.scalar(select(table.id).where(column == sha256, table.deleted.is_(False)).limit(1)) is not None
        for table, column in NAMING_FILES
    )


@cache
def _missing_blobs() -> Select[tuple[str]]:
    """The question is put with every sync, and to write it down anew would take longer than to answer it."""
    asked = union(
        *(
            select(column.label("sha256")).where(column.is_not(None), table.deleted.is_(False))
            for table, column in NAMING_FILES
        )
    ).subquery()
    here = select(BlobRow.sha256).where(BlobRow.sha256 == asked.c.sha256).exists()
    return select(asked.c.sha256).where(~here).order_by(asked.c.sha256).limit(MOST_MISSING)


def _select(record_type: str, *conditions: Any) -> list[dict[str, Any]]:
    table = RECORD_TABLES[record_type]
    columns = [column for column in table.__table__.columns if column.name not in ("deleted", "conflicts")]
    rows = db.session.execute(select(*columns).where(table.deleted.is_(False), *conditions).order_by(table.id))
    return list(_to_json(rows.mappings()))


def _to_json(rows: Iterable[Mapping[Any, Any]]) -> Iterable[dict[str, Any]]:
    for row in rows:
        yield {str(name): _plain(value) for name, value in row.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return instant_text(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return value
