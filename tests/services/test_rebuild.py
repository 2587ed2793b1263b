"""The tables made again from the journal."""

from __future__ import annotations

import datetime as dt

from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, a_leave, a_request, a_site, a_tree
from flask import Flask
from sqlalchemy import text

from field.services.rebuild import MOST_TOLD, rebuild
from field.services.take_in_changes import take_in
from field.store import db, queries

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


def fill() -> str:
    tree = a_change(a_tree(tag="B1"), seq=1)
    ops = [
        tree,
        a_change(a_site(), type="site", seq=2),
        a_change(a_leave(), type="leave", seq=3),
        a_change({"lat": 91}, type="fix", seq=4),
        a_change({"name": "mattock"}, type="tool", seq=5),
        a_change({"tag": "B2"}, rec=tree["rec"], dev=OTHER_PHONE, ms=WALL_MS + 3),
        a_change({"tag": "B3"}, rec=tree["rec"], seq=6, ms=WALL_MS + 10**9),
        a_change({"deleted": True, "tag": "gone"}, seq=7),
    ]
    take_in(a_request(*ops), PHONE, NOW)
    return str(tree["rec"])


def test_an_empty_store_is_the_same(store: Flask) -> None:
    assert rebuild() == {"ok": True, "changes": 0, "records": 0, "differences": []}


def test_nothing_differs_after_all_kinds_of_changes(store: Flask) -> None:
    tree = fill()
    before = queries.list_conflicts(), [queries.list_records(kind) for kind in ("tree", "site", "leave")]
    assert rebuild() == {"ok": True, "changes": 8, "records": 4, "differences": []}
    assert (queries.list_conflicts(), [queries.list_records(kind) for kind in ("tree", "site", "leave")]) == before
    # The clock far ahead loses to the honest one, also after a rebuild.
    assert queries.get_record("tree", tree)["tag"] == "B2"


def test_what_was_altered_is_told_and_put_right(store: Flask) -> None:
    tree = fill()
    with db.writing() as session:
        session.execute(text("UPDATE tree SET tag = 'wrong' WHERE deleted = :no"), {"no": False})
        session.execute(text("DELETE FROM site"))
        session.execute(
            text("INSERT INTO box (id, deleted) VALUES ('a0000000-0000-4000-8000-000000000000', :no)"), {"no": False}
        )
    told = rebuild()
    assert told["ok"] is False
    assert [(one["type"], one["fields"]) for one in told["differences"]] == [
        ("box", None),
        ("site", None),
        ("tree", ["tag"]),
    ]
    assert queries.get_record("tree", tree)["tag"] == "B2"
    assert queries.list_records("box") == []
    assert rebuild()["ok"] is True


def test_not_every_difference_of_many_is_told(store: Flask) -> None:
    ops = [a_change(seq=number + 1) for number in range(MOST_TOLD + 1)]
    take_in(a_request(*ops), PHONE, NOW)
    with db.writing() as session:
        session.execute(text("DELETE FROM tree"))
    told = rebuild()
    assert (told["ok"], told["records"], len(told["differences"])) == (False, MOST_TOLD + 1, MOST_TOLD)
