"""Which column of a station's table holds what: by its headings, by the person's own answers, or as a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from field.core.errors import BadInput
from field.readers.station_values import UNITS, read_temperature, read_when
from field.readers.station_words import is_day_of_month, role_of, unit_of, words_of

ROLES = ("date", "year", "month", "day", "time", "tmin", "tmax", "temp")
DATE_FORMS = ("d/m/Y", "m/d/Y")
MOST_COLUMNS = 500


@dataclass(frozen=True, slots=True)
class Question:
    """What only the person can say."""

    code: str  # 'columns', 'unit' or 'date_form'
    text: str
    choices: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """Return the question as plain values."""
        return {"code": self.code, "text": self.text, "choices": list(self.choices)}


@dataclass(frozen=True, slots=True)
class Answers:
    """What the person said of a file, checked."""

    columns: Mapping[str, str | int]  # role -> heading, or number from 1
    unit: str | None
    date_form: str | None


@dataclass(slots=True)
class Columns:
    """Where things are, from 0; None: there is no such column."""

    headings: list[str] = field(default_factory=list)
    has_headings: bool = False  # False: `headings` are the cells of the widest line
    first_line: int = 1  # of the data
    date: int | None = None
    year: int | None = None
    month: int | None = None
    day: int | None = None
    time: int | None = None
    tmin: int | None = None
    tmax: int | None = None
    temp: int | None = None
    unit: str | None = None

    @property
    def last(self) -> int:
        """The last column that is needed."""
        return max((at for role in ROLES if (at := getattr(self, role)) is not None), default=0)

    @property
    def can_read(self) -> bool:
        """Whether there is a day and a temperature."""
        has_day = self.date is not None or None not in (self.year, self.month, self.day)
        return has_day and (self.temp is not None or self.tmin is not None or self.tmax is not None)

    def told(self) -> dict[str, str]:
        """Return role -> heading of the columns in use."""
        found = {role: getattr(self, role) for role in ROLES}
        return {role: self.headings[at] for role, at in found.items() if at is not None and at < len(self.headings)}


Row = tuple[int, list[str]]


def read_mapping(mapping: Mapping[str, object] | None) -> Answers:
    """Return the person's answers; BadInput for one that does not fit."""
    columns: dict[str, str | int] = {}
    unit = form = None
    for name, value in (mapping or {}).items():
        if value is None or value == "":
            continue
        if name == "unit" and value in UNITS:
            unit = str(value)
        elif name == "date_form" and value in DATE_FORMS:
            form = str(value)
        elif name in ROLES and (isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool))):
            columns[name] = value
        else:
            shown = "".join(c for c in str(name)[:40] if c.isprintable())
            known = f"Columns are {', '.join(ROLES)}; units {', '.join(UNITS)}; forms of dates {', '.join(DATE_FORMS)}."
            raise BadInput(f"What was said of “{shown}” cannot be used.", known, "mapping")
    return Answers(columns, unit, form)


def find_columns(rows: Sequence[Row], answers: Answers) -> tuple[Columns, list[Question]]:
    """Return where the columns are, and what has to be asked.

    Args:
        rows: the first lines of the file, parted into cells.
        answers: of the person; they go before what the headings say.
    Raises: BadInput when an answer names a column that is not there.
    """
    columns, questions = _by_headings(rows)
    if answers.columns:
        questions = [one for one in questions if one.code != "columns"]
        _by_answers(rows, answers, columns)
        if not columns.can_read or (columns.temp is None and None in (columns.tmin, columns.tmax)):
            questions.append(_ask_columns(columns))
    columns.unit = answers.unit or _unit(rows, columns)
    if columns.unit is None and not any(one.code == "columns" for one in questions):
        questions.append(Question("unit", "In which unit are the temperatures?", UNITS))
    return columns, questions


