"""The signature as strokes, and the sketch of the ground: pure modules of the phone, on cases worked by hand."""

from __future__ import annotations

import random
from typing import Any

import pytest
from phone_kit import call
from playwright.sync_api import Page


def strokes(page: Page, name: str, *args: object) -> Any:
    return call(page, "core/strokes", name, *args)


@pytest.mark.parametrize(
    ("value", "expect"),
    [
        (None, []),
        ("x", []),
        ([], []),
        ([[], [[1, 2]]], [[[1, 2]]]),
        ([[[1, 2], [3], ["4", 5], None, [6, 7, 8], [9, 10]]], [[[1, 2], [9, 10]]]),
        ([5, {"a": 1}, [[0, 0]]], [[[0, 0]]]),
    ],
)
def test_what_cannot_be_drawn_is_left_out(blank: Page, value: object, expect: object) -> None:
    assert strokes(blank, "readStrokes", value) == expect


@pytest.mark.parametrize(
    ("x", "y", "expect"),
    [(0.4, 0.6, [0, 1]), (-3, 601, [0, 600]), (1000.4, -0.2, [1000, 0]), (499.5, 299.5, [500, 300])],
)
def test_points_are_whole_and_never_off_the_box(blank: Page, x: float, y: float, expect: list[int]) -> None:
    assert strokes(blank, "boxPoint", x, y) == expect


def test_points_on_a_straight_line_are_thinned_to_its_ends(blank: Page) -> None:
    assert strokes(blank, "thinStrokes", [[[x, 2 * x] for x in range(100)]]) == [[[0, 0], [99, 198]]]


def test_a_corner_a_dot_and_a_closed_ring_stay(blank: Page) -> None:
    corner = [[0, 0], [100, 0], [100, 100]]
    ring = [[0, 0], [50, 80], [100, 0], [0, 0]]
    assert strokes(blank, "thinStrokes", [corner, [[7, 7]], ring]) == [corner, [[7, 7]], ring]


def test_a_scribble_of_any_size_ends_within_two_thousand_points(blank: Page) -> None:
    chance = random.Random(7)
    scribble = [[[chance.randrange(1001), chance.randrange(601)] for _ in range(500)] for _ in range(30)]
    thin = strokes(blank, "thinStrokes", scribble)
    assert 30 * 2 <= sum(map(len, thin)) <= 2000
    assert [(one[0], one[-1]) for one in thin] == [(one[0], one[-1]) for one in scribble]


@pytest.mark.parametrize(
    ("drawn", "expect"),
    [
        ([], False),
        ([[[5, 5]]], False),
        ([[[0, 0], [59, 0]]], False),
        ([[[0, 0], [60, 0]]], True),
        ([[[0, 0], [30, 0]], [[0, 9], [0, 39]]], True),
    ],
)
def test_a_finger_that_slipped_is_no_signature_and_a_cross_is_one(
    blank: Page, drawn: list[list[list[int]]], expect: bool
) -> None:
    assert strokes(blank, "hasInk", drawn) is expect


def test_a_stroke_is_drawn_from_its_first_point_to_its_last(blank: Page) -> None:
    assert strokes(blank, "strokePath", [[1, 2]]) == "M1 2h.1"
    assert strokes(blank, "strokePath", [[1, 2], [5, 6]]) == "M1 2L5 6"
    assert strokes(blank, "strokePath", [[0, 0], [10, 0], [20, 10]]) == "M0 0Q10 0 15 5L20 10"


def ring(*corners: tuple[float, float]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": [[list(corner) for corner in (*corners, corners[0])]]}


def test_a_sketch_is_in_proportion_north_up_and_has_a_round_scale(blank: Page) -> None:
    # On the equator of WGS 84 a degree is 111,319.5 m east and 110,574.3 m north: 0.01 by 0.005 degrees are 1,113.2 by
    # 552.9 m; at 920 for 1,113.2 that is 456.9 high; two fifths of 1,000 are 484 m, the round length below 200 m.
    field = ring((0, 0), (0.01, 0), (0.01, 0.005), (0, 0.005))
    got = call(blank, "core/ground_outline", "groundOutline", field)
    assert got["middle"] == {"lat": 0.0025, "lon": 0.005}
    assert (got["width"], got["height"], got["bar"]["length_m"]) == (1000, 537, 200)
    assert abs(got["bar"]["width"] - 165.3) < 0.1
    assert got["ground"].startswith("M40.0 496.9L960.0 496.9L960.0 40.0L40.0 40.0")


def test_ground_on_both_sides_of_the_180th_meridian_is_one_small_sketch(blank: Page) -> None:
    field = ring((179.99, -17), (-179.99, -17), (-179.99, -16.99), (179.99, -16.99))
    got = call(blank, "core/ground_outline", "groundOutline", field)
    assert abs(abs(got["middle"]["lon"]) - 180) < 1e-9
    assert got["bar"]["length_m"] == 500  # 2.1 km across


def test_no_ground_has_no_sketch(blank: Page) -> None:
    odd = [None, "x", {"type": "Point", "coordinates": [0, 0]}, {"type": "Polygon", "coordinates": []}]
    assert [call(blank, "core/ground_outline", "groundOutline", one) for one in odd] == [None] * 4
    assert call(blank, "core/ground_outline", "groundOutline", ring((1, 1), (1, 1), (1, 1))) is None
