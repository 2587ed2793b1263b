"""Compare our GPX reader with gpxpy on the standard library's parser, at 10,000 and 180,000 points.

gpxpy takes lxml by itself as soon as that can be imported and is then much slower: so it is kept from it. Points, order
and times are compared first. Then: how much memory a million points take (in a process of their own), and whether the
time grows no faster than the points.
Needs gpxpy. Goals: at most 0.4 x gpxpy; at most 64 bytes a point and 10 MB; ten times the points within 8 to 12 x.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from made import make_track
from timing import Case, compare, judge, peak_mb, tell_machine

from field.readers.gpx import read_track
from field.readers.track import Track

MILLION = 1_000_000


def read_ours(path: Path) -> Track:
    """Return the track of a file."""
    with path.open("rb") as stream:
        return read_track(stream)


def print_peak(path: Path) -> None:
    """Print by how many MB reading a file raises the most memory that this process ever held, and its points."""
    before = peak_mb()
    points = read_ours(path).points
    print(points, peak_mb() - before)


def measure_peak(path: Path) -> None:
    """Judge the memory of reading a file, in a process of its own."""
    said = subprocess.run(
        [sys.executable, __file__, "--peak", str(path)], capture_output=True, text=True, check=True
    ).stdout
    points, grown_mb = int(said.split()[0]), float(said.split()[1])
    print(f"\nMemory of {points:,} points ({path.stat().st_size / 1e6:.0f} MB of GPX): {grown_mb:.1f} MB more at most")
    judge("bytes a point, all memory", grown_mb * 1e6 / points, 64 + 10e6 / points, "B")


def check_same(path: Path) -> None:
    """Raise if the two readers do not find the same points, in the same order, at the same times."""
    import gpxpy

    ours = read_ours(path)
    theirs = [p for t in gpxpy.parse(path.read_text()).tracks for s in t.segments for p in s.points]
    assert ours.points == len(theirs)
    assert list(ours.lats) == [p.latitude for p in theirs]
    assert list(ours.lons) == [p.longitude for p in theirs]
    assert list(ours.heights) == [p.elevation for p in theirs]
    assert list(ours.times) == [p.time.timestamp() for p in theirs]


def main() -> None:
    """Measure all of it."""
    sys.modules["lxml"] = None  # type: ignore[assignment]
    import gpxpy

    tell_machine()
    with tempfile.TemporaryDirectory() as folder:
        paths = {points: Path(folder, f"{points}.gpx") for points in (10_000, 100_000, 180_000, MILLION)}
        for points, path in paths.items():
            make_track(path, points)
        measure_peak(paths[MILLION])
        check_same(paths[10_000])
        for points, rounds in ((10_000, 9), (180_000, 3)):
            path = paths[points]
            took = compare(
                f"GPX of {points:,} points",
                {
                    "gpxpy": Case(lambda _, path=path: gpxpy.parse(path.read_text(encoding="utf-8"))),
                    "ours": Case(lambda _, path=path: read_ours(path)),
                },
                points,
                "point",
                rounds,
            )
            judge(f"GPX in, {points:,} points / gpxpy", took["ours"] / took["gpxpy"], 0.4)
        took = compare(
            "GPX, ten times the points",
            {
                "100,000 points": Case(lambda _: read_ours(paths[100_000])),
                "1,000,000 points": Case(lambda _: read_ours(paths[MILLION])),
            },
            MILLION,
            "point of the larger",
            3,
        )
        judge("10 x the points", took["1,000,000 points"] / took["100,000 points"], 12)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--peak"]:
        print_peak(Path(sys.argv[2]))
    else:
        main()
