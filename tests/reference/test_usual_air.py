"""What the air usually takes, against what is published; the figures are from memory where it is said so."""

from __future__ import annotations

from datetime import date

import pytest

from field.core.usual_air import usual_air

# Usual mean of the month at sea level, and what it takes a day there. From memory, no page at hand: means of 1991-2020
# as weather offices give them, rounded; water by Penman-Monteith as climate atlases of crops give it, rounded.
MONTHS = [
    ("lowland England", 52, date(2026, 1, 15), 4.5, 0.5),
    ("lowland England", 52, date(2026, 7, 15), 17, 3.2),
    ("central Scotland", 56, date(2026, 4, 15), 8, 1.8),
    ("central Scotland", 56, date(2026, 7, 15), 15, 2.8),
    ("lower Rhine", 51, date(2026, 7, 15), 19, 3.7),
    ("middle Italy", 42, date(2026, 1, 15), 8, 0.9),
    ("middle Italy", 42, date(2026, 7, 15), 25, 5.5),
    ("South Island of New Zealand", -43.5, date(2026, 1, 15), 17.5, 4.8),
]


@pytest.mark.parametrize(("place", "lat", "on", "mean", "takes"), MONTHS)
def test_the_usual_month_lies_in_the_range(place: str, lat: float, on: date, mean: float, takes: float) -> None:
    got = usual_air(lat, on)
    assert got.mean_c[0] <= mean <= got.mean_c[1], place
    assert got.et0_mm_d[0] <= takes <= got.et0_mm_d[1], place


def test_a_temperate_summer_is_about_what_the_table_of_climates_says() -> None:
    # FAO-56, table 2 [memory]: temperate, humid: 1 to 2 mm a day when cool (about 10 °C), 2 to 4 at about 20 °C, 4 to
    # 7 when warm (above 30 °C)
    low, high = usual_air(52, date(2026, 7, 15)).et0_mm_d
    assert 1 <= low <= 4
    assert 4 <= high <= 7
