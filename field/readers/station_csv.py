"""Read the daily or hourly temperatures of any weather station out of a table as text, and tell what was not used.

Columns are recognised by their headings in several languages, or named by the person. What cannot be known (which
figure of a date is the day, which unit it is) is asked and never guessed; one bad line costs one line.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import chain, pairwise
from typing import BinaryIO

from field.core.errors import BadInput
from field.core.weather import COLDEST_C, HOTTEST_C, Day
from field.readers.station_columns import Columns, Question, find_columns, read_mapping
from field.readers.station_text import TextLines, cells, find_separator
from field.readers.station_values import NO_DAY, When, read_figures, read_minute, read_temperature, read_when

HEAD_LINES = 200  # in which the headings have to stand
MOST_LINES = 3_000_000  # hourly readings of a hundred years are 877,000
MOST_DAYS = 100_000  # some 270 years: the longest row of days kept anywhere is hardly longer; common practice
MOST_TOLD = 200  # of refused lines and of gaps; of the rest only the number
ENOUGH_HOURS = 0.75  # of the usual readings a day; with fewer the coldest may be missing. Common practice
HALF_WRONG = 0.5  # when so many values cannot be, the unit is asked for


@dataclass(frozen=True, slots=True)
class Refused:
    """One line that was not used."""

    line: int
    reason: str


@dataclass(slots=True)
class Report:
    """What was read, and what was not."""

    lines: int = 0
    encoding: str = ""
    separator: str = ""
    unit: str | None = None
    date_form: str | None = None
    hourly: bool = False
    columns: list[str] = field(default_factory=list)
    used: dict[str, str] = field(default_factory=dict)  # role -> heading
    refused: list[Refused] = field(default_factory=list)
    refused_count: int = 0
    repeated: int = 0  # lines that told a day again in the same words
    missing_values: int = 0  # marks for a value that is not there
    first_on: date | None = None
    last_on: date | None = None
    gaps: list[tuple[date, date]] = field(default_factory=list)
    missing_days: int = 0  # in all gaps, also those past the list

    def as_json(self) -> dict[str, object]:
        """Return the report as plain values, days as text."""
        return {
            "lines": self.lines,
            "encoding": self.encoding,
            "separator": self.separator,
            "unit": self.unit,
            "date_form": self.date_form,
            "hourly": self.hourly,
            "columns": self.columns,
            "used": self.used,
            "refused": [{"line": one.line, "reason": one.reason} for one in self.refused],
            "refused_count": self.refused_count,
            "repeated": self.repeated,
            "missing_values": self.missing_values,
            "first_on": None if self.first_on is None else self.first_on.isoformat(),
            "last_on": None if self.last_on is None else self.last_on.isoformat(),
            "gaps": [[first.isoformat(), last.isoformat()] for first, last in self.gaps],
            "missing_days": self.missing_days,
        }

    def refuse(self, line: int, reason: str) -> None:
        """Note a line that was not used."""
        self.refused_count += 1
        if len(self.refused) < MOST_TOLD:
            self.refused.append(Refused(line, reason))


@dataclass(frozen=True, slots=True)
class StationFile:
    """The days of a file by date; none while there are questions."""

    days: tuple[Day, ...]
    report: Report
    questions: tuple[Question, ...]


@dataclass(slots=True)
class _Told:
    """What the lines of one day told; degrees Celsius."""

    line: int
    first: tuple[float | None, float | None]
    low: float | None
    high: float | None
    readings: int = 1
    minutes: int = 0  # a bit for each minute of the day that had a reading
    again: list[tuple[int, bool]] = field(default_factory=list)  # a further line; whether it says the same


_Key = tuple[bool, int, int, int]  # either way round, year, month, day


def read_station(source: bytes | BinaryIO, mapping: Mapping[str, object] | None = None) -> StationFile:
    """Return the lowest and highest temperature of each day of a station's file, with a report.

    Args:
        source: the file's bytes, or the open file; it is read in pieces.
        mapping: the person's answers: `date`, `year`, `month`, `day`, `time`, `tmin`, `tmax`, `temp` name a column by
            its heading or its number from 1; `unit` is C, F or 0.1C; `date_form` is d/m/Y or m/d/Y.
    Returns: the days in order, a report, and what has to be asked. Hourly readings become the day's lowest and highest,
        by the day as it is written in the file.
    Raises: BadInput in one sentence for what is no such file, or an answer that does not fit; TooLarge past a bound.
    """
    answers = read_mapping(mapping)
    text = TextLines(io.BytesIO(source) if isinstance(source, bytes) else source)
    lines = iter(text)
    head = _first(lines)
    separator = find_separator([line for _, line in head if line.strip()])
    if separator is None:
        raise BadInput("The file is no table: its lines are not parted into cells.", "Save the station's table as CSV.")
    rows = [(number, cells(line, separator)) for number, line in head]
    columns, questions = find_columns(rows, answers)
    report = Report(separator=separator, unit=columns.unit, columns=list(columns.headings), used=columns.told())
    if questions and not columns.can_read:
        report.encoding = text.encoding
        return StationFile((), report, tuple(questions))
    told = _gather(chain(rows, ((n, cells(line, separator)) for n, line in lines)), columns, report)
    report.encoding = text.encoding
    form, asked = _find_form(told, answers.date_form)
    questions += asked
    report.date_form = form
    if not questions and columns.unit is not None and _is_mostly_wrong(report, told):
        questions.append(Question("unit", "Most temperatures cannot be in that unit.", ("C", "F", "0.1C")))
    days = [] if questions else _settle(told, form, columns, report, questions)
    if questions:
        return StationFile((), report, tuple(questions))
    if not days:
        why = f" Line {report.refused[0].line}: {report.refused[0].reason}." if report.refused else ""
        raise BadInput(f"No day with a temperature was found in the file.{why}", "Look which columns were meant.")
    _tell_span(days, report)
    return StationFile(tuple(days), report, ())


def _first(lines: Iterator[tuple[int, str]]) -> list[tuple[int, str]]:
    head = []
    for number, line in lines:
        head.append((number, line))
        if len(head) >= HEAD_LINES:
            break
    return head


def _gather(rows: Iterator[tuple[int, list[str]]], columns: Columns, report: Report) -> dict[_Key, _Told]:
    told: dict[_Key, _Told] = {}
    need = columns.last + 1
    for number, row in rows:
        report.lines = number
        if number > MOST_LINES:
            raise BadInput("The file has more lines than a hundred years of hours.", "Send it in parts.")
        if number < columns.first_line or not any(row) or (columns.has_headings and row == columns.headings):
            continue
        if columns.has_headings and any(row[len(columns.headings) :]):
            # As where a decimal comma is not told from the comma between cells: everything would slip by one.
            report.refuse(number, "more cells than headings")
            continue
        if len(row) < need:
            report.refuse(number, "too few columns")
            continue
        try:
            when = _when(row, columns)
            low, high = _temperatures(row, columns)
        except ValueError as fault:
            report.refuse(number, str(fault))
            continue
        report.missing_values += (low is None) + (high is None and columns.temp is None)
        if low is None and high is None:
            continue
        _take(told, number, when, low, high)
    return told


def _when(row: Sequence[str], columns: Columns) -> When:
    if columns.date is not None:
        when = read_when(row[columns.date])
    else:
        when = read_figures(*(row[one or 0] for one in (columns.year, columns.month, columns.day)))
    if columns.time is not None and when.minute is None:
        return when._replace(minute=read_minute(row[columns.time]))
    return when


def _temperatures(row: Sequence[str], columns: Columns) -> tuple[float | None, float | None]:
    def value(at: int | None) -> float | None:
        if at is None:
            return None
        try:
            got = read_temperature(row[at], columns.unit or "C")
        except ValueError:
            shown = "".join(c for c in row[at][:20] if c.isprintable())
            raise ValueError(f"“{shown}” is no temperature") from None
        if got is not None and columns.unit is not None and not COLDEST_C <= got <= HOTTEST_C:
            raise ValueError(f"{got:.1f} °C was never measured anywhere")
        return got

    if columns.temp is not None:
        got = value(columns.temp)
        return got, got
    low, high = value(columns.tmin), value(columns.tmax)
    if low is not None and high is not None and low > high:
        raise ValueError(f"the lowest, {low:.1f} °C, is above the highest, {high:.1f} °C")
    return low, high


def _take(told: dict[_Key, _Told], line: int, when: When, low: float | None, high: float | None) -> None:
    key = (when.either, when.year, when.month, when.day)
    bit = 0 if when.minute is None else 1 << when.minute
    day = told.get(key)
    if day is None:
        if len(told) >= MOST_DAYS:
            raise BadInput(f"The file tells of more than {MOST_DAYS} days.", "Send it in parts.")
        told[key] = _Told(line, (low, high), low, high, minutes=bit)
        return
    if len(day.again) < 3:
        day.again.append((line, (low, high) == day.first))
    if not bit or not day.minutes & bit:  # the hour told twice when clocks go back is one reading
        day.readings += 1
    day.minutes |= bit
    day.low = low if day.low is None else day.low if low is None else min(low, day.low)
    day.high = high if day.high is None else day.high if high is None else max(high, day.high)


def _find_form(told: Mapping[_Key, _Told], answer: str | None) -> tuple[str | None, list[Question]]:
    """Return which figure of the dates is the day, as far as the dates tell it or the person did."""
    either = [key for key in told if key[0]]
    if not either:
        return None, []
    if answer is not None:
        return answer, []
    first_is_day = any(first > 12 for _, _, first, _ in either)
    second_is_day = any(second > 12 for _, _, _, second in either)
    if first_is_day != second_is_day:
        return ("d/m/Y" if first_is_day else "m/d/Y"), []
    _, year, first, second = either[0]
    text = (
        f"Dates are written like {first}/{second}/{year}: is the first figure the day or the month?"
        if not first_is_day
        else "Some dates have the day first and some the month: which is right?"
    )
    return None, [Question("date_form", text, ("d/m/Y", "m/d/Y"))]


def _is_mostly_wrong(report: Report, told: Mapping[_Key, _Told]) -> bool:
    wrong = sum(one.reason.endswith("anywhere") for one in report.refused)
    return wrong > 0 and wrong >= HALF_WRONG * (min(len(told), MOST_TOLD) + wrong)


def _settle(
    told: Mapping[_Key, _Told], form: str | None, columns: Columns, report: Report, questions: list[Question]
) -> list[Day]:
    """Return the days in order; puts a question where the table has one reading a day and no lowest and highest."""
    usual = Counter(day.readings for day in told.values()).most_common(1)
    # Two lines of one day without a time are a slip of the table and no readings.
    has_times = columns.temp is not None or any(day.minutes for day in told.values())
    report.hourly = has_times and bool(usual) and usual[0][0] > 1
    if columns.temp is not None and not report.hourly:
        text = "The table has one temperature a day. Which columns hold the day's lowest and highest?"
        questions.append(Question("columns", text, tuple(columns.headings)))
        return []
    enough = usual[0][0] * ENOUGH_HOURS if report.hourly else 0
    days: dict[date, Day] = {}
    for (either, year, month, day_figure), day in told.items():
        day_of_month = day_figure
        if either and form == "d/m/Y":
            month, day_of_month = day_figure, month
        try:
            on = date(year, month, day_of_month)
        except ValueError:
            report.refuse(day.line, NO_DAY)
            continue
        if report.hourly and day.readings < enough:
            report.refuse(day.line, f"only {day.readings} readings that day, too few to know its lowest")
            continue
        low, high = (day.low, day.high) if report.hourly else day.first
        if not report.hourly:
            _tell_again(day, report)
        if on in days:
            report.refuse(day.line, "a day that was told before, with other figures")
            continue
        days[on] = Day(on, low, high)
    return [days[on] for on in sorted(days)]


def _tell_again(day: _Told, report: Report) -> None:
    for line, is_same in day.again:
        if is_same:
            report.repeated += 1
        else:
            report.refuse(line, "a day that was told before, with other figures")


def _tell_span(days: Sequence[Day], report: Report) -> None:
    report.first_on, report.last_on = days[0].on, days[-1].on
    report.refused.sort(key=lambda one: one.line)
    one_day = timedelta(days=1)
    for before, after in pairwise(days):
        missing = (after.on - before.on).days - 1
        if missing:
            report.missing_days += missing
            if len(report.gaps) < MOST_TOLD:
                report.gaps.append((before.on + one_day, after.on - one_day))
