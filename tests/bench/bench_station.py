"""Measure our reader of stations' tables on a hundred years, beside a bare loop over the standard library's csv.

The loop knows the form beforehand, asks nothing and checks nothing: csv.reader, date.fromisoformat, float, the lowest
and the highest of a day. The days are compared first. Then: how much memory a hundred years of hours take, in a process
of their own.
Needs the standard library only. Goals for a hundred years: of days in 1 s, of hours in 10 s of CPU, and within 64 MB.
"""

from __future__ import annotations

import csv
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from timing import Case, compare, judge, peak_mb, tell_machine

from field.readers.station_csv import read_station

FIRST = date(1926, 1, 1)
DAYS = 36_524
HOURS_DAYS = 3_652  # ten years: for the time


def make_daily(path: Path) -> None:
    """Write a hundred years of days."""
    with path.open("w", encoding="utf-8") as out:
        out.write("date,tmin °C,tmax °C\n")
        for n in range(DAYS):
            out.write(f"{FIRST + timedelta(days=n)},{n % 20 - 9}.5,{n % 20 + 3}.0\n")


def make_hourly(path: Path, days: int) -> None:
    """Write hourly readings of some days."""
    with path.open("w", encoding="utf-8") as out:
        out.write("timestamp,temp °C\n")
        for n in range(days):
            on = FIRST + timedelta(days=n)
            out.writelines(f"{on}T{hour:02}:00,{n % 20 + hour % 9}.5\n" for hour in range(24))


def read_ours(path: Path) -> dict[date, tuple[float | None, float | None]]:
    """Return the days of a file by our reader."""
    with path.open("rb") as stream:
        return {day.on: (day.tmin_c, day.tmax_c) for day in read_station(stream).days}


def read_bare(path: Path) -> dict[date, tuple[float, float]]:
    """Return the days of a file whose form is known beforehand."""
    days: dict[date, tuple[float, float]] = {}
    with path.open(encoding="utf-8", newline="") as stream:
        rows = csv.reader(stream)
        next(rows)
        for row in rows:
            on, low, high = date.fromisoformat(row[0][:10]), float(row[1]), float(row[-1])
            before = days.get(on)
            days[on] = (low, high) if before is None else (min(low, before[0]), max(high, before[1]))
    return days


def measure_peak(path: Path) -> None:
    """Judge the memory of reading a file, in a process of its own."""
    said = subprocess.run([sys.executable, __file__, "--peak", str(path)], capture_output=True, text=True, check=True)
    print(f"\nMemory of a hundred years of hours ({path.stat().st_size / 1e6:.0f} MB)")
    judge("more at most", float(said.stdout), 64, "MB")


def main() -> None:
    """Run all of it."""
    tell_machine()
    with tempfile.TemporaryDirectory() as folder:
        daily, hourly, whole = (Path(folder) / name for name in ("daily.csv", "hourly.csv", "whole.csv"))
        make_daily(daily)
        make_hourly(hourly, HOURS_DAYS)
        make_hourly(whole, DAYS)
        for path, name, lines, years, goal_s in (
            (daily, "days", DAYS, 1, 1),
            (hourly, "hours", HOURS_DAYS * 24, 10, 10),
        ):
            assert read_ours(path) == read_bare(path)
            took = compare(
                f"A station's table of {name}",
                {
                    "bare loop": Case(lambda _, path=path: read_bare(path)),
                    "ours": Case(lambda _, path=path: read_ours(path)),
                },
                lines,
                "line",
            )
            print(f"  ours / bare loop: {took['ours'] / took['bare loop']:.2f} x")
            judge(f"a hundred years of {name}", took["ours"] * years, goal_s, "s")
        measure_peak(whole)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--peak"]:
        before = peak_mb()
        read_ours(Path(sys.argv[2]))
        print(peak_mb() - before)
    else:
        main()
