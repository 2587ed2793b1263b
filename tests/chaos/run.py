"""Runs schedules by their seeds; a failing one is shortened, and prints what to type to see it again step by step.

python tests/chaos/run.py --seeds 50000 --browser-every 20 --progress FILE    # by hand; begun again, it goes on
python tests/chaos/run.py --first 1234 --seeds 1 --show                       # one of them, step by step
python tests/chaos/run.py --broken all                                        # what is broken has to be caught
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import traceback
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent / "browser"), str(HERE.parent.parent)]

import broken  # noqa: E402  (the paths come first)
from browser_phone import Browsers  # noqa: E402
from home import Home  # noqa: E402
from real_home import RealHome  # noqa: E402
from schedule import Schedule, make  # noqa: E402
from world import World  # noqa: E402

MOST_SHORTENING = 60  # runs
TOLD_EVERY = 500


class Bench:
    """A home and, when first needed, a browser: kept for many schedules."""

    def __init__(self, stack: ExitStack, real: bool, breaking: str) -> None:
        shm = Path("/dev/shm")  # a flush costs nothing there; what one leaves out is told in another way
        folder = None if real or not shm.is_dir() else shm
        root = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="chaos-", dir=folder)))
        self.stack, self.breaking = stack, breaking
        self.home = (RealHome if real else Home)(root, breaking)
        stack.callback(self.home.close)
        self.browsers: Browsers | None = None

    def run(self, schedule: Schedule, told: Any) -> str | None:
        """Run a schedule; return what went wrong."""
        if any(schedule.browsers) and self.browsers is None:
            self.browsers = Browsers(self.breaking)
            self.stack.callback(self.browsers.close)
        try:
            World(self.home, schedule, self.browsers, told).run()
        except Exception:
            self.home.stop()
            return traceback.format_exc(limit=-4)
        return None

    def shorten(self, schedule: Schedule) -> Schedule:
        """Leave out every step without which it goes wrong all the same."""
        left = MOST_SHORTENING
        number = len(schedule.steps)
        while number > 0 and left > 0:
            number -= 1
            steps = schedule.steps[:number] + schedule.steps[number + 1 :]
            left -= 1
            if self.run(replace(schedule, steps=steps), lambda _: None) is not None:
                schedule = replace(schedule, steps=steps)
        return schedule


def main() -> int:
    words = argparse.ArgumentParser(description="Phones and a home under every fault.")
    words.add_argument("--seeds", type=int, default=100, help="how many")
    words.add_argument("--first", type=int, default=0, help="the first seed")
    words.add_argument("--steps", type=int, default=10, help="most steps of one schedule")
    words.add_argument("--browser-every", type=int, default=0, help="every so manieth has phones in a browser; 0: none")
    words.add_argument("--real", action="store_true", help="the home is app.py, as people run it")
    words.add_argument("--broken", default="", help="a name of broken.py, or all")
    words.add_argument("--progress", type=Path, help="a file that remembers how far it came")
    words.add_argument("--show", action="store_true", help="print every step")
    asked = words.parse_args()
    if asked.broken:
        names = [*broken.HOMES, *broken.PAGES] if asked.broken == "all" else [asked.broken]
        return max([_catch(name, asked) for name in names])
    with ExitStack() as stack:
        return _run(Bench(stack, asked.real, ""), asked)


def _run(bench: Bench, asked: argparse.Namespace) -> int:
    done = int(asked.progress.read_text()) if asked.progress and asked.progress.exists() else 0
    bad, began = 0, time.monotonic()
    for number in range(done, asked.seeds):
        seed = asked.first + number
        log: list[str] = []
        schedule = make(seed, _in_browser(seed, asked), asked.steps)
        fault = bench.run(schedule, print if asked.show else log.append)
        if fault is not None:
            bad += 1
            _tell(bench, schedule, asked, log, fault)
        if asked.progress:
            asked.progress.write_text(str(number + 1))
        if (number + 1) % TOLD_EVERY == 0:
            print(f"{number + 1} of {asked.seeds}, {bad} bad, {time.monotonic() - began:.0f} s", flush=True)
    print(f"{asked.seeds - done} schedules, {bad} bad, {time.monotonic() - began:.1f} s", flush=True)
    return 1 if bad else 0


def _in_browser(seed: int, asked: argparse.Namespace) -> bool:
    return asked.browser_every > 0 and seed % asked.browser_every == 0


def _tell(bench: Bench, schedule: Schedule, asked: argparse.Namespace, log: list[str], fault: str) -> None:
    again = f"python tests/chaos/run.py --first {schedule.seed} --seeds 1 --steps {asked.steps} --show"
    more = f" --browser-every {asked.browser_every}" if asked.browser_every else ""
    print(
        f"seed {schedule.seed} went wrong:",
        *log,
        fault,
        f"again: {again}{more}{' --real' if asked.real else ''}",
        sep="\n",
    )
    short = bench.shorten(schedule)
    print("it goes wrong with these steps alone:", *short.steps, sep="\n", flush=True)


def _catch(name: str, asked: argparse.Namespace) -> int:
    """Run schedules until one of them goes wrong with something that is broken; return 0 when one did."""
    every = 1 if name in broken.PAGES else 0
    with ExitStack() as stack:
        bench = Bench(stack, False, name)
        for seed in range(asked.first, asked.first + asked.seeds):
            fault = bench.run(make(seed, bool(every), asked.steps), lambda _: None)
            if fault is not None:
                print(
                    f"caught after {seed - asked.first + 1}: {name}: {fault.strip().splitlines()[-1][:150]}", flush=True
                )
                return 0
    print(f"NOT caught by {asked.seeds}: {name}", flush=True)
    return 1


if __name__ == "__main__":
    sys.exit(main())
