"""`backup` and `restore` as a person calls them: what they say, how they end, what they leave alone."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest
from backup_kit import fill, kept_in, picture
from builders import a_change
from cli_kit import refused, run
from copy_kit import write_copy

from field.services import serve
from field.store import db, photos


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A log with three trees and their photos."""
    monkeypatch.delenv("FELLSIDE_DATABASE", raising=False)
    monkeypatch.setenv("FELLSIDE_DATA", str(tmp_path / "home" / "data"))
    with db.alone(None, tmp_path / "home" / "data"):
        fill()
    return tmp_path / "home" / "data"


def test_backup_and_restore_in_plain_words(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path) -> None:
    before = kept_in(data)
    status, out, err = run(capsys, "backup", tmp_path / "b.zip")
    assert (status, err) == (0, "")
    assert out.splitlines()[0].startswith(f"Backed up to {tmp_path / 'b.zip'} (")
    assert out.splitlines()[1] == "In it: 6 changes, 3 photos, tracks and papers, 1 phone."
    status, out, err = run(capsys, "restore", tmp_path / "b.zip")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith(f"Put back into {data}: 6 changes, 3 photos, tracks and papers, 1 phone, as of ")
    assert re.search(r"as of [1-9]\d? [A-Z][a-z]+ \d{4}, \d\d:\d\d\.$", lines[0])
    assert lines[1].startswith(f"What stood there before is kept as {data}-before-")
    assert "sends what the backup lacks" in lines[-1]
    assert kept_in(data) == before


def test_both_print_one_document(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path) -> None:
    status, out, _ = run(capsys, "backup", tmp_path / "b.zip", "--json")
    assert (status, json.loads(out)["ok"], json.loads(out)["photos"]) == (0, True, 3)
    status, out, _ = run(capsys, "restore", tmp_path / "b.zip", "--json", "--data", tmp_path / "new")
    assert (status, json.loads(out)["data"], json.loads(out)["kept_as"]) == (0, str(tmp_path / "new"), None)


def test_backup_works_while_a_server_holds_the_folder_and_restore_does_not(
    capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path
) -> None:
    with serve.hold_folder(data):
        assert run(capsys, "backup", tmp_path / "b.zip")[0] == 0
        assert "Another Fellside is running" in refused(capsys, "restore", tmp_path / "b.zip")


def test_backup_of_something_damaged_ends_with_one_and_says_what(
    capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path
) -> None:
    bad = min(kept_in(data)["bytes"])
    photos.blob_path(data, bad).write_bytes(b"other")
    status, out, _ = run(capsys, "backup", tmp_path / "b.zip")
    assert status == 1
    assert f"! A damaged photo: {bad}" in out
    status, out, _ = run(capsys, "restore", tmp_path / "b.zip")
    assert status == 0
    assert "1 photo not in the backup" in out


@pytest.mark.parametrize("content", [b"", b"nonsense", b"PK\x03\x04" + b"\0" * 100])
def test_restore_refuses_what_is_no_backup(
    capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path, content: bytes
) -> None:
    before = kept_in(data)
    (tmp_path / "b.zip").write_bytes(content)
    assert "no backup of Fellside" in refused(capsys, "restore", tmp_path / "b.zip")
    assert kept_in(data) == before


@pytest.mark.parametrize("name", ["none.zip", "none/b.zip", ".", "a\0b"])
def test_restore_of_no_file_is_said(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path, name: str) -> None:
    assert "cannot be read" in refused(capsys, "restore", f"{tmp_path}/{name}")


def test_backup_of_no_log_is_said_and_makes_none(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = refused(capsys, "backup", tmp_path / "b.zip", "--data", tmp_path / "typo")
    assert "no data folder" in said
    assert list(tmp_path.iterdir()) == []


def test_the_root_of_the_disk_is_no_data_folder(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("FELLSIDE_DATABASE", raising=False)
    refused(capsys, "check", "--data", "/")
    assert "disk of its own" in refused(capsys, "restore", tmp_path / "b.zip", "--data", "/")


def test_backup_to_a_wrong_place_is_said(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path) -> None:
    assert "no folder" in refused(capsys, "backup", tmp_path / "none" / "b.zip")
    (tmp_path / "b.zip").write_text("mine")
    assert "left as it is" in refused(capsys, "backup", tmp_path / "b.zip")
    refused(capsys, "backup", tmp_path / ("x" * 300))


def test_a_folder_that_a_killed_restore_left_unmoved_is_found_again(
    capsys: pytest.CaptureFixture[str], data: Path
) -> None:
    before = kept_in(data)
    data.rename(data.with_name("data.restored"))
    assert run(capsys, "check")[0] == 0
    assert kept_in(data) == before


def test_copies_come_home_in_plain_words(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path) -> None:
    photo = picture(9)
    name = hashlib.sha256(photo).hexdigest()
    file = write_copy(tmp_path / "c.zip", [a_change(seq=1), a_change({"girth_mm": "x"}, seq=2)], {name: photo}, parts=2)
    with serve.hold_folder(data):
        status, out, err = run(capsys, "take-copy", file)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith(f"{file}, kept 1 March 2027, ")
    assert lines[0].endswith(", part 1 of 2:")
    assert lines[1:3] == ["  new: 2 changes, 1 photo", "  here already: 0 changes, 0 photos"]
    assert lines[3].startswith("! Kept and not applied: ")
    status, out, _ = run(capsys, "take-copy", file)
    assert "  new: 0 changes, 0 photos" in out.splitlines()


def test_one_bad_copy_among_others_stops_none(capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.zip").write_bytes(b"nonsense")
    good = write_copy(tmp_path / "c.zip", [a_change()])
    status, out, _ = run(capsys, "take-copy", tmp_path / "bad.zip", good, tmp_path / "none.zip")
    assert status == 1
    assert "  new: 1 change, 0 photos" in out
    assert "! bad.zip is no copy that a phone kept." in out
    assert "cannot be read" in out
    assert "no copy that a phone kept" in refused(capsys, "take-copy", tmp_path / "bad.zip")


def test_a_copy_of_another_home_is_taken_in_when_it_is_said(
    capsys: pytest.CaptureFixture[str], data: Path, tmp_path: Path
) -> None:
    file = write_copy(tmp_path / "c.zip", [a_change()], epoch="theirs", have={"somebody": 1})
    assert "another home" in refused(capsys, "take-copy", file)
    status, out, _ = run(capsys, "take-copy", file, "--anyway", "--json")
    assert (status, json.loads(out)["copies"][0]["changes_new"]) == (0, 1)
