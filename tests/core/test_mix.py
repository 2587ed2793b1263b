"""A mix for a box: masses are sums, water and air are bounds, and a shallow box is the wetter one."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.materials import materials, read_mix
from field.core.mix import box_volume_l, depth_factors, plan_mix, water_range

NAMES = sorted(name for name, one in materials().items() if one.water_pct is not None)
MIXES = st.dictionaries(st.sampled_from(NAMES), st.integers(1, 100), min_size=1, max_size=6).map(
    lambda shares: read_mix(",".join(f"{name}={share}" for name, share in shares.items()))
)


def test_mass_is_the_sum_of_the_parts() -> None:
    # by hand from the table: 10 L of 5 L pumice at 0.40 to 0.60 and 5 L peat at 0.09 to 0.11 kg/L
    got = plan_mix(read_mix("pumice=50,peat=50"), 10)
    assert got.dry_kg == pytest.approx((2.45, 3.55))
    # wet: 5 L at 0.60 to 0.85 and 5 L at 0.96 to 0.98 kg/L
    assert got.wet_kg == pytest.approx((7.8, 9.15))


def test_a_tenth_more_is_mixed_than_the_box_holds_and_it_is_said() -> None:
    got = plan_mix(read_mix("pumice=3,bark=1"), 40)
    assert dict(got.litres) == pytest.approx({"pumice": 33.0, "bark": 11.0})
    assert "10%" in got.cautions[0].text


def test_one_material_alone_is_told_as_it_is_measured() -> None:
    got = plan_mix(read_mix("peat=1"), 10)
    assert got.water_pct == pytest.approx((87, 87))
    assert "cannot-be-added" not in [one.code for one in got.cautions]


def test_a_mix_is_told_wider_than_its_parts_and_why() -> None:
    got = plan_mix(read_mix("peat=1,perlite=1"), 10)
    assert got.water_pct is not None
    assert got.water_pct[0] < (87 + 22) / 2 < got.water_pct[1]
    assert "cannot-be-added" in [one.code for one in got.cautions]


def test_water_that_is_not_known_is_not_nought() -> None:
    got = plan_mix(read_mix("coir=1,peat=1"), 10)
    assert got.water_pct is got.air_pct is got.wet_kg is None
    assert got.dry_kg is not None
    assert any("coir" in one.text for one in got.cautions)


@settings(max_examples=50)
@given(MIXES, st.floats(1, 100), st.floats(0.1, 50))
def test_a_deeper_box_never_holds_more_of_its_volume(mix, depth: float, more: float) -> None:
    shallow, deep = water_range(mix, depth), water_range(mix, depth + more)
    assert shallow is not None
    assert deep is not None
    assert deep[0] <= shallow[0] + 1e-9
    assert deep[1] <= shallow[1] + 1e-9
    assert 0 < deep[0] <= deep[1] <= 98


@settings(max_examples=30)
@given(MIXES, st.floats(1, 1000))
def test_wet_weighs_more_than_dry(mix, box_l: float) -> None:
    got = plan_mix(mix, box_l)
    assert got.dry_kg is not None
    assert got.wet_kg is not None
    assert got.dry_kg[0] <= got.dry_kg[1] < got.wet_kg[1]
    assert got.wet_kg[0] >= got.dry_kg[0]


def test_at_the_depth_of_the_measuring_ring_nothing_is_changed() -> None:
    assert depth_factors(7.6) == pytest.approx((1, 1))


@pytest.mark.parametrize(("box_l", "depth"), [(0, 20), (-1, 20), (float("nan"), 20), (1e9, 20), (40, 0), (40, 301)])
def test_a_box_that_is_none_is_refused(box_l: float, depth: float) -> None:
    with pytest.raises(BadInput):
        plan_mix(read_mix("peat=1"), box_l, depth)


def test_the_volume_of_a_box_and_of_a_round_one() -> None:
    assert box_volume_l(600, 500, 250) == 75.0
    # pi x 15 cm x 15 cm x 20 cm = 14.137 L
    assert box_volume_l(300, None, 200) == pytest.approx(14.137, abs=0.001)
