"""Compare taking in a phone's changes with the bare driver writing the same journal rows.

Requests of 200 changes, each a transaction; the bare driver's executemany writes the very same rows into the same
table with the same commits and settings. Ours in steps: the same rows ready made; each change judged, hashed and
journalled; its record merged and its row of the tables written; the whole request with the pack built anew and the
answer. Then the same changes again, a sync with nothing new on two journals, and the building of the pack.
Needs nothing beside Fellside. Goals: rows at most 1.6 x the bare driver; again at most 0.6 x the first time; nothing
new at most 2 x for 10 x the journal; the pack in proportion to the trees. What has no goal is only told.
"""

from __future__ import annotations

import datetime as dt
import random
import shutil
import sqlite3
import tempfile
import uuid
from pathlib import Path
from typing import Any, cast

from flask import Flask
from sqlalchemy import Table, insert, select
from timing import Case, compare, judge, tell_machine

from field.services import build_pack
from field.services.take_in_changes import take_in
from field.store import db, journal, projection
from field.store.tables import JournalRow
from field.sync.hlc import Clock, write_stamp

CHANGES, A_REQUEST = 4000, 200
NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
KINDS = ("birch", "hawthorn", "larch", "scots-pine")
PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "wal_autocheckpoint=8000", "cache_size=-32000")


def made_changes(count: int, seed: int = 5) -> list[dict[str, Any]]:
    """Return changes of one phone: trees, with their positions, some of them changed again later."""
    rng = random.Random(seed)
    dev = _id(rng)
    site = _id(rng)
    start_ms = int(NOW.timestamp() * 1000) - 10 * count
    ops: list[dict[str, Any]] = [_change(rng, dev, 1, start_ms, _id(rng), "site", {"name": "Made", "zone": "UTC"}, {})]
    ops[0]["rec"] = site
    seen: dict[str, dict[str, list[str]]] = {}
    while len(ops) < count:
        seq, ms = len(ops) + 1, start_ms + 10 * len(ops)
        draw = rng.random()
        if draw < 0.4 or not seen:
            rec = _id(rng)
            fields = {"site": site, "tag": f"T{seq}", "species": rng.choice(KINDS), "girth_mm": rng.randrange(80, 600)}
            op = _change(rng, dev, seq, ms, rec, "tree", {**fields, "origin": "lifted", "marked_on": "2027-02-14"}, {})
            seen[rec] = {name: [op["hlc"]] for name in op["set"]}
        elif draw < 0.8:
            lat, lon = rng.uniform(55.4, 55.5), rng.uniform(-3.4, -3.3)
            fields = {"lat": lat, "lon": lon, "accuracy_m": 4.7, "fixed_at": "2027-02-14T10:00:00.000Z"}
            fields |= {"tree": rng.choice(list(seen)), "source": "web-geolocation"}
            op = _change(rng, dev, seq, ms, _id(rng), "fix", fields, {})
        else:
            rec = rng.choice(list(seen))
            base = {"girth_mm": seen[rec]["girth_mm"]}
            op = _change(rng, dev, seq, ms, rec, "tree", {"girth_mm": rng.randrange(80, 600)}, base)
            seen[rec]["girth_mm"] = [op["hlc"]]
        ops.append(op)
    return ops


def _id(rng: random.Random) -> str:
    return str(uuid.UUID(int=rng.getrandbits(128), version=4))


def _change(
    rng: random.Random, dev: str, seq: int, ms: int, rec: str, kind: str, set_: dict[str, Any], base: dict[str, Any]
) -> dict[str, Any]:
    return {
        "dev": dev,
        "seq": seq,
        "hlc": write_stamp(Clock(ms, rng.randrange(9)), dev),
        "wall": "2027-02-14T10:00:00.000Z",
        "tz": "+00:00",
        "rec": rec,
        "type": kind,
        "set": set_,
        "base": {name: base.get(name, []) for name in set_},
        "v": 1,
    }


