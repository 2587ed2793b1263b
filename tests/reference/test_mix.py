"""The water of mixes against what was published."""

from __future__ import annotations

import pytest

from field.core.materials import get_material
from field.core.mix import depth_factors


def test_water_falls_with_depth_as_owen_and_altland_measured() -> None:
    # Owen and Altland 2008, HortScience 43:505: from 3.8 to 15.2 cm it fell by 20 % (medium) and by 42 % (fine bark)
    falls = [
        1 - deep / shallow
        for deep, shallow in zip(sorted(depth_factors(15.2), reverse=True), depth_factors(3.8), strict=True)
    ]
    assert falls == pytest.approx([0.20, 0.42], abs=0.005)


@pytest.mark.parametrize(
    ("name", "air", "water", "dry", "wet"),
    # International Journal of Agronomy 2012, 978528, table 1
    [("bark", 31, 48, 0.18, 0.66), ("peat", 11, 87, 0.11, 0.98)],
)
def test_the_measured_figures_lie_in_the_table(name: str, air: float, water: float, dry: float, wet: float) -> None:
    material = get_material(name)
    for cell, told in (
        (material.air_pct, air), (material.water_pct, water), (material.dry_kg_l, dry), (material.wet_kg_l, wet),
    ):  # fmt: skip
        assert cell is not None
        assert cell.low <= told <= cell.high


def test_a_shallow_pot_is_as_much_wetter_as_bilderback_and_fonteno_found_or_less() -> None:
    # Bilderback and Fonteno 1987, J. Environ. Hort. 5:180: water 43 % in a 1-gallon pot (about 15 cm), 59 % in a
    # bedding cell (about 4 cm): a ratio of 1.37, which lies between our two bounds
    (low_deep, high_deep), (low_shallow, high_shallow) = depth_factors(15.2), depth_factors(3.8)
    assert low_shallow / high_deep < 59 / 43 < high_shallow / low_deep
