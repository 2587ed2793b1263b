"""Two values of one thing in words: told apart by a person, and nothing another version wrote can break the list."""

from __future__ import annotations

from typing import Any

import pytest
from phone_kit import call
from playwright.sync_api import Page

RING = [[-3.40, 55.40], [-3.40, 55.41], [-3.38, 55.41], [-3.40, 55.40]]
HOLE = [[-3.399, 55.405], [-3.399, 55.406], [-3.398, 55.406], [-3.399, 55.405]]


def words(page: Page, record_type: str, name: str, value: Any) -> str:
    said: str = call(page, "ui/field_words", "valueWords", record_type, name, value)
    return said


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("deleted", True, "removed"),
        ("deleted", False, "kept"),
        ("girth_mm", 355, "35.5 cm"),
        ("ended_on", "2027-02-14", "14 Feb 2027"),
        ("height_m", 12.04, "12 m"),
        ("tmin_c", -3.5, "−3.5 °C"),
        ("tmax_c", "mild", "mild"),
        ("note", None, "not known"),
        ("conditions", ["gates shut", "dogs on a lead"], "gates shut; dogs on a lead"),
        ("conditions", [], "none"),
    ],
)
def test_a_value_is_told_in_words_and_with_its_unit(blank: Page, name: str, value: Any, said: str) -> None:
    assert words(blank, "tree", name, value) == said


def test_an_area_is_told_by_its_size_and_its_corners(blank: Page) -> None:
    whole = words(blank, "site", "boundary", {"type": "Polygon", "coordinates": [RING]})
    holed = words(blank, "site", "boundary", {"type": "MultiPolygon", "coordinates": [[RING, HOLE]]})
    assert whole.endswith(" ha with 3 corners")
    assert holed.endswith(" ha with 6 corners")


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("girth_mm", "about 300", "about 300"),
        ("depth_m", "knee deep", "knee deep"),
        ("seen_on", "spring", "spring"),
        ("seen_at", "dusk", "dusk"),
        ("marked_on", 7, "7"),
        ("area", "the north bank", "the north bank"),
        ("boundary", {"type": "Circle", "radius": 3}, "a longer entry"),
        ("species", {"kind": "birch"}, "a longer entry"),
        ("mood", {"a": 1}, "a longer entry"),
    ],
)
def test_what_a_newer_version_wrote_differently_is_told_plainly(blank: Page, name: str, value: Any, said: str) -> None:
    assert words(blank, "tree", name, value) == said
