"""What the processes of one PostgreSQL database agree on, on whatever machines they run: who may do a thing alone.

These locks are the database's own and end with the connection that holds them, however that ends. With SQLite there is
one server, and the lock of its data folder says it all: see `lock`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import OperationalError

from field.core.errors import Busy, StoreTrouble

# Beside `engine.WRITE_LOCK`; below 2**32, where no number of a file lies: see `_number_of`.
SERVING = 0x46454C53
DAILY_BACKUP = 0x46454C42

LOCK_NOT_AVAILABLE = "55P03"  # PostgreSQL's SQLSTATE lock_not_available


def in_use() -> Busy:
    """Return what is said when the turn of a file's writer did not come."""
    return Busy("This file is being written by somebody else at this moment.", "It is tried again; nothing is lost.")


def has_many(engine: Engine) -> bool:
    """Whether a database may have several servers at once."""
    return engine.dialect.name == "postgresql"


@contextmanager
def one_writer_of(engine: Engine, sha256: str, wait_s: float) -> Iterator[None]:
    """Be the only one among all processes that writes a file of that name; waits its turn.

    Raises: Busy when it did not come within `wait_s` seconds.
    """
    if not has_many(engine):
        yield
        return
    with _linked(engine) as link:
        link.execute(text("SELECT set_config('lock_timeout', :wait, false)"), {"wait": f"{wait_s * 1000:.0f}ms"})
        try:
            link.execute(text("SELECT pg_advisory_lock(:number)"), {"number": _number_of(sha256)})
        except OperationalError as fault:
            if getattr(fault.orig, "sqlstate", None) != LOCK_NOT_AVAILABLE:
                raise
            raise in_use() from None
        finally:
            link.execute(text("RESET lock_timeout"))
        yield


@contextmanager
def try_alone(engine: Engine, number: int) -> Iterator[bool]:
    """Give whether nobody else does what that number stands for; if so, nobody else begins it during the block."""
    if not has_many(engine):
        yield True
        return
    with _linked(engine) as link:
        yield bool(link.execute(text("SELECT pg_try_advisory_lock(:number)"), {"number": number}).scalar())


@contextmanager
def serving(engine: Engine) -> Iterator[None]:
    """Say for the block that a server uses the database."""
    if not has_many(engine):
        yield
        return
    with _linked(engine) as link:
        link.execute(text("SELECT pg_advisory_lock_shared(:number)"), {"number": SERVING})
        yield


@contextmanager
def no_server(engine: Engine) -> Iterator[None]:
    """Keep every server off the database during the block.

    Raises: StoreTrouble (in-use) when one uses it.
    """
    with try_alone(engine, SERVING) as alone:
        if not alone:
            raise StoreTrouble(
                "Another Fellside is running on that database.", "Stop all of its servers first.", code="in-use"
            )
        yield


def is_served(connection: Connection) -> bool:
    """Whether a server uses the database of a transaction; none begins to before the transaction ends."""
    if connection.dialect.name != "postgresql":
        return False
    return not connection.execute(text("SELECT pg_try_advisory_xact_lock(:number)"), {"number": SERVING}).scalar()


@contextmanager
def _linked(engine: Engine) -> Iterator[Connection]:
    """Give a connection of its own, in no transaction: a file may take a while to be written and checked."""
    link = engine.connect().execution_options(isolation_level="AUTOCOMMIT")
    try:
        yield link
    finally:
        try:
            link.execute(text("SELECT pg_advisory_unlock_all()"))
        except Exception:
            link.invalidate()  # with the connection goes what it held; back in the pool it would hold it for ever
        link.close()


def _number_of(sha256: str) -> int:
    return (1 << 62) | int(sha256[:15], 16)
