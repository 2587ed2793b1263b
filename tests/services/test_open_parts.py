"""Beginnings of files: let go when nobody goes on with them, never so many that they fill the disk."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from field.core.errors import Busy, NotAllowed
from field.services import keep_blob, open_parts
from field.store import db, photos

NOW = dt.datetime.now(dt.UTC)
PHONE, OTHER = "0f8fad5b-d9cb-469f-a165-70867728950e", "7c9e6679-7425-40de-944b-e07fc1f90ae7"
A_MEGABYTE = 1_000_000


@pytest.fixture
def house(data_dir: Path) -> Iterator[Flask]:
    made = Flask("house")
    db.init_app(made, None, data_dir)
    with made.app_context():
        yield made
    db.close(made)


def name_of(n: int) -> str:
    return hashlib.sha256(b"%d" % n).hexdigest()


def begin(n: int, device: str | None = PHONE, data: bytes = b"beginning") -> str:
    keep_blob.append(name_of(n), 0, A_MEGABYTE, io.BytesIO(data), device)
    return name_of(n)


def touched(sha256: str, before: dt.timedelta) -> None:
    """Have a beginning be as old as that."""
    at = (NOW - before).timestamp()
    os.utime(photos.part_path(db.photos_dir(), sha256), (at, at))


def lying() -> set[str]:
    return {path.name for path in (db.photos_dir() / "parts").iterdir()}


def test_a_beginning_goes_when_nobody_went_on_with_it_for_thirty_days(house: Flask) -> None:
    old, just, new = (begin(n) for n in range(3))
    touched(old, dt.timedelta(days=30, minutes=1))
    touched(just, dt.timedelta(days=29, hours=23))
    assert open_parts.drop_left(NOW) == 1
    assert lying() == {just, new}
    keep_blob.append(old, 0, A_MEGABYTE, io.BytesIO(b"begun anew"))
    assert keep_blob.offset(old).offset == 10


def test_what_is_written_at_this_moment_is_left_alone(house: Flask) -> None:
    old = begin(1)
    touched(old, dt.timedelta(days=99))
    with photos.one_writer.hold(old):
        assert open_parts.drop_left(NOW) == 0
    assert lying() == {old}


def test_whole_files_and_what_is_not_ours_are_left_alone(house: Flask) -> None:
    whole = keep_blob.keep_bytes(b"abc")
    mine = db.photos_dir() / "parts" / "a note of mine"
    mine.write_text("kept")
    os.utime(mine, (0, 0))
    os.utime(photos.blob_path(db.photos_dir(), whole), (0, 0))
    assert open_parts.drop_left(NOW) == 0
    assert keep_blob.open_blob(whole).path.read_bytes() == b"abc"
    assert lying() == {"a note of mine"}


def test_a_phone_that_begins_ever_more_loses_its_own_oldest_and_nobody_else_does(house: Flask) -> None:
    of_other = begin(1000, OTHER)
    begun = [begin(n) for n in range(open_parts.MOST_OF_ONE + 3)]
    assert lying() == {of_other, *begun[3:]}
    for n in range(3, open_parts.MOST_OF_ONE + 3):  # going on with each of them makes none of them go
        keep_blob.append(name_of(n), 9, A_MEGABYTE, io.BytesIO(b"more"), PHONE)
    assert lying() == {of_other, *begun[3:]}


def test_where_there_are_too_many_those_of_yesterday_go_first_and_new_ones_wait(
    house: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(open_parts, "MOST", 3)
    begun = [begin(n, f"phone {n}") for n in range(3)]
    with pytest.raises(Busy) as refused:
        begin(3)
    assert refused.value.code == "many-parts"
    assert lying() == set(begun)
    keep_blob.append(begun[0], 9, A_MEGABYTE, io.BytesIO(b"more"))  # what was begun can be gone on with
    touched(begun[1], dt.timedelta(days=1, minutes=1))
    new = begin(3)
    assert lying() == {begun[0], begun[2], new}


def test_the_bytes_of_all_beginnings_are_bounded(house: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(open_parts, "MOST_BYTES", 200_000)
    begin(1, PHONE, b"x" * 199_999)
    begin(2, OTHER, b"x")
    with pytest.raises(Busy):
        begin(3)


def test_a_file_that_was_forgotten_while_it_came_in_leaves_nothing(
    house: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = b"of somebody"
    gone: list[bool] = []

    class ForgottenMeanwhile(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            gone.append(True)
            return super().read(size)

    monkeypatch.setattr(keep_blob, "is_forgotten", lambda _sha256: bool(gone))
    sha256 = hashlib.sha256(data).hexdigest()
    with pytest.raises(NotAllowed):
        keep_blob.append(sha256, 0, len(data), ForgottenMeanwhile(data))
    assert lying() == set()
    assert not keep_blob.is_here(sha256)
