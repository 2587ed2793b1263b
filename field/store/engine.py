"""The database's engine: one object for the app, how its connections behave, and the one way to write.

SQLite and PostgreSQL say the same here: instants are aware UTC in and out, JSON is plain JSON, and a writing
transaction is alone from its first moment, so that journal positions become visible in their order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import JSON, DateTime, Engine, MetaData, make_url, text
from sqlalchemy import event as sa_event
from sqlalchemy.engine import URL, Connection, Dialect
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.orm import DeclarativeBase, Session
from sqlalchemy.types import TypeDecorator

from field.core.errors import BadInput, FellsideError, NoRoom, StoreTrouble
from field.store import closed

FILE_NAME = "fellside.sqlite"
BUSY_TIMEOUT_MS = 15_000  # longer than any one batch takes
WRITING = "fellside_writing"
WRITE_LOCK = 0x46454C4C  # the number all Fellside writers of one PostgreSQL database agree on
POSTGRES_NAMES = ("postgres", "postgresql", "postgresql+psycopg")
DISK_FULL_STATE = "53100"  # PostgreSQL's SQLSTATE disk_full

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The root of all tables; constraints have names, so that later migrations can speak of them."""

    metadata = MetaData(naming_convention=NAMING)


db = SQLAlchemy(model_class=Base, disable_autonaming=True)


class Utc(TypeDecorator[dt.datetime]):
    """An instant: aware in, aware UTC out, on both engines; a naive one is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant without a zone cannot be stored")
        utc = value.astimezone(dt.UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def bind_processor(self, dialect: Dialect) -> Callable[[dt.datetime | None], object]:
        """Remember what was last written out: all rows of one batch have one instant, and each would take as long."""
        plain = super().bind_processor(dialect)
        written = lru_cache(maxsize=64)(plain or (lambda value: value))

        def write(value: dt.datetime | None) -> object:
            # In UTC first: within one zone the two half past ones of an autumn night are equal.
            return written(value if value is None or value.tzinfo is None else value.astimezone(dt.UTC))

        return write

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


class Json(TypeDecorator[Any]):
    """Any JSON value; None is kept as NULL, not as JSON's null."""

    impl = JSON(none_as_null=True)
    cache_ok = True


def read_address(database_url: str | None, data_dir: Path) -> URL:
    """Return the address of the database.

    Args:
        database_url: an SQLAlchemy address; postgres:// and postgresql:// both mean PostgreSQL; None: SQLite in the
            data folder.
        data_dir: the data folder.
    Raises: BadInput when it cannot be read or names another kind of database.
    """
    if database_url is None:
        return URL.create("sqlite", database=str(data_dir / FILE_NAME))
    cure = "Give an address such as postgresql://user@host/name."
    try:
        url = make_url(database_url)
        if url.drivername in POSTGRES_NAMES:
            url = url.set(drivername="postgresql+psycopg")
        url.get_dialect()
    except (ArgumentError, NoSuchModuleError, ValueError):
        raise BadInput("The address of the database cannot be read.", cure, "database") from None
    if url.get_backend_name() not in ("sqlite", "postgresql"):
        raise BadInput("Fellside keeps its records in SQLite or PostgreSQL only.", cure, "database")
    return url


def engine_options(url: URL) -> dict[str, Any]:
    """Return the options of the engine for an address."""
    if url.get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": BUSY_TIMEOUT_MS / 1000, "check_same_thread": False}}
    # Instants come back in UTC whatever the server's own zone; years near 1 would not survive another.
    return {"connect_args": {"options": "-c timezone=utc", "application_name": "fellside"}, "pool_pre_ping": True}


def prepare(engine: Engine) -> None:
    """Make an engine's connections behave as Fellside needs."""
    if engine.dialect.name == "sqlite":
        sa_event.listen(engine, "connect", _set_up_sqlite)
        sa_event.listen(engine, "begin", _begin_sqlite)


def _set_up_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # the driver starts no transaction by itself: `_begin_sqlite` does
    cursor = connection.cursor()
    for pragma in (
        f"busy_timeout={BUSY_TIMEOUT_MS}",
        "journal_mode=WAL",
        "synchronous=FULL",  # what was said to be taken in must survive a power cut
        "foreign_keys=ON",
        "wal_autocheckpoint=8000",  # pages; measured best for many rows in random order
        "cache_size=-32000",  # KiB
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # A writer that begins as a reader can meet another one and fail in the middle; IMMEDIATE waits its turn first.
    writing_one = connection.get_execution_options().get(WRITING, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing_one else "BEGIN")


@contextmanager
def writing() -> Iterator[Session]:
    """Give the session for one writing transaction: committed at the end, rolled back on any error.

    Whatever was read before is forgotten, so that what is read inside is the newest. Not to be nested.

    Raises: NoRoom when the disk is full, StoreTrouble when the store cannot be written or was closed.
    """
    session = db.session()
    if session.info.get(WRITING):
        raise RuntimeError("a writing transaction inside another would commit the outer one's half")
    session.rollback()
    session.info[WRITING] = True
    try:
        connection = session.connection(execution_options={WRITING: True})
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": WRITE_LOCK})
        mark = closed.read(session)
        if mark is not None:  # it was moved while this process had it open
            raise closed.refuse(mark)
        yield session
        session.commit()
    except DBAPIError as fault:
        session.rollback()
        raise _in_words(fault) from fault
    except BaseException:
        session.rollback()
        raise
    finally:
        session.info.pop(WRITING, None)


@contextmanager
def snapshot() -> Iterator[Session]:
    """Give the session for questions that have to agree with each other: all of them see one moment of the store."""
    session = db.session()
    session.rollback()
    if session.get_bind().dialect.name == "postgresql":  # SQLite's readers see one moment anyway
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
    try:
        yield session
    finally:
        session.rollback()


def _in_words(fault: DBAPIError) -> FellsideError | DBAPIError:
    said = str(fault.orig)
    if getattr(fault.orig, "sqlstate", None) == DISK_FULL_STATE or "disk is full" in said:
        return no_room()
    if "readonly database" in said:
        return StoreTrouble("The data folder may not be written to.", "Look at who owns it.", code="no-write")
    if "database is locked" in said:
        return StoreTrouble("The store is busy with something else.", "Try again in a moment.", code="busy")
    return fault


def no_room() -> NoRoom:
    """Return the error of a full disk."""
    return NoRoom(
        "The disk of the server is full; nothing was changed.", "Make room, then try again.", code="disk-full"
    )
