"""The journal: names, positions, what is held, what is known without a gap."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from flask import Flask
from sqlalchemy import select, text, update

from field.store import db, journal
from field.store.tables import JournalRow

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


def take(*ops: Any, now: dt.datetime = NOW) -> journal.Arrival:
    with db.writing() as session:
        return journal.append(session, ops, now)


def states(arrival: journal.Arrival) -> list[str]:
    return [result.state for result in arrival.results]


def rows() -> list[JournalRow]:
    db.db.session.rollback()
    return list(db.db.session.scalars(select(JournalRow).order_by(JournalRow.pos)))


def test_a_change_is_kept_with_all_its_parts(store: Flask) -> None:
    op = a_change({"tag": "B1", "unknown": {"é": [1.5, None]}}, mood="cold")
    arrival = take(op)
    (row,) = rows()
    assert json.loads(row.op) == op
    assert (row.pos, row.dev, row.seq, row.rec, row.type, row.stamp) == (1, PHONE, 1, op["rec"], "tree", op["hlc"])
    assert (row.held, row.clock_suspect, row.taken_at) == (None, False, NOW)
    assert states(arrival) == ["ok"]
    assert arrival.touched == {op["rec"]}


def test_positions_go_on_by_one_over_batches(store: Flask) -> None:
    take(a_change(seq=1), a_change(seq=2))
    take(a_change(seq=1))
    take(a_change(seq=3), a_change(dev=OTHER_PHONE))
    assert [row.pos for row in rows()] == [1, 2, 3, 4]


def test_the_same_change_again_is_a_duplicate(store: Flask) -> None:
    op = a_change()
    assert states(take(op, op)) == ["ok", "dup"]
    again = take({name: op[name] for name in reversed(op)})
    assert states(again) == ["dup"]
    assert again.touched == set()
    assert len(rows()) == 1


def test_1_and_1_0_are_the_same_change(store: Flask) -> None:
    op = a_change({"girth_mm": 240})
    assert states(take(op, {**op, "set": {"girth_mm": 240.0}, "seq": 1.0})) == ["ok", "dup"]


def test_another_change_of_the_same_name_is_a_fork_and_not_kept(store: Flask) -> None:
    op = a_change({"tag": "mine"})
    arrival = take(op, {**op, "set": {"tag": "another's"}})
    assert states(arrival) == ["ok", "bad"]
    assert arrival.results[1].fork
    assert [json.loads(row.op)["set"] for row in rows()] == [{"tag": "mine"}]


@pytest.mark.parametrize("op", [None, 3, "op", [], {}, {"dev": PHONE}, {"dev": "x", "seq": 1}, {"dev": 3, "seq": "\0"}])
def test_what_has_no_name_is_bad_and_not_kept(store: Flask, op: object) -> None:
    arrival = take(op, a_change())
    assert states(arrival) == ["bad", "ok"]
    assert arrival.results[0].why is not None
    assert len(rows()) == 1


def test_a_change_with_a_fault_is_kept_and_takes_no_part(store: Flask) -> None:
    op = a_change({"lat": 91}, type="fix")
    arrival = take(op, a_change(seq=2))
    assert states(arrival) == ["held", "ok"]
    assert op["rec"] not in arrival.touched
    (held,) = journal.list_held(db.db.session(), 0, 10, 10_000)
    assert json.loads(held.text) == op
    assert held.held == arrival.results[0].why
    assert journal.entries_of(db.db.session(), [op["rec"]]) == {}


def test_a_held_change_sent_again_is_a_duplicate_that_says_why(store: Flask) -> None:
    op = a_change({"lat": 91}, type="fix")
    why = take(op).results[0].why
    again = take(op).results[0]
    assert (again.state, again.why) == ("dup", why)


AWKWARD: list[dict[str, Any]] = [
    {"set": {"tag": "a\0b"}},
    {"set": {"tag": "\ud800"}},
    {"set": {"unknown\0": "\0\udfff"}},
    {"set": {"girth_mm": 10**40}},
    {"set": {"girth_mm": float("inf")}},
    {"set": {"card": {"\0": 1}}, "type": "species_card"},
    {"rec": "\0"},
    {"rec": 10**40},
    {"rec": "x" * 5000},
    {"type": "\0"},
    {"type": ["tree"]},
    {"hlc": "\0"},
    {"set": {"boundary": {"type": "\0"}}, "type": "site"},
    {"set": {"marked_on": "\0"}},
    {"set": "x" * 200_000},
    {"wall": "\ud800"},
    {"unread": "mine"},
]


@pytest.mark.parametrize("others", AWKWARD, ids=lambda others: ascii(others)[:40])
def test_whatever_has_a_name_is_kept_by_every_database(store: Flask, others: dict[str, Any]) -> None:
    arrival = take({**a_change(), **others})
    assert states(arrival)[0] in ("ok", "held")
    (row,) = rows()
    assert not list(journal.find_bad_rows(db.db.session()))
    assert json.loads(row.op)["dev"] == PHONE


def test_a_record_keeps_the_kind_it_began_with(store: Flask) -> None:
    rec = an_id()
    assert states(take(a_change(rec=rec, type="tree"), a_change({"name": "x"}, rec=rec, type="site", seq=2))) == [
        "ok",
        "held",
    ]
    assert states(take(a_change({"name": "x"}, rec=rec, type="site", seq=3))) == ["held"]


def test_a_kind_that_was_only_held_binds_nothing(store: Flask) -> None:
    rec = an_id()
    assert states(take(a_change({"protected": 3}, rec=rec, type="site"), a_change(rec=rec, seq=2))) == ["held", "ok"]


def test_a_second_change_of_a_record_with_the_same_stamp_is_held(store: Flask) -> None:
    op = a_change()
    arrival = take(op)
    second = take({**op, "seq": 2, "set": {"tag": "other"}})
    assert states(arrival) + states(second) == ["ok", "held"]
    assert second.results[0].why == journal.SAME_STAMP


TEN_MINUTES = 10 * 60 * 1000


@pytest.mark.parametrize(
    ("ms", "suspect"),
    [
        (WALL_MS, False),
        (WALL_MS + TEN_MINUTES, False),
        (WALL_MS + TEN_MINUTES + 1, True),
        (WALL_MS - 3 * 365 * 86_400_000, False),
        (1704067200000 - 1, True),  # the last millisecond of 2023
        (0, True),
    ],
)
def test_whose_clock_is_believed_is_decided_on_arrival(store: Flask, ms: int, suspect: bool) -> None:
    op = a_change(ms=ms)
    arrival = take(op)
    assert states(arrival) == ["ok"]
    assert arrival.results[0].suspect is suspect
    assert arrival.stamps == ([] if suspect else [op["hlc"]])
    later = take(op, now=NOW + dt.timedelta(days=3000)).results[0]
    assert (later.state, later.suspect) == ("dup", suspect)


def test_what_is_known_stops_before_a_gap_and_jumps_when_it_closes(store: Flask) -> None:
    def have() -> dict[str, int]:
        return journal.have(db.db.session())

    take(a_change(seq=2), a_change(seq=4))
    assert have() == {PHONE: 0}
    take(a_change(seq=1))
    assert have() == {PHONE: 2}
    take(a_change(seq=6), a_change(dev=OTHER_PHONE, seq=1))
    assert have() == {PHONE: 2, OTHER_PHONE: 1}
    take(a_change(seq=5), a_change(seq=3))
    assert have() == {PHONE: 6, OTHER_PHONE: 1}


def test_a_held_change_counts_as_known(store: Flask) -> None:
    take(a_change({"lat": 91}, type="fix", seq=1), a_change(seq=2))
    assert journal.have(db.db.session()) == {PHONE: 2}


def test_reading_on_gives_the_order_of_arrival_from_the_place_reached(store: Flask) -> None:
    take(*(a_change(seq=number) for number in (3, 1, 2)))

    def read(cursor: int, want: int, most: int = 10**9) -> list[int]:
        return [json.loads(row.text)["seq"] for row in journal.read_from(db.db.session(), cursor, want, most)]

    assert read(0, 10) == [3, 1, 2]
    assert read(1, 10) == [1, 2]
    assert read(0, 2) == [3, 1]
    assert read(3, 10) == []
    assert read(0, 0) == []


def test_reading_on_stops_before_too_many_bytes_but_never_stands_still(store: Flask) -> None:
    take(*(a_change({"note": "x" * 1000}, seq=number) for number in (1, 2, 3)))
    size = len(rows()[0].op)
    assert len(journal.read_from(db.db.session(), 0, 10, 2 * size)) == 2
    assert len(journal.read_from(db.db.session(), 0, 10, 2 * size - 1)) == 1
    assert len(journal.read_from(db.db.session(), 0, 10, 1)) == 1


def test_many_records_are_found_in_one_question(store: Flask) -> None:
    ops = [a_change(seq=number + 1) for number in range(1200)]
    take(*ops)
    found = journal.entries_of(db.db.session(), [op["rec"] for op in ops])
    assert len(found) == 1200
    assert states(take(*ops)) == ["dup"] * 1200


def damage(statement: Any) -> list[dict[str, Any]]:
    with db.writing() as session:
        session.execute(statement)
    return list(journal.find_bad_rows(db.db.session()))


def test_an_altered_change_is_found(store: Flask) -> None:
    take(a_change({"tag": "B1"}, seq=1), a_change(seq=2))
    assert list(journal.find_bad_rows(db.db.session())) == []
    bad = damage(text("UPDATE journal SET op = replace(op, 'B1', 'B2') WHERE seq = 1"))
    assert [(row["pos"], row["why"]) for row in bad] == [(1, "It is not what was taken in.")]


def test_an_unreadable_change_is_found(store: Flask) -> None:
    take(a_change())
    assert damage(text("UPDATE journal SET op = '{'"))[0]["why"] == "Its text cannot be read."


def test_a_change_under_another_name_is_found(store: Flask) -> None:
    take(a_change())
    bad = damage(update(JournalRow).values(dev=OTHER_PHONE))
    assert [row["why"] for row in bad] == ["It stands under another name."]


def test_a_missing_change_is_found(store: Flask) -> None:
    take(a_change(seq=1), a_change(seq=2), a_change(seq=3))
    bad = damage(text("DELETE FROM journal WHERE pos = 2"))
    assert [(row["pos"], row["why"]) for row in bad] == [(3, "A change before it is missing.")]
