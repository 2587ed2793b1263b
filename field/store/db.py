"""The store of one app: opened on a data folder, its tables brought up to date, its epoch looked after.

`writing()`, `snapshot()` and `db` are given on from `engine`, for the web and the services.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic.util import CommandError
from flask import Flask, current_app
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError, OperationalError, SQLAlchemyError
from sqlalchemy.orm import Session

from field.core.errors import BadInput, FellsideError, StoreTrouble
from field.store import among, closed, devices, epoch, files, forgotten, journal, migrations, projection
from field.store.engine import (
    FILE_NAME,
    WRITE_LOCK,
    WRITING,
    db,
    engine_options,
    no_room,
    prepare,
    read_address,
    snapshot,
    writing,
)
from field.store.tables import MetaRow
from field.sync.change import rules_name

__all__ = [
    "Session",
    "alone",
    "close",
    "data_dir",
    "db",
    "find_trouble",
    "holds_log",
    "init_app",
    "migrate",
    "no_room",
    "note_epoch",
    "photos_dir",
    "serving",
    "snapshot",
    "writing",
]

DATA_DIR = "HOUSE_DATA_DIR"  # where app.config keeps it; the person sets FELLSIDE_DATA
PHOTOS_DIR = "HOUSE_PHOTOS_DIR"  # the same; FELLSIDE_PHOTOS
MOST_OWN_WORDS = 60  # letters; what SQLite says of a file or a disk is shorter
FOLDERS = ("blobs", "parts", "previews", "packs")


def init_app(app: Flask, database_url: str | None, data_dir: Path | str, photos_dir: Path | str | None = None) -> None:
    """Open the store of an app, making folder and tables where they are missing.

    Args:
        app: gets the store; its services are called inside its app context.
        database_url: an SQLAlchemy address, None for SQLite in the data folder.
        data_dir: the folder that everything is kept in that is this machine's own, and with SQLite all else too.
        photos_dir: the folder of what all servers of one database share: photos, what arrives of them, small pictures,
            packs; None: the data folder.
    Raises: BadInput for an unreadable address, or a folder of photos beside SQLite; StoreTrouble when folder or
        database cannot be used, or the log was moved elsewhere.
    """
    folder = Path(data_dir)
    shared = folder if photos_dir is None else Path(photos_dir)
    url = read_address(database_url, folder)
    if photos_dir is not None and url.get_backend_name() == "sqlite":
        raise BadInput("With SQLite the photos lie in the data folder.", "Leave FELLSIDE_PHOTOS out.", "photos")
    if shared != folder and not shared.is_dir():  # made by mistake, it would stand where a disk is to be mounted
        raise StoreTrouble(f"There is no folder {shared} for the photos.", "Make it, if its disk is there.")
    _make_folders(folder, shared)
    app.config[DATA_DIR] = folder
    app.config[PHOTOS_DIR] = shared
    app.config["SQLALCHEMY_DATABASE_URI"] = url
    app.config["SQLALCHEMY_ENGINE_OPTIONS"] = engine_options(url)
    db.init_app(app)
    with app.app_context():
        prepare(db.engine)
        try:
            migrate(app)
        except OSError as fault:
            close(app)
            raise _unusable(shared, fault) from None
        except FellsideError:
            close(app)
            raise
        except (SQLAlchemyError, CommandError, UnicodeDecodeError) as fault:  # the last: damage in a table's name
            close(app)
            raise _shut(folder / FILE_NAME if database_url is None else None, fault) from fault


@contextmanager
def alone(database_url: str | None, data_dir: Path | str, photos_dir: Path | str | None = None) -> Iterator[Flask]:
    """Open a store by itself for the block, without the web; as `init_app`."""
    house = Flask("house")
    init_app(house, database_url, data_dir, photos_dir)
    try:
        with house.app_context():
            yield house
    finally:
        close(house)


def holds_log(folder: Path) -> bool:
    """Return whether a folder holds a log in SQLite, or nothing at all: what is someone's other folder is left alone.

    A folder that cannot be looked into counts as one, so that opening it tells why.
    """
    try:
        return (folder / FILE_NAME).exists() or not any(folder.iterdir())
    except OSError:
        return True


def _make_folders(folder: Path, shared: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise _unusable(folder, fault) from None
    try:
        for name in FOLDERS:
            (shared / name).mkdir(exist_ok=True)
        files.drop_stale(shared / "parts", "whole-*")
    except OSError as fault:
        raise _unusable(shared, fault) from None


def _unusable(folder: Path, fault: OSError) -> StoreTrouble:
    return StoreTrouble(
        f"The data folder {folder} cannot be used: {fault.strerror}.", "Give another one, or look at who owns it."
    )


def _shut(file: Path | None, fault: Exception) -> StoreTrouble:
    """Return what is said of a database that does not open; file: that of SQLite in the data folder, else None."""
    what = "The database" if file is None else f"The database {file}"
    cure = "Look at its address and whether it runs; if it was made by a newer Fellside, update this one."
    if file is not None:
        # SQLite's own words name no secret, and say which it is: damaged, not writable, full.
        own = getattr(fault, "orig", None)
        why = f" ({own})" if own is not None else ""
        cure = f"Look at who owns it and whether it is whole{why}; if it was made by a newer Fellside, update this one."
    return StoreTrouble(f"{what} cannot be opened or brought up to date.", cure)


def find_trouble(fault: Exception) -> StoreTrouble | None:
    """Return what is to be said of a database that failed in the middle of its use; None if it is not the cause.

    The rule: what the database could not read or write, and not what it was wrongly asked for.
    """
    if not isinstance(fault, OperationalError) and type(fault) is not DatabaseError:
        return None
    own = str(fault.orig)
    why = f" ({own})" if len(own) <= MOST_OWN_WORDS else ""  # longer ones quote what stands in a record
    return StoreTrouble(
        f"The database cannot be read or written{why}.",
        "Look whether its disk is full or failing, and keep a copy of the data folder before anything else is tried.",
    )


def migrate(app: Flask) -> None:
    """Bring the tables up to this version, and look whether the data folder is the one that was left.

    Alone from its first moment: of several servers that start at once one does it, and the others find it done.
    """
    with app.app_context():
        connection = db.engine.connect().execution_options(**{WRITING: True})
        with connection, connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": WRITE_LOCK})
            mark = closed.find(connection)
            if mark is not None:
                raise closed.refuse(mark)
            is_newer = migrations.bring_up(connection)
        with writing() as session:
            forgotten.ensure_seals(session)  # before anything is judged by them
            judged = _judge_anew(session)
            if is_newer or judged:  # a newer phone may have sent what the tables had no room for until now
                projection.remake(session)
            fresh = epoch.renew_if_moved(session, photos_dir())
            if judged and not fresh:
                epoch.renew(session)  # phones are past these changes: they read all anew, and learn how they stand now
            if fresh:
                # Another life of the store must not go on numbering where this one's changes were numbered.
                devices.renew_own(session)
            # Inside the transaction: a server that starts meanwhile must not find one without the other.
            note_epoch(session)


def note_epoch(session: Session) -> None:
    """Write the epoch of the store beside its database, in the writing transaction that may have begun a new one.

    Killed in between, or not committed, the two differ, and the next start begins yet another.
    """
    epoch.write_file(photos_dir(), epoch.read(session), epoch.find_database(session))


@contextmanager
def serving() -> Iterator[None]:
    """Say for the block that a server uses the store of the running app."""
    with among.serving(db.engine):
        yield


def _judge_anew(session: Session) -> int:
    """Judge the journal anew once after each update by which a change may be judged otherwise."""
    judged_by = session.get(MetaRow, journal.JUDGED_BY)
    if judged_by is not None and judged_by.value == rules_name():
        return 0
    session.merge(MetaRow(key=journal.JUDGED_BY, value=rules_name()))
    return journal.judge_anew(session)


def data_dir() -> Path:
    """Return the data folder of the running app."""
    folder: Path = current_app.config[DATA_DIR]
    return folder


def photos_dir() -> Path:
    """Return the folder of photos of the running app, which all servers of its database share."""
    folder: Path = current_app.config[PHOTOS_DIR]
    return folder


def close(app: Flask) -> None:
    """Let go of the database: every connection is closed."""
    with app.app_context():
        db.session.remove()
        for engine in db.engines.values():
            engine.dispose()
