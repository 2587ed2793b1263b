"""The file of a backup: damage of any kind is found before anything is put back, and said in one sentence."""

from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from copy_kit import write_copy

from field.core.errors import BadInput
from field.store import archive

PHOTO = b"a picture " * 30
PHOTO_NAME = f"photos/{hashlib.sha256(PHOTO).hexdigest()[:2]}/{hashlib.sha256(PHOTO).hexdigest()}"
ROWS = [{"dev": "x", "seq": number, "op": "{}"} for number in range(5)]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A small whole backup."""
    path = tmp_path / "backup.zip"
    with path.open("xb") as out, archive.writing(out) as writer:
        writer.add_lines("books/journal.jsonl", ROWS)
        writer.add(PHOTO_NAME, [PHOTO[:100], PHOTO[100:]])
        writer.finish({"made_at": "2027-03-01T09:00:00.000Z"})
    return path


def read(path: Path) -> dict[str, Any]:
    """Return all that a backup says, verified."""
    with archive.opened(path) as backup:
        backup.verify()
        return {
            "facts": backup.facts,
            "rows": list(backup.rows("books/journal.jsonl")),
            "photo": b"".join(backup.pieces(PHOTO_NAME)),
        }


def test_what_was_written_is_read(file: Path) -> None:
    assert read(file) == {
        "facts": {"fellside_backup": 1, "made_at": "2027-03-01T09:00:00.000Z"},
        "rows": ROWS,
        "photo": PHOTO,
    }


def test_any_unzip_can_open_it(file: Path) -> None:
    with zipfile.ZipFile(file) as zip_:
        assert zip_.testzip() is None
        assert zip_.read(PHOTO_NAME) == PHOTO
        assert b"restore" in zip_.read("READ-ME.txt")
        assert json.loads(zip_.read("manifest.json"))["members"][PHOTO_NAME]["size_bytes"] == len(PHOTO)


def test_no_single_byte_can_change_unseen(file: Path) -> None:
    whole, before = file.read_bytes(), read(file)
    found = 0
    for at in range(len(whole)):
        damaged = bytearray(whole)
        damaged[at] ^= 0x10 | (at & 0x0F)
        file.write_bytes(damaged)
        try:
            told = read(file)
        except BadInput:
            found += 1
        else:
            # What a flipped byte of a date or a right leaves readable is read as it was.
            assert told == before, at
    assert found > len(whole) * 3 // 4


def test_one_that_broke_off_is_refused_wherever(file: Path) -> None:
    whole = file.read_bytes()
    for length in range(len(whole)):
        file.write_bytes(whole[:length])
        with pytest.raises(BadInput, match=r"damaged|no backup"):
            read(file)


def test_damage_is_told_from_a_file_that_never_was_one(file: Path, tmp_path: Path) -> None:
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(BadInput, match="broke off") as refused:
        read(file)
    assert refused.value.code == "backup-damaged"
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as zip_:
        zip_.writestr("notes.txt", "mine")
    for content in (other.read_bytes(), b"", b"nonsense", whole[100:]):
        other.write_bytes(content)
        with pytest.raises(BadInput) as refused:
            read(other)
        assert refused.value.code in ("no-backup", "backup-damaged")
    with pytest.raises(BadInput, match="no backup of Fellside"):
        read(Path(__file__))


def made_again(file: Path, change: dict[str, Any]) -> Path:
    """Write a backup anew with another manifest, sealed as a good one."""
    with zipfile.ZipFile(file) as zip_:
        members = {name: zip_.read(name) for name in zip_.namelist()}
    manifest = json.dumps(json.loads(members.pop("manifest.json")) | change).encode()
    with zipfile.ZipFile(file, "w") as zip_:
        for name, content in members.items():
            zip_.writestr(name, content)
        zip_.writestr("manifest.json", manifest)
        zip_.comment = b"manifest sha256 " + hashlib.sha256(manifest).hexdigest().encode()
    return file


def test_one_of_a_newer_form_is_refused_with_its_cure(file: Path) -> None:
    with pytest.raises(BadInput, match="newer") as refused:
        read(made_again(file, {"fellside_backup": 2}))
    assert refused.value.cure is not None
    assert "Update" in refused.value.cure


@pytest.mark.parametrize(
    "change",
    [
        {"members": {}},
        {"members": {"../../outside": {"sha256": "0" * 64, "size_bytes": 1}}},
        {"members": None},
        {"members": []},
        {"fellside_backup": "one"},
        {"fellside_backup": None},
    ],
    ids=str,
)
def test_a_manifest_that_does_not_fit_its_members_is_refused(file: Path, change: dict[str, Any]) -> None:
    with pytest.raises(BadInput):
        read(made_again(file, change))


def test_a_member_too_many_is_refused(file: Path) -> None:
    with zipfile.ZipFile(file, "a") as zip_:
        comment = zip_.comment
        zip_.writestr("photos/more.jpg", b"more")
        zip_.comment = comment
    with pytest.raises(BadInput, match="damaged"):
        read(file)


@pytest.mark.parametrize("name", ["none.zip", ".", "a\0b"])
def test_no_file_is_said_so(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="cannot be read"):
        read(tmp_path / name)


@pytest.mark.parametrize(
    "line", [b"[]\n", b"nonsense\n", b"{}", b"\xff\n", b"[" * 100_000 + b"\n"], ids=lambda one: one[:5]
)
def test_a_book_that_is_no_rows_is_refused(tmp_path: Path, line: bytes) -> None:
    path = tmp_path / "backup.zip"
    with path.open("xb") as out, archive.writing(out) as writer:
        writer.add("books/journal.jsonl", [line])
        writer.finish({})
    with archive.opened(path) as backup:
        backup.verify()
        with pytest.raises(BadInput, match="damaged"):
            list(backup.rows("books/journal.jsonl"))


def test_a_backup_taken_for_a_copy_is_called_what_it_is_and_how_it_is_put_back(file: Path) -> None:
    for cut in (0, 9):  # also one that broke off
        file.write_bytes(file.read_bytes()[: file.stat().st_size - cut])
        with (
            pytest.raises(BadInput, match="is a backup of a whole home") as refused,
            archive.opened(file, archive.COPY),
        ):
            pass
        assert refused.value.code == "no-copy"
        assert "fellside restore FILE" in str(refused.value.cure)


def test_a_copy_taken_for_a_backup_is_called_what_it_is_and_how_it_is_taken_in(tmp_path: Path) -> None:
    copy = write_copy(tmp_path / "c.zip")
    with pytest.raises(BadInput, match="is a copy that one phone kept") as refused, archive.opened(copy):
        pass
    assert refused.value.code == "no-backup"
    assert "fellside take-copy FILE" in str(refused.value.cure)
