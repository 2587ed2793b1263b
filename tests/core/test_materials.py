"""Mixes as people write them: shares of a whole, near names for an unknown one, nothing guessed."""

from __future__ import annotations

import pytest

from field.core.errors import BadInput, NotFound
from field.core.materials import Range, get_material, materials, read_mix


def test_parts_need_not_add_to_a_hundred() -> None:
    for text in (
        "pumice=50,bark=30,peat=20",
        "pumice=5, bark=3, peat=2",
        "pumice=0.5,bark=.3,peat=.2".replace("=.", "=0."),
    ):
        got = read_mix(text)
        assert [part.material.name for part in got] == ["pumice", "bark", "peat"]
        assert [part.share for part in got] == pytest.approx([0.5, 0.3, 0.2])


def test_a_part_of_nought_is_left_out() -> None:
    assert [part.material.name for part in read_mix("pumice=1,bark=0")] == ["pumice"]


def test_an_unknown_material_names_near_ones() -> None:
    with pytest.raises(NotFound) as refused:
        read_mix("pumise=50,bark=50")
    assert "pumice" in str(refused.value.cure)


def test_a_material_goes_by_its_other_names() -> None:
    assert get_material("Sharp Sand").name == "sand"
    assert get_material("scoria").name == "lava"


@pytest.mark.parametrize(
    "text",
    ["", " , ", "pumice", "pumice=", "pumice=-5", "pumice=nan", "pumice=1e9", "=5", "pumice=50,pumice=20", "peat=0",
     "pumice=50;bark=50", "sand=1,sharp-sand=1", ",".join(["peat=1"] * 40), "peat=\u0663"],
)  # fmt: skip
def test_what_is_no_mix_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises((BadInput, NotFound)) as refused:
        read_mix(text)
    assert refused.value.message.endswith(".")
    assert refused.value.where == "mix"


def test_every_cell_has_its_source_and_its_ends_in_order() -> None:
    for material in materials().values():
        cells = (material.water_pct, material.air_pct, material.total_pct, material.dry_kg_l, material.wet_kg_l)
        for cell in cells:
            if cell is not None:
                assert isinstance(cell, Range)
                assert 0 < cell.low <= cell.high
                assert len(cell.source) > 5


def test_water_and_air_fit_into_what_is_not_solid() -> None:
    for material in materials().values():
        if material.water_pct and material.air_pct and material.total_pct:
            assert material.water_pct.low + material.air_pct.low <= material.total_pct.high + 1e-9
