"""Half of the quick form of the chaos schedules; the other half is in test_chaos_two.py, for the other process."""

from __future__ import annotations

import chaos_kit
import pytest

pytestmark = pytest.mark.browser  # real processes, killed at any instant


def test_phones_and_home_agree_after_every_fault_and_nothing_is_lost() -> None:
    chaos_kit.run_schedules(first=0, seeds=chaos_kit.QUICK, browser_every=chaos_kit.BROWSER_EVERY)


def test_a_home_that_says_it_has_more_than_it_has_is_caught() -> None:
    chaos_kit.catch("home says it has more than it has")
