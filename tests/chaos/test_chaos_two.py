"""The other half of the quick form of the chaos schedules, and some on the server that people run."""

from __future__ import annotations

import chaos_kit
import pytest

pytestmark = pytest.mark.browser  # real processes, killed at any instant


def test_phones_and_home_agree_after_every_fault_and_nothing_is_lost() -> None:
    chaos_kit.run_schedules(first=chaos_kit.QUICK, seeds=chaos_kit.QUICK, browser_every=chaos_kit.BROWSER_EVERY)


def test_a_home_served_as_people_run_it_and_killed_at_any_instant_loses_nothing() -> None:
    chaos_kit.run_schedules(first=7, seeds=chaos_kit.QUICK_REAL, real=True)