def _by_headings(rows: Sequence[Row]) -> tuple[Columns, list[Question]]:
    for number, row in rows:
        if not 2 <= len(row) <= MOST_COLUMNS:
            continue
        found: dict[str, list[int]] = {}
        for at, heading in enumerate(row):
            role = role_of(heading.lstrip("#"))
            if role is not None:
                found.setdefault(role, []).append(at)
        if "date" not in found and "year" not in found and len(found.get("time", [])) == 1:
            # Some name the column of days after the time; whether days stand in it, the lines below tell.
            below = [(line, cells) for line, cells in rows if line > number]
            if _first_data(below, 0, found["time"][0]):
                found["date"] = found.pop("time")
        has_day = "date" in found or "year" in found
        if has_day and ({"tmin", "tmax", "temp"} & set(found)):
            return _settle_headings(number, row, found)
    widest = max(rows, key=lambda row: (len(row[1]) <= MOST_COLUMNS, len(row[1])), default=(1, []))
    columns = Columns(headings=list(widest[1][:MOST_COLUMNS]), first_line=_first_data(rows, 1))
    return columns, [_ask_columns(columns)]


def _settle_headings(number: int, row: list[str], found: dict[str, list[int]]) -> tuple[Columns, list[Question]]:
    columns = Columns(headings=list(row), has_headings=True, first_line=number + 1)
    dates = found.get("date", [])
    if "year" in found and "month" in found:
        days = [at for at in dates if is_day_of_month(row[at]) and len(words_of(row[at])) == 1]
        dates = [at for at in dates if at not in days]
        if not dates and days:
            columns.year, columns.month, columns.day = found["year"][0], found["month"][0], days[0]
    if dates:
        columns.date = dates[0]
        if len(found.get("time", [])) == 1:
            columns.time = found["time"][0]
    elif columns.year is not None and len(found.get("time", [])) == 1:
        columns.time = found["time"][0]
    doubtful = []
    for role in ("tmin", "tmax"):
        at = found.get(role, [])
        if len(at) == 1:
            setattr(columns, role, at[0])
        elif at:
            doubtful += at
    if columns.tmin is None and columns.tmax is None and len(found.get("temp", [])) == 1 and not doubtful:
        columns.temp = found["temp"][0]
    whole = columns.temp is not None or None not in (columns.tmin, columns.tmax)
    has_day = columns.date is not None or columns.day is not None
    return columns, [] if whole and has_day and not doubtful else [_ask_columns(columns)]


def _by_answers(rows: Sequence[Row], answers: Answers, columns: Columns) -> None:
    named = {str(one).strip().lower() for one in answers.columns.values() if isinstance(one, str)}
    if named:
        for number, row in rows:
            if named <= {cell.strip().lower() for cell in row}:
                columns.headings, columns.has_headings, columns.first_line = list(row), True, number + 1
                break
    width = max((len(row) for _, row in rows), default=0)
    places = {heading.strip().lower(): at for at, heading in reversed(list(enumerate(columns.headings)))}
    if {"tmin", "tmax", "temp"} & set(answers.columns):
        columns.tmin = columns.tmax = columns.temp = None
    if {"date", "year"} & set(answers.columns):
        columns.date = columns.year = columns.month = columns.day = columns.time = None
    for role, value in answers.columns.items():
        at = places.get(value.strip().lower()) if isinstance(value, str) else value - 1
        if at is None or not 0 <= at < width:
            shown = "".join(c for c in str(value)[:40] if c.isprintable())
            raise BadInput(f"There is no column “{shown}” in the file.", "Choose one of its headings.", role)
        setattr(columns, role, at)
    if columns.date is not None and not named:
        columns.first_line = _first_data(rows, columns.first_line, columns.date)


def _first_data(rows: Sequence[Row], otherwise: int, at: int = 0) -> int:
    for number, row in rows:
        try:
            if len(row) > at:
                read_when(row[at])
                return number
        except ValueError:
            continue
    return otherwise


def _unit(rows: Sequence[Row], columns: Columns) -> str | None:
    """Return the unit that the headings tell, or the line of units below them; None where they disagree or are mute."""
    places = [at for at in (columns.tmin, columns.tmax, columns.temp) if at is not None]
    told = {unit_of(columns.headings[at]) for at in places if at < len(columns.headings)}
    below = next((row for number, row in rows if number == columns.first_line), [])
    if told <= {None} and places and max(places) < len(below) and not any(_is_value(below[at]) for at in places):
        told = {unit_of(f"({below[at].strip('()[]')})") for at in places}
        columns.first_line += 1
    return told.pop() if len(told) == 1 else None


def _is_value(cell: str) -> bool:
    try:
        read_temperature(cell, "C")
    except ValueError:
        return False
    return True


def _ask_columns(columns: Columns) -> Question:
    text = "Which columns hold the date, and the day's lowest and highest temperature?"
    return Question("columns", text, tuple(columns.headings))
