"""What is due as a calendar: a file to take along, and a private address that a calendar program reads again and again.

A task has one entry, under a name that stays the same. Checks that come round, as watering does, stand as one entry a
day for all trees of a site, or the calendar would hold hundreds of them. The entries of leave tell no person's name
unless the owner chose so: calendars are often kept by others.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import secrets
import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from field.core import tasks
from field.core.dates import instant_text
from field.core.errors import BadInput, NotFound
from field.papers.calendar import ALARMS, MEDIA_TYPE, Entry, write_calendar
from field.services.list_due import name_all, plan_all
from field.store import calendar_link, db, queries

NAME = "Fellside: due"
AHEAD_DAYS = 400
SETTLED_DAYS = 60  # in a file, what was settled this lately is called off in the calendar that has an older one
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


def make_file(alarm: object, now: dt.datetime) -> bytes:
    """Return the calendar as a file to take along, for the person's own hands: with all names.

    Raises: BadInput for an alarm that is none.
    """
    return write_calendar(_entries(now, names=True, settled=True), NAME, _alarm(alarm), now)


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
    called, sites = name_all(), {site["id"]: site.get("name") for site in queries.list_records("site")}
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
    rounds, single = _rounds(open_tasks, planned)
    found = [_single(task, called, sites, names=names) for task in single]
    found += [_single(task, called, sites, names=names, cancelled=True) for task in ended if task["from"] is not None]
    found += [_round(key, some, called, sites) for key, some in rounds.items()]
    return found


def _stands(task: _Task, today: dt.date) -> bool:
    lapses_on = task.get("lapses_on")
    return not isinstance(lapses_on, str) or lapses_on >= today.isoformat()


def _rounds(
    open_tasks: Iterable[_Task], planned: Iterable[_Task]
) -> tuple[dict[tuple[str, str, str], list[_Task]], list[_Task]]:
    """Return the open tasks of steps that come round again and again, by site, step and day; and the others."""
    times = Counter(_step(task) for task in planned if task.get("tree") is not None)
    rounds: dict[tuple[str, str, str], list[_Task]] = defaultdict(list)
    single = []
    for task in open_tasks:
        step = _step(task)
        if task.get("tree") is not None and times[step] > 1:
            rounds[str(task.get("site")), step[1], str(task["from"])].append(task)
        else:
            single.append(task)
    return rounds, single


def _step(task: _Task) -> tuple[str, str]:
    """Return the tree of a task and the step of its plan: parts of the id, as field/core/tasks.py makes it."""
    parts = str(task["id"]).split(":")
    return parts[0], parts[2] if len(parts) > 2 else ""


def _single(
    task: _Task, called: Mapping[str, str], sites: Mapping[Any, Any], *, names: bool, cancelled: bool = False
) -> Entry:
    site = sites.get(task.get("site"))
    if task.get("tree") is None and not names:
        title, text = f"{site or 'A site'}: a matter of leave", "Open Due at home or on your phone to read it."
    else:
        who = called.get(str(task.get("tree") or task.get("site")))
        title = f"{who}: {task['text']}" if who else str(task["text"])
        text = f"{task['text']}\n\n{task['why']}"
    starts_on = dt.date.fromisoformat(str(task["from"]))
    ends_on = dt.date.fromisoformat(str(task["by"])) if task.get("by") else starts_on
    return Entry(_uid(str(task["rec"])), starts_on, max(starts_on, ends_on), title, text, cancelled)


def _round(key: tuple[str, str, str], some: list[_Task], called: Mapping[str, str], sites: Mapping[Any, Any]) -> Entry:
    site, step, day = key
    starts_on = dt.date.fromisoformat(day)
    trees = [called.get(str(task["tree"]), "a tree without a tag") for task in some]
    where = sites.get(site)
    count = f"{len(some)} trees" if len(some) > 1 else trees[0]
    title = f"{str(some[0]['work']).replace('-', ' ').capitalize()} round: {count}{f', {where}' if where else ''}"
    texts = list(dict.fromkeys(str(task["text"]) for task in some))
    return Entry(_uid(f"{site}:{step}:{day}"), starts_on, starts_on, title, "\n".join([*sorted(trees), "", *texts]))


def _uid(name: str) -> str:
    return f"{uuid.uuid5(uuid.NAMESPACE_URL, f'fellside:calendar:{name}')}@fellside"


__all__ = ["MEDIA_TYPE", "end_link", "make_file", "make_link", "read_by_link", "tell_link"]
