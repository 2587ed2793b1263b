"""Give the photo and track readers damaged files, and report what they must never do.

Start files: tests/files, and the folder named by FELLSIDE_SHARED_VECTORS where there is one. Each input is made from
them by the seed and its number alone, so that any one can be made again (--only NUMBER). The readers run in child
processes, one at a time. Reported: any exception, any input over 2 s of CPU time, any that lifts the process's memory
over 200 MB, any that ends the process. With --guided the inputs are chosen by atheris, led by which lines they reach;
it is needed for that only: python -m pip install atheris (where it installs).
Goal: 100,000 inputs, nothing to report. The exit status is 1 if there is something.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from timing import peak_mb

from field.core.errors import FellsideError

ROOT = Path(__file__).resolve().parents[2]
A_CHILD = 5000  # inputs
MOST_S, MOST_MB = 2.0, 200.0
HANG_S = 30.0  # without a sign of life
LARGEST_START = 400_000  # bytes: of larger files the front part, where all structure is
WORDS = (
    b"<trkpt lat='1' lon='1'>", b"</trkpt>", b"<trkseg>", b"</trkseg>", b"<ele>", b"</ele>", b"<time>", b"</time>",
    b"<!DOCTYPE a [<!ENTITY b 'c'>]>", b"&b;", b"&#x0;", b"&#55296;", b"<![CDATA[", b"]]>", b"<!--", b"-->", b"<?xml ",
    b"encoding='utf-16'", b"encoding='idna'", b"encoding='hex'", b"xmlns='x'", b"xmlns:g=''", b"g:", b"NaN", b"1e999",
    b"-0", b"\xef\xbb\xbf", b"\xff\xfe", b"Exif\0\0", b"II*\0", b"MM\0*", b"\xff\xe1\xff\xff", b"\xff\xd8", b"\xff\xd9",
    b"ftypheic", b"meta", b"iinf", b"iloc", b"infe", b"eXIf", b"IEND", b"EXIF", b"\x87\x69", b"\x69\x87", b"\x88\x25",
    b"\x25\x88", b"9999:99:99 99:99:99", b"    :  :     :  :  ", b"+99:99", b"2027-02-14T24:00:00Z", b"T23:59:60Z",
)  # fmt: skip


# --- inputs ----------------------------------------------------------------------------------------------------------


def start_files() -> dict[str, list[bytes]]:
    """Return what inputs are made from, for each reader, in an order that does not depend on the disk."""
    folders = [ROOT / "tests" / "files"]
    if shared := os.environ.get("FELLSIDE_SHARED_VECTORS"):
        folders.append(Path(shared))
    found: dict[str, list[bytes]] = {"photo": [], "track": []}
    for folder in folders:
        for reader, name in (("photo", "exif"), ("track", "gpx")):
            for path in sorted((folder / name).rglob("*")):
                if path.is_file() and path.suffix not in (".json", ".md", ".txt"):
                    with path.open("rb") as stream:
                        found[reader].append(stream.read(LARGEST_START))
    return found


def made_input(starts: list[bytes], seed: int, number: int) -> bytes:
    """Return an input: a start file, damaged in one to eight ways."""
    rng = random.Random(f"{seed}:{number}")
    data = bytearray(rng.choice(starts))
    for _ in range(rng.choice((1, 1, 2, 3, 5, 8))):
        rng.choice(DAMAGES)(data, rng, starts)
    return bytes(data)


def _place(data: bytearray, rng: random.Random) -> int:
    """Return a place, more often near the front, where the structure is."""
    most = len(data) if rng.random() < 0.3 else min(len(data), rng.choice((64, 512, 4096, 65536)))
    return rng.randrange(most) if most else 0


def _flip(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    if data:
        data[_place(data, rng)] ^= 1 << rng.randrange(8)


def _overwrite(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    at, size = _place(data, rng), rng.randrange(1, 9)
    data[at : at + size] = rng.randbytes(size)


def _set_length(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    """Write a telling number where a length, count or offset may stand."""
    size = rng.choice((1, 2, 4, 8))
    most = 256**size - 1
    number = rng.choice((0, 1, 2, 7, 8, most, most // 2, most // 2 + 1, len(data), len(data) - 1, rng.randrange(70000)))
    at = _place(data, rng)
    data[at : at + size] = (number & most).to_bytes(size, rng.choice(("big", "little")))


def _cut(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    del data[_place(data, rng) :]


def _remove(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    at = _place(data, rng)
    del data[at : at + rng.choice((1, 2, 12, 100, 1000))]


def _repeat(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    at = _place(data, rng)
    piece = data[at : at + rng.choice((1, 2, 12, 100, 1000))]
    data[at:at] = piece * rng.choice((1, 2, 10, 100))


def _splice(data: bytearray, rng: random.Random, starts: list[bytes]) -> None:
    other = rng.choice(starts)
    begin = rng.randrange(len(other)) if other else 0
    piece = other[begin : begin + rng.choice((16, 200, 4000, 60000))]
    at = _place(data, rng)
    data[at : at + (len(piece) if rng.random() < 0.5 else 0)] = piece


def _insert_word(data: bytearray, rng: random.Random, _starts: list[bytes]) -> None:
    at, word = _place(data, rng), rng.choice(WORDS)
    data[at : at + (len(word) if rng.random() < 0.5 else 0)] = word


DAMAGES: tuple[Callable[[bytearray, random.Random, list[bytes]], None], ...] = (
    _flip, _flip, _overwrite, _set_length, _set_length, _cut, _remove, _repeat, _splice, _insert_word, _insert_word,
)  # fmt: skip


# --- what is tried ---------------------------------------------------------------------------------------------------


def try_photo(data: bytes) -> None:
    """Read a photo and hold what it says to what is possible."""
    from field.readers.exif import read_photo

    facts = read_photo(data)
    if facts is not None and facts.lat is not None:
        assert -90 <= facts.lat <= 90, facts.lat
        assert facts.lon is not None, "a latitude alone"
        assert -180 <= facts.lon < 180, facts.lon


def try_track(data: bytes) -> None:
    """Read a track and ask for all its figures."""
    from field.readers import track as figures
    from field.readers.gpx import read_track

    got = read_track(io.BytesIO(data))
    figures.length_m(got)
    figures.climb_m(got)
    figures.time_span(got)
    figures.bounds(got)
    figures.thin_line(got)
    figures.find_stops(got)


TRIED: dict[str, Callable[[bytes], None]] = {"photo": try_photo, "track": try_track}


def try_one(reader: str, data: bytes, most_mb: float = MOST_MB) -> str | None:
    """Return what a reader did with an input that it must never do, None if nothing."""
    high_mb, start = peak_mb(), time.process_time()
    try:
        TRIED[reader](data)
    except FellsideError:
        pass  # a refusal in words is an answer
    except Exception:
        return traceback.format_exc(limit=-4)
    taken_s = time.process_time() - start
    if taken_s > MOST_S:
        return f"took {taken_s:.1f} s"
    now_mb = peak_mb()
    return f"memory at {now_mb:.0f} MB" if now_mb > most_mb and now_mb > high_mb + 1 else None


# --- children --------------------------------------------------------------------------------------------------------


def run_child(reader: str, seed: int, first: int, count: int) -> None:
    """Try inputs in this process; print the number of each before it, and what is found."""
    starts = start_files()[reader]
    out = sys.stdout
    for number in range(first, first + count):
        out.write(f"{number}\n")
        if number % 100 == 0:
            out.flush()
        said = try_one(reader, made_input(starts, seed, number))
        if said is not None:
            out.write(json.dumps({"number": number, "said": said}) + "\n")
    out.write(json.dumps({"peak_mb": peak_mb()}) + "\n")
    out.flush()


def run_children(reader: str, seed: int, count: int) -> tuple[list[str], float]:
    """Try inputs in children, one at a time; return what was found, and the most memory."""
    found: list[str] = []
    most_mb = 0.0
    for first in range(0, count, A_CHILD):
        size = min(A_CHILD, count - first)
        line = [sys.executable, __file__, "--child", reader, str(seed), str(first), str(size)]
        try:
            ended = subprocess.run(line, capture_output=True, text=True, timeout=HANG_S + size * 0.05, check=False)
            said, status = ended.stdout, ended.returncode
        except subprocess.TimeoutExpired as late:
            said, status = (late.stdout or b"").decode(errors="replace"), None
        numbers = [line for line in said.splitlines() if line.isdigit()]
        for told in (json.loads(line) for line in said.splitlines() if line.startswith("{")):
            if "peak_mb" in told:
                most_mb = max(most_mb, told["peak_mb"])
            else:
                found.append(f"{reader} {told['number']}: {told['said']}")
        if status != 0:
            # What was written is told in portions: the input lies within the hundred after the last that is known.
            word = "hung" if status is None else f"ended with {status}"
            found.append(f"{reader}: the process {word} at or within 100 after {numbers[-1] if numbers else first}")
    return found, most_mb


def run_guided(reader: str, seed: int, count: int) -> None:
    """Let atheris choose the inputs, in this process; print what is found."""
    import atheris

    with atheris.instrument_imports(include=["field.readers", "exifread"]):
        import field.readers.exif
        import field.readers.gpx  # noqa: F401
    random.seed(seed)
    starts = start_files()[reader]
    tried = 0
    base_mb = 0.0

    def one(data: bytes) -> None:
        nonlocal tried, base_mb
        if tried == len(starts):
            base_mb = peak_mb()  # what the library itself holds for its books is not the readers'
        tried += 1
        said = try_one(reader, data, base_mb + MOST_MB)
        if said is not None:
            print(json.dumps({"number": data.hex()[:4000], "said": said}), flush=True)
        if tried >= count:
            print(json.dumps({"tried": tried, "peak_mb": peak_mb() - base_mb}), flush=True)
            os._exit(0)

    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        for number, data in enumerate(starts):
            Path(folder, f"{number:04d}").write_bytes(data[:60_000])
        atheris.Setup([sys.argv[0], f"-seed={seed}", "-max_len=60000", "-timeout=30", "-verbosity=0", folder], one)
        atheris.Fuzz()


def main() -> int:
    """Try all inputs, or what the command line asks for; return the exit status."""
    parser = argparse.ArgumentParser(description="Fuzz the photo and track readers.")
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true", help="let atheris choose the inputs")
    parser.add_argument("--only", type=int, help="make this one input again and show what it does")
    parser.add_argument("--child", nargs=4, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        reader, seed, first, count = given.child
        (run_guided if first == "guided" else run_child)(
            reader, int(seed), *([int(count)] if first == "guided" else [int(first), int(count)])
        )
        return 0
    if given.only is not None:
        for reader, starts in start_files().items():
            data = made_input(starts, given.seed, given.only)
            print(f"{reader}, {len(data)} bytes: {try_one(reader, data) or 'nothing'}")
        return 0
    bad = False
    for reader in TRIED:
        start = time.perf_counter()
        if given.guided:
            line = [sys.executable, __file__, "--child", reader, str(given.seed), "guided", str(given.count // 2)]
            told = subprocess.run(line, stdout=subprocess.PIPE, text=True, check=False)
            lines = [json.loads(line) for line in told.stdout.splitlines() if line.startswith("{")]
            found = [f"{reader} {one['number'][:80]}...: {one['said']}" for one in lines if "said" in one]
            most_mb = max((one["peak_mb"] for one in lines if "peak_mb" in one), default=0.0)
            if not any("tried" in one for one in lines):
                found.append(f"{reader}: the process ended with {told.returncode} before its time")
        else:
            found, most_mb = run_children(reader, given.seed, given.count // 2)
        took_s = time.perf_counter() - start
        print(f"{reader}: {given.count // 2:,} inputs in {took_s:.0f} s, at most {most_mb:.0f} MB, {len(found)} found")
        for one in found[:20]:
            print(one)
        bad = bad or bool(found)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
