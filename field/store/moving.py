"""Carries the rows of one store into another, empty one, and holds the two against each other.

Carried: the journal with its positions, how far each device is known, the phones with the hashes of their tokens, the
photos' rows, and the facts of the house, its epoch among them. Not carried: what lasts minutes, as codes, sign-ins and
wrong tries. The record tables are made from the journal, as they always are, and must then be as they were.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from alembic.util import CommandError
from sqlalchemy import Connection, Engine, Table, create_engine, delete, func, insert, inspect, select, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from field.core.errors import StoreTrouble
from field.store import closed, devices, epoch, journal, migrations, projection
from field.store.engine import WRITE_LOCK, WRITING, engine_options, prepare, read_address
from field.store.tables import METADATA, BlobRow, DeviceRow, JournalRow, KnownRow, MetaRow

CARRIED: tuple[Any, ...] = (JournalRow, KnownRow, DeviceRow, BlobRow, MetaRow)
AT_ONCE = 500  # rows read or written together

MOST_WORDS = 200  # letters of what a database says; longer ones quote what stands in a record

Told = Callable[[int, int], None]
Link = Connection


@dataclass(frozen=True, slots=True)
class Place:
    """Where a log is kept."""

    url: URL
    photos: Path

    @property
    def told(self) -> str:
        """The place in words, with no secret in it."""
        url = self.url
        if url.get_backend_name() == "sqlite":
            return str(url.database)
        user = f"{url.username}@" if url.username else ""
        port = f":{url.port}" if url.port else ""
        socket = f"?host={url.query['host']}" if "host" in url.query else ""
        return f"postgresql://{user}{url.host or ''}{port}/{url.database or ''}{socket}"

    @property
    def use(self) -> str:
        """What a person does to use it."""
        if self.url.get_backend_name() == "sqlite":
            return "To use it, leave FELLSIDE_DATABASE and FELLSIDE_PHOTOS out."
        return "To use it, have FELLSIDE_DATABASE name it."


def find_place(database: str | None, data: Path, shared: Path | None) -> Place:
    """Return where a log is kept.

    Args:
        database: an SQLAlchemy address; None for SQLite in the data folder.
        shared: FELLSIDE_PHOTOS, which counts for PostgreSQL only.
    """
    url = read_address(database, data)
    return Place(url, data if shared is None or url.get_backend_name() == "sqlite" else shared)


@contextmanager
def in_words(place: Place) -> Iterator[None]:
    """Turn what a database refuses into a sentence."""
    try:
        yield
    except (SQLAlchemyError, CommandError) as fault:
        own = str(getattr(fault, "orig", None) or fault).strip().splitlines()[0]
        why = f" ({own})" if len(own) <= MOST_WORDS else ""
        raise StoreTrouble(
            f"The move to or from {place.told} did not work{why}.",
            "The old store is as it was. Look whether the database runs and may be written to, then try again.",
        ) from fault


@contextmanager
def reached(url: URL) -> Iterator[Engine]:
    """Give the engine of a database as it is: nothing is made or brought up to date."""
    engine = create_engine(url, **engine_options(url))
    prepare(engine)
    try:
        yield engine
    finally:
        engine.dispose()


@contextmanager
def alone_in(engine: Engine) -> Iterator[Connection]:
    """Give one writing transaction, alone among all writers of that database; committed at the end of the block."""
    connection = engine.connect().execution_options(**{WRITING: True})
    with connection, connection.begin():
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": WRITE_LOCK})
        yield connection


def has_tables(connection: Connection) -> bool:
    """Return whether a database was ever made ready for a log."""
    return inspect(connection).has_table("journal")


def holds_anything(connection: Connection) -> bool:
    """Return whether a log is in a database whose tables are there."""
    return any(connection.execute(select(table).limit(1)).first() for table in (JournalRow, DeviceRow, BlobRow))


def make_ready(connection: Connection, mark: closed.Mark) -> None:
    """Make the tables of a target, empty and marked."""
    migrations.bring_up(connection)
    for table in reversed(METADATA.sorted_tables):
        connection.execute(delete(table))
    closed.write(connection, mark)


def count(connection: Connection) -> dict[str, int]:
    """Return how many changes, phones and photos a store holds."""
    named = {"changes": JournalRow, "phones": DeviceRow, "photos": BlobRow}
    return {name: _count(connection, table) for name, table in named.items()}


def list_photos(connection: Connection) -> list[tuple[str, int]]:
    """Return name and length of each photo, track and paper."""
    rows = connection.execute(select(BlobRow.sha256, BlobRow.size_bytes).order_by(BlobRow.sha256))
    return [(str(sha256), int(size_bytes)) for sha256, size_bytes in rows]


def find_bad(connection: Connection) -> list[dict[str, Any]]:
    """Return the changes of a journal that are not what was taken in."""
    return list(journal.find_bad_rows(Session(bind=connection)))


def carry(source: Connection, target: Connection, told: Told) -> None:
    """Write all rows of a store into an empty one, and make its record tables."""
    of = sum(_count(source, table) for table in CARRIED)
    done = 0
    for table in CARRIED:
        for rows in _rows(source, table).partitions(AT_ONCE):
            told(done, of)
            fresh = [dict(row._mapping) for row in rows]
            done += len(fresh)
            open_rows = [row for row in fresh if row.get("key") != closed.KEY]
            if open_rows:
                target.execute(insert(cast(Table, table.__table__)), open_rows)
    told(done, of)
    projection.remake(Session(bind=target))


def list_faults(source: Connection, target: Connection) -> list[str]:
    """Return in what a store differs from the one it was carried from; nothing when it is the same."""
    faults = [
        f"the rows of {table.__tablename__} differ"
        for table in CARRIED
        if _count(source, table) != _count(target, table) or _seal(source, table) != _seal(target, table)
    ]
    faults += [f"change {bad['pos']}: {bad['why']}" for bad in find_bad(target)]
    standing = (projection.rows_standing(Session(bind=side)) for side in (source, target))
    differences = projection.list_differences(*standing)
    if differences:
        faults.append(f"{len(differences)} records are not what the journal makes of them")
    return faults


def begin_anew(connection: Connection) -> tuple[str, str | None]:
    """Open a closed store again, as another life of it; return its epoch and which database it is."""
    closed.write(connection, None)
    session = Session(bind=connection)
    fresh = epoch.renew(session)
    devices.renew_own(session)
    return fresh, epoch.find_database(session)


def read_epoch(connection: Connection) -> tuple[str, str | None]:
    """Return the epoch of a store, and which database it is."""
    session = Session(bind=connection)
    return epoch.read(session), epoch.find_database(session)


def _count(connection: Connection, table: Any) -> int:
    some = select(func.count()).select_from(table)
    if table is MetaRow:
        some = some.where(MetaRow.key != closed.KEY)
    return int(connection.execute(some).scalar_one())


def _rows(connection: Connection, table: Any) -> Any:
    columns = table.__table__.columns
    order = next(iter(table.__table__.primary_key))
    return connection.execute(select(*columns).order_by(order).execution_options(yield_per=AT_ONCE))


def _seal(connection: Connection, table: Any) -> str:
    """Return one hash of all rows. Two databases may sort words differently: each row is hashed by itself first."""
    seals = []
    for row in _rows(connection, table).mappings():
        if row.get("key") != closed.KEY:
            seals.append(hashlib.sha256(json.dumps(dict(row), default=str, sort_keys=True).encode()).digest())
    return hashlib.sha256(b"".join(seals if table is JournalRow else sorted(seals))).hexdigest()
