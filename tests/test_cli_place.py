"""The verb `place` on many files: how far it is, how it is stopped, and that its document stays alone on its stream."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PHOTO = ROOT / "tests" / "files" / "exif" / "everything.jpg"
MANY = 6000  # takes seconds to read: a stop asked for at the first line comes in the middle


def app(*words: str | Path) -> list[str]:
    return [sys.executable, str(ROOT / "app.py"), *map(str, words)]


def start(*words: str | Path) -> subprocess.Popen[str]:
    """Start a verb that heeds Ctrl-C, also where the tests themselves run in a shell's background, which ignores it."""

    def heed() -> None:
        signal.signal(signal.SIGINT, signal.SIG_DFL)

    return subprocess.Popen(app(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=heed)


def fill(folder: Path, count: int, *, alike: bool = False) -> Path:
    """Make a folder of photos: alike ones are one file under many names, others differ by what trails them."""
    folder.mkdir()
    data = PHOTO.read_bytes()
    first = folder / "0000.jpg"
    for n in range(count):
        path = folder / f"{n:04d}.jpg"
        if alike and n:
            os.link(first, path)
        else:
            path.write_bytes(data + n.to_bytes(4, "big"))
    return folder


def test_away_from_a_terminal_a_line_is_told_every_500_files_and_the_document_stands_alone(tmp_path: Path) -> None:
    folder = fill(tmp_path / "card", 1001, alike=True)
    got = subprocess.run(app("place", folder, "--json"), capture_output=True, text=True, check=False, timeout=120)
    assert got.stderr.splitlines() == ["500 of 1001 files read", "1000 of 1001 files read"]
    assert len(json.loads(got.stdout)["photos"]) == 1001


def test_few_files_tell_no_progress_away_from_a_terminal(tmp_path: Path) -> None:
    folder = fill(tmp_path / "card", 3)
    got = subprocess.run(app("place", folder, "--json"), capture_output=True, text=True, check=False, timeout=60)
    assert (got.stderr, got.returncode) == ("", 0)


def test_on_a_terminal_a_bar_fills_and_goes(tmp_path: Path) -> None:
    folder = fill(tmp_path / "card", 3)
    ours, theirs = pty.openpty()
    try:
        got = subprocess.run(
            app("place", folder, "--json"), stdout=subprocess.PIPE, stderr=theirs, check=False, timeout=60
        )
        os.close(theirs)
        shown = os.read(ours, 65536).decode()
    finally:
        os.close(ours)
    steps = [step for step in shown.split("\r") if step.strip()]
    assert [step.partition("] ")[2] for step in steps] == [f"{n} of 3 files read" for n in range(4)]
    assert steps[-1].startswith("[" + "#" * 30 + "]")
    assert shown.endswith("\r")
    assert len(json.loads(got.stdout)["photos"]) == 3


@pytest.mark.browser
@pytest.mark.parametrize("as_json", [(), ("--json",)], ids=["words", "json"])
def test_stopped_while_reading_it_says_so_and_writes_nothing(tmp_path: Path, as_json: tuple[str, ...]) -> None:
    folder = fill(tmp_path / "card", MANY, alike=True)
    with start("place", folder, *as_json) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        assert run.stderr.readline() == f"500 of {MANY} files read\n"
        run.send_signal(signal.SIGINT)
        said, told = run.communicate(timeout=60)
    assert run.returncode == 130
    assert said == ""
    last = told.splitlines()[-1]
    assert last.startswith("fellside: stopped with ")
    assert last.endswith(f" of {MANY} files read. Nothing was written.")
    assert "Traceback" not in told


@pytest.mark.browser
def test_stopped_while_keeping_it_writes_no_record_and_the_next_call_keeps_all(tmp_path: Path) -> None:
    data = tmp_path / "data"
    subprocess.run(app("init", "--data", data), check=True, capture_output=True, timeout=60)
    folder = fill(tmp_path / "card", 600)
    words = ("place", folder, "--save", "--json", "--data", data)
    with start(*words) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        while line := run.stderr.readline():
            if line == "500 of 600 files kept\n":
                break
        run.send_signal(signal.SIGINT)
        said, told = run.communicate(timeout=60)
    assert (run.returncode, said) == (130, "")
    assert "No record was written; the copies made so far stay" in told.splitlines()[-1]
    found = subprocess.run(app("check", "--json", "--data", data), check=True, capture_output=True, timeout=60)
    checked = json.loads(found.stdout)
    assert (checked["ok"], checked["changes"]) == (True, 0)
    assert 500 <= checked["photos"] < 600

    again = subprocess.run(app(*words), capture_output=True, check=False, timeout=120)
    assert again.returncode == 0
    assert "kept-already" not in {
        one["code"] for photo in json.loads(again.stdout)["photos"] for one in photo["trouble"]
    }
    found = subprocess.run(app("check", "--json", "--data", data), check=True, capture_output=True, timeout=60)
    checked = json.loads(found.stdout)
    assert (checked["ok"], checked["changes"], checked["photos"]) == (True, 600, 600)
