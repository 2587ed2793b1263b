"""The tables as the journal makes them, and the questions asked of them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from builders import OTHER_PHONE, SQUARE, WALL_MS, a_change, a_leave, a_site, a_tree, an_id
from flask import Flask
from forget_kit import sealed
from sqlalchemy import text

from field.core.errors import NotFound
from field.core.forgetting import find_blanks_fault
from field.core.records import RECORD_TYPES
from field.store import db, journal, projection, queries
from field.store.tables import Photo, Tree

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
ONE_OF_KIND: dict[str, list[Any]] = {
    "text": ["Gledhope", "", "é\U0001f332'\"\\%"],
    "zone": ["Europe/London"],
    "int": [0, 240, 2**53 - 1],
    "real": [0, 310, 1 / 3, 1e-9],
    "lat": [55.401234567890123, -90, 0],
    "lon": [-3.4, 180],
    "bool": [True, False],
    "date": ["2026-10-03", "1800-01-01", "9000-12-31"],
    "instant": ["2027-03-01T09:00:00.000Z", "1800-01-01T00:00:00.000Z", "9000-12-31T23:59:59.999Z"],
    "json": [{"a": [1, 2.5, None, True, "é"]}, [], {}, 0, False, ""],
    "geometry": [SQUARE],
    "ref": ["0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"],
    "sha256": ["ab" * 32],
}


def take(*ops: Any) -> None:
    with db.writing() as session:
        arrival = journal.append(session, ops, NOW)
        assert {result.state for result in arrival.results} <= {"ok", "dup"}
        projection.apply(session, arrival.touched)


# Lists and words that core/records.py names are held to those; here only what any value of the kind may be matters.
def takes(record_type: str, field: str, value: object) -> bool:
    from field.sync.change import find_fault

    if field == "blanks" and find_blanks_fault(value) is not None:
        return False
    return find_fault(a_change({field: value}, type=record_type)) is None


@pytest.mark.parametrize("record_type", RECORD_TYPES)
def test_every_value_comes_back_as_it_went_in(store: Flask, record_type: str) -> None:
    sent: dict[str, dict[str, Any]] = {}
    ops = []
    for number in range(6):
        fields = {}
        for name, kind in RECORD_TYPES[record_type].items():
            values = ONE_OF_KIND[kind]
            value = values[number % len(values)]
            if takes(record_type, name, value):
                fields[name] = value
        op = a_change(fields, type=record_type, seq=number + 1)
        ops.append(sealed(op) if record_type == "forgetting" else op)
        sent[op["rec"]] = {"id": op["rec"], **dict.fromkeys(RECORD_TYPES[record_type]), **fields}
    take(*ops)
    found = queries.list_records(record_type)
    assert {record["id"]: record for record in found} == sent
    assert [record["id"] for record in found] == sorted(sent)


def test_columns_hold_dates_and_instants_not_texts(store: Flask) -> None:
    take(a_change({"marked_on": "2026-10-03"}), a_change({"taken_at": "2026-10-03T09:00:00Z"}, type="photo", seq=2))
    tree = db.db.session.query(Tree).one()
    photo = db.db.session.query(Photo).one()
    assert tree.marked_on == dt.date(2026, 10, 3)
    assert photo.taken_at == dt.datetime(2026, 10, 3, 9, tzinfo=dt.UTC)


def test_missing_stays_missing_and_zero_stays_zero(store: Flask) -> None:
    op = a_change({"lat": 0, "lon": None}, type="fix")
    take(op)
    found = queries.get_record("fix", op["rec"])
    assert (found["lat"], found["lon"], found["accuracy_m"]) == (0.0, None, None)


def test_a_later_change_updates_the_row(store: Flask) -> None:
    first = a_change(a_tree(girth_mm=240))
    take(first)
    take(a_change({"girth_mm": 260}, rec=first["rec"], seq=2, base={"girth_mm": [first["hlc"]]}))
    (tree,) = queries.list_records("tree")
    assert (tree["girth_mm"], tree["tag"]) == (260, first["set"]["tag"])


def test_a_deleted_record_is_kept_and_not_listed(store: Flask) -> None:
    first = a_change(a_tree())
    take(first, a_change({"deleted": True}, rec=first["rec"], seq=2, base={"deleted": [first["hlc"]]}))
    assert queries.list_records("tree") == []
    assert queries.find_record("tree", first["rec"]) is None
    assert db.db.session.query(Tree).one().deleted is True
    with pytest.raises(NotFound):
        queries.get_record("tree", first["rec"])


def test_a_conflict_is_told_with_all_values(store: Flask) -> None:
    one = a_change({"girth_mm": 240})
    other = a_change({"girth_mm": 260}, rec=one["rec"], dev=OTHER_PHONE, ms=WALL_MS + 5)
    take(one)
    assert queries.list_conflicts() == []
    take(other)
    (told,) = queries.list_conflicts()
    assert (told["type"], told["id"]) == ("tree", one["rec"])
    assert [value["value"] for value in told["conflicts"]["girth_mm"]] == [240, 260]
    assert queries.list_records("tree")[0]["girth_mm"] == 260
    settled = {"girth_mm": [one["hlc"], other["hlc"]]}
    take(a_change({"girth_mm": 250}, rec=one["rec"], seq=2, base=settled))
    assert queries.list_conflicts() == []


def test_an_unknown_field_or_type_makes_no_row_but_is_kept(store: Flask) -> None:
    known = a_change({"tag": "B1", "lean_deg": 4})
    tool = a_change({"name": "mattock"}, type="tool", seq=2)
    take(known, tool)
    assert "lean_deg" not in queries.list_records("tree")[0]
    merged = queries.merged_record(known["rec"])
    assert merged is not None
    assert merged["fields"] == {"tag": "B1", "lean_deg": 4}
    other = queries.merged_record(tool["rec"])
    assert other is not None
    assert (other["type"], other["fields"]) == ("tool", {"name": "mattock"})
    assert queries.merged_record(an_id()) is None


def test_records_are_found_by_a_field(store: Flask) -> None:
    site = an_id()
    here = a_change(a_tree(site=site))
    take(here, a_change(a_tree(), seq=2), a_change(a_leave(site=site), type="leave", seq=3))
    assert [tree["id"] for tree in queries.records_where("tree", "site", site)] == [here["rec"]]
    assert len(queries.records_where("tree", "site", None)) == 1
    assert queries.records_where("tree", "site", an_id()) == []


def test_the_order_of_batches_does_not_matter(store: Flask) -> None:
    first = a_change(a_site(name="first"), type="site")
    second = a_change({"name": "second"}, type="site", rec=first["rec"], seq=2, base={"name": [first["hlc"]]})
    take(second)
    assert queries.list_records("site")[0]["name"] == "second"
    take(first)
    (site,) = queries.list_records("site")
    assert (site["name"], site["height_m"]) == ("second", 310)


def standing() -> list[tuple[str, dict[str, Any]]]:
    db.db.session.rollback()
    return list(projection.rows_standing(db.db.session()))


def test_tables_and_journal_agree(store: Flask) -> None:
    take(a_change(a_tree()), a_change(a_site(), type="site", seq=2))
    made = list(projection.rows_made(db.db.session()))
    assert len(made) == 2
    assert projection.list_differences(standing(), made) == []


def test_a_difference_is_told_by_record_and_field(store: Flask) -> None:
    tree, site = a_change(a_tree()), a_change(a_site(), type="site", seq=2)
    take(tree, site)
    before = standing()
    with db.writing() as session:
        session.execute(text("UPDATE tree SET girth_mm = 1, tag = 'x'"))
        session.execute(text("DELETE FROM site"))
    assert projection.list_differences(before, standing()) == [
        {"type": "site", "id": site["rec"], "fields": None},
        {"type": "tree", "id": tree["rec"], "fields": ["girth_mm", "tag"]},
    ]
