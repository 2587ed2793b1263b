"""Where the real camera files and tracks are, which may not be committed with the project."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent


def find_real_files() -> Path | None:
    """Return the folder with the real photos and tracks, or None where this checkout does not have it beside it."""
    named = os.environ.get("FELLSIDE_SHARED_VECTORS")
    folder = Path(named) if named else ROOT.parent / "shared" / "vectors"
    return folder if (folder / "exif" / "answers.json").exists() else None


@pytest.fixture(scope="session")
def real_files() -> Path:
    folder = find_real_files()
    if folder is None:
        if os.environ.get("FELLSIDE_NEEDS_REAL_FILES"):
            pytest.fail("the real camera files and tracks are asked for, and are not there")
        pytest.skip("real camera files and tracks are not part of this checkout: left out")
    return folder
