"""The upkeep of many sites, and the pack of a log that has them: does the time grow as the sites do, or faster?

Compared are 200 and 2,000 made sites, each with two leaves, a consent, six lifts and three marked trees. Needs a
minute; run it as `python tests/bench/bench_upkeep.py`.
"""

from __future__ import annotations

import datetime as dt
import random
import shutil
import tempfile
import uuid
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from flask import Flask
from timing import Case, compare, judge, tell_machine

from field.core.lift_flags import lift_flags
from field.core.upkeep import plan_upkeep
from field.services import build_pack
from field.services.write_changes import write_changes
from field.store import db

TODAY = dt.date(2026, 11, 26)
FEW, MANY = 200, 2000
SQUARE = {"type": "Polygon", "coordinates": [[[-3.4, 55.4], [-3.39, 55.4], [-3.39, 55.41], [-3.4, 55.4]]]}

Rows = list[tuple[str, str, dict[str, Any]]]


def made_rows(count: int) -> Rows:
    """Return the records of so many sites: the same number, the same records."""
    dice = random.Random(count)
    rows: Rows = []

    def put(record_type: str, **fields: Any) -> str:
        rec = str(uuid.UUID(int=dice.getrandbits(128), version=4))
        rows.append((record_type, rec, fields))
        return rec

    for n in range(count):
        site = put("site", name=f"Site {n}", zone="UTC", boundary=SQUARE)
        holder = put("landholder", name=f"Holder {n}")
        put("consent", site=site, kind="monument", state="held", until="2027-01-10")
        for _ in range(2):
            leave = put(
                "leave", site=site, landholder=holder, starts_on="2026-01-01", ends_on="2026-12-20", allowance=2,
                form="spoken", conditions=["close the gates"],
            )  # fmt: skip
            for _ in range(3):
                tree = put("tree", site=site, species="birch", tag=f"T{len(rows)}", ended_as="parted")
                put("lift", tree=tree, site=site, leave=leave, lifted_on="2026-11-20")
        for _ in range(3):
            put("tree", site=site, species="birch", tag=f"T{len(rows)}", ended_as="left_standing")
    return rows


def by_type(rows: Rows) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for kind, rec, fields in rows:
        found.setdefault(kind, []).append({"id": rec, **fields})
    return found


def filled(folder: Path, rows: Rows) -> Flask:
    house = Flask("bench")
    db.init_app(house, None, folder)
    with house.app_context():
        write_changes(rows)
    return house


def main() -> None:
    """Measure plan, flags and pack."""
    tell_machine()
    logs = {count: by_type(made_rows(count)) for count in (FEW, MANY)}

    def flag(log: dict[str, Iterable[Any]]) -> None:
        lift_flags(log["lift"], log["leave"], log["tree"])

    took = compare(
        "Upkeep planned",
        {f"{count:,} sites": Case(lambda _, count=count: plan_upkeep(logs[count], TODAY)) for count in logs}  # type: ignore[misc]
        | {f"flags alone, {MANY:,} sites": Case(lambda _: flag(logs[MANY]))},
        1,
        "log",
    )
    few, many = f"{FEW:,} sites", f"{MANY:,} sites"
    judge("upkeep, 10 x the sites", took[many] / took[few], 12)
    folder = Path(tempfile.mkdtemp())
    try:
        houses = {count: filled(folder / str(count), made_rows(count)) for count in (FEW, MANY)}

        def build(count: int) -> None:
            with houses[count].app_context():
                build_pack.build(TODAY, 2)

        took = compare("Pack built", {few: Case(lambda _: build(FEW)), many: Case(lambda _: build(MANY))}, 1, "pack", 3)
        judge("pack, 10 x the sites", took[many] / took[few], 12)
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
