"""The epoch: one name for one unbroken life of the store."""

from __future__ import annotations

import shutil
import uuid
from pathlib import Path

import pytest
from builders import a_site
from flask import Flask

from field.services.take_in_changes import current_epoch
from field.services.write_changes import write_changes
from field.store import db, devices


def opened(data_dir: Path, database_url: str | None) -> tuple[str, str]:
    """Open a store, write something, and return its epoch and its own device."""
    house = Flask("house")
    db.init_app(house, database_url, data_dir)
    with house.app_context():
        write_changes([("site", None, a_site())])
        found = current_epoch(), devices.own_device(db.db.session())
    db.close(house)
    return found


def test_it_stays_over_restarts(data_dir: Path, database_url: str | None) -> None:
    first = opened(data_dir, database_url)
    assert opened(data_dir, database_url) == first
    assert str(uuid.UUID(first[0])) == first[0]


def test_it_is_written_beside_the_database(data_dir: Path, database_url: str | None) -> None:
    epoch, _ = opened(data_dir, database_url)
    assert (data_dir / "epoch").read_text().split()[0] == epoch


@pytest.mark.parametrize("content", [None, "", "another life\n", "00000000-0000-4000-8000-000000000000 12\n", "\xff"])
def test_a_file_that_does_not_fit_begins_a_new_one_and_a_new_device(
    data_dir: Path, database_url: str | None, content: str | None
) -> None:
    first = opened(data_dir, database_url)
    if content is None:
        (data_dir / "epoch").unlink()
    else:
        (data_dir / "epoch").write_text(content, encoding="latin-1")
    second = opened(data_dir, database_url)
    assert first[0] != second[0]
    assert first[1] != second[1]
    assert opened(data_dir, database_url) == second


def test_a_copied_data_folder_is_another_life(data_dir: Path, tmp_path: Path) -> None:
    first = opened(data_dir, None)
    shutil.copytree(data_dir, tmp_path / "copy")
    assert opened(tmp_path / "copy", None)[0] != first[0]
    assert opened(data_dir, None) == first


def test_a_moved_data_folder_is_the_same_life(data_dir: Path, tmp_path: Path) -> None:
    first = opened(data_dir, None)
    data_dir.rename(tmp_path / "moved")
    assert opened(tmp_path / "moved", None) == first


def test_a_database_put_back_from_before_its_epoch_is_another_life(data_dir: Path, tmp_path: Path) -> None:
    opened(data_dir, None)
    shutil.copy(data_dir / "fellside.sqlite", tmp_path / "old")
    (data_dir / "epoch").unlink()
    second = opened(data_dir, None)
    shutil.copy(tmp_path / "old", data_dir / "fellside.sqlite")
    assert opened(data_dir, None)[0] != second[0]
