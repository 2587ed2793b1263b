"""What is noted on a tree's page and no card knows of: the plan stays what it was without it."""

from __future__ import annotations

import pytest
from care_kit import a_history, a_work, an_event, plan

ON, NEXT_DAY = "2027-05-10", "2027-05-11"
BARE = plan(history=a_history(), today=NEXT_DAY)


@pytest.mark.parametrize("kind", ["wilt", "pest_or_disease", "other", "a kind of a newer phone", ""])
def test_an_event_that_no_card_knows_moves_no_date(kind: str) -> None:
    assert plan(history=a_history(events=[an_event(kind, ON)]), today=NEXT_DAY) == BARE


@pytest.mark.parametrize("kind", ["water", "other", "a kind of a newer phone", ""])
def test_a_work_that_no_card_knows_moves_no_date(kind: str) -> None:
    assert plan(history=a_history(works=[a_work(kind, ON)]), today=NEXT_DAY) == BARE


def test_those_that_it_knows_do() -> None:
    assert plan(history=a_history(events=[an_event("flush_hardened", ON)]), today=NEXT_DAY) != BARE
    assert plan(history=a_history(works=[a_work("wire", ON)]), today=NEXT_DAY) != BARE
