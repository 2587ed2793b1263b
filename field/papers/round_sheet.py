"""The round sheet for the bench: what is to be walked and done in the coming days, place by place, to be ticked by pen.

A paper keeps nothing: it says so itself, and what is ticked on it is noted in the log afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from field.core.dates import show_date
from field.papers.letters import Document

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MOST_DAYS = 14  # two weeks: further ahead the weather and the buds change too much
WORDS_AT_ONCE = 4  # of one round; more would be read by nobody, and each kind's own words stand in Due
NOTHING = "Nothing is due here in these days."
STANDING = (
    "The sheet asks; the tree answers. Feel the mix and lift a corner of the box before any water, look at the buds "
    "before any date, and leave what you are not sure of."
)
KEEPS_NOTHING = "Note in the log what you ticked here: a tick on paper is kept nowhere else."


@dataclass(frozen=True, slots=True)
class Walk:
    """One kind of round at one place: which tree is to be seen on which day."""

    name: str  # 'Water look'
    words: tuple[str, ...]  # what is to be done, each text once
    trees: tuple[tuple[str, frozenset[date]], ...]  # what a tree is called, and its days


@dataclass(frozen=True, slots=True)
class Bench:
    """What is to be done at one place."""

    place: str
    walks: tuple[Walk, ...]
    single: tuple[str, ...]  # a line each


def round_sheet(benches: Sequence[Bench], first: date, days: int, made_on: date) -> Document:
    """Return the sheet as a document.

    Args:
        benches: one a place.
        first: its first day.
        days: how many days it holds, 1 to MOST_DAYS.
        made_on: the day it is made.
    """
    last = first + timedelta(days=days - 1)
    dates = [first + timedelta(days=n) for n in range(days)]
    span = show_date(first) if days == 1 else f"{show_date(first)} to {show_date(last)}"
    blocks: list[Mapping[str, object]] = [{"kind": "small", "text": f"Made on {show_date(made_on)}. {KEEPS_NOTHING}"}]
    for bench in benches:
        blocks.extend(_of_place(bench, dates))
    blocks.append({"kind": "small", "text": STANDING})
    return {
        "kind": "rounds",
        "title": f"Round sheet, {span}",
        "author": "",
        "head": [],
        "to": [],
        "on": "",
        "subject": f"Round sheet, {span}",
        "blocks": blocks,
    }


def _of_place(bench: Bench, dates: Sequence[date]) -> list[Mapping[str, object]]:
    blocks: list[Mapping[str, object]] = []
    if not bench.walks and not bench.single:
        return [{"kind": "heading", "text": bench.place}, {"kind": "para", "text": NOTHING}]
    for walk in bench.walks:
        blocks.append({"kind": "heading", "text": f"{bench.place}: {walk.name.lower()}"})
        blocks.extend({"kind": "small", "text": words} for words in walk.words[:WORDS_AT_ONCE])
        blocks.append(
            {
                "kind": "grid",
                "columns": [f"{WEEKDAYS[day.weekday()]} {day.day}" for day in dates],
                "rows": [[name, [day in due for day in dates]] for name, due in walk.trees],
            }
        )
    if bench.single:
        blocks.append({"kind": "heading", "text": f"{bench.place}: on its own"})
        blocks.append({"kind": "checks", "items": [[None, line] for line in bench.single]})
    return blocks
