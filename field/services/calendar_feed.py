"""What is due as a calendar: a file to take along, and a private address that a calendar program reads again and again.

A task has one entry, under a name that stays the same. It stands on the day Due asks for it: not begun, its first day;
begun, its last one; overdue, today. A round, as a look at the water is, stands as one entry for all trees of a place,
or the calendar would hold hundreds of them. The entries of leave tell no person's name unless the owner chose so:
calendars are often kept by others.

Read by its address, the calendar is replaced as a whole, and what was settled is just not in it any more. A file is
added to what a calendar holds. Home cannot know which calendar has an older file, so a file calls things off only where
the person says that one was taken in before; else a fresh calendar would be full of called-off entries it never had.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import secrets
import uuid
from collections.abc import Mapping
from typing import Any

from field.core import tasks
from field.core.dates import instant_text, show_date
from field.core.errors import BadInput, NotFound
from field.core.rounds import Round, gather_rounds, round_name
from field.papers.calendar import ALARMS, LONG_DAYS, MEDIA_TYPE, Entry, write_calendar
from field.services.list_due import name_all, plan_all
from field.store import calendar_link, db, queries

NAME = "Fellside: due"
AHEAD_DAYS = 400
SETTLED_DAYS = 60  # what was settled this lately is called off where an older file was taken in
_Task = Mapping[str, Any]


def tell_link() -> dict[str, Any]:
    """Return {"made_at", "alarm", "names"}; made_at None while there is no address."""
    link = calendar_link.read(db.db.session())
    if link is None:
        return {"made_at": None, "alarm": "none", "names": False}
    return {"made_at": link.made_at, "alarm": link.alarm, "names": link.names}


def make_link(alarm: object, names: object, now: dt.datetime) -> str:
    """Make the private address anew and return its secret part; the one before is good no longer.

    Raises: BadInput for an alarm that is none.
    """
    secret = secrets.token_urlsafe(32)
    with db.writing() as session:
        calendar_link.save(session, calendar_link.Link(_hash(secret), instant_text(now), _alarm(alarm), names is True))
    return secret


def end_link() -> None:
    """Let the private address be good no longer."""
    with db.writing() as session:
        calendar_link.end(session)


def read_by_link(secret: str, now: dt.datetime) -> bytes:
    """Return the calendar for whoever has the private address.

    Raises: NotFound for any other.
    """
    link = calendar_link.read(db.db.session())
    if link is None or not hmac.compare_digest(link.token_hash, _hash(secret)):
        raise NotFound(
            "There is no such calendar here.", "Make its address anew at home, under House.", code="no-calendar"
        )
    return write_calendar(_entries(now, names=link.names, settled=False), NAME, link.alarm, now)


def make_file(alarm: object, now: dt.datetime, *, again: bool = False, names: bool = False) -> bytes:
    """Return the calendar as a file to take along.

    Args:
        alarm: one of ALARMS.
        now: aware.
        names: what a landholder is owed is told by name.
        again: an older file is in the calendar already; what was settled since is called off there.
    Raises: BadInput for an alarm that is none.
    """
    return write_calendar(_entries(now, names=names, settled=again), NAME, _alarm(alarm), now)


def _alarm(alarm: object) -> str:
    if not isinstance(alarm, str) or alarm not in ALARMS:
        raise BadInput("There is no such reminder.", f"Known are: {', '.join(ALARMS)}.", "alarm")
    return alarm


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _entries(now: dt.datetime, *, names: bool, settled: bool) -> list[Entry]:
    today = now.astimezone().date()
    planned = plan_all(today, tasks.AHEAD_DAYS)
    states = {str(one.get("task")): one for one in queries.list_records("task_state") if one.get("state")}
    places = [*queries.list_records("site"), *queries.list_records("garden")]
    called, sites = name_all(), {place["id"]: place.get("name") for place in places}
    until = (today + dt.timedelta(days=AHEAD_DAYS)).isoformat()
    since = (today - dt.timedelta(days=SETTLED_DAYS)).isoformat()
    open_tasks, ended = [], []
    for task in planned:
        state = states.get(str(task["id"]))
        if state is None:
            if task["from"] is not None and str(task["from"]) <= until and _stands(task, today):
                open_tasks.append(task)
        elif settled and str(state.get("settled_on") or "") >= since:
            ended.append(task)
    rounds, single = gather_rounds(open_tasks, {}, None)
    walked = {one.id for one in rounds}
    over, settled_alone = gather_rounds((task for task in ended if task["from"] is not None), {}, None)
    found = [_single(task, called, sites, today, names=names) for task in single]
    found += [_single(task, called, sites, today, names=names, cancelled=True) for task in settled_alone]
    found += [_round(one, called, sites, today) for one in rounds]
    # Of a round that was partly walked the rest still stands; one that was walked whole is called off.
    found += [_round(one, called, sites, today, cancelled=True) for one in over if one.id not in walked]
    return found


def _stands(task: _Task, today: dt.date) -> bool:
    lapses_on = task.get("lapses_on")
    return not isinstance(lapses_on, str) or lapses_on >= today.isoformat()


def _stands_on(first: dt.date, last: dt.date | None, today: dt.date) -> tuple[dt.date, dt.date, str]:
    """Return the first and the last day of an entry, and when it is due in words; the day moves as Due moves it."""
    if last is None:
        return first, first, f"Since {show_date(first)}." if first <= today else f"From {show_date(first)}."
    last = max(first, last)
    if last < today:
        return today, today, f"Overdue: it was due by {show_date(last)}."
    when = f"On {show_date(last)}." if first == last else f"From {show_date(first)}, by {show_date(last)}."
    return (last, last, when) if first < today else (first, last, when)


def _single(
    task: _Task,
    called: Mapping[str, str],
    sites: Mapping[Any, Any],
    today: dt.date,
    *,
    names: bool,
    cancelled: bool = False,
) -> Entry:
    site = sites.get(task.get("site"))
    if task.get("tree") is None and not names:
        title, text = f"{site or 'A site'}: a matter of leave", "Open Due at home or on your phone to read it."
    else:
        who = called.get(str(task.get("tree") or task.get("site")))
        title = f"{who}: {task['text']}" if who else str(task["text"])
        text = f"{task['text']}\n\n{task['why']}"
    first = dt.date.fromisoformat(str(task["from"]))
    last = dt.date.fromisoformat(str(task["by"])) if task.get("by") else None
    starts_on, ends_on, when = _stands_on(first, last, first if cancelled else today)
    return Entry(_uid(str(task["rec"])), starts_on, ends_on, title, f"{when}\n\n{text}", cancelled)


def _round(
    one: Round, called: Mapping[str, str], sites: Mapping[Any, Any], today: dt.date, *, cancelled: bool = False
) -> Entry:
    last = min(dt.date.fromisoformat(str(task["by"])) for task in one.tasks)
    first = dt.date.fromisoformat(one.day_on)
    starts_on, ends_on, when = _stands_on(first, last, first if cancelled else today)
    # What has weeks is told with its last day; what is due within days stands on one day alone, round by round.
    if (ends_on - starts_on).days < LONG_DAYS:
        ends_on = starts_on
    ids = {str(task["tree"]) for task in one.tasks}
    trees = sorted(called.get(tree, "a tree without a tag") for tree in ids)
    where = sites.get(one.site)
    count = f"{len(trees)} trees" if len(trees) > 1 else trees[0]
    title = f"{round_name(one.kind)}: {count}{f', {where}' if where else ''}"
    texts = dict.fromkeys(str(task["text"]) for task in one.tasks)
    return Entry(_uid(one.id), starts_on, ends_on, title, "\n".join([when, "", *trees, "", *texts]), cancelled)


def _uid(name: str) -> str:
    return f"{uuid.uuid5(uuid.NAMESPACE_URL, f'fellside:calendar:{name}')}@fellside"


__all__ = ["MEDIA_TYPE", "end_link", "make_file", "make_link", "read_by_link", "tell_link"]
