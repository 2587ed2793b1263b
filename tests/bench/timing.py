"""Time several ways of doing one thing against each other, and say whether a goal is met.

All cases run once a round, one after the other, so that a busy machine slows all of them alike; what counts is the
median of the CPU time (user and system, finished children too) over the rounds, and the ratio of two medians. A ratio
within a tenth of its limit is a tie: run it again before believing it. Needs the standard library only.
"""

from __future__ import annotations

import gc
import os
import platform
import resource
import statistics
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

# What is measured is this checkout, installed or not.
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

TIE = 0.1  # of the limit


@dataclass(frozen=True, slots=True)
class Case:
    """One way of doing it. What `before` returns is handed to `run`; only `run` is timed."""

    run: Callable[[Any], object]
    before: Callable[[], object] = lambda: None


def cpu_s() -> float:
    """Return the CPU seconds of this process so far, and of its children that have ended."""
    return sum(
        used.ru_utime + used.ru_stime
        for used in (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def compare(title: str, cases: Mapping[str, Case], per: int, unit: str, rounds: int = 5) -> dict[str, float]:
    """Run the cases interleaved, print their medians, and return these in CPU seconds.

    Args:
        cases: by name; each is run once more at first, untimed.
        per: how many of `unit` one run does.
    """
    taken: dict[str, list[float]] = {name: [] for name in cases}
    for number in range(rounds + 1):
        for name, case in cases.items():
            given = case.before()
            gc.collect()
            start = cpu_s()
            case.run(given)
            if number:
                taken[name].append(cpu_s() - start)
    medians = {name: statistics.median(times) for name, times in taken.items()}
    print(f"\n{title} ({rounds} rounds, {per:,} {unit}s a run)")
    for name, median_s in medians.items():
        spread = (max(taken[name]) - min(taken[name])) / max(median_s, 1e-9)
        print(f"  {name:<58} {median_s / per * 1e6:>12,.2f} us a {unit}   spread {spread:.0%}")
    return medians


def judge(what: str, value: float, limit: float, unit: str = "x") -> bool:
    """Print a figure beside its goal (at most `limit`), and return whether it is met."""
    met = value <= limit
    near = abs(value - limit) <= TIE * limit
    word = ("met" if met else "MISSED") + (", a tie: run it again" if near else "")
    print(f"  => {what}: {value:.2f} {unit}; goal <= {limit:g} {unit}: {word}")
    return met


def tell_machine() -> None:
    """Print what this runs on; a load near or above the number of cores means disturbed figures."""
    load = os.getloadavg()[0]
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {load:.1f}, {sys.platform}")


def peak_mb() -> float:
    """Return the most memory this process ever held at once, in MB (10**6 bytes)."""
    status = Path("/proc/self/status")
    if status.exists():
        # What getrusage tells is handed down from the process that started this one.
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) * 1024 / 1e6
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return used * (1 if sys.platform == "darwin" else 1024) / 1e6