def requests_of(ops: list[dict[str, Any]], cursor: int = 0, epoch: str | None = None) -> list[dict[str, Any]]:
    """Return the requests in which a phone sends changes; it asks for no news, so that only taking in is measured."""
    return [
        {"proto": 1, "device": ops[0]["dev"], "epoch": epoch, "cursor": cursor, "have": {}, "ops": part, "want": 1}
        for part in parts(ops)
    ]


def parts(rows: list[Any]) -> list[list[Any]]:
    """Return rows in parts as large as a request."""
    return [rows[start : start + A_REQUEST] for start in range(0, len(rows), A_REQUEST)]


class House:
    """Stores in folders of their own, each opened when it is asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.number = 0

    def fresh(self) -> Flask:
        """Return an app on a new empty store."""
        self.number += 1
        app = Flask("house")
        db.init_app(app, None, self.folder / str(self.number))
        return app

    def filled(self, ops: list[dict[str, Any]]) -> Flask:
        """Return an app on a new store that has taken changes in."""
        app = self.fresh()
        send(app, ops)
        return app


def send(app: Flask, ops: list[dict[str, Any]]) -> None:
    """Take changes in as a phone sends them."""
    with app.app_context():
        for request in requests_of(ops):
            take_in(request, request["device"], NOW)


def take_in_steps(app: Flask, ops: list[dict[str, Any]], records: bool) -> None:
    """Take changes into the journal, and into the tables of the records too if asked; no pack, no answer."""
    with app.app_context():
        for part in parts(ops):
            with db.writing() as session:
                arrival = journal.append(session, part, NOW)
                if records:
                    projection.apply(session, arrival.touched)


def write_rows(app: Flask, rows: list[dict[str, Any]]) -> None:
    """Write rows that are ready with the statement that the journal uses, in the same transactions."""
    table = cast(Table, JournalRow.__table__)
    with app.app_context():
        for part in parts(rows):
            with db.writing() as session:
                session.connection().execute(insert(table), part)


def ready_rows(app: Flask) -> list[dict[str, Any]]:
    """Return the journal rows of a store as the journal hands them over for writing."""
    with app.app_context():
        found = db.db.session().execute(select(cast(Table, JournalRow.__table__))).mappings()
        return [dict(row) for row in found]


def ask(app: Flask, device: str, cursor: int, times: int) -> None:
    """Sync with nothing to bring and nothing to fetch."""
    with app.app_context():
        standing = app.config["BENCH_EPOCH"]
        for _ in range(times):
            request = {"proto": 1, "device": device, "epoch": standing, "cursor": cursor, "have": {}, "ops": []}
            answer = take_in(request, device, NOW)
            assert answer["ops"] == [], "there was something new"


def settle(app: Flask, device: str) -> int:
    """Remember the epoch of a store and return where its journal ends."""
    with app.app_context():
        request = {"proto": 1, "device": device, "epoch": None, "cursor": 0, "have": {}, "ops": [], "want": 1}
        app.config["BENCH_EPOCH"] = take_in(request, device, NOW)["epoch"]
        return journal.end(db.db.session())


def bare_rows(app: Flask) -> tuple[str, list[tuple[Any, ...]]]:
    """Return the statement that makes the journal table, and the rows that a store has in it."""
    with app.app_context():
        database = Path(str(db.db.engine.url.database))
    with sqlite3.connect(database) as link:
        made = link.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'journal' AND sql IS NOT NULL").fetchall()
        rows = link.execute("SELECT * FROM journal ORDER BY pos").fetchall()
    link.close()
    return ";".join(statement for (statement,) in made), rows


def bare_store(folder: Path, made: str) -> sqlite3.Connection:
    """Return a connection to a new file that has the journal table alone, set up as ours is."""
    link = sqlite3.connect(folder / f"bare-{uuid.uuid4().hex}.sqlite")
    for pragma in PRAGMAS:
        link.execute(f"PRAGMA {pragma}")
    link.executescript(made)
    return link


def write_bare(link: sqlite3.Connection, rows: list[tuple[Any, ...]]) -> None:
    """Write rows with the driver alone, a commit for each part."""
    marks = ",".join("?" * len(rows[0]))
    for part in parts(rows):
        link.executemany(f"INSERT INTO journal VALUES ({marks})", part)
        link.commit()
    link.close()


def compare_taking_in(house: House, ops: list[dict[str, Any]]) -> None:
    """Time the same changes by the bare driver, into the journal, wholly, and again."""
    full = house.filled(ops)
    made, rows = bare_rows(full)
    ready = ready_rows(full)
    assert len(rows) == len(ops)
    took = compare(
        "Changes in, requests of 200",
        {
            "bare driver, the same journal rows": Case(
                lambda link: write_bare(link, rows), lambda: bare_store(house.folder, made)
            ),
            "our statement, the same rows ready": Case(lambda app: write_rows(app, ready), house.fresh),
            "ours, journal alone": Case(lambda app: take_in_steps(app, ops, False), house.fresh),
            "ours, journal and records": Case(lambda app: take_in_steps(app, ops, True), house.fresh),
            "ours, whole request: journal, records, pack, answer": Case(lambda app: send(app, ops), house.fresh),
            "ours, whole request, the same again": Case(lambda app: send(app, ops), lambda: house.filled(ops)),
        },
        len(ops),
        "change",
        5,
    )
    whole = took["ours, whole request: journal, records, pack, answer"]
    bare = took["bare driver, the same journal rows"]
    judge("the rows alone / bare driver", took["our statement, the same rows ready"] / bare, 1.6)
    judge("changes judged, hashed and journalled / bare driver", took["ours, journal alone"] / bare, 1.6)
    records = took["ours, journal and records"]
    print(
        f"  => journal and records / bare driver: {records / bare:.1f} x; no goal, the driver judges and merges nothing"
    )
    print(f"  => of the whole request, the pack and the answer are {1 - records / whole:.0%}")
    judge("the same again / the first time", took["ours, whole request, the same again"] / whole, 0.6)


def compare_nothing_new(house: House, ops: list[dict[str, Any]]) -> None:
    """Time a sync with nothing new on two journals, and the pack of the larger."""
    device = ops[0]["dev"]
    small, large = house.filled(ops[: len(ops) // 10]), house.filled(ops)
    ends = settle(small, device), settle(large, device)
    times = 100
    took = compare(
        "Sync with nothing new",
        {
            f"a journal of {ends[0]:,}": Case(lambda _: ask(small, device, ends[0], times)),
            f"a journal of {ends[1]:,}": Case(lambda _: ask(large, device, ends[1], times)),
        },
        times,
        "sync",
        5,
    )
    judge("nothing new, 10 x the journal", took[f"a journal of {ends[1]:,}"] / took[f"a journal of {ends[0]:,}"], 2)

    def build(app: Flask) -> None:
        with app.app_context():
            build_pack.build(NOW.date(), 2)

    trees = [sum(op["type"] == "tree" and "tag" in op["set"] for op in some) for some in (ops[: len(ops) // 10], ops)]
    took = compare(
        "Pack built anew",
        {f"{trees[0]:,} trees": Case(lambda _: build(small)), f"{trees[1]:,} trees": Case(lambda _: build(large))},
        1,
        "pack",
        3,
    )
    more = trees[1] / trees[0]
    changed = iter(made_changes(CHANGES + 100)[CHANGES:])
    again = compare(
        "Pack after one more change",
        {f"{trees[1]:,} trees": Case(lambda _: build(large), lambda: send(large, [next(changed)]))},
        1,
        "pack",
        5,
    )
    part = again[f"{trees[1]:,} trees"] / took[f"{trees[1]:,} trees"]
    print(f"  => pack after one change / all trees planned: {part:.2f} x; no goal")
    judge(f"pack, {more:.0f} x the trees", took[f"{trees[1]:,} trees"] / took[f"{trees[0]:,} trees"], 1.2 * more)


def main() -> None:
    """Measure all of it."""
    tell_machine()
    ops = made_changes(CHANGES)
    folder = Path(tempfile.mkdtemp())
    try:
        house = House(folder)
        compare_taking_in(house, ops)
        compare_nothing_new(house, ops)
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
