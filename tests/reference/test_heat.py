"""Degree days against tests/vectors/degree_days.json: numerical integration, a published year, published examples."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from field.core.heat import average_degree_days, sine_degree_days, sum_degree_days
from field.core.weather import Day

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "degree_days.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", FILE["cases"], ids=lambda row: "{tmin} {tmax} {lower} {upper}".format(**row))
def test_both_ways_agree_with_the_vectors(row: dict) -> None:
    told = (row["tmin"], row["tmax"], row["lower"])
    assert abs(sine_degree_days(*told, row["upper"]) - row["single_sine"]) <= 1e-6
    # the file's simple average knows no upper threshold
    assert abs(average_degree_days(*told) - row["simple_average"]) <= 1e-6


@pytest.mark.parametrize("row", FILE["published"]["cases"], ids=lambda row: "{tmin} {tmax} {lower}".format(**row))
def test_published_single_sines(row: dict) -> None:
    # TrenchR's tests after University of California IPM; two decimals are printed
    assert abs(sine_degree_days(row["tmin"], row["tmax"], row["lower"], row["upper"]) - row["single_sine"]) <= 0.005


def test_a_published_year_day_by_day_and_in_all() -> None:
    # UC IPM calculator, OJAI.C, 2016; temperatures are printed to 0.1 C: 0.006 a day, 0.5 on the year
    year = FILE["year_of_days"]
    days = [Day(date.fromisoformat(on), tmin, tmax) for on, tmin, tmax, _ in year["rows"]]
    for _, tmin, tmax, told in year["rows"]:
        assert abs(sine_degree_days(tmin, tmax, year["lower"], year["upper"]) - told) <= 0.006
    got = sum_degree_days(days, date(2016, 1, 1), date(2016, 12, 31), year["lower"], year["upper"])
    assert got.days_known == 366
    assert abs(got.logged - year["accumulated_published"]) <= 0.5


@pytest.mark.parametrize(
    ("tmin", "tmax", "base", "told"),
    [
        (34, 60, 50, 2.749),  # degrees F; a public unit test that catches the two common slips in copies of the formula
        (1, 15, 5, 3.936), (0, 10, 5, 1.592), (-2, 12, 5, 2.228), (-4, 8, 5, 0.654), (45, 70, 50, 8.469),  # recomputed
    ],
)  # fmt: skip
def test_further_single_sines(tmin: float, tmax: float, base: float, told: float) -> None:
    assert abs(sine_degree_days(tmin, tmax, base) - told) <= 0.0005


def test_the_published_simple_average() -> None:
    # UC IPM, citrus: a mean of 64 F over a base of 53 F gives 11
    assert average_degree_days(54, 74, 53) == 11
