"""Rounds: the routine steps of many trees at one place on one day, done in one walk instead of a hundred single tasks.

A round is a way to read the tasks, and nothing that is kept: every tree's task keeps its own id and its own state, so a
tick lives on whatever is planned anew and in whichever order phones meet. A round's id is made of its place, its kind
and its day. Twin: `static/js/core/rounds.js`.

| a task | stands in the round of |
|---|---|
| not begun | its first day |
| begun today, or its last day is today or past | today: yesterday's round is never asked for beside today's |
| begun, with time left | its last day |
| settled | the day it was settled on; of one settled before it began: its first day |
| lapsed and not settled | none |
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from field.core.card import Step

SETTLED = ("done", "skipped")
ON_NO_SITE = "-"
# Walked by their name: those that come once a year, and misting, which is another walk than looking at the water.
_BY_NAME = {
    "mist": "mist",
    "frost-first-winter": "frost",
    "frost-later": "frost",
    "late-frost": "frost",
    "suckers": "sucker",
}
# What these ask for is a look; watering itself comes of what is felt.
_LOOKS = {"water": "Water look", "wire": "Wire look", "look": "Look over"}
_Task = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Round:
    """The tasks of one kind of round at one place on one day, open and settled alike."""

    id: str  # round:<site>:<kind>:<day>
    kind: str
    site: str | None  # None: trees that are on no site
    day_on: str
    tasks: tuple[_Task, ...]  # by id


def round_of_step(step: Step) -> str | None:
    """Return the kind of round that a step of a care plan is walked in: water, mist, wire, frost ...; None: alone.

    Steps that are repeated, and the yearly looks at what a tree shows, are walked; a deed of one tree is not.
    """
    if step.step in _BY_NAME:
        return _BY_NAME[step.step]
    if step.every_days is not None:
        return "wire" if step.anchor == "wire" else step.work
    return "look" if step.work == "look" and step.anchor.startswith("event:") else None


def round_name(kind: str) -> str:
    """Return what a round is called: 'Water look', 'Frost round'."""
    return _LOOKS.get(kind) or f"{kind.replace('-', ' ').capitalize()} round"


def gather_rounds(
    tasks: Iterable[_Task], states: Mapping[str, Mapping[str, object]], today: str | None
) -> tuple[list[Round], list[_Task]]:
    """Return the rounds of some tasks by day, and the tasks that belong to none in the order given.

    Args:
        tasks: from `tasks.plan_tasks`; those with a "round" are walked.
        states: of a task's "rec" -> its task_state record.
        today: 'YYYY-MM-DD'; None: no day is today, and every task stands under its first one.
    Returns: each task once, but for those that have lapsed by today and were never settled: these are in neither.
    """
    found: dict[tuple[str, str, str], list[_Task]] = {}
    single: list[_Task] = []
    for task in tasks:
        state = states.get(str(task["rec"]), {})
        is_open = state.get("state") not in SETTLED
        lapses_on = task.get("lapses_on")
        if is_open and today is not None and isinstance(lapses_on, str) and lapses_on < today:
            continue
        kind = task.get("round")
        if not isinstance(kind, str) or not isinstance(task.get("tree"), str):
            single.append(task)
            continue
        day = _day(task, None if is_open else state.get("settled_on"), is_open, today)
        found.setdefault((day, str(task.get("site") or ON_NO_SITE), kind), []).append(task)
    rounds = [
        Round(
            f"round:{site}:{kind}:{day}",
            kind,
            None if site == ON_NO_SITE else site,
            day,
            tuple(sorted(some, key=lambda task: str(task["id"]))),
        )
        for (day, site, kind), some in sorted(found.items())
    ]
    return rounds, single


def _day(task: _Task, settled_on: object, is_open: bool, today: str | None) -> str:
    first, last = str(task["from"]), str(task["by"])
    if not is_open:
        return settled_on if isinstance(settled_on, str) and settled_on >= first else first
    if today is None or first > today:
        return first
    return today if first == today or last <= today else last
