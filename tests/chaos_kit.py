"""Runs chaos schedules in a process of their own: it forks and holds a browser, which pytest's own may do already."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

RUN = Path(__file__).resolve().parent / "chaos" / "run.py"
QUICK = 1000  # schedules of a file; there are two, one for each process
BROWSER_EVERY = 40  # one of so many has its phones in a browser
QUICK_REAL = 2
QUICK_STEPS = 5  # most steps of one; by hand they are longer
LONGEST_S = 900


def run_schedules(first: int, seeds: int, browser_every: int = 0, real: bool = False) -> None:
    """Run schedules, and fail with what the failing ones printed.

    Args:
        first: the first seed.
        seeds: how many.
        browser_every: every so manieth has phones in a browser; 0: none.
        real: the home is app.py, as people run it.
    """
    words = ["--first", str(first), "--seeds", str(seeds), "--browser-every", str(browser_every)]
    said = _run([*words, "--steps", str(QUICK_STEPS), *(["--real"] if real else [])])
    assert said.returncode == 0, said.stdout + said.stderr
    assert f"{seeds} schedules, 0 bad" in said.stdout


def catch(name: str) -> None:
    """Assert that schedules find what is broken."""
    said = _run(["--broken", name, "--seeds", "300", "--steps", str(QUICK_STEPS)])
    assert said.returncode == 0, said.stdout + said.stderr
    assert said.stdout.startswith("caught after "), said.stdout


def _run(words: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(RUN), *words], capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
