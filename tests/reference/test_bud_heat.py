"""The order of kinds by the heat they want, against the published groups."""

from __future__ import annotations

from field.core.heat_forecast import bud_heats
from field.core.species import load_cards

# Murray, Cannell and Smith 1989, J. Appl. Ecol. 26:693-700 [seen: abstract]: from most heat (1) to least (5)
GROUPS = {"beech": 1, "rowan": 3, "birch": 3, "larch": 4, "hawthorn": 5}


def test_kinds_of_a_later_group_want_less_heat() -> None:
    heats = bud_heats()
    for one, group in GROUPS.items():
        for other, other_group in GROUPS.items():
            if group < other_group:
                assert heats[one].low > heats[other].low
                assert heats[one].high > heats[other].high


def test_working_figures_are_those_of_the_reference() -> None:
    # orders of magnitude [memory]: hawthorn 60-100, larch 80-120, birch and rowan 100-160, beech 200-300, oak 180-280
    told = {kind: (heat.low, heat.high) for kind, heat in bud_heats().items()}
    assert told == {
        "hawthorn": (60, 100), "larch": (80, 120), "birch": (100, 160), "rowan": (100, 160), "beech": (200, 300),
        "oak": (180, 280),
    }  # fmt: skip


def test_every_figure_is_of_a_kind_that_is_known() -> None:
    assert set(bud_heats()) <= set(load_cards())
