"""The map sketch: what lies where, how long the bar is, and where the middle of the ground is."""

from __future__ import annotations

import pytest
from builders import SQUARE

from field.papers.map_sketch import Mark, Sketch, draw_sketch, find_area, hectares, round_length
from field.papers.places import may_know_exactly, place_words


def rings_of(sketch: Sketch, kind: str) -> list[tuple[tuple[float, float], ...]]:
    return [ring for shape in sketch.shapes if shape.kind == kind for ring in shape.rings]


def square(west: float, south: float, side: float) -> list[list[float]]:
    return [[west, south], [west + side, south], [west + side, south + side], [west, south + side], [west, south]]


@pytest.mark.parametrize(
    ("most", "got"), [(1, 1), (1.99, 1), (2, 2), (4.9, 2), (5, 5), (9.9, 5), (10, 10), (731, 500), (0.3, 0.2)]
)
def test_the_bar_has_a_round_length(most: float, got: float) -> None:
    assert round_length(most) == pytest.approx(got)


def test_a_sketch_keeps_the_proportions_of_the_ground() -> None:
    # PROJ 9, geod on WGS 84: 633.52 m along the middle parallel of the square, 556.65 m along its middle meridian.
    sketch = draw_sketch(SQUARE, None)
    assert sketch is not None
    (ring,) = rings_of(sketch, "area")
    wide, high = (max(p[k] for p in ring) - min(p[k] for p in ring) for k in (0, 1))
    assert abs(wide / high - 633.52 / 556.65) < 0.002
    assert abs(wide / sketch.points_per_m - 633.52) < 0.2


def test_north_is_up_and_west_is_left() -> None:
    marks = [Mark(55.404, -3.399, "north-west"), Mark(55.401, -3.391, "south-east")]
    sketch = draw_sketch(SQUARE, None, marks)
    assert sketch is not None
    first, second = (word for word in sketch.words if "-" in word.text)
    assert first.x < second.x
    assert first.y < second.y  # y runs downwards


def test_all_of_a_sketch_lies_within_its_frame() -> None:
    huge = {"type": "Polygon", "coordinates": [square(-4, 55, 1.0)]}
    sketch = draw_sketch(huge, SQUARE, [Mark(55.402, -3.395, "A")])
    assert sketch is not None
    for shape in sketch.shapes:
        for x, y in (point for ring in shape.rings for point in ring):
            assert -0.01 <= x <= sketch.width + 0.01
            assert -0.01 <= y <= sketch.height + 0.01


def test_holes_and_parts_are_drawn_each() -> None:
    area = {
        "type": "MultiPolygon",
        "coordinates": [[square(0, 50, 0.01), square(0.003, 50.003, 0.002)], [square(0.02, 50, 0.01)]],
    }
    sketch = draw_sketch(None, area)
    assert sketch is not None
    assert len(rings_of(sketch, "area")) == 3
    assert rings_of(sketch, "site") == []


def test_ground_across_the_180th_meridian_is_one_piece() -> None:
    area = {"type": "MultiPolygon", "coordinates": [[square(179.99, -17, 0.01)], [square(-180, -17, 0.01)]]}
    sketch = draw_sketch(None, area)
    assert sketch is not None
    west, east = sorted(rings_of(sketch, "area"), key=lambda ring: min(ring)[0])
    assert abs(max(x for x, _ in west) - min(x for x, _ in east)) < 0.5  # they touch


def test_nothing_to_draw_makes_no_sketch_and_a_bad_boundary_is_told() -> None:
    assert draw_sketch(None, None) is None
    assert draw_sketch({"type": "Point"}, None) is None
    sketch = draw_sketch({"type": "Polygon", "coordinates": [[[0, 0]]]}, SQUARE)
    assert sketch is not None
    assert sketch.trouble == ("The boundary of the site cannot be drawn.",)


def test_words_beside_marks_that_stand_close_do_not_cover_each_other() -> None:
    sketch = draw_sketch(SQUARE, None, [Mark(55.402 + n * 0.00002, -3.395, f"T{n}") for n in range(4)])
    assert sketch is not None
    words = [word for word in sketch.words if word.text.startswith("T")]
    for at, one in enumerate(words):
        assert not any(abs(one.y - two.y) < 7 and abs(one.x - two.x) < 9 for two in words[at + 1 :])


def test_hectares_of_a_known_square() -> None:
    # PROJ 9, geod -a on WGS 84: 352,651.4 square metres.
    area = find_area(SQUARE)
    assert area is not None
    assert abs(hectares(area) - 35.26514) < 0.0001


# --- who may know where a tree stood ---------------------------------------------------------------------------------

LEAVES = [{"id": "leave-a", "landholder": "ann"}, {"id": "leave-b", "landholder": "bo"}]
HOLDINGS = [{"site": "moss", "landholder": "cat"}]


@pytest.mark.parametrize(
    ("reader", "lift", "exact"),
    [
        ("ann", {"leave": "leave-a", "site": "moss"}, True),  # gave this leave
        ("bo", {"leave": "leave-a", "site": "moss"}, False),  # gave another one
        ("cat", {"leave": "leave-a", "site": "moss"}, True),  # holds the site
        ("cat", {"leave": "leave-a", "site": "wood"}, False),  # holds another
        ("cat", {"leave": None, "site": None}, False),
        ("ann", {"leave": "gone", "site": "moss"}, False),
        ("ann", {}, False),
        (None, {"leave": "leave-a", "site": "moss"}, False),  # anybody else
    ],
)
def test_only_who_gave_the_leave_or_holds_the_site_is_told_exactly(reader: str | None, lift: dict, exact: bool) -> None:
    assert may_know_exactly(reader, lift, LEAVES, HOLDINGS) is exact


def test_nobody_of_no_name_knows_a_tree_of_no_landholder() -> None:
    assert not may_know_exactly(None, {"leave": "x", "site": "y"}, [{"id": "x", "landholder": None}], [{"site": "y"}])


def test_a_coarse_place_is_a_square_of_a_kilometre_everywhere() -> None:
    # The figures of the square: NT 11 12 holds NT 1175 1294. Beyond the grids two decimals of a degree, 1.1 km.
    assert place_words(55.4025, -3.395, 5, exact=True) == "NT 1175 1294"
    assert place_words(55.4025, -3.395, 5, exact=False) == "within the 1 km square NT 11 12"
    assert place_words(86.123456, 10.123456, 5, exact=False) == "within the 1 km square 86.12, 10.12"
    assert place_words(None, 1.0, exact=True) == ""


def test_a_coarse_place_is_the_same_for_all_positions_of_its_square() -> None:
    near = {place_words(55.4025 + n * 1e-5, -3.395 + n * 1e-5, exact=False) for n in range(20)}
    assert len(near) == 1
