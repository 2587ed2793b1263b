"""Averaging fixes: weights, outliers, and an accuracy that promises no more than one receiver can."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.fix import average_fixes
from field.core.geodesy import distance_m, point_at

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "fix.json").read_text(encoding="utf-8"))


def a_fix(north_m: float = 0.0, east_m: float = 0.0, accuracy_m: float | None = 5.0, **more: object) -> dict:
    lat, lon = point_at(55.4, -3.4, 0.0, north_m)
    lat, lon = point_at(lat, lon, 90.0, east_m)
    return {"lat": lat, "lon": lon, "accuracy_m": accuracy_m, **more}


def off_m(got, north_m: float, east_m: float = 0.0) -> float:
    want = a_fix(north_m, east_m)
    return distance_m(got.lat, got.lon, want["lat"], want["lon"])


@pytest.mark.parametrize("case", FILE["cases"], ids=lambda case: case["name"])
def test_a_case_worked_by_hand_and_shared_with_the_phone(case: dict) -> None:
    got, want = average_fixes(case["fixes"]), case["expect"]
    assert (got.lat, got.lon) == pytest.approx((want["lat"], want["lon"]), abs=1e-9)
    for name in ("accuracy_m", "height_m"):
        assert getattr(got, name) == (None if want[name] is None else pytest.approx(want[name], abs=1e-6))
    assert (list(got.used), list(got.set_aside)) == (want["used"], want["set_aside"])


@pytest.mark.parametrize("row", FILE["refuses"], ids=lambda row: row["where"])
def test_a_refusal_shared_with_the_phone(row: dict) -> None:
    with pytest.raises(BadInput) as refused:
        average_fixes(row["fixes"])
    assert refused.value.where == row["where"]


def test_one_fix_stays_as_it_is() -> None:
    got = average_fixes([a_fix(height_m=312.0)])
    assert (got.lat, got.lon) == pytest.approx((55.4, -3.4), abs=1e-12)
    assert got.accuracy_m == 5.0
    assert got.height_m == 312.0
    assert got.used == (0,)
    assert got.set_aside == ()


def test_a_fix_twice_as_good_weighs_four_times() -> None:
    # By hand: weights 1/25 and 1/100, so (0 x 4 + 10 x 1) / 5 = 2 m.
    got = average_fixes([a_fix(0, accuracy_m=5), a_fix(10, accuracy_m=10)])
    assert off_m(got, 2.0) < 0.001


def test_accuracy_of_two_equal_fixes() -> None:
    # By hand: 5 / sqrt(2) = 3.5355; half the best is 2.5.
    got = average_fixes([a_fix(0), a_fix(1)])
    assert got.accuracy_m == pytest.approx(3.5355, abs=0.0001)


def test_accuracy_is_never_better_than_half_the_best() -> None:
    # By hand: 5 / sqrt(100) = 0.5, so 2.5 stands.
    got = average_fixes([a_fix(0.01 * i) for i in range(100)])
    assert got.accuracy_m == 2.5


def test_exactly_four_equal_fixes_reach_the_floor() -> None:
    assert average_fixes([a_fix() for _ in range(4)]).accuracy_m == pytest.approx(2.5, abs=1e-12)


@pytest.mark.parametrize(("north_m", "east_m"), [(60, 0), (0, -60), (-60, 60)])
def test_a_fix_far_off_is_set_aside(north_m: float, east_m: float) -> None:
    near = [a_fix(n, e) for n, e in ((0, 0), (1, 2), (-2, 1), (2, -1), (-1, -2))]
    got = average_fixes([*near, a_fix(north_m, east_m)])
    assert got.set_aside == (5,)
    assert off_m(got, 0.0) < 1.0


def test_three_scaled_mad_is_the_limit() -> None:
    # By hand: offsets 0, 1, 2, 3, 4, x northwards; with x large the median is 2.5 and the deviations are 0.5, 0.5,
    # 1.5, 1.5, 2.5, x - 2.5: MAD 1.5, limit 3 x 1.4826 x 1.5 = 6.672, so x may be up to 9.172.
    steps = [a_fix(n) for n in (0, 1, 2, 3, 4)]
    assert average_fixes([*steps, a_fix(9.1)]).set_aside == ()
    assert average_fixes([*steps, a_fix(9.2)]).set_aside == (5,)


def test_fixes_that_agree_to_the_last_digit_throw_out_no_close_one() -> None:
    got = average_fixes([a_fix(), a_fix(), a_fix(), a_fix(0.9)])
    assert got.set_aside == ()
    assert average_fixes([a_fix(), a_fix(), a_fix(), a_fix(1.1)]).set_aside == (3,)


def test_a_fix_without_accuracy_steps_back_behind_those_that_have_one() -> None:
    got = average_fixes([a_fix(0), a_fix(8, accuracy_m=None), a_fix(4, accuracy_m=0)])
    assert got.used == (0,)
    assert got.set_aside == (1, 2)


def test_fixes_without_accuracy_are_averaged_plainly_and_promise_nothing() -> None:
    got = average_fixes([a_fix(0, accuracy_m=None), a_fix(2, accuracy_m=None)])
    assert off_m(got, 1.0) < 0.001
    assert got.accuracy_m is None


def test_heights_are_averaged_of_those_that_have_one() -> None:
    # By hand: weights 1/25 and 1/100: (300 x 4 + 310) / 5 = 302.
    got = average_fixes([a_fix(0, height_m=300.0), a_fix(0, height_m=None), a_fix(0, accuracy_m=10, height_m=310.0)])
    assert got.height_m == pytest.approx(302.0, abs=1e-9)
    assert average_fixes([a_fix()]).height_m is None


def test_fixes_on_both_sides_of_the_180th_meridian() -> None:
    got = average_fixes(
        [{"lat": -16.5, "lon": 179.9999, "accuracy_m": 5}, {"lat": -16.5, "lon": -179.9999, "accuracy_m": 5}]
    )
    assert abs(abs(got.lon) - 180.0) < 1e-9


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(0.5, 80)), min_size=1, max_size=12))
def test_order_does_not_matter_and_something_is_always_used(rows: list[tuple[float, float, float]]) -> None:
    fixes = [a_fix(*row) for row in rows]
    got = average_fixes(fixes)
    assert got.used
    assert sorted(got.used + got.set_aside) == list(range(len(fixes)))
    shuffled = random.Random(7).sample(fixes, len(fixes))
    again = average_fixes(shuffled)
    assert distance_m(got.lat, got.lon, again.lat, again.lon) < 0.01
    assert got.accuracy_m is not None
    assert got.accuracy_m >= min(fixes[i]["accuracy_m"] for i in got.used) / 2
    assert math.isfinite(got.accuracy_m)


@pytest.mark.parametrize(
    ("fixes", "where"),
    [
        ([], "fixes"),
        ([{"lat": 91, "lon": 0, "accuracy_m": 5}], "fixes[0].lat"),
        ([{"lat": 55, "lon": -3, "accuracy_m": 5}, {"lat": 55, "lon": None}], "fixes[1].lon"),
        ([{"lat": 55, "lon": -3, "accuracy_m": -5}], "fixes[0].accuracy_m"),
        ([{"lat": 55, "lon": -3, "height_m": float("nan")}], "fixes[0].height_m"),
        ([{"lat": 55, "lon": -3, "height_m": "high"}], "fixes[0].height_m"),
    ],
)
def test_what_is_no_fix_is_refused(fixes: list[dict], where: str) -> None:
    with pytest.raises(BadInput) as refused:
        average_fixes(fixes)
    assert refused.value.where == where


def test_a_fix_right_on_the_limit_is_used_in_any_order() -> None:
    fixes = [a_fix(0.0, 0.0, 1.0)] * 7 + [a_fix(1.0, 0.0, 1.0)]  # 1 m off, where 1 m is the least spread
    for n in range(len(fixes)):
        assert len(average_fixes(fixes[n:] + fixes[:n]).used) == len(fixes)
