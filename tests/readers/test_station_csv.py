"""Stations' tables: whatever they look like, what cannot be known is asked, and one bad line costs one line."""

from __future__ import annotations

import dataclasses
import io
from datetime import date, timedelta

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput, FellsideError
from field.core.weather import Day
from field.readers import station_csv
from field.readers.station_csv import read_station
from field.readers.station_words import role_of, unit_of

TWO = [Day(date(2026, 1, 13), -1.5, 4.0), Day(date(2026, 1, 14), 0.0, 6.5)]


def table(*lines: str) -> bytes:
    return "\n".join(lines).encode()


def read(*lines: str, **mapping: object) -> list[Day]:
    got = read_station(table(*lines), mapping)
    assert got.questions == ()
    return list(got.days)


def asked(*lines: str, **mapping: object) -> list[str]:
    got = read_station(table(*lines), mapping)
    assert got.days == ()
    return [one.code for one in got.questions]


@pytest.mark.parametrize(
    "lines",
    [
        ("date,tmin (°C),tmax (°C)", "2026-01-13,-1.5,4.0", "2026-01-14,0,6.5"),
        ("Datum;Tiefsttemperatur [°C];Höchsttemperatur [°C]", "13.01.2026;-1,5;4,0", "14.1.2026;0;6,5"),
        ("fecha\ttemperatura mínima °C\ttemperatura máxima °C", "13/01/2026\t-1,5\t4", "14/01/2026\t0\t6,5"),
        ("Date;Température maximale (°C);Température minimale (°C)", "14/01/2026;6,5;0", "13/01/2026;4;-1,5"),
        ("YYYYMMDD,TN [°C],TX [°C]", "20260113,-1.5,4", "20260114,0,6.5"),
        ("Year,Month,Day,Min Temp (°C),Max Temp (°C),Max Temp Flag", "2026,1,13,-1.5,4,E", "2026,01,14,0,6.5,"),
        ("time,temperature_2m_max (°C),temperature_2m_min (°C)", "2026-01-13,4,-1.5", "2026-01-14,6.5,0"),
        ("date,low temp F,high temp F", "1/13/2026,29.3,39.2", "1/14/2026,32,43.7"),
        ("Päivä;Alin lämpötila [°C];Ylin lämpötila [°C]", "2026.01.13;−1,5;4", "2026.01.14;0;6,5"),
        ("# made by a logger", "", '"date","rain mm","tmin degC","tmax degC"', '"2026-01-13","3","-1,5","4"',
         '2026-01-14,,"0,0","6,5"'),
        ("date,tmin,tmax", ",degC,degC", "13-Jan-2026,-1.5,4", "14 January 2026,0,6.5"),
        ("Date,Ground minimum,Mean (°C),Minimum (°C),Maximum (°C),Q_TX", "2026-01-13,-9,1,-1.5,4,0",
         "2026-01-14,-9,1,0,6.5,0"),
    ],
)  # fmt: skip
def test_the_same_two_days_out_of_many_kinds_of_table(lines: tuple[str, ...]) -> None:
    got = read(*lines)
    assert [day.on for day in got] == [day.on for day in TWO]
    for day, told in zip(got, TWO, strict=True):
        assert (day.tmin_c, day.tmax_c) == pytest.approx((told.tmin_c, told.tmax_c), abs=0.05)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_letters_and_line_ends_of_any_usual_kind(encoding: str, end: str) -> None:
    text = end.join(("Höhe;Datum;Tmin °C;Tmax °C", "7;13.01.2026;-1,5;4,0", "7;14.01.2026;0,0;6,5", ""))
    assert list(read_station(io.BytesIO(text.encode(encoding))).days) == TWO


def test_a_letter_that_is_no_utf_8_far_down_changes_nothing_before_it() -> None:
    lines = [f"{(date(1990, 1, 1) + timedelta(days=n)).isoformat()};1,0;2,0;ok" for n in range(9000)]
    raw = "\n".join(["date;tmin °C;tmax °C;note", *lines]).encode() + "\n2026-01-13;-1,5;4,0;für".encode("latin-1")
    got = read_station(raw)
    assert (got.days[-1], got.report.encoding, len(got.days)) == (TWO[0], "latin-1", 9001)


