"""Chill against tests/vectors/degree_days.json and two days reckoned by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from field.core.chill import chill_hours, utah_units

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "degree_days.json").read_text(encoding="utf-8"))
UTAH = FILE["utah"]

# Made-up days, reckoned with the bands in C of Richardson, Seeley and Walker 1974; chill hours with closed bounds
COLD = [2.0, 1.5, 1.0, 0.5, 0, 0, 0.5, 1.5, 3, 5, 7, 9, 10, 11, 12, 12.5, 11, 9, 7, 6, 5, 4, 3, 2.5]
MILD = [8, 8, 7, 7, 6, 6, 7, 9, 11, 13, 15, 17, 18.5, 19, 19, 18, 17, 15, 13, 12, 11, 10, 9, 8.5]


@pytest.mark.parametrize("row", UTAH["points"], ids=lambda row: str(row["temperature"]))
def test_each_edge_of_the_utah_bands(row: dict) -> None:
    assert utah_units([row["temperature"]]) == row["units"]


def test_a_utah_day_adds_up() -> None:
    assert utah_units(UTAH["day"]["hourly"]) == UTAH["day"]["total"]


def test_two_days_by_hand_with_closed_bounds() -> None:
    assert (utah_units(COLD), chill_hours(COLD)) == (14.5, 17)
    assert (utah_units(MILD), chill_hours(MILD)) == (7.5, 5)


def test_open_bounds_would_give_another_number() -> None:
    # the same day with open bounds is told as 15: the two hours of exactly 0 C make the difference
    assert chill_hours([one for one in COLD if one not in (0, 7.2)]) == 15
