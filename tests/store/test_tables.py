"""The tables: their columns are those of the record types, and the migrations make exactly them."""

from __future__ import annotations

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from flask import Flask
from sqlalchemy import BigInteger, Boolean, Date, Double, String, Table, Text, inspect, text

from field.core.records import DELETED, RECORD_TYPES
from field.store import db
from field.store.engine import Json, Utc
from field.store.tables import METADATA, RECORD_TABLES

COLUMN_OF_KIND = {
    "text": Text,
    "zone": Text,
    "int": BigInteger,
    "real": Double,
    "lat": Double,
    "lon": Double,
    "bool": Boolean,
    "date": Date,
    "instant": Utc,
    "json": Json,
    "geometry": Json,
    "ref": String,
    "sha256": String,
}
LENGTH_OF_KIND = {"ref": 36, "sha256": 64}


def test_there_is_a_table_for_each_record_type_and_no_other() -> None:
    assert set(RECORD_TABLES) == set(RECORD_TYPES)


@pytest.mark.parametrize("record_type", RECORD_TYPES)
def test_the_columns_are_the_fields_with_their_kinds(record_type: str) -> None:
    table = RECORD_TABLES[record_type].__table__
    assert isinstance(table, Table)
    columns = {column.name: column for column in table.columns}
    assert set(columns) == {"id", DELETED, "conflicts", *RECORD_TYPES[record_type]}
    for name, kind in RECORD_TYPES[record_type].items():
        assert type(columns[name].type) is COLUMN_OF_KIND[kind], name
        assert getattr(columns[name].type, "length", None) == LENGTH_OF_KIND.get(kind), name
        assert columns[name].nullable, f"{name}: not known must be possible"


def differences(*statements: str) -> list[object]:
    """What is not as the classes say, after some statements that are taken back."""
    with db.db.engine.connect() as connection:
        for statement in statements:
            connection.execute(text(statement))
        found = list(compare_metadata(MigrationContext.configure(connection), METADATA))
        connection.rollback()
    return found


def test_the_migrations_make_exactly_these_tables(store: Flask) -> None:
    assert differences() == []


def test_a_missing_column_would_be_noticed(store: Flask) -> None:
    assert len(differences("ALTER TABLE tree DROP COLUMN tag")) == 1
    assert differences() == []


def test_a_wrong_kind_of_column_would_be_noticed(store: Flask) -> None:
    wrong = ("ALTER TABLE tree DROP COLUMN girth_mm", "ALTER TABLE tree ADD COLUMN girth_mm TEXT")
    assert len(differences(*wrong)) == 1


def test_migrating_again_changes_nothing(store: Flask) -> None:
    before = sorted(inspect(db.db.engine).get_table_names())
    db.migrate(store)
    assert sorted(inspect(db.db.engine).get_table_names()) == before
    assert differences() == []


def test_the_name_of_a_change_is_unique_in_the_database_itself(store: Flask) -> None:
    unique = inspect(db.db.engine).get_unique_constraints("journal")
    assert [one["column_names"] for one in unique] == [["dev", "seq"]]
