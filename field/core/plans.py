"""The care plans that ship with the app: lists of steps as data files, from which the care of every tree starts.

One JSON file a plan lies in `plans/`: {"plan", "name", "for", "sources", "steps"}, its steps as those of a species
card (`field.core.read_card`). A card replaces a step by one of the same name, leaves steps out, and adds its own. Which
steps come for a tree hangs on what each counts from, on its leaf type by the card, and on the conditions of the step:
traits, roots kept, season of the lift.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources

from field.core.card import Step
from field.core.read_card import BadCard, read_steps

ORDER = (
    "before-lift",
    "first-year",
    "every-year",
    "recovery",
    "after-repot",
    "after-hard-work",
    "wire",
    "client-tree",
)
_KEYS = frozenset(["plan", "name", "for", "sources", "steps"])


@dataclass(frozen=True, slots=True)
class Plan:
    """One care plan."""

    plan: str
    name: str
    trees: str  # for which trees it is, in words
    steps: tuple[Step, ...]


def read_plan(data: object, where: str = "plan") -> Plan:
    """Return the plan told by a JSON object; raise BadCard with the place of the first fault."""
    if not isinstance(data, Mapping) or set(data) != _KEYS:
        raise BadCard(f"A plan has {', '.join(sorted(_KEYS))}, and nothing else.", where=where)
    for key in ("plan", "name", "for"):
        if not isinstance(data[key], str) or not data[key].strip():
            raise BadCard("Here the plan needs words.", where=f"{where}.{key}")
    return Plan(data["plan"], data["name"], data["for"], read_steps(data["steps"], data["sources"], where))


@functools.cache
def shipped_plans() -> tuple[Plan, ...]:
    """Return the plans that ship, in the order of a tree's life; a step's name stands in one of them only."""
    folder = resources.files("field.core") / "plans"
    plans = tuple(
        read_plan(json.loads((folder / f"{name}.json").read_text(encoding="utf-8")), f"{name}.json") for name in ORDER
    )
    names = [step.step for plan in plans for step in plan.steps]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadCard(f"The step “{twice[0]}” stands in two plans.", where="plans")
    return plans


def shipped_steps() -> tuple[Step, ...]:
    """Return the steps of all plans that ship: what the care of the cautious card starts from."""
    return tuple(step for plan in shipped_plans() for step in plan.steps)
