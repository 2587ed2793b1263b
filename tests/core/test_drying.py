"""How long a box may last: a range with reasons, the larger of crown and box, and never an order."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.drying import COEFFICIENTS, box_drying, usual_depth_cm
from field.core.errors import BadInput
from field.core.materials import read_mix

MIX = read_mix("pumice=50,bark=30,peat=20")


def test_use_and_store_by_hand() -> None:
    # 4 mm on a crown of 0.8 m across, 0.5027 m2, times 0.8 to 1.2: 1.61 to 2.41 L a day
    # peat alone, 40 L, 15.2 cm deep: 87 % x (0.58 / 0.86 to 0.80 / 0.9333) x 40 x 0.5
    got = box_drying(read_mix("peat=1"), 40, 80, 4.0, state="recovering", depth_cm=15.2)
    assert got.use_l_d == pytest.approx((1.608, 2.413), abs=0.001)
    assert got.available_l == pytest.approx((11.735, 14.914), abs=0.05)
    assert got.interval_d == pytest.approx((11.735 / 2.413, 14.914 / 1.608), abs=0.05)
    assert got.area_of == "crown"


def test_a_small_crown_is_reckoned_by_the_top_of_its_box() -> None:
    got = box_drying(MIX, 40, 10, 4.0, depth_cm=20)
    assert got.area_of == "box"
    assert got.area_m2 == pytest.approx(0.2)


def test_a_state_that_is_not_told_spans_all_of_them_and_says_so() -> None:
    got = box_drying(MIX, 40, 60, 3.0)
    assert got.interval_d is not None
    ends = [one for one in got.by_state.values() if one is not None]
    assert got.interval_d == (min(low for low, _ in ends), max(high for _, high in ends))
    assert any("not told" in one.text for one in got.why)


def test_air_that_takes_nothing_gives_no_number_of_days() -> None:
    got = box_drying(MIX, 40, 60, 0.0)
    assert got.interval_d is None
    assert "no-drying" in [one.code for one in got.cautions]


def test_it_is_never_an_order_to_water() -> None:
    got = box_drying(MIX, 40, 60, 3.0)
    assert got.cautions[0].code == "weigh-and-feel"
    assert "weigh the box" in got.cautions[0].text


def test_a_thirsty_kind_is_told_and_a_dry_one_is_not() -> None:
    assert "thirsty" in [one.code for one in box_drying(MIX, 40, 60, 3.0, moisture_1_5=5).cautions]
    assert "thirsty" not in [one.code for one in box_drying(MIX, 40, 60, 3.0, moisture_1_5=3).cautions]


def test_fresh_potting_is_told_of_the_bare_mix() -> None:
    def codes(state: str) -> list[str]:
        return [one.code for one in box_drying(MIX, 40, 60, 3.0, state=state).cautions]

    assert "bare-mix" in codes("fresh")
    assert "bare-mix" not in codes("vigorous")


@settings(max_examples=60)
@given(
    st.floats(1, 500), st.floats(0, 300), st.floats(0.1, 12), st.floats(1.01, 3), st.sampled_from(sorted(COEFFICIENTS))
)
def test_drier_air_never_lengthens_and_low_stays_below_high(
    box_l: float, canopy: float, et0: float, more: float, state: str
) -> None:
    calm, dry = (box_drying(MIX, box_l, canopy, one, state=state) for one in (et0, et0 * more))
    assert calm.interval_d is not None
    assert dry.interval_d is not None
    assert 0 < dry.interval_d[0] < calm.interval_d[0] <= calm.interval_d[1]
    assert dry.interval_d[1] < calm.interval_d[1]


@settings(max_examples=40)
@given(st.floats(1, 500))
def test_the_usual_depth_is_that_of_a_box_half_as_deep_as_wide(box_l: float) -> None:
    depth = usual_depth_cm(box_l)
    assert math.isclose((2 * depth) ** 2 * depth, box_l * 1000)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"box_l": 0}, "box_l"), ({"canopy_cm": -1}, "canopy_cm"), ({"canopy_cm": float("nan")}, "canopy_cm"),
        ({"et0_mm_d": -1}, "et0_mm_d"), ({"state": "sulking"}, "state"), ({"parts": read_mix("coir=1")}, "mix"),
    ],
)  # fmt: skip
def test_nonsense_is_refused_in_one_sentence(change: dict, where: str) -> None:
    given = {"parts": MIX, "box_l": 40, "canopy_cm": 60, "et0_mm_d": 3.0, **change}
    with pytest.raises(BadInput) as refused:
        box_drying(**given)
    assert refused.value.where == where
