"""`due` as a person calls it: groups, the width of the terminal, reasons, and a document that stays the same."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from cli_kit import nobody, refused, run

from field.services.write_changes import write_changes
from field.store import db
from field.store.queries import list_records
from field.web.app import create_app

ROOT = Path(__file__).resolve().parent.parent
RING = [[-3.0, 51.9], [-2.9, 51.9], [-2.9, 52.1], [-3.0, 52.1], [-3.0, 51.9]]
KEYS = ["id", "tree", "site", "work", "from", "by", "text", "why", "moved_from"]  # as published


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """A log with one birch that was lifted on 9 March 2026."""
    app = create_app(tmp_path / "log", "")
    with app.app_context():
        ground = {"name": "Upper Brae", "boundary": {"type": "Polygon", "coordinates": [RING]}, "height_m": 0.0}
        (site,) = write_changes([("site", None, ground)])
        (tree,) = write_changes([("tree", None, {"site": site, "tag": "B1", "species": "birch", "origin": "lifted"})])
        write_changes([("lift", None, {"tree": tree, "site": site, "lifted_on": "2026-03-09"})])
    db.close(app)
    return tmp_path / "log"


def test_first_evening_stands_under_its_day(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    status, out, err = run(capsys, "due", "--data", log, "--on", "2026-03-09", "--days", "0")
    assert (status, err) == (0, "")
    title, *lines = out.splitlines()
    assert title == f"Monday 9 March 2026 ({len(lines)})"
    assert all(line.startswith("  B1, birch, Upper Brae: ") for line in lines)


def test_what_was_left_undone_is_overdue_two_days_later(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    _, out, _ = run(capsys, "due", "--data", log, "--on", "2026-03-11", "--days", "0")
    assert out.startswith("Overdue (")
    assert "late)" in out.splitlines()[1]


def test_task_of_a_site_is_told_under_the_site_s_name_in_the_same_shape(
    capsys: pytest.CaptureFixture[str], log: Path
) -> None:
    app = create_app(log, "")
    with app.app_context():
        (site,) = [record["id"] for record in list_records("site")]
        (holder,) = write_changes([("landholder", None, {"name": "Ms Invented", "phone": "00 0000 0404"})])
        terms = {"site": site, "landholder": holder, "form": "spoken", "starts_on": "2026-03-01"}
        write_changes([("leave", None, terms)])
    db.close(app)
    words = ("due", "--data", log, "--on", "2026-03-09", "--days", "0")
    out = run(capsys, *words)[1]
    line = next(line for line in out.splitlines() if "spoken" in line)
    # 14 days after 1 March.
    assert line == (
        "  Upper Brae: The leave of Ms Invented for Upper Brae is only spoken. "
        "Get it in writing, or signed at the gate. (until 15 March 2026)"
    )
    document = json.loads(run(capsys, *words, "--json")[1])
    (task,) = [task for task in document["tasks"] if task["tree"] is None]
    assert list(task) == KEYS
    assert (task["site"], task["work"]) == (site, "leave")
    assert "0404" not in out + json.dumps(document)


def test_reasons_are_told_with_the_switch_alone(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    words = ("due", "--data", log, "--on", "2026-03-09")
    assert "Why: " not in run(capsys, *words)[1]
    with_why = run(capsys, *words, "--why")[1]
    assert "Why: " in with_why
    assert run(capsys, *words, "-v")[1] == with_why


def test_document_has_its_published_names_whatever_the_lines_say(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    words = ("due", "--data", log, "--on", "2026-03-11", "--json")
    _, out, _ = run(capsys, *words)
    assert run(capsys, *words, "--why")[1] == out
    document = json.loads(out)
    assert list(document) == ["tasks"]
    assert {tuple(task) for task in document["tasks"]} == {tuple(KEYS)}


@pytest.mark.parametrize("columns", [44, 72])
def test_lines_are_as_wide_as_the_terminal(log: Path, columns: int) -> None:
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    words = [sys.executable, str(ROOT / "app.py"), "due", "--data", str(log), "--on", "2026-03-09", "--days", "0"]
    settings = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    try:
        got = subprocess.run(words, stdout=theirs, stderr=subprocess.PIPE, env=settings, check=False, timeout=60)
        os.close(theirs)
        shown = os.read(ours, 65536).decode()
    finally:
        os.close(ours)
    lines = shown.splitlines()
    assert (got.returncode, got.stderr) == (0, b"")
    # Common words of our own are shorter than ten signs, so a full line comes that near to the edge.
    assert columns - 10 <= max(map(len, lines)) <= columns


@pytest.mark.parametrize("on", ["0001-01-01", "1799-12-31", "9001-01-01", "9999-12-31"])
def test_a_year_past_reckoning_is_one_sentence(capsys: pytest.CaptureFixture[str], log: Path, on: str) -> None:
    assert "1800 to 9000" in refused(capsys, "due", "--data", log, "--on", on)


@pytest.mark.parametrize("on", ["1800-01-01", "9000-12-31"])
def test_first_and_last_year_are_reckoned(capsys: pytest.CaptureFixture[str], log: Path, on: str) -> None:
    assert run(capsys, "due", "--data", log, "--on", on, "--days", "20000")[0] == 0


def test_a_log_that_may_not_be_read_is_told(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    with nobody(log):
        assert "permission denied" in refused(capsys, "due", "--data", log).lower()
