"""A process that takes in batches until it is killed: for test_kill.py.

Called with a data folder, a database address ('' for SQLite) and a seed. Prints 'begin N' before and 'done N' after
each batch, N being the number of its first change.
"""

from __future__ import annotations

import datetime as dt
import random
import sys
from typing import Any

from flask import Flask

from field.services import take_in_changes
from field.store import db
from field.sync.hlc import Clock, write_stamp

BATCH = 40
NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
NOW_MS = 1803891600000


def a_batch(device: str, first: int, chance: random.Random) -> list[dict[str, Any]]:
    """Return BATCH changes of a device; some of them belong to the same few records."""
    return [
        {
            "dev": device,
            "seq": seq,
            "hlc": write_stamp(Clock(NOW_MS, seq), device),
            "wall": "2027-03-01T09:00:00.000Z",
            "tz": "+00:00",
            "rec": f"00000000-0000-4000-8000-{chance.randrange(10):012d}",
            "type": "tree",
            "set": {"tag": f"T{seq}", "note": "x" * chance.randrange(3000)},
            "base": {"tag": [], "note": []},
            "v": 1,
        }
        for seq in range(first, first + BATCH)
    ]


def main(data_dir: str, database_url: str, seed: str) -> None:
    device = f"00000000-0000-4000-9000-{int(seed):012d}"
    house = Flask("house")
    db.init_app(house, database_url or None, data_dir)
    take_in_changes.current_pack = lambda now: ""  # the pack is of no matter here, and would slow the batches down
    with house.app_context():
        first = 1
        while True:
            request = {"proto": 1, "device": device, "ops": a_batch(device, first, random.Random(first)), "want": 0}
            print("begin", first, flush=True)
            take_in_changes.take_in(request, device, NOW)
            print("done", first, flush=True)
            first += BATCH


if __name__ == "__main__":
    main(*sys.argv[1:])
