"""Backups and restores killed at random moments: for test_backup_kill.py, and by hand with more of them.

    python tests/kill_backup.py 200        # half of them while backups are made, half while one is put back

The work is done by processes forked off one that has everything loaded, so that a moment costs no start. Each tells in
a line of its own what it has begun and what it has answered; after the kill the answers are held against the disk.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from backup_kit import NOW, Phone, fill, kept_in, picture

from field.services.backup import back_up
from field.services.check import check
from field.services.restore import finish, restore
from field.store import archive, db

SEED = 20270301
TREES = 6
Say = Callable[..., None]


# --- in the process that is killed ---------------------------------------------------------------------------------


def take_in_and_back_up(say: Say, data: str, shelf: str, first: int) -> None:
    """Take in changes and a photo, then back up, again and again."""
    with db.alone(None, Path(data)):
        phone = Phone("Killed phone")
        phone.pair()
        for number in itertools.count(first):
            phone.mark(f"K{number}", picture(number, 400_000))
            phone.sync()
            last = max(seq for dev, seq in phone.ops if dev == phone.dev)
            say("took", phone.dev, last, list(phone.photos)[-1])
            target = Path(shelf) / f"{number}.zip"
            say("begin", target.name)
            back_up(target, NOW + dt.timedelta(seconds=number))
            say("done", target.name)


def put_back(say: Say, data: str, file: str) -> None:
    """Put a backup back once, and say each step of it."""
    restore(Path(file), Path(data), None, NOW, lambda count, of: say("step"))
    say("done")


def serve_forks() -> None:
    """Fork off what each line of standard input asks for, and kill it some time after it has said so many lines."""
    for line in sys.stdin:
        asked = json.loads(line)
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            _work(writing, asked)
        os.close(writing)
        listener = _Listener(reading)
        listener.listen(asked["lines"], None)
        began = time.monotonic()
        listener.listen(None, None if asked["after_s"] is None else began + asked["after_s"])
        took_s = time.monotonic() - began
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        listener.listen(None, None)
        os.close(reading)
        print(json.dumps({"said": listener.said, "status": status, "took_s": took_s}), flush=True)


def _work(writing: int, asked: dict[str, Any]) -> NoReturn:
    def say(*words: object) -> None:
        os.write(writing, (json.dumps(words) + "\n").encode())

    try:
        {"back up": take_in_and_back_up, "put back": put_back}[asked["do"]](say, *asked["with"])
    finally:
        os._exit(1)


class _Listener:
    """Hears a child line by line."""

    def __init__(self, handle: int) -> None:
        self._handle = handle
        self._rest = b""
        self.said: list[list[Any]] = []

    def listen(self, lines: int | None, until: float | None) -> None:
        """Listen until so many lines were said, or a moment has come, or nobody can say anything more."""
        while (lines is None or len(self.said) < lines) and (until is None or time.monotonic() < until):
            left = None if until is None else max(0.0, until - time.monotonic())
            if select.select([self._handle], [], [], left)[0]:
                piece = os.read(self._handle, 65536)
                if not piece:
                    return
                *whole, self._rest = (self._rest + piece).split(b"\n")
                self.said += [json.loads(line) for line in whole]


# --- in the process that looks -------------------------------------------------------------------------------------


class Killer:
    """Starts a piece of work in another process and kills it after a time."""

    def __enter__(self) -> Killer:
        words = [sys.executable, str(Path(__file__)), "--forks"]
        self._process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        return self

    def __exit__(self, *_: object) -> None:
        with self._process:
            assert self._process.stdin is not None
            self._process.stdin.close()

    def run(self, do: str, lines: int, after_s: float | None, *words: Any) -> dict[str, Any]:
        """Return {"said", "status", "took_s"} of a work that is killed some time after it has said so many lines.

        Args:
            after_s: None lets it end by itself.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(
            json.dumps({"do": do, "with": words, "lines": lines, "after_s": after_s}),
            file=self._process.stdin,
            flush=True,
        )
        told: dict[str, Any] = json.loads(self._process.stdout.readline())
        return told


