"""Takes in a station's file as the weather of a place, after a look at what was read; and takes one reading back."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from field.core.dates import instant_text, read_instant
from field.core.errors import BadInput, NotFound
from field.core.weather import Day
from field.core.weather_day import weather_day_id
from field.core.weather_take import Kept, Plan, first_year, plan_days
from field.readers.station_csv import StationFile, read_station
from field.services.write_changes import Change, write_changes
from field.store import db, journal, queries
from field.sync.merge import Entry, merge_record

ENDS_SHOWN = 3  # days at either end, so that a person sees whether unit and date were read as they were meant
MOST_NAME = 200  # characters of a reading's name; home's own have some thirty
TAKEN_BACK = ("tmin_c", "tmax_c", "how", "batch")


def look(
    place: str, data: bytes, today: dt.date, answers: Mapping[str, object], *, since: int | None, keep_typed: bool
) -> dict[str, Any]:
    """Read a station's file and say what keeping it would do; nothing is written.

    Args:
        place: id of the garden or site.
        data: the file.
        today: at the place; later days are left out.
        answers: what the person said of columns, unit and dates: see `read_station`.
        since: the first year that is kept; None: the usual number of years.
        keep_typed: what was typed stands where the file says otherwise.
    Returns: {"questions", "report", "plan"}; "plan" is None while there are questions.
    Raises: BadInput in one sentence; NotFound for a place that is not kept here.
    """
    need_place(place)
    file = read_station(data, answers)
    plan = None if file.questions else _plan(place, file, today, since, keep_typed=keep_typed)
    return {
        "questions": [one.as_json() for one in file.questions],
        "report": file.report.as_json(),
        "plan": None if plan is None else _told(file.days, *plan, today),
    }


def keep(
    place: str, data: bytes, now: dt.datetime, today: dt.date, answers: Mapping[str, object], *, since: int | None,
    keep_typed: bool,
) -> dict[str, Any]:  # fmt: skip
    """Read a station's file and keep its days, all or none.

    Args:
        now: aware; it goes into the name of this reading.
        others: as `look`.
    Returns: {"batch": name of this reading, None where nothing in it was new, "kept": how many days were written}.
    Raises: as `look`; BadInput while there are questions.
    """
    need_place(place)
    file = read_station(data, answers)
    if file.questions:
        raise BadInput(file.questions[0].text, "Answer what is asked of the file first.", "answers")
    plan, _ = _plan(place, file, today, since, keep_typed=keep_typed)
    if not plan.write:
        return {"batch": None, "kept": 0}
    batch = f"{instant_text(now)} {hashlib.sha256(data).hexdigest()[:8]}"
    write_changes(_changes(place, plan.write, batch), now)
    return {"batch": batch, "kept": len(plan.write)}


def take_back(batch: str) -> dict[str, Any]:
    """Take one reading back: days it made go, days it changed are again as they were, days changed since stay.

    Returns: {"removed", "given_back"}: how many days each.
    Raises: NotFound when no day is there any more that this reading told last.
    """
    is_name = batch.isprintable() and len(batch) <= MOST_NAME
    records = queries.records_where("weather_day", "batch", batch) if is_name else []
    if not records:
        raise NotFound("Nothing of that file is kept any more.", "It was taken back already.", code="no-batch")
    entries = journal.entries_of(db.db.session(), (one["id"] for one in records))
    changes: list[Change] = []
    for one in records:
        before = merge_record(_before(entries[one["id"]], batch))
        if before is None or before["deleted"]:
            changes.append(("weather_day", one["id"], {"deleted": True}))
        else:
            was = {name: before["fields"].get(name) for name in TAKEN_BACK}
            changes.append(("weather_day", one["id"], was))
    write_changes(changes)
    removed = sum("deleted" in set_ for _, _, set_ in changes)
    return {"removed": removed, "given_back": len(changes) - removed}


def _before(entries: Iterable[Entry], batch: str) -> list[Entry]:
    """Return the changes of a day from before a reading told it; taking back another may have told it again since."""
    began = min(str(entry.op["hlc"]) for entry in entries if entry.op["set"].get("batch") == batch)
    return [entry for entry in entries if str(entry.op["hlc"]) < began]


def list_batches(records: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return the readings that days still stand by, the latest first.

    Args:
        records: weather_day records of one place.
    Returns: [{"batch", "read_at", "days", "first_on", "last_on"}]; "read_at" is None for a name that home did not make.
    """
    days: dict[str, list[str]] = defaultdict(list)
    for one in records:
        if one.get("batch") and one.get("day_on"):
            days[one["batch"]].append(one["day_on"])
    return [
        {
            "batch": batch,
            "read_at": _read_at(batch),
            "days": len(days[batch]),
            "first_on": min(days[batch]),
            "last_on": max(days[batch]),
        }
        for batch in sorted(days, reverse=True)
    ]


