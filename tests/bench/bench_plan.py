"""Planning all trees of a life's work in one pass: 10,000 trees over ten years, and one change among them.

Run by hand: python tests/bench/bench_plan.py [trees]. The peer is the standard library's JSON encoder writing the same
tasks: whatever a plan costs, it cannot cost less than to write it down. Two processes share the trees, as a home with
two cores would; memory is the largest of either.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
import multiprocessing
import random
import resource
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from field.core.species import load_cards
from field.core.tasks import plan_tasks

TODAY = dt.date(2027, 5, 1)
PLACE = {"lat": 55.4, "height_m": 200.0}
EVENTS = (("bud_swell", 3), ("bud_break", 4), ("flush_hardened", 5), ("leaf_colour", 10), ("leaf_fall", 11))
CARDS = load_cards()
PROCESSES = 2


def make_tree(number: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """A tree lifted in the last ten years, with most of its events noted and a repotting every other year."""
    chance = random.Random(number)
    tree, lifted = f"t{number:05d}", TODAY - dt.timedelta(days=chance.randrange(1, 3650))
    events = [
        {"id": f"{tree}{year}{kind}", "tree": tree, "kind": kind, "happened_on": f"{year}-{month:02}-{day:02}"}
        for year in range(lifted.year, TODAY.year + 1)
        for kind, month in EVENTS
        if (day := chance.randrange(1, 28)) < 20
    ]  # fmt: skip
    works = [
        {"id": f"{tree}w{year}", "tree": tree, "kind": "repot", "done_on": f"{year}-03-20"}
        for year in range(lifted.year + 2, TODAY.year, 2)
    ]
    lift = {"id": f"{tree}l", "tree": tree, "lifted_on": lifted.isoformat(), "roots_kept": "most"}
    history = {"lifts": [lift], "events": events, "works": works, "boxes": [], "states": []}
    return {"id": tree, "site": "s", "species": chance.choice(sorted(CARDS)), "girth_mm": 200}, history


def plan_part(part: tuple[int, int]) -> tuple[int, float, float, int]:
    """Plan the trees of a part; return tasks, CPU seconds of planning and of the peer, and the most memory in kB."""
    trees = [make_tree(number) for number in range(*part)]
    began = time.process_time()
    planned = [plan_tasks(tree, history, CARDS, TODAY, PLACE) for tree, history in trees]
    done = time.process_time()
    for tasks in planned:
        json.dumps(tasks)
    peer = time.process_time() - done
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return sum(map(len, planned)), done - began, peer, memory


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    edges = [count * part // PROCESSES for part in range(PROCESSES + 1)]
    began = time.perf_counter()
    with multiprocessing.get_context("spawn").Pool(PROCESSES) as pool:
        found = pool.map(plan_part, list(itertools.pairwise(edges)))
    print(f"{count} trees, {sum(one[0] for one in found)} tasks, {time.perf_counter() - began:.1f} s with making them")
    planning, peer = max(one[1] for one in found), max(one[2] for one in found)
    print(f"planned: {planning:.2f} s of the slower of {PROCESSES} processes; JSON of the same {peer:.2f} s")
    print(f"memory: {max(one[3] for one in found) / 1024:.0f} MB a process, the trees themselves in it")
    tree, history = make_tree(7)
    began = time.process_time()
    for _ in range(100):
        plan_tasks(tree, history, CARDS, TODAY, PLACE)
    print(f"one tree planned anew: {(time.process_time() - began) * 10:.2f} ms")


if __name__ == "__main__":
    main()
