"""How often the pack is built while phones bring what they have, with 5,000 trees in the log.

One phone that hands over 2,000 changes in requests of 200, and eight phones that push one change each at the same
moment, again and again: CPU of all of it, and how many packs were built. Beside it one pack by itself. Needs nothing
beside Fellside. There is no goal but that the number of packs does not grow with that of the requests.
"""

from __future__ import annotations

import shutil
import tempfile
import threading
import uuid
from pathlib import Path
from typing import Any

from bench_sync import NOW, House, made_changes, parts, settle
from flask import Flask
from timing import Case, compare, tell_machine

from field.services import build_pack
from field.services.take_in_changes import take_in

FILLED, BROUGHT = 12_500, 2_000  # changes; four in ten mark a tree
PHONES, PUSHES = 8, 5

built = 0


def count_builds() -> None:
    """Count the packs that are really built."""
    real = build_pack.build

    def counted(*args: Any) -> Any:
        global built
        built += 1
        return real(*args)

    build_pack.build = counted


class Log:
    """A log of many trees, and what phones still have to bring."""

    def __init__(self, folder: Path) -> None:
        ops = made_changes(FILLED + 60 * BROUGHT)
        house = House(folder)
        self.app: Flask = house.filled(ops[:FILLED])
        self.end = settle(self.app, str(uuid.uuid4()))
        self.rest = iter(ops[FILLED:])

    def take(self, count: int) -> list[dict[str, Any]]:
        return [next(self.rest) for _ in range(count)]

    def send(self, ops: list[dict[str, Any]], last: int) -> None:
        """Send changes as a phone does that has read all of this journal, and has changes up to a number."""
        with self.app.app_context():
            dev = ops[0]["dev"]
            request = {
                "proto": 1, "device": dev, "epoch": self.app.config["BENCH_EPOCH"],
                "cursor": settle_end(self.app), "have": {dev: last}, "ops": ops,
            }  # fmt: skip
            take_in(request, dev, NOW)

    def hand_over(self, ops: list[dict[str, Any]]) -> None:
        for part in parts(ops):
            self.send(part, ops[-1]["seq"])

    def push_at_once(self, ops: list[dict[str, Any]]) -> None:
        """Push one change from each phone at the same moment, some rounds of it."""
        for start in range(0, len(ops), PHONES):
            threads = [threading.Thread(target=self.send, args=([op], op["seq"])) for op in ops[start : start + PHONES]]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()


def settle_end(app: Flask) -> int:
    """Return where the journal ends."""
    from field.store import db, journal

    db.db.session.rollback()
    return journal.end(db.db.session())


def main() -> None:
    """Measure all of it."""
    global built
    tell_machine()
    count_builds()
    folder = Path(tempfile.mkdtemp())
    try:
        log = Log(folder)

        def one_pack(_: object) -> None:
            with log.app.app_context():
                build_pack.build(NOW.date(), 2, "full")

        compare(
            "The pack",
            {"built once, one change later": Case(one_pack, lambda: log.hand_over(log.take(1)))},
            1,
            "pack",
            3,
        )
        for title, run, count in (
            ("One phone hands over all it has", log.hand_over, BROUGHT),
            ("Eight phones push one change each at once", log.push_at_once, PHONES * PUSHES),
        ):
            built = 0
            compare(title, {"pack and answer included": Case(run, lambda n=count: log.take(n))}, count, "change", 3)
            print(f"  => packs built in the four runs: {built}")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
