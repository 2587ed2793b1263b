"""A task of a site and no tree's: the same shape as a tree's tasks, with an id that says what it is about."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from field.core.tasks import task_record_id

Task = dict[str, object]

WORK = "leave"

# What a person has to hear at once, the second word of an id: nothing else on a day stands before it.
TO_TELL = ("over", "after-withdrawal", "after-end", "before-begin", "kinds", "girth")


def site_task(
    site: str,
    what: str,
    dates: tuple[dt.date, dt.date, dt.date | None],
    text: str,
    why: str,
    *,
    trees: Sequence[str] = (),
) -> Task:
    """Return one task as `tasks.plan_tasks` gives them, with "tree" None and "work" `leave`.

    Args:
        site: id of the site.
        what: '<what>:<record>' or '<what>:<record>:<n>', the rest of its id.
        dates: from when, by when, and the last day it stands; None: until it is settled.
        text, why: in words, without any phone number: they are printed and read aloud.
        trees: ids of the trees it is seen to with, in "trees"; none: the task has no such field.
    """
    from_on, by_on, lapses_on = dates
    task_id = f"site:{site}:{what}"
    return {
        "id": task_id,
        "rec": task_record_id(task_id),
        "tree": None,
        "site": site,
        "work": WORK,
        "from": from_on.isoformat(),
        "by": by_on.isoformat(),
        "lapses_on": None if lapses_on is None else lapses_on.isoformat(),
        "text": text,
        "why": why,
        "moved_from": None,
        **({"trees": list(trees)} if trees else {}),
    }


def is_to_tell(task: Mapping[str, object]) -> bool:
    """Return whether a task is to tell a landholder what went beyond the leave; the phone knows them by the same."""
    parts = str(task.get("id")).split(":")
    return parts[0] == "site" and len(parts) > 2 and parts[2] in TO_TELL