def test_a_date_that_reads_both_ways_is_asked_and_then_read_as_told() -> None:
    lines = ("date,tmin C,tmax C", "03/04/2026,1,2", "05/04/2026,1,2")
    assert asked(*lines) == ["date_form"]
    assert [day.on for day in read(*lines, date_form="d/m/Y")] == [date(2026, 4, 3), date(2026, 4, 5)]
    assert [day.on for day in read(*lines, date_form="m/d/Y")] == [date(2026, 3, 4), date(2026, 5, 4)]


def test_one_date_that_reads_only_one_way_settles_all_of_them() -> None:
    days = read("date,tmin C,tmax C", "03/04/2026,1,2", "13/04/2026,1,2")
    assert [day.on for day in days] == [date(2026, 4, 3), date(2026, 4, 13)]


def test_dates_that_contradict_each_other_are_asked() -> None:
    assert asked("date,tmin C,tmax C", "03/14/2026,1,2", "13/04/2026,1,2") == ["date_form"]


def test_a_unit_that_no_heading_tells_is_asked() -> None:
    lines = ("date,tmin,tmax", "2026-01-13,29.3,39.2")
    assert asked(*lines) == ["unit"]
    assert read(*lines, unit="F")[0].tmin_c == pytest.approx(-1.5)
    assert read("date,tmin,tmax", "2026-01-13,-15,40", unit="0.1C") == [Day(date(2026, 1, 13), -1.5, 4.0)]


def test_tenths_that_are_called_degrees_are_asked() -> None:
    assert asked("date,tmin C,tmax C", "2026-01-13,115,240", "2026-01-14,120,250") == ["unit"]


def test_columns_that_are_not_recognised_are_asked_and_can_be_named() -> None:
    lines = ("wann;kalt;warm", "2026-01-13;-1,5;4,0", "2026-01-14;0;6,5")
    got = read_station(table(*lines))
    asks = got.questions[0].as_json()
    assert (asks["code"], asks["choices"]) == ("columns", ["wann", "kalt", "warm"])
    assert read(*lines, date="wann", tmin="Kalt", tmax="warm", unit="C") == TWO
    assert read(*lines, date=1, tmin=2, tmax=3, unit="C") == TWO
    assert read(*lines[1:], date=1, tmin=2, tmax=3, unit="C") == TWO  # no headings at all


def test_two_columns_for_the_lowest_are_asked() -> None:
    assert asked("date,tmin a C,tmin b C,tmax C", "2026-01-13,1,2,3") == ["columns"]


def test_one_temperature_a_day_is_no_lowest_and_highest() -> None:
    assert asked("date,temperature C", "2026-01-13,3", "2026-01-14,3") == ["columns"]


def test_hourly_readings_become_the_days_lowest_and_highest_and_it_is_said() -> None:
    lines = [f"2026-01-{day}T{hour:02}:00Z;{hour - 5},5" for day in (13, 14) for hour in range(24)]
    got = read_station(table("timestamp;temp °C", *reversed(lines)))
    assert list(got.days) == [Day(date(2026, 1, day), -5.5, 18.5) for day in (13, 14)]
    assert got.report.hourly


def test_a_day_of_few_hours_is_refused_for_its_night_may_be_missing() -> None:
    lines = [f"2026-01-13 {hour:02}:00,{hour}" for hour in range(24)] + ["2026-01-14 12:00,9", "2026-01-14 13:00,9"]
    more = [f"2026-01-15 {hour:02}:00,{hour}" for hour in range(6, 24)]
    got = read_station(table("date time,temp C", *lines, *more))
    assert [day.on.day for day in got.days] == [13, 15]
    assert "only 2 readings" in got.report.refused[0].reason


def test_marks_for_a_missing_value_are_no_temperatures() -> None:
    days = read(
        "date,tmin C,tmax C", "2026-01-01,,5", "2026-01-02,-,5", "2026-01-03,NA,5", "2026-01-04,-999,5",
        "2026-01-05,9999,5", "2026-01-06,-99.9,5", "2026-01-07,M,5",
    )  # fmt: skip
    assert [(day.tmin_c, day.tmax_c) for day in days] == [(None, 5.0)] * 7


