"""A store of an older version, opened by this one: nothing of it is lost, and what it had no room for is there."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.config import Config
from builders import PHONE, WALL_MS, a_change, a_site, a_tree, an_id
from flask import Flask
from sqlalchemy import create_engine, inspect, make_url, text
from sqlalchemy.orm import Session

from field.services.rebuild import rebuild
from field.services.take_in_changes import list_held
from field.store import db, queries
from field.store.migrations import __file__ as migrations
from field.sync.change import op_hash

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
SITE, TREE, HOLDING, LANDHOLDER = (an_id() for _ in range(4))
OLD_ROW = "INSERT INTO site (id, deleted, name, zone) VALUES (:id, :no, 'Gledhope', 'Europe/London')"
INTO_JOURNAL = """INSERT INTO journal (pos, dev, seq, hash, rec, type, stamp, op, clock_suspect, taken_at)
    VALUES (:pos, :dev, :seq, :hash, :rec, :type, :hlc, :text, :no, :at)"""
JOURNAL = "SELECT pos, dev, seq, hash, rec, op, taken_at FROM journal ORDER BY pos"


def changes_of_a_newer_phone() -> list[dict[str, Any]]:
    """Return what a phone sends that was brought up to date before home was."""
    holding = {"site": SITE, "landholder": LANDHOLDER, "role": "occupier", "by_right": "grazing tenancy"}
    return [
        a_change(a_site(), type="site", rec=SITE, seq=1),
        a_change(a_tree(tag="K1", site=SITE), rec=TREE, seq=2),
        a_change({"country": "scotland"}, type="site", rec=SITE, seq=3),
        a_change(holding, type="holding", rec=HOLDING, seq=4),
    ]


class OldHome:
    """A store as version 0001 made it, and its opening by the code of today."""

    def __init__(self, address: str | None, folder: Path) -> None:
        self.address = address
        self.folder = folder
        folder.mkdir()
        url = make_url(address or f"sqlite:///{folder / 'fellside.sqlite'}")
        self.engine = create_engine(url.set(drivername="postgresql+psycopg") if address else url)
        with self.engine.begin() as connection:
            config = Config()
            config.set_main_option("script_location", str(Path(migrations).parent))
            config.attributes["connection"] = connection
            command.upgrade(config, "0001")

    def take_in(self, ops: list[dict[str, Any]]) -> None:
        """Put changes into its journal, all of them as taking part: what they say was not known there."""
        with Session(self.engine) as session:
            for pos, op in enumerate(ops, 1):
                row = {
                    **op,
                    "pos": pos,
                    "hash": op_hash(op),
                    "text": json.dumps(op, separators=(",", ":")),
                    "no": False,
                }
                session.execute(text(INTO_JOURNAL), {**row, "no": False, "at": NOW})
            known = {"dev": PHONE, "upto": len(ops)}
            session.execute(text("INSERT INTO known (dev, upto) VALUES (:dev, :upto)"), known)
            session.execute(text(OLD_ROW), {"id": SITE, "no": False})
            session.commit()

    def rows(self) -> list[tuple[Any, ...]]:
        with self.engine.connect() as connection:
            return [tuple(row) for row in connection.execute(text(JOURNAL))]

    def columns(self, table: str) -> set[str]:
        return {str(column["name"]) for column in inspect(self.engine).get_columns(table)}

    @contextmanager
    def opened(self) -> Iterator[Flask]:
        house = Flask("house")
        db.init_app(house, self.address, self.folder)
        with house.app_context():
            yield house
        db.close(house)


@pytest.fixture(params=["sqlite", "postgresql"])
def old_home(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[OldHome]:
    if request.param == "sqlite":
        home = OldHome(None, tmp_path / "data")
        yield home
        home.engine.dispose()
        return
    server = request.getfixturevalue("postgres")
    run: Callable[[str], None] = server.run
    run("CREATE DATABASE older")
    home = OldHome(
        make_url(server.address).set(database="older").render_as_string(hide_password=False), tmp_path / "data"
    )
    yield home
    home.engine.dispose()
    run("DROP DATABASE older")


def test_the_old_home_has_no_room_for_what_is_new(old_home: OldHome) -> None:
    assert "country" not in old_home.columns("site")
    assert "name" in old_home.columns("site")
    assert not inspect(old_home.engine).has_table("holding")


def test_what_a_newer_phone_sent_before_the_update_is_in_the_tables_after_it(old_home: OldHome) -> None:
    old_home.take_in(changes_of_a_newer_phone())
    with old_home.opened():
        site = queries.get_record("site", SITE)
        assert (site["country"], site["name"]) == ("scotland", "Gledhope")
        holding = queries.get_record("holding", HOLDING)
        assert (holding["landholder"], holding["by_right"]) == (LANDHOLDER, "grazing tenancy")
        assert rebuild() == {"ok": True, "changes": 4, "records": 3, "differences": []}


def test_what_was_there_is_untouched(old_home: OldHome) -> None:
    old_home.take_in(changes_of_a_newer_phone())
    before = old_home.rows()
    with old_home.opened():
        assert queries.get_record("tree", TREE)["tag"] == "K1"
        assert queries.get_record("site", SITE)["height_m"] == 310
        assert list_held() == {"held": []}
    assert old_home.rows() == before
    with old_home.opened():  # a second time there is nothing left to bring up
        assert queries.get_record("site", SITE)["country"] == "scotland"
    assert old_home.rows() == before


def test_a_value_that_its_new_field_cannot_hold_is_held_with_its_reason_and_the_rest_opens(old_home: OldHome) -> None:
    unfit = a_change({"signed_on": "soon"}, type="signing", seq=5)
    old_home.take_in([*changes_of_a_newer_phone(), unfit, a_change({"country": 5}, type="site", rec=SITE, seq=6)])
    before = old_home.rows()
    with old_home.opened():
        assert queries.get_record("site", SITE)["country"] == "scotland"
        assert queries.list_records("signing") == []
        held = list_held()["held"]
        assert [one["op"]["seq"] for one in held] == [5, 6]
        assert all(one["why"] for one in held)
        assert rebuild()["ok"] is True
    assert old_home.rows() == before
