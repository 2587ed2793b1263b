"""Backups and restores killed at seeded random moments; `python tests/kill_backup.py 200` does it more often."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from kill_backup import SEED, Killer, kill_backups, kill_restores

pytestmark = pytest.mark.browser  # real processes, watched and killed

MOMENTS = 20  # of each


def test_nothing_answered_is_missing_and_no_half_backup_has_a_name(tmp_path: Path) -> None:
    with Killer() as killer:
        assert kill_backups(killer, tmp_path, MOMENTS, random.Random(SEED)) > 0


def test_a_killed_restore_leaves_the_old_log_or_the_new_one_whole(tmp_path: Path) -> None:
    with Killer() as killer:
        stood = kill_restores(killer, tmp_path, MOMENTS, random.Random(SEED))
    assert sum(stood.values()) == MOMENTS
    assert min(stood.values()) > 0
