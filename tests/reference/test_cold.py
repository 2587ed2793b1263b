"""Lines to shelter by against root temperatures that were published: prudent means warmer than what kills."""

from __future__ import annotations

from datetime import date

import pytest

from field.core.cold import judge_night
from field.core.species import load_cards

CARDS = load_cards()


@pytest.mark.parametrize(
    ("kind", "young_die_c"),
    # Young roots: yew near -8 (Studer et al. 1978 [memory]); box: some of its group near -4.4 (a column, seen)
    [("yew", -8.0), ("box", -4.4)],
)
def test_no_line_lies_below_what_kills_young_roots(kind: str, young_die_c: float) -> None:
    for lifted_on in (date(2026, 3, 1), date(2020, 3, 1), None):
        assert judge_night(CARDS[kind], 0, date(2027, 1, 1), lifted_on).line_c >= young_die_c


@pytest.mark.parametrize(
    ("kind", "killed_c"),
    # birch -17.8 (column, seen); box -9.4, yew hybrid -12.2, juniper -17.8 (Havis 1976 [memory]); Scots pine seedlings,
    # half lost at -20 in January (Lindström and Stattin 1994, seen: abstract)
    [("birch", -17.8), ("box", -9.4), ("yew", -12.2), ("juniper", -17.8), ("scots-pine", -20.0)],
)
def test_every_line_is_warmer_than_what_kills_old_roots(kind: str, killed_c: float) -> None:
    assert judge_night(CARDS[kind], 0, date(2027, 1, 1), date(2020, 3, 1)).line_c > killed_c
