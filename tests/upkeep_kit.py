"""What the tests of upkeep share: the log of one invented site, and what Due shows of it on a day."""

from __future__ import annotations

from typing import Any

from builders import a_leave, an_id

from field.core.tasks import due
from field.core.upkeep import plan_upkeep

SITE, OTHER_SITE, HOLDER = an_id(), an_id(), an_id()
TERMS = ["close the gates", "fill the holes"]

TYPE_OF = {
    "sites": "site", "leaves": "leave", "consents": "consent", "lifts": "lift", "landholders": "landholder",
    "holdings": "holding", "signings": "signing", "trees": "tree",
}  # fmt: skip

Records = list[dict[str, Any]]
Task = dict[str, Any]


class Log:
    """The records of one site, Gledhope of Ms Invented, to be planned from."""

    def __init__(self) -> None:
        self.sites: Records = [{"id": SITE, "name": "Gledhope"}]
        self.leaves: Records = []
        self.consents: Records = []
        self.lifts: Records = []
        self.landholders: Records = [{"id": HOLDER, "name": "Ms Invented", "phone": "00 0000 0404"}]
        self.holdings: Records = []
        self.signings: Records = []
        self.trees: Records = []

    def leave(self, **fields: Any) -> str:
        """Put in a signed leave for the winter, 1 November 2026 to 31 March 2027, five trees."""
        rec = an_id()
        self.leaves.append({"id": rec, **a_leave(site=SITE, **{"landholder": HOLDER, "conditions": TERMS, **fields})})
        return rec

    def lift(self, leave: str | None, on: str | None, tag: str = "K1", **fields: Any) -> str:
        """Put in a tree and its lift, with every condition ticked and the hole filled."""
        tree, rec = an_id(), an_id()
        own = {name: fields.pop(name) for name in ("species", "tree_girth_mm") if name in fields}
        self.trees.append(
            {"id": tree, "site": SITE, "tag": tag, "species": own.get("species"), "girth_mm": own.get("tree_girth_mm")}
        )
        self.lifts.append(
            {"id": rec, "tree": tree, "site": SITE, "leave": leave, "lifted_on": on, "kept_conditions": TERMS,
             "hole_filled": True, **fields}
        )  # fmt: skip
        return rec

    def mark(self, count: int = 1) -> None:
        self.trees += [{"id": an_id(), "site": SITE, "tag": f"M{n}", "origin": "lifted"} for n in range(count)]

    def consent(self, **fields: Any) -> str:
        rec = an_id()
        self.consents.append({"id": rec, "site": SITE, "kind": "tree_order", "state": "held", **fields})
        return rec

    def tag_of(self, tree: str) -> str:
        return next(str(one["tag"]) for one in self.trees if one["id"] == tree)

    def plan(self, today: str, states: Records | None = None) -> list[Task]:
        records = {TYPE_OF[name]: some for name, some in vars(self).items()}
        return plan_upkeep({**records, "task_state": states or []}, today)

    def open(self, today: str, states: Records | None = None) -> list[Task]:
        """Return what Due shows on a day."""
        return due(self.plan(today, states), states or [], today, 0)

    def find(self, today: str, what: str) -> list[Task]:
        """Return the open tasks of one kind on a day."""
        return [task for task in self.open(today) if kind_of(task) == what]

    def one(self, today: str, what: str) -> Task:
        found = self.find(today, what)
        assert len(found) == 1, found
        return found[0]


def kind_of(task: Task) -> str:
    return str(task["id"]).split(":")[2]


def span(task: Task) -> tuple[str, str, str | None]:
    return task["from"], task["by"], task["lapses_on"]
