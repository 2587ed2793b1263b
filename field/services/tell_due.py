"""Turn the tasks of `due` into lines for a person at a terminal: overdue ones, those of today, then day by day."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from field.core.dates import show_date
from field.core.site_task import is_to_tell

Task = Mapping[str, Any]

INDENT = "  "
LEAST_WIDTH = 30  # characters; below that a line would hold a word or two, and a terminal cuts it better itself


def tell_due(
    document: Mapping[str, Any],
    names: Mapping[str, str],
    on: date,
    *,
    is_today: bool = True,
    width: int | None = None,
    with_why: bool = False,
) -> Iterator[str]:
    """Yield the tasks in groups, one line a task, or one line that says that nothing is due.

    Args:
        document: of the verb `due`.
        names: what to call each tree and each site, by its id.
        on: the day it was asked for.
        is_today: whether that day is today; else its heading is its date.
        width: characters of a line, past which it goes on indented below; None: lines are never broken.
        with_why: tell the reason of each task as well.
    """
    groups = _grouped(document["tasks"], on, is_today)
    if not groups:
        yield "Nothing is due."
    for n, (title, tasks) in enumerate(groups):
        if n:
            yield ""
        yield f"{title} ({len(tasks)})"
        for task in tasks:
            who = names.get(task["tree"] or task["site"]) or _unnamed(task)
            yield from _wrapped(f"{who}: {task['text']}{_notes(task, on)}", 1, width)
            if with_why and task["why"]:
                yield from _wrapped(f"Why: {task['why']}", 3, width)


def _unnamed(task: Task) -> str:
    return "a site without a name" if task["tree"] is None else "a tree without a tag"


def _grouped(tasks: Sequence[Task], on: date, is_today: bool) -> list[tuple[str, list[Task]]]:
    overdue, now = [], []
    ahead: dict[date, list[Task]] = {}
    for task in tasks:
        if _begins(task) > on:
            ahead.setdefault(_begins(task), []).append(task)
        elif _ends(task) < on:
            overdue.append(task)
        else:
            now.append(task)
    return [
        *([("Overdue", sorted(overdue, key=_told_first))] if overdue else []),
        *([("Today" if is_today else _day_words(on), sorted(now, key=_told_first))] if now else []),
        *((_day_words(day), sorted(ahead[day], key=_ends)) for day in sorted(ahead)),
    ]


def _told_first(task: Task) -> tuple[bool, date]:
    """What a landholder has to hear stands before all else, then what ends first."""
    return not is_to_tell(task), _ends(task)


def _begins(task: Task) -> date:
    return date.fromisoformat(task["from"])


def _ends(task: Task) -> date:
    return date.max if task["by"] is None else date.fromisoformat(task["by"])


def _day_words(day: date) -> str:
    return f"{WEEKDAYS[day.weekday()]} {show_date(day)}"


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def _notes(task: Task, on: date) -> str:
    """Return what is to be known about the dates of a task beside the day it stands under."""
    notes = []
    last = _ends(task)
    if last < on:
        late = (on - last).days
        notes.append(f"due by {show_date(last)}, {late} {'day' if late == 1 else 'days'} late")
    elif task["by"] is not None and last > max(on, _begins(task)):
        notes.append(f"until {show_date(last)}")
    if task["moved_from"] is not None:
        notes.append(f"moved from {show_date(date.fromisoformat(task['moved_from']))}")
    return f" ({'; '.join(notes)})" if notes else ""


def _wrapped(line: str, depth: int, width: int | None) -> list[str]:
    """Return a line at its depth, broken at blanks into lines of a width; a longer word stands alone and whole."""
    if width is None:
        return [INDENT * depth + line]
    return textwrap.wrap(
        line,
        max(width, LEAST_WIDTH),
        initial_indent=INDENT * depth,
        subsequent_indent=INDENT * (depth + 1),
        break_long_words=False,
        break_on_hyphens=False,
    )
