"""What tests of the command line share: one call, its sentence when it is wrong, and a reader without rights."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from field import cli

NOBODY = 65534


@contextmanager
def nobody(path: Path) -> Iterator[None]:
    """Act as one who may not read a file or folder; the machine's owner may read all, and steps down for it."""
    mode = path.stat().st_mode & 0o777
    path.chmod(0)
    before = os.geteuid()
    if before == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(before)
        path.chmod(mode)


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    """Run one call; return its status and what it said on standard output and standard error."""
    try:
        status = cli.main(list(map(str, words)))
    except SystemExit as ended:
        status = int(str(ended.code))
    said = capsys.readouterr()
    return status, said.out, said.err


def refused(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    """Run a call that is wrong; return its one sentence."""
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, ""), (status, out, err)
    assert err.count("\n") == 1, err
    assert "Traceback" not in err
    assert "fault of Fellside" not in err
    return err
