"""The same checks that DEVELOPERS.md tells a builder to run: ruff, its format, and mypy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize(
    "line",
    [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy", "field")],
    ids=lambda line: " ".join(line),
)
def test_builder_check_is_clean(line: tuple[str, ...]) -> None:
    got = subprocess.run([sys.executable, "-m", *line], cwd=ROOT, capture_output=True, text=True, check=False)
    assert got.returncode == 0, got.stdout + got.stderr
