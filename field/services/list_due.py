"""Lists what is due: plans every tree's care and every site's upkeep, without what is settled or still far off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from field.core import tasks
from field.core.errors import BadInput
from field.core.species import card_for_tree, load_cards
from field.core.upkeep import TYPES, plan_upkeep
from field.core.windows import MOST_AHEAD_DAYS, as_date
from field.services.places import read_places
from field.store import queries

_HISTORY = {"lifts": "lift", "events": "event", "works": "work", "boxes": "box", "states": "task_state"}
# Of a task: where it is settled, when it goes by itself, the trees it is seen to with, and the round it is walked in.
_FOR_THE_PHONE = ("rec", "lapses_on", "trees", "round")


FIRST_YEAR, LAST_YEAR = 1800, 9000  # those of `as_date`: a plan reaches years to both sides of its day


@dataclass(frozen=True, slots=True)
class _Planned:
    """The tasks of one tree, and all that they were planned from."""

    given: tuple[object, ...]
    tasks: list[dict[str, object]]


@dataclass(frozen=True, slots=True)
class _Plan:
    """The tasks of all trees, and what all of them were planned from."""

    for_all: tuple[object, ...]
    by_tree: Mapping[str, _Planned]


_last = _Plan((), {})  # replaced whole: another thread sees the one before or this one


def list_due(on: dt.date | str, days: int) -> dict[str, object]:
    """Return the tasks that have begun on a day or begin within some days after it and are not settled.

    Args:
        on: the day, local.
        days: how many days further to look, 0 or more.
    Returns: {"tasks": [...]} in the shape of the command `due`, overdue ones first.
    Raises: BadInput for what is no date or of a year past reckoning, or a number of days that is negative or past use.
    """
    day = as_date(on)
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise BadInput(
            f"Nothing is reckoned for the year {day.year}.", f"Give one from {FIRST_YEAR} to {LAST_YEAR}.", "on"
        )
    if not 0 <= days <= MOST_AHEAD_DAYS:
        raise BadInput(f"A number of days lies between 0 and {MOST_AHEAD_DAYS}.", None, "days")
    planned = plan_all(day, max(days, tasks.AHEAD_DAYS))
    found = tasks.due(planned, queries.list_records("task_state"), day, days)
    return {"tasks": [{name: value for name, value in task.items() if name not in _FOR_THE_PHONE} for task in found]}


def name_all() -> dict[str, str]:
    """Return what to call each tree and site in a line of text: a tree by tag, kind and site, as far as known."""
    places = [*queries.list_records("site"), *queries.list_records("garden")]
    sites = {record["id"]: record.get("name") for record in places}
    cards = load_cards(queries.list_records("species_card"))

    def kind_name(species: Any) -> str | None:
        card = cards.get(str(species or "").strip().lower())
        return species if card is None else card.name

    trees = {
        tree["id"]: ", ".join(
            filter(None, (tree.get("tag"), kind_name(tree.get("species")), sites.get(tree.get("site"))))
        )
        for tree in queries.list_records("tree")
    }
    return {rec: name for rec, name in {**sites, **trees}.items() if name}


def plan_all(today: dt.date, ahead_days: int = tasks.AHEAD_DAYS) -> list[dict[str, object]]:
    """Return the tasks of every tree and then of every site, open and settled alike; for the pack too.

    A tree is planned anew only when something it is planned from has changed since the last call. The upkeep of the
    sites always is: that of 2,000 of them takes half a second.

    Args:
        today: the day it is planned on, local.
        ahead_days: how far repeated checks are planned.
    Returns: the tasks; they are kept for the next call and may not be changed.
    """
    global _last
    own_cards = queries.list_records("species_card")
    cards = load_cards(own_cards)
    kept = {record_type: queries.list_records(record_type) for record_type in {*TYPES, *_HISTORY.values()}}
    places = read_places(today, cards, kept["lift"])
    history = {name: _by_tree(kept[record_type]) for name, record_type in _HISTORY.items()}
    # A frost noted for the garden names no tree; the planning asks whether it is of the tree's own site.
    of_no_tree = history["events"].get(None, [])
    for_all = (today, ahead_days, own_cards)
    before = _last.by_tree if _last.for_all == for_all else {}
    by_tree: dict[str, _Planned] = {}
    for tree in kept["tree"]:
        own = {name: by_tree_id.get(tree["id"], []) for name, by_tree_id in history.items()}
        own["events"] = [*own["events"], *of_no_tree]
        at = places.of_tree(tree)
        expected = places.expected(at, card_for_tree(cards, tree.get("species")).kind)
        place = {**places.find(at), "expected": expected}
        # A tree's work is done where it stands, and what its garden showed counts for it there.
        here = tree if at == tree.get("site") else {**tree, "site": at}
        given = (here, own, place)
        known = before.get(tree["id"])
        if known is None or known.given != given:
            known = _Planned(given, tasks.plan_tasks(here, own, cards, today, place, ahead_days))
        by_tree[tree["id"]] = known
    _last = _Plan(for_all, by_tree)
    return [*(task for one in by_tree.values() for task in one.tasks), *plan_upkeep(kept, today)]


def _by_tree(records: list[dict[str, Any]]) -> dict[str | None, list[Mapping[str, object]]]:
    by_tree: dict[str | None, list[Mapping[str, object]]] = {}
    for record in records:
        tree = record.get("tree")
        if tree is None and isinstance(record.get("task"), str):
            tree = record["task"].partition(":")[0]  # a task's id begins with its tree
        by_tree.setdefault(tree, []).append(record)
    return by_tree
