"""One server a data folder."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from field.core.errors import StoreTrouble
from field.store import lock

HOLD = """
import sys
from field.store import lock
with lock.hold(sys.argv[1]):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_the_second_is_refused_in_words(tmp_path: Path) -> None:
    with lock.hold(tmp_path), pytest.raises(StoreTrouble, match="Another Fellside") as refused, lock.hold(tmp_path):
        pass
    assert refused.value.code == "in-use"


def test_after_the_first_the_next_may(tmp_path: Path) -> None:
    with lock.hold(tmp_path):
        pass
    with lock.hold(tmp_path):
        assert (tmp_path / "lock").exists()


def test_two_folders_do_not_meet(tmp_path: Path) -> None:
    with lock.hold(tmp_path / "a"), lock.hold(tmp_path / "b"):
        assert {path.name for path in tmp_path.iterdir()} == {"a", "b"}


def test_another_process_holds_it_and_its_death_lets_go(tmp_path: Path) -> None:
    root = Path(lock.__file__).parent.parent.parent
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)], cwd=root, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        with pytest.raises(StoreTrouble), lock.hold(tmp_path):
            pass
        holder.kill()
    with lock.hold(tmp_path):
        assert holder.returncode != 0


def test_a_folder_that_cannot_be_used_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreTrouble, match="cannot be used"), lock.hold(tmp_path / "file"):
        pass
