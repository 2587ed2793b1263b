"""The engine: addresses, what SQLite is told, and that writers are alone and all or nothing."""

from __future__ import annotations

import datetime as dt
import threading
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask import Flask
from sqlalchemy import select, text
from sqlalchemy.exc import OperationalError, StatementError

from field.core.errors import BadInput, NoRoom, StoreTrouble
from field.store import db
from field.store.engine import BUSY_TIMEOUT_MS, read_address
from field.store.tables import BlobRow, MetaRow, Photo

AT = dt.datetime(2027, 3, 1, 9, 0, 0, 123456, tzinfo=dt.UTC)


@pytest.mark.parametrize("start", ["postgres", "postgresql", "postgresql+psycopg"])
def test_every_way_to_say_postgresql_means_psycopg_3(start: str, tmp_path: Path) -> None:
    url = read_address(f"{start}://u:p@h:5433/fs?sslmode=require", tmp_path)
    assert url.drivername == "postgresql+psycopg"
    assert (url.username, url.host, url.port, url.database) == ("u", "h", 5433, "fs")
    assert dict(url.query) == {"sslmode": "require"}


def test_without_an_address_it_is_a_file_in_the_data_folder(tmp_path: Path) -> None:
    assert read_address(None, tmp_path).database == str(tmp_path / "fellside.sqlite")


@pytest.mark.parametrize("address", ["", "nonsense", "mysql://h/d", "mariadb+nothing://h/d", "postgresql+other://h/d"])
def test_another_address_is_refused_in_words(address: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"address of the database|SQLite or PostgreSQL"):
        read_address(address, tmp_path)


def test_a_database_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(StoreTrouble, match="cannot be opened"):
        db.init_app(Flask("house"), f"postgresql://nobody@/none?host={tmp_path}", tmp_path / "data")


def test_a_data_folder_that_cannot_be_made_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreTrouble, match="data folder"):
        db.init_app(Flask("house"), None, tmp_path / "file" / "data")


def test_a_file_that_is_no_database_is_said_in_words_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "fellside.sqlite"
    path.write_bytes(b"this is no database at all, it is a letter" * 50)
    with pytest.raises(StoreTrouble, match="cannot be opened"):
        db.init_app(Flask("house"), None, tmp_path)
    assert path.read_bytes().startswith(b"this is no database")


def test_sqlite_flushes_everything_and_waits_for_its_turn(tmp_path: Path) -> None:
    house = Flask("house")
    db.init_app(house, None, tmp_path)
    with house.app_context(), db.db.engine.connect() as connection:
        told = {name: connection.scalar(text(f"PRAGMA {name}")) for name in ("journal_mode", "synchronous")}
        assert told == {"journal_mode": "wal", "synchronous": 2}  # 2: FULL, sqlite.org/pragma.html
        assert connection.scalar(text("PRAGMA foreign_keys")) == 1
        assert connection.scalar(text("PRAGMA busy_timeout")) == BUSY_TIMEOUT_MS
    db.close(house)


def put(key: str, then: type[BaseException] | None = None) -> None:
    with db.writing() as session:
        session.merge(MetaRow(key=key, value="x"))
        session.flush()
        if then is not None:
            raise then


def keys() -> set[str]:
    db.db.session.rollback()
    return {key for key in db.db.session.scalars(select(MetaRow.key)) if key.startswith("test")}


def test_what_is_written_is_there_afterwards(store: Flask) -> None:
    put("test")
    assert keys() == {"test"}


def test_an_error_leaves_nothing_of_it(store: Flask) -> None:
    with pytest.raises(ZeroDivisionError):
        put("test", ZeroDivisionError)
    assert keys() == set()
    put("test 2")
    assert keys() == {"test 2"}


def test_an_interrupt_leaves_nothing_of_it(store: Flask) -> None:
    with pytest.raises(KeyboardInterrupt):
        put("test", KeyboardInterrupt)
    assert keys() == set()


def test_one_writing_inside_another_is_refused(store: Flask) -> None:
    with pytest.raises(RuntimeError, match="inside another"), db.writing(), db.writing():
        pass
    put("test")
    assert keys() == {"test"}


def test_a_reader_sees_nothing_before_the_commit(store: Flask) -> None:
    seen: list[set[str]] = []

    def read() -> None:
        with store.app_context():
            seen.append(keys())

    with db.writing() as session:
        session.merge(MetaRow(key="test", value="x"))
        session.flush()
        reader = threading.Thread(target=read)
        reader.start()
        reader.join()
    assert seen == [set()]
    assert keys() == {"test"}


