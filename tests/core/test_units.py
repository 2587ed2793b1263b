"""Numbers are read with care and shown short."""

from __future__ import annotations

import pytest

from field.core import units
from field.core.errors import BadInput


@pytest.mark.parametrize(("given", "read"), [(0, 0.0), (0.0, 0.0), (240, 240.0), (2.5, 2.5), (None, None)])
def test_a_measure_is_read(given: object, read: float | None) -> None:
    assert units.read_measure(given, "The girth", "girth_mm") == read


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("240", "is not a number"),
        (True, "is not a number"),
        ([], "is not a number"),
        (float("nan"), "is not a usable number"),
        (float("inf"), "is not a usable number"),
        (-(10**400), "is not a usable number"),
        (-1, "is negative"),
        (-0.001, "is negative"),
    ],
)
def test_what_is_no_measure_is_refused(given: object, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        units.read_measure(given, "The girth", "girth_mm")
    assert says in refused.value.message
    assert refused.value.where == "girth_mm"


@pytest.mark.parametrize(("given", "read"), [(0, 0), (5, 5), (5.0, 5), (None, None), (2**53 - 1, 2**53 - 1)])
def test_a_count_is_read(given: object, read: int | None) -> None:
    assert units.read_count(given, "The number", "allowance") == read


@pytest.mark.parametrize("given", [2.5, 2**53, -1, "5"])
def test_what_is_no_count_is_refused(given: object) -> None:
    with pytest.raises(BadInput):
        units.read_count(given, "The number", "allowance")


@pytest.mark.parametrize(
    ("metres", "words"),
    [
        (0, "less than 1 m"),
        (0.999, "less than 1 m"),
        (1, "1 m"),
        (1.5, "2 m"),
        (2.5, "3 m"),
        (12.4, "12 m"),
        (999.4, "999 m"),
        (999.5, "1.0 km"),
        (1449, "1.4 km"),
        (1450, "1.5 km"),
        (9949, "9.9 km"),
        (9950, "10 km"),
        (123456, "123 km"),
    ],
)
def test_distances_are_shown_short(metres: float, words: str) -> None:
    assert units.show_distance(metres) == words


def test_lengths_are_shown_in_whole_millimetres() -> None:
    assert units.show_length(240) == "240 mm"
    assert units.show_length(240.5) == "241 mm"


def test_imperial_units_are_the_exact_ones() -> None:
    # International yard and pound agreement, 1959: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg.
    assert abs(units.inches(254) - 10) < 1e-12
    assert abs(units.feet(304.8) - 1000) < 1e-9
    assert abs(units.pounds(45.359237) - 100) < 1e-9
