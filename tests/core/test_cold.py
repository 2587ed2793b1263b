"""A night's cold against a tree's line: the first year has its own, the unknown takes the careful one."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.cold import NEAR_C, judge_night, plan_frost_round
from field.core.errors import BadInput
from field.core.species import card_for_tree, load_cards

CARDS = load_cards()
BIRCH, BOX, OLIVE = CARDS["birch"], CARDS["box"], CARDS["olive"]
JANUARY = date(2027, 1, 15)
FRESH, OLD = date(2026, 3, 20), date(2024, 3, 20)


@pytest.mark.parametrize(
    ("tmin", "lifted_on", "answer"),
    # birch: -5 in the first year, -10 later (common practice)
    [(-5.0, FRESH, "shelter"), (-4.9, FRESH, "near"), (-2.1, FRESH, "near"), (-2.0, FRESH, "safe"),
     (-5.0, OLD, "safe"), (-7.5, OLD, "near"), (-10.0, OLD, "shelter"), (-5.0, None, "shelter")],
)  # fmt: skip
def test_below_at_and_above_the_line(tmin: float, lifted_on: date | None, answer: str) -> None:
    assert judge_night(BIRCH, tmin, JANUARY, lifted_on).answer == answer


def test_the_first_year_ends_after_365_days() -> None:
    assert judge_night(BIRCH, -6, FRESH + timedelta(days=364), FRESH).answer == "shelter"
    assert judge_night(BIRCH, -6, FRESH + timedelta(days=365), FRESH).answer == "safe"


def test_young_roots_that_die_warmer_than_the_line_move_it() -> None:
    # box: later years -6 (common practice); some of its group die near -4.4 (a professor's column, seen)
    got = judge_night(BOX, -4.4, JANUARY, OLD)
    assert (got.answer, got.line_c) == ("shelter", -4.4)
    assert "young-roots" in [one.code for one in got.reasons]


def test_a_kind_that_may_not_freeze_at_all_is_sheltered_above_nought() -> None:
    assert judge_night(OLIVE, 2, JANUARY, FRESH).answer == "shelter"


def test_a_cold_that_kills_old_roots_is_said_with_its_source() -> None:
    got = judge_night(BIRCH, -18, JANUARY, OLD)
    assert any(one.code == "root-kill" and "column" in one.text for one in got.reasons)
    assert "root-kill" not in [one.code for one in judge_night(BIRCH, -17, JANUARY, OLD).reasons]


def test_an_unknown_lift_and_an_unknown_kind_are_said() -> None:
    codes = [one.code for one in judge_night(card_for_tree(CARDS, "whitebeam"), -9, JANUARY, None).reasons]
    assert {"lift-not-known", "stands-in"} <= set(codes)


def test_autumn_cold_is_cautioned_and_turned_in_the_south() -> None:
    def codes(on: date, *, south: bool = False) -> list[str]:
        return [one.code for one in judge_night(BIRCH, -12, on, OLD, south=south).cautions]

    assert "not-hardened" in codes(date(2026, 10, 25))
    assert "not-hardened" not in codes(JANUARY)
    assert "not-hardened" in codes(date(2026, 4, 25), south=True)
    assert "not-hardened" not in codes(date(2026, 10, 25), south=True)


def test_a_shallow_box_is_cautioned_and_a_safe_night_is_quiet() -> None:
    assert "shallow-box" in [one.code for one in judge_night(BIRCH, -12, JANUARY, OLD, box_depth_cm=12).cautions]
    assert judge_night(BIRCH, 3, JANUARY, OLD, box_depth_cm=12).cautions == ()


def test_one_crossed_tree_makes_a_round_and_none_makes_none() -> None:
    trees = [("a", BIRCH, OLD), ("b", BIRCH, FRESH), ("c", OLIVE, OLD)]
    got = plan_frost_round(trees, -5, JANUARY)
    assert (got.is_due, got.shelter, got.near) == (True, ("b", "c"), ())
    assert not plan_frost_round(trees, -1, JANUARY).is_due
    assert plan_frost_round([], -30, JANUARY).is_due is False


@settings(max_examples=60)
@given(st.sampled_from(sorted(CARDS)), st.floats(-40, 20), st.floats(0, 20), st.sampled_from([FRESH, OLD, None]))
def test_a_colder_night_is_never_safer(kind: str, tmin: float, colder: float, lifted_on: date | None) -> None:
    order = ["safe", "near", "shelter"]
    mild, cold = (judge_night(CARDS[kind], one, JANUARY, lifted_on) for one in (tmin, tmin - colder))
    assert order.index(cold.answer) >= order.index(mild.answer)
    assert (mild.answer == "safe") == (tmin >= mild.line_c + NEAR_C)


@settings(max_examples=30)
@given(st.sampled_from(sorted(CARDS)), st.floats(-40, 20))
def test_the_first_year_is_never_judged_milder_than_later_ones(kind: str, tmin: float) -> None:
    assert judge_night(CARDS[kind], tmin, JANUARY, FRESH).line_c >= judge_night(CARDS[kind], tmin, JANUARY, OLD).line_c


@pytest.mark.parametrize("tmin", [-91, 61, float("nan")])
def test_a_night_that_never_was_is_refused(tmin: float) -> None:
    with pytest.raises(BadInput):
        judge_night(BIRCH, tmin, JANUARY, OLD)


def test_nought_has_no_minus() -> None:
    for tmin in (-0.0, -0.04, 0.04):
        assert judge_night(OLIVE, tmin, JANUARY, FRESH).reasons[0].text.startswith("0 °C ")


@pytest.mark.parametrize(
    ("lifted_on", "whose"), [(FRESH, "in the first year."), (OLD, "after the first year."), (None, "is not known.")]
)
def test_the_line_says_which_of_a_kinds_lines_it_is(lifted_on: date | None, whose: str) -> None:
    assert judge_night(CARDS["birch"], -6, JANUARY, lifted_on).reasons[0].text.endswith(whose)