def kill_backups(killer: Killer, folder: Path, moments: int, chance: random.Random) -> int:
    """Kill at some moments a process that takes in and backs up; return in how many a backup was cut off.

    Asserts: whatever was answered is in the log; every file under a backup's name is whole and has what was answered
    before it was begun; every backup that was answered is there.
    """
    data, shelf = folder / "data", folder / "shelf"
    shelf.mkdir()
    cut_off = 0
    for number in range(moments):
        # After any of its lines, or before the first; a step takes some hundredths of a second.
        told = killer.run("back up", chance.randrange(6), chance.random() * 0.05, str(data), str(shelf), number * 1000)
        said = told["said"]
        assert told["status"] == signal.SIGKILL, told
        finish(data)
        taken = [line for line in said if line[0] == "took"]
        with db.alone(None, data):
            assert check()["ok"], check()
        kept = kept_in(data)
        changes = {(row[0], row[1]) for row in kept["changes"]}
        assert all((dev, seq) in changes for _, dev, last, _ in taken for seq in range(1, last + 1))
        assert {line[3] for line in taken} <= kept["bytes"].keys()
        begun = [line[1] for line in said if line[0] == "begin"]
        done = [line[1] for line in said if line[0] == "done"]
        named = {path.name for path in shelf.iterdir() if not path.name.startswith(".")}
        assert set(done) <= named <= set(begun)
        cut_off += len(begun) - len(done)
        for name in sorted(named):
            before = [line for line in said[: said.index(["begin", name])] if line[0] == "took"]
            with archive.opened(shelf / name) as backup:
                backup.verify()
                held = {(row["dev"], row["seq"]) for row in backup.rows("books/journal.jsonl")}
                assert all((dev, seq) in held for _, dev, last, _ in before for seq in range(1, last + 1))
                assert {line[3] for line in before} <= {row["sha256"] for row in backup.rows("books/blob.jsonl")}
        for path in shelf.iterdir():
            path.unlink()
    return cut_off


def kill_restores(killer: Killer, folder: Path, moments: int, chance: random.Random) -> dict[str, int]:
    """Kill a restore at some moments; return how often the old log stood there afterwards, and how often the new one.

    Asserts: what stands there is wholly the one or the other; if it was answered, the new one; whatever the old one
    had is still somewhere; and the next restore goes through and leaves nothing half made behind.
    """
    file, model = folder / "backup.zip", folder / "model"
    with db.alone(None, folder / "first"):
        fill(TREES)
        back_up(file, NOW)
    with db.alone(None, model):
        fill(2)
    old, new = kept_in(model), kept_in(folder / "first")
    home = folder / "home"
    stood = {"old": 0, "new": 0}
    steps, after_last_s = 0, 0.0
    for number in range(-1, moments):
        shutil.rmtree(home, ignore_errors=True)
        home.mkdir()
        data = home / "data"
        shutil.copytree(model, data)
        if number < 0:  # nobody kills it: how many steps it has, and how long it takes after the last of them
            told = killer.run("put back", 0, None, str(data), str(file))
            steps = len(told["said"]) - 1
            shutil.rmtree(data)
            after_last_s = killer.run("put back", steps, None, str(data), str(file))["took_s"]
            continue
        # Half of the kills fall into the end, where folders change their names.
        lines = steps if number % 2 else chance.randrange(steps + 2)
        told = killer.run("put back", lines, chance.random() * after_last_s * 2, str(data), str(file))
        finish(data)
        standing = kept_in(data)
        assert standing in (old, new)
        stood["new" if standing == new else "old"] += 1
        assert standing == new or ["done"] not in told["said"]
        aside = [path for path in home.iterdir() if path.name.startswith("data-before-")]
        assert len(aside) == (standing == new)
        assert all(kept_in(path) == old for path in aside)
        if {path.name for path in home.iterdir()} - {path.name for path in aside} != {"data"}:
            restore(file, data, None, NOW)  # something half made lies there: the next one clears it away
            assert kept_in(data) == new
            assert {path.name for path in home.iterdir() if not path.name.startswith("data-before-")} == {"data"}
    return stood


def main(moments: int) -> None:
    chance = random.Random(SEED)
    with tempfile.TemporaryDirectory() as folder, Killer() as killer:
        cut_off = kill_backups(killer, Path(folder), moments // 2, chance)
        print(f"{moments // 2} kills while taking in and backing up cut off {cut_off} backups; nothing is missing")
        stood = kill_restores(killer, Path(folder), moments - moments // 2, chance)
        print(
            f"{moments - moments // 2} kills of a restore: old log {stood['old']} times, new one {stood['new']} times"
        )


if __name__ == "__main__":
    if sys.argv[1:] == ["--forks"]:
        serve_forks()
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
