"""A station's file is looked at, kept, kept again without effect, and taken back to what stood before."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from flask import Flask

from field.core.errors import BadInput, NotFound
from field.core.weather import Day
from field.core.weather_day import weather_day_id
from field.services import weather_file
from field.services.weather import days_of
from field.services.write_changes import write_changes
from field.store import db, journal, queries

GARDEN = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
NOW = dt.datetime(2026, 3, 10, 9, 0, tzinfo=dt.UTC)
LATER = NOW + dt.timedelta(minutes=5)
TODAY = dt.date(2026, 3, 10)
HEAD = b"Date,Tmin (C),Tmax (C)\n"
FILE = HEAD + b"2026-03-01,-2.5,4\n2026-03-02,0.5,6\n2026-03-04,1,nonsense\n2026-03-05,3,9\n"


@pytest.fixture
def database_url() -> None:
    """SQLite alone: the journal and the merge are held on both engines elsewhere."""


@pytest.fixture
def house(store: Flask) -> Flask:
    write_changes([("garden", GARDEN, {"name": "Back green"})])
    return store


def look(data: bytes, answers: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    return weather_file.look(GARDEN, data, TODAY, answers or {}, **{"since": None, "keep_typed": True, **more})


def keep(data: bytes, answers: dict[str, Any] | None = None, now: dt.datetime = NOW, **more: Any) -> dict[str, Any]:
    return weather_file.keep(GARDEN, data, now, TODAY, answers or {}, **{"since": None, "keep_typed": True, **more})


def note(on: str, low: float | None, high: float | None) -> None:
    day = {"site": GARDEN, "day_on": on, "tmin_c": low, "tmax_c": high, "how": "typed", "batch": None}
    write_changes([("weather_day", weather_day_id(GARDEN, on), day)])


def told() -> dict[str, tuple[float | None, float | None]]:
    return {day.on.isoformat(): (day.tmin_c, day.tmax_c) for day in days_of(GARDEN)}


def length() -> int:
    return sum(
        len(entries) for entries in journal.entries_of(db.db.session(), journal.all_recs(db.db.session())).values()
    )


def test_a_look_says_what_was_read_and_what_not_and_writes_nothing(house: Flask) -> None:
    before = length()
    got = look(FILE)
    assert got["questions"] == []
    assert got["report"]["refused"] == [{"line": 4, "reason": "“nonsense” is no temperature"}]
    assert got["report"]["gaps"] == [["2026-03-03", "2026-03-04"]]
    plan = got["plan"]
    assert (plan["write"], plan["new"], plan["since"]) == (3, 3, 2017)
    assert plan["coldest"] == {"on": "2026-03-01", "tmin_c": -2.5, "tmax_c": 4.0}
    assert plan["warmest"]["on"] == "2026-03-05"
    assert [day["on"] for day in plan["first"] + plan["last"]] == ["2026-03-01", "2026-03-02", "2026-03-05"]
    assert length() == before


def test_kept_days_are_there_and_the_same_file_again_changes_nothing(house: Flask) -> None:
    first = keep(FILE)
    assert first["kept"] == 3
    assert days_of(GARDEN)[0] == Day(dt.date(2026, 3, 1), -2.5, 4.0)
    before = length()
    assert keep(FILE, now=LATER) == {"batch": None, "kept": 0}
    assert length() == before
    assert look(FILE)["plan"]["same"] == 3


def test_questions_come_first_and_an_answer_settles_them(house: Flask) -> None:
    file = b"Day,low,high\n3/4/2026,41,50\n4/4/2026,40,52\n"
    assert [one["code"] for one in look(file)["questions"]] == ["columns"]
    columns = {"date": 1, "tmin": 2, "tmax": 3}
    assert [one["code"] for one in look(file, columns)["questions"]] == ["unit", "date_form"]
    assert look(file, columns)["plan"] is None
    with pytest.raises(BadInput):
        keep(file)
    answers = {**columns, "unit": "F", "date_form": "m/d/Y"}
    with pytest.raises(NotFound):
        weather_file.look("0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4e", file, TODAY, answers, since=None, keep_typed=True)
    got = weather_file.keep(GARDEN, file, NOW, dt.date(2026, 12, 1), answers, since=None, keep_typed=True)
    assert got["kept"] == 2
    assert told() == {"2026-03-04": (5.0, 10.0), "2026-04-04": (4.4, 11.1)}


def test_degrees_fahrenheit_are_shown_to_the_tenth_of_a_degree_celsius_that_is_kept(house: Flask) -> None:
    with house.app_context():
        plan = look("Date,Tmin (°F),Tmax (°F)\n2026-04-03,40,55\n".encode())["plan"]
    # (40 - 32) / 1.8 = 4.44 and (55 - 32) / 1.8 = 12.78 °C
    assert plan["first"] == [{"on": "2026-04-03", "tmin_c": 4.4, "tmax_c": 12.8}]
    assert (plan["coldest"]["tmin_c"], plan["warmest"]["tmax_c"]) == (4.4, 12.8)


def test_taking_back_gives_again_what_stood_before_and_leaves_what_was_changed_since(house: Flask) -> None:
    note("2026-03-01", -1, 3)
    note("2026-03-02", 0, None)
    before = told()
    batch = keep(FILE, keep_typed=False)["batch"]
    assert told()["2026-03-01"] == (-2.5, 4.0)
    note("2026-03-05", 8, 8)
    assert weather_file.take_back(batch) == {"removed": 0, "given_back": 2}
    assert told() == {**before, "2026-03-05": (8.0, 8.0)}
    assert {one["how"] for one in queries.list_records("weather_day")} == {"typed"}
    with pytest.raises(NotFound):
        weather_file.take_back(batch)


def test_of_two_files_each_is_taken_back_by_itself_in_any_order(house: Flask) -> None:
    first = keep(FILE)["batch"]
    second = keep(HEAD + b"2026-03-01,-9,4\n2026-03-06,1,2\n", now=LATER)["batch"]
    listed = weather_file.list_batches(queries.list_records("weather_day"))
    assert [(one["batch"], one["days"]) for one in listed] == [(second, 2), (first, 2)]
    assert listed[0]["read_at"] == "2026-03-10T09:05:00.000Z"
    weather_file.take_back(second)
    assert told() == {"2026-03-01": (-2.5, 4.0), "2026-03-02": (0.5, 6.0), "2026-03-05": (3.0, 9.0)}
    assert weather_file.take_back(first) == {"removed": 3, "given_back": 0}
    assert told() == {}


def test_days_that_were_taken_back_come_again_with_the_file(house: Flask) -> None:
    weather_file.take_back(keep(FILE)["batch"])
    assert keep(FILE, now=LATER)["kept"] == 3
    assert set(told()) == {"2026-03-01", "2026-03-02", "2026-03-05"}


def test_what_was_typed_stands_and_is_shown_beside_the_file(house: Flask) -> None:
    note("2026-03-01", -1, 3)
    plan = look(FILE)["plan"]
    assert (plan["typed_stay"], plan["new"]) == (1, 2)
    assert plan["typed_told"] == [{"on": "2026-03-01", "typed": [-1.0, 3.0], "file": [-2.5, 4.0]}]
    keep(FILE)
    assert told()["2026-03-01"] == (-1.0, 3.0)


@pytest.mark.parametrize("data", [b"", b"\x00\xff\x00", b"just words", HEAD, HEAD + b"2026-02-30,1,2\n"])
def test_what_is_no_such_file_is_refused_in_one_sentence(house: Flask, data: bytes) -> None:
    with pytest.raises(BadInput) as fault:
        look(data)
    assert fault.value.message.endswith(".")
