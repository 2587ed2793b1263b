"""Degree days: never below nothing, more when warmer, and a gap that is told."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.heat import average_degree_days, sine_degree_days, sum_degree_days
from field.core.weather import Day

TEMPS = st.floats(-40, 50)
SPANS = st.floats(0, 40)


@settings(max_examples=100)
@given(TEMPS, SPANS, st.floats(-10, 20))
def test_a_sine_is_never_below_the_average_nor_above_the_whole_swing(low: float, span: float, base: float) -> None:
    sine = sine_degree_days(low, low + span, base)
    assert average_degree_days(low, low + span, base) - 1e-9 <= sine <= max(0.0, low + span - base) + 1e-9


@settings(max_examples=100)
@given(TEMPS, SPANS, st.floats(-10, 20), st.floats(0, 5), st.floats(0.1, 30))
def test_warmer_never_counts_less_and_a_cut_off_never_more(
    low: float, span: float, base: float, warmer: float, room: float
) -> None:
    sine = sine_degree_days(low, low + span, base)
    assert sine_degree_days(low + warmer, low + span + warmer, base) >= sine - 1e-9
    cut = sine_degree_days(low, low + span, base, base + room)
    assert 0 <= cut <= min(sine, room) + 1e-9


def test_the_sum_tells_its_missing_days() -> None:
    first = date(2026, 3, 1)
    days = [Day(first + timedelta(days=n), 6, 10) for n in (0, 1, 3)]
    got = sum_degree_days(days, first, first + timedelta(days=3))
    assert (got.logged, got.filled, got.days_missing) == (9, 12, 1)


def test_thresholds_the_wrong_way_round_are_refused() -> None:
    for way in (average_degree_days, sine_degree_days):
        with pytest.raises(BadInput):
            way(1, 10, 12, 5)
