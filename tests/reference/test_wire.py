"""The mass of wire against figures worked out from the densities of the metals."""

from __future__ import annotations

import pytest

from field.core.wire import wire_mass_g


@pytest.mark.parametrize(
    ("material", "size_mm", "g_per_m"),
    # aluminium 2.70 g/cm3: 4.8, 8.5, 19.1; copper 8.96: 7.0, 28.1 (worked out from the section, to 0.1 g)
    [("aluminium", 1.5, 4.8), ("aluminium", 2, 8.5), ("aluminium", 3, 19.1), ("copper", 1, 7.0), ("copper", 2, 28.1)],
)
def test_a_metre_of_wire(material: str, size_mm: float, g_per_m: float) -> None:
    assert abs(wire_mass_g(size_mm, 1000, material) - g_per_m) <= 0.05