def test_what_is_wrong_with_a_line_is_told_with_its_number_and_the_rest_is_kept() -> None:
    got = read_station(
        table(
            "date,tmin C,tmax C",
            "2026-01-13,-1.5,4.0",
            "2026-01-15,9,2",
            "2026-01-16,1,77",
            "2026-02-30,1,2",
            "soon,1,2",
            "1/2/26,1,2",
            "2026-01-17,cold,2",
            "2026-01-18",
            "2026-01-19,1,5,2,5",
            "2026-01-14,0,6.5",
        )
    )
    assert list(got.days) == TWO
    assert [(one.line, one.reason) for one in got.report.refused] == [
        (3, "the lowest, 9.0 °C, is above the highest, 2.0 °C"),
        (4, "77.0 °C was never measured anywhere"),
        (5, "no day of the calendar"),
        (6, "no day that could be read"),
        (7, "a year of two figures"),
        (8, "“cold” is no temperature"),
        (9, "too few columns"),
        (10, "more cells than headings"),
    ]


def test_a_decimal_comma_among_commas_never_slips_a_column() -> None:
    with pytest.raises(BadInput, match="more cells than headings"):
        read_station(table("date,tmin C,tmax C", "2026-01-13,1,5,4,0", "2026-01-14,1,5,4,0"))


def test_a_day_told_twice_is_told_and_the_first_is_kept() -> None:
    got = read_station(
        table("date,tmin C,tmax C", "2026-01-13,-1.5,4", "2026-01-13,-1.5,4", "2026-01-14,0,6.5", "2026-01-14,3,9")
    )
    assert list(got.days) == TWO
    assert got.report.repeated == 1
    assert [one.line for one in got.report.refused] == [5]


def test_a_day_in_three_cells_is_held_to_the_calendar() -> None:
    bad = ("9" * 400 + ",1,1,1,2", "2026,11,0512,1,2", "26,1,1,1,2", "2026,13,1,1,2", "2026,1,²,1,2")
    got = read_station(table("Year,Month,Day,Min C,Max C", "2026,1,13,-1.5,4", *bad, "2026,1,14,0,6.5"))
    assert list(got.days) == TWO
    assert [one.line for one in got.report.refused] == [3, 4, 5, 6, 7]


def test_more_days_than_anybody_logged_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = ("date,tmin C,tmax C", "2026-01-13,-1.5,4", "2026-01-14,0,6.5")
    monkeypatch.setattr(station_csv, "MOST_DAYS", 2)
    assert len(read(*lines)) == 2
    with pytest.raises(BadInput, match="more than 2 days"):
        read(*lines, "2026-01-15,0,6.5")


def test_an_endless_cell_is_no_figure_and_no_time() -> None:
    bad = ("2026-01-15,5" + "C" * 9000 + ",6", "2026-01-16T" + " " * 9000 + "12:00,1,2")
    got = read_station(table("date,tmin C,tmax C", "2026-01-13,-1.5,4", *bad, "2026-01-14,0,6.5"))
    assert list(got.days) == TWO
    assert [one.line for one in got.report.refused] == [3, 4]


def test_gaps_and_span_are_told() -> None:
    got = read_station(table("date,tmin C,tmax C", "2026-01-20,1,2", "2026-01-13,1,2", "2026-01-14,1,2"))
    assert (got.report.first_on, got.report.last_on) == (date(2026, 1, 13), date(2026, 1, 20))
    assert got.report.gaps == [(date(2026, 1, 15), date(2026, 1, 19))]
    assert got.report.missing_days == 5
    told = got.report.as_json()
    assert (told["gaps"], told["first_on"]) == ([["2026-01-15", "2026-01-19"]], "2026-01-13")
    assert set(told) == {one.name for one in dataclasses.fields(got.report)}


