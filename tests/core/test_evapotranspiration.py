"""What the air takes: never less than nothing, more in the warm, and nonsense refused in one sentence."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.evapotranspiration import daylight_h, drying_of_day, hargreaves_mm, radiation_mj

DAYS = st.integers(0, 1460).map(lambda n: date(2023, 1, 1) + timedelta(days=n))


@settings(max_examples=100)
@given(st.floats(-90, 90), DAYS, st.floats(-90, 60), st.floats(-90, 60))
def test_nothing_is_ever_below_nothing(lat: float, on: date, one: float, other: float) -> None:
    got = drying_of_day(min(one, other), max(one, other), lat, on)
    assert 0 <= got.ra_mj_m2_d < 60
    assert 0 <= got.daylight_h <= 24
    assert 0 <= got.et0_mm_d < 30


@settings(max_examples=50)
@given(st.floats(0, 15), st.floats(0, 20), st.floats(0.1, 10))
def test_a_warmer_afternoon_takes_more(tmin: float, span: float, more: float) -> None:
    assert hargreaves_mm(tmin, tmin + span + more, 30) > hargreaves_mm(tmin, tmin + span, 30)


@settings(max_examples=50)
@given(st.floats(-65, 65), DAYS)
def test_day_and_night_of_the_two_hemispheres_make_24_hours(lat: float, on: date) -> None:
    assert abs(daylight_h(lat, on) + daylight_h(-lat, on) - 24) < 1e-9


def test_far_north_is_cautioned_and_farther_south_is_not() -> None:
    def codes(lat: float) -> list[str]:
        return [one.code for one in drying_of_day(5, 15, lat, date(2026, 6, 1)).cautions]

    assert codes(55.1) == codes(-55.1) == ["high-latitude", "wind", "humid"]
    assert codes(55.0) == ["wind", "humid"]


@pytest.mark.parametrize(
    ("tmin", "tmax", "lat", "where"),
    [
        (5, 15, 91, "lat"),
        (5, 15, float("nan"), "lat"),
        (15, 5, 52, "tmin"),
        (-91, 5, 52, "tmin"),
        (5, 61, 52, "tmax"),
        (float("nan"), 5, 52, "tmin"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(tmin: float, tmax: float, lat: float, where: str) -> None:
    with pytest.raises(BadInput) as refused:
        drying_of_day(tmin, tmax, lat, date(2026, 6, 1))
    assert refused.value.where == where
    assert refused.value.message.endswith(".")


def test_the_last_day_of_a_leap_year_is_much_like_that_of_another() -> None:
    # FAO-56 counts days of the year; 31 December of a leap year is its 366th
    assert radiation_mj(50.8, date(2024, 12, 31)) == pytest.approx(radiation_mj(50.8, date(2023, 12, 31)), abs=0.1)