def test_questions_of_one_snapshot_see_one_moment(store: Flask) -> None:
    def write() -> None:
        with store.app_context():
            put("test")

    with db.snapshot() as session:
        before = session.scalars(select(MetaRow.key)).all()
        writer = threading.Thread(target=write)
        writer.start()
        writer.join()
        assert session.scalars(select(MetaRow.key)).all() == before
    assert keys() == {"test"}


def test_a_store_of_a_newer_version_is_said_in_words(store: Flask, data_dir: Path, database_url: str | None) -> None:
    with db.writing() as session:
        own = session.scalar(text("SELECT version_num FROM alembic_version"))
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreTrouble, match=r"cannot be opened or brought up to date"):
        db.init_app(Flask("other"), database_url, data_dir)
    with db.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = :own"), {"own": own})


def test_a_second_writer_waits_and_sees_what_the_first_wrote(store: Flask) -> None:
    inside, seen = threading.Event(), []

    def write() -> None:
        with store.app_context():
            assert inside.wait(30)
            with db.writing() as session:
                seen.append(session.get(MetaRow, "test") is not None)

    second = threading.Thread(target=write)
    second.start()
    with db.writing() as session:
        inside.set()
        session.merge(MetaRow(key="test", value="x"))
    second.join()
    assert seen == [True]


def test_many_writers_lose_nothing(store: Flask) -> None:
    with db.writing() as session:
        session.merge(MetaRow(key="test", value="0"))

    def count_up() -> None:
        with store.app_context():
            for _ in range(10):
                with db.writing() as session:
                    row = session.get(MetaRow, "test")
                    assert row is not None
                    row.value = str(int(row.value) + 1)

    threads = [threading.Thread(target=count_up) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    db.db.session.rollback()
    row = db.db.session.get(MetaRow, "test")
    assert row is not None
    assert row.value == "40"


def test_an_instant_comes_back_aware_in_utc_to_the_microsecond(store: Flask) -> None:
    local = AT.astimezone(dt.timezone(dt.timedelta(hours=-5)))
    with db.writing() as session:
        session.add(BlobRow(sha256="0" * 64, size_bytes=2**53 - 1, media_type="x", stored_at=local))
    row = db.db.session.get(BlobRow, "0" * 64)
    assert row is not None
    assert row.stored_at == AT
    assert row.stored_at.utcoffset() == dt.timedelta(0)
    assert row.size_bytes == 9007199254740991


def test_both_half_past_ones_of_an_autumn_night_are_kept_apart(store: Flask) -> None:
    # 25 October 2026, London: 01:30 comes twice, first an hour east of UTC and then on it; as datetimes they are equal
    first = dt.datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/London"))
    with db.writing() as session:
        for name, at in (("1", first), ("2", first.replace(fold=1))):
            session.add(BlobRow(sha256=name * 64, size_bytes=1, media_type="x", stored_at=at))
    rows = [db.db.session.get(BlobRow, name * 64) for name in "12"]
    assert [row.stored_at.isoformat() for row in rows if row is not None] == [
        "2026-10-25T00:30:00+00:00",
        "2026-10-25T01:30:00+00:00",
    ]


def test_an_instant_without_a_zone_is_refused(store: Flask) -> None:
    with pytest.raises(StatementError, match="without a zone"), db.writing() as session:
        session.add(BlobRow(sha256="0" * 64, size_bytes=1, media_type="x", stored_at=AT.replace(tzinfo=None)))


@pytest.mark.parametrize("value", [None, [], {}, 0, False, "", {"ü": [1.5, None, {"a": "b"}]}])
def test_json_comes_back_as_it_went_in(store: Flask, value: object) -> None:
    with db.writing() as session:
        session.add(Photo(id="p", deleted=False, trouble=value))
    row = db.db.session.get(Photo, "p")
    assert row is not None
    assert row.trouble == value
    assert type(row.trouble) is type(value)


class _Full(Exception):
    sqlstate = "53100"


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        (_Full("could not extend file"), NoRoom),
        (Exception("database or disk is full"), NoRoom),
        (Exception("attempt to write a readonly database"), StoreTrouble),
        (Exception("database is locked"), StoreTrouble),
        (Exception("no such table"), OperationalError),
    ],
)
def test_what_the_database_says_is_put_into_words(store: Flask, fault: Exception, expected: type[Exception]) -> None:
    with pytest.raises(expected), db.writing():
        raise OperationalError("INSERT", {}, fault)
