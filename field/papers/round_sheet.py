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
class SheetRound:
    """One kind of round at one place: which tree is to be seen on which day."""

    name: str  # 'Water look'
    words: tuple[str, ...]  # what is to be done, each text once
    trees: tuple[tuple[str, frozenset[date]], ...]  # what a tree is called, and its days


@dataclass(frozen=True, slots=True)
class SheetPlace:
    """What is to be done at one place."""

    name: str
    rounds: tuple[SheetRound, ...]
    single: tuple[str, ...]  # a line each


def round_sheet(places: Sequence[SheetPlace], first: date, days: int, made_on: date) -> Document:
    """Return the sheet as a document.

    Args:
        places: in the order they stand on the sheet.
        first: its first day.
        days: how many days it holds, 1 to MOST_DAYS.
        made_on: the day it is made.
    """
    last = first + timedelta(days=days - 1)
    dates = [first + timedelta(days=n) for n in range(days)]
    span = show_date(first) if days == 1 else f"{show_date(first)} to {show_date(last)}"
    blocks: list[Mapping[str, object]] = [{"kind": "small", "text": f"Made on {show_date(made_on)}. {KEEPS_NOTHING}"}]
    for place in places:
        blocks.extend(_of_place(place, dates))
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


def _of_place(place: SheetPlace, dates: Sequence[date]) -> list[Mapping[str, object]]:
    blocks: list[Mapping[str, object]] = []
    if not place.rounds and not place.single:
        return [{"kind": "heading", "text": place.name}, {"kind": "para", "text": NOTHING}]
    for walked in place.rounds:
        blocks.append({"kind": "heading", "text": f"{place.name}: {walked.name.lower()}"})
        blocks.extend({"kind": "small", "text": words} for words in walked.words[:WORDS_AT_ONCE])
        blocks.append(
            {
                "kind": "grid",
                "columns": [f"{WEEKDAYS[day.weekday()]} {day.day}" for day in dates],
                "rows": [[name, [day in due for day in dates]] for name, due in walked.trees],
            }
        )
    if place.single:
        blocks.append({"kind": "heading", "text": f"{place.name}: on its own"})
        blocks.append({"kind": "checks", "items": [[None, line] for line in place.single]})
    return blocks
