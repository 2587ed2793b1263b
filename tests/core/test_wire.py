"""Wire: thick enough and stocked, long enough with its anchor, looked at in time, and cut off, never unwound."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.species import load_cards
from field.core.wire import (
    BITES,
    LOOK_DAYS,
    SIZES_MM,
    growth_begins,
    growth_pace,
    judge_wire,
    look_days,
    next_look,
    plan_wire,
    plan_wire_dates,
)

CARDS = load_cards()


@pytest.mark.parametrize(
    ("branch", "material", "sizes"),
    [(6, "aluminium", (2.0, 2.5, 3.0)), (6, "copper", (2.0,)), (9, "copper", (3.0,)), (4, "copper", (1.5,)),
     (12, "aluminium", (4.0, 5.0, 6.0)), (18, "aluminium", (6.0,)), (30, "aluminium", (6.0,)), (1, "copper", (1.0,))],
)  # fmt: skip
def test_stocked_sizes_between_a_third_and_a_half(branch: float, material: str, sizes: tuple[float, ...]) -> None:
    assert plan_wire(branch, 300, material).sizes_mm == sizes


def test_a_branch_too_thick_or_thin_for_stocked_wire_is_said() -> None:
    def codes(branch: float) -> list[str]:
        return [one.code for one in plan_wire(branch, 300, "aluminium").cautions]

    assert "too-thick" in codes(19)
    assert "too-thick" not in codes(18)
    assert "too-thin" in codes(1)
    assert codes(6)[0] == "cut-off"


def test_never_unwind_is_always_said() -> None:
    assert "never unwind" in plan_wire(5, 200, "copper").cautions[0].text


def test_length_is_half_as_much_again_and_its_anchor() -> None:
    assert plan_wire(6, 400, "aluminium").length_mm == 700
    # two turns round a stem of 20 mm: 2 x pi x 20 = 125.7
    assert plan_wire(6, 400, "aluminium", 20).length_mm == pytest.approx(725.7, abs=0.1)


def test_birch_is_looked_at_after_two_weeks_and_off_within_ten() -> None:
    # trade: fast growers 6 to 10 weeks, looked at every 2
    got = plan_wire_dates(CARDS["birch"], date(2026, 9, 1))
    assert (got.pace, got.first_look_on) == ("fast", date(2026, 9, 15))
    assert (got.off_from, got.off_by) == (date(2026, 10, 13), date(2026, 11, 10))


def test_wire_put_on_while_nothing_grows_counts_its_weeks_from_the_end_of_rest() -> None:
    # common practice, no source: growth begins the clock; November to February nothing thickens
    winter = plan_wire_dates(CARDS["birch"], date(2026, 11, 27))
    assert winter.counts_from == date(2027, 3, 1)
    assert (winter.off_from, winter.off_by) == (date(2027, 4, 12), date(2027, 5, 10))  # 6 and 10 weeks
    assert winter.first_look_on == date(2026, 12, 11)  # looked at all the same
    assert judge_wire(CARDS["birch"], date(2026, 11, 27), [], date(2027, 2, 28)).answer == "look"
    assert growth_begins(date(2028, 2, 29)) == date(2028, 3, 1)
    assert growth_begins(date(2026, 10, 31)) == date(2026, 10, 31)
    assert growth_begins(date(2026, 5, 31), south=True) == date(2026, 9, 1)
    assert growth_begins(date(2026, 12, 1), south=True) == date(2026, 12, 1)


@pytest.mark.parametrize(
    ("kind", "pace"),
    [("willow", "fast"), ("elm", "fast"), ("field-maple", "fast"), ("birch", "fast"), ("hawthorn", "medium"),
     ("hornbeam", "medium"), ("beech", "medium"), ("larch", "medium"), ("scots-pine", "slow"), ("juniper", "slow"),
     ("yew", "slow")],
)  # fmt: skip
def test_paces_are_those_of_the_trade(kind: str, pace: str) -> None:
    assert growth_pace(CARDS[kind]) == pace


def test_in_may_to_july_every_kind_is_looked_at_weekly_and_in_the_south_in_november_to_january() -> None:
    for pace in LOOK_DAYS:
        assert next_look(date(2026, 6, 1), pace) == date(2026, 6, 8)
        assert next_look(date(2026, 12, 1), pace, south=True) == date(2026, 12, 8)


def test_a_long_interval_never_runs_past_the_first_of_may() -> None:
    assert next_look(date(2026, 4, 10), "slow") == date(2026, 5, 1)
    assert next_look(date(2026, 4, 28), "slow") == date(2026, 5, 5)
    assert next_look(date(2026, 9, 1), "slow") == date(2026, 10, 27)


@settings(max_examples=60)
@given(st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.sampled_from(sorted(LOOK_DAYS)), st.booleans())
def test_looks_are_a_week_to_the_interval_apart(on: date, pace: str, south: bool) -> None:
    days = [on, *look_days(on, pace, on + timedelta(days=500), south=south)]
    gaps = [(after - before).days for before, after in pairwise(days)]
    assert min(gaps) == 7
    assert max(gaps) <= LOOK_DAYS[pace]


@settings(max_examples=50)
@given(st.floats(0.5, 60), st.floats(0.1, 20), st.sampled_from(["aluminium", "copper"]))
def test_a_thicker_branch_never_wants_thinner_wire(branch: float, more: float, material: str) -> None:
    thin, thick = plan_wire(branch, 300, material), plan_wire(branch + more, 300, material)
    assert thick.sizes_mm[-1] >= thin.sizes_mm[-1]
    assert set(thin.sizes_mm) <= set(SIZES_MM)
    assert thin.mass_g[0] <= thin.mass_g[1]


@pytest.mark.parametrize(
    ("branch", "length", "material", "anchor"),
    [(0, 300, "copper", None), (101, 300, "copper", None), (float("nan"), 300, "copper", None), (5, 0, "copper", None),
     (5, 300, "iron", None), (5, 300, "copper", 0)],
)  # fmt: skip
def test_nonsense_is_refused(branch: float, length: float, material: str, anchor: float | None) -> None:
    with pytest.raises(BadInput):
        plan_wire(branch, length, material, anchor)


ON = date(2026, 9, 1)  # on a birch: first look on 15 September, off by 10 November


@pytest.mark.parametrize(
    ("looks", "today", "answer", "look_on"),
    [([], date(2026, 9, 14), "wait", date(2026, 9, 15)), ([], date(2026, 9, 15), "look", date(2026, 9, 15)),
     ([(date(2026, 9, 10), "none")], date(2026, 9, 15), "wait", date(2026, 9, 24)),
     ([(date(2026, 9, 10), "none"), (date(2026, 9, 20), "begins")], date(2026, 9, 21), "begins", date(2026, 10, 4)),
     ([(date(2026, 9, 20), "begins"), (date(2026, 9, 20), "none")], date(2026, 9, 21), "begins", date(2026, 10, 4)),
     ([(date(2026, 9, 20), "bitten")], date(2026, 12, 1), "bitten", date(2026, 10, 4)),
     ([(date(2026, 11, 8), "none")], date(2026, 11, 10), "wait", date(2026, 11, 22)),
     ([(date(2026, 11, 8), "none")], date(2026, 11, 11), "over", date(2026, 11, 22))],
)  # fmt: skip
def test_what_wire_wants_hangs_on_the_last_look_and_its_longest_time(
    looks: list[tuple[date, str]], today: date, answer: str, look_on: date
) -> None:
    got = judge_wire(CARDS["birch"], ON, looks, today)
    assert (got.answer, got.look_on) == (answer, look_on)
    if answer in BITES:
        assert got.text == BITES[answer].text