def _read_at(batch: str) -> str | None:
    told = batch.partition(" ")[0]
    try:
        return instant_text(read_instant(told, "The moment", "batch"))
    except BadInput:
        return None


def need_place(place: str) -> dict[str, Any]:
    """Return the garden or site of an id; NotFound when neither is kept here."""
    found = queries.find_record("garden", place) or queries.find_record("site", place)
    if found is None:
        raise NotFound("That place is not kept here.", "Choose another one.", code="no-place")
    return found


def _plan(place: str, file: StationFile, today: dt.date, since: int | None, *, keep_typed: bool) -> tuple[Plan, int]:
    kept = {
        dt.date.fromisoformat(one["day_on"]): Kept(one["tmin_c"], one["tmax_c"], one["how"])
        for one in queries.records_where("weather_day", "site", place)
        if one["day_on"] is not None and one["id"] == weather_day_id(place, one["day_on"])
    }
    year = first_year(file.days, today, since)
    return plan_days(file.days, kept, today, year, keep_typed=keep_typed), year


def _changes(place: str, write: Mapping[dt.date, Kept], batch: str) -> list[Change]:
    ids = {on: weather_day_id(place, on.isoformat()) for on in write}
    known = journal.entries_of(db.db.session(), ids.values())
    changes: list[Change] = []
    for on, day in write.items():
        set_: dict[str, Any] = {"tmin_c": day.tmin_c, "tmax_c": day.tmax_c, "how": day.how, "batch": batch}
        before = merge_record(known.get(ids[on], ()))
        if before is None or before["fields"].get("day_on") != on.isoformat() or before["fields"].get("site") != place:
            set_ = {"site": place, "day_on": on.isoformat(), **set_}
        if before is not None and before["deleted"]:
            set_["deleted"] = False
        changes.append(("weather_day", ids[on], set_))
    return changes


def _told(days: tuple[Day, ...], plan: Plan, since: int, today: dt.date) -> dict[str, Any]:
    lows = [day for day in days if day.tmin_c is not None]
    highs = [day for day in days if day.tmax_c is not None]
    years = Counter(day.on.year for day in days if day.on <= today)
    return {
        "write": len(plan.write),
        "new": plan.new,
        "changed": plan.changed,
        "filled": plan.filled,
        "replaced": plan.replaced,
        "same": plan.same,
        "typed_stay": plan.typed_stay,
        "typed_told": [
            {"on": on.isoformat(), "typed": [old.tmin_c, old.tmax_c], "file": [told.tmin_c, told.tmax_c]}
            for on, old, told in plan.typed_told
        ],
        "ahead": plan.ahead,
        "earlier": plan.earlier,
        "cannot": plan.cannot,
        "since": since,
        "years": [{"year": year, "days": years[year]} for year in sorted(years)],
        "first": [_day(day) for day in days[:ENDS_SHOWN]],
        "last": [_day(day) for day in days[ENDS_SHOWN:][-ENDS_SHOWN:]],
        "coldest": _day(min(lows, key=lambda day: day.tmin_c if day.tmin_c is not None else 0.0)) if lows else None,
        "warmest": _day(max(highs, key=lambda day: day.tmax_c if day.tmax_c is not None else 0.0)) if highs else None,
    }


def _day(day: Day) -> dict[str, Any]:
    """Return a day of the file as it would be kept: to a tenth of a degree."""
    low, high = (None if one is None else round(one, 1) for one in (day.tmin_c, day.tmax_c))
    return {"on": day.on.isoformat(), "tmin_c": low, "tmax_c": high}