def test_a_hundred_years_are_read_whole() -> None:
    first = date(1926, 1, 1)
    lines = [f"{(first + timedelta(days=n)).isoformat()};{n % 20 - 9},5;{n % 20},0" for n in range(36524)]
    got = read_station(table("date;tmin °C;tmax °C", *lines))
    assert len(got.days) == 36524
    assert got.report.missing_days == 0


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "empty"),
        (b"PK\x03\x04rest", "spreadsheet"),
        (b"\xd0\xcf\x11\xe0rest", "spreadsheet"),
        (b"%PDF-1.7", "PDF"),
        (b"\x1f\x8b\x08", "packed"),
        (b"<!DOCTYPE html><html>", "web page"),
        (bytes(range(64)) * 4, "no text"),
        (b"just some words", "no table"),
        (b"date,tmin C,tmax C\n", "No day"),
        (b"date,tmin C,tmax C\n" + b"1" * 30_000, "characters"),
        (b"date;tmin C;tmax C\n\xff\xfe;\x80;\x81\n", "No day"),
    ],
)
def test_what_is_no_table_ends_in_one_sentence(raw: bytes, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        read_station(raw)
    assert says in refused.value.message


@pytest.mark.parametrize(
    "mapping",
    [{"unit": "K"}, {"date_form": "Y"}, {"tmin": 0}, {"tmin": 99}, {"tmin": "no such"}, {"tmin": True}, {"x": 1},
     {"date": ["a"]}, {"tmin": -1}],
)  # fmt: skip
def test_an_answer_that_does_not_fit_is_refused(mapping: dict) -> None:
    with pytest.raises(BadInput):
        read_station(table("date,tmin C,tmax C", "2026-01-13,-1.5,4.0"), mapping)


def says_something(raw: bytes, mapping: dict | None = None) -> bool:
    """Return whether a file gives days, or a question, or one sentence why not."""
    try:
        got = read_station(raw, mapping)
    except FellsideError as refused:
        return refused.message.endswith(".")
    return bool(got.days or got.questions)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=400))
@example(b'date;tmin C;tmax C\n"2026-01-01;1;2\n')
@example(b"\xff\xfe\x00")
@example(b"date,tmin C,tmax C\n99991231,1,2\n00000000,1,2\n1/1/0000,1,2")
def test_no_bytes_at_all_break_the_reader(raw: bytes) -> None:
    for start in (b"", b"date;tmin C;tmax C\n"):
        assert says_something(start + raw)


CELLS = st.sampled_from(["2026-01-13", "13/01/2026", "1/2/2026", "tmin C", "date", "tmax", "-1,5", "4", "", "NA", '"',
                         "1e9", "²", "2026-13-45", "24:00", "99:99", "999999999999"])  # fmt: skip


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=1, max_size=5), min_size=1, max_size=8), st.sampled_from(",;\t"))
def test_no_jumble_of_cells_breaks_the_reader(rows: list[list[str]], separator: str) -> None:
    raw = "\n".join(separator.join(row) for row in rows).encode()
    for mapping in ({}, {"date": 1, "tmin": 2, "unit": "C"}, {"date": 1, "temp": 2, "time": 3, "unit": "F"}):
        assert says_something(raw, mapping)


@pytest.mark.parametrize(
    ("heading", "role"),
    [("Lägsta temperatur", "tmin"), ("Hoogste temperatuur", "tmax"), ("TNK", "tmin"), ("Laveste", "tmin"),
     ("Relative humidity min", None), ("Min dew point", None), ("Max wind", None), ("5cm Erdboden Minimum", None),
     ("Mean temperature", None), ("Lufttemperatur", "temp"), ("MESS_DATUM", "date"), ("Uhrzeit", "time"), ("", None)],
)  # fmt: skip
def test_headings_are_known_by_their_words(heading: str, role: str | None) -> None:
    assert role_of(heading) == role


def test_units_are_known_by_their_signs() -> None:
    assert [unit_of(one) for one in ("T (°F)", "max_f", "Degree C", "tmin [C]", "Celsius", "Cloud", "Fog")] == [
        "F", "F", "C", "C", "C", None, None,
    ]  # fmt: skip
