"""Positions shown in every notation and read from any of them: figures that fit, and one sentence for what does not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core import national_grid, utm
from field.core.errors import BadInput
from field.core.geodesy import distance_m
from field.core.gridref import notations, read_position
from field.core.squares import square_for

TYPED = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "typed.json").read_text(encoding="utf-8"))
HERE = (54.4609, -3.0886)
TO_GRID = {"gb_grid": national_grid.to_british, "irish_grid": national_grid.to_irish}


def shown(name: str, lat: float, lon: float, accuracy_m: float | None) -> str | None:
    return notations(lat, lon, accuracy_m)[name]


# --- read ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", TYPED["reads"], ids=lambda case: case["text"])
def test_degrees_are_read_however_they_are_typed(case: dict) -> None:
    got = read_position(case["text"])
    assert (got["lat"], got["lon"]) == pytest.approx((case["lat"], case["lon"]), abs=1e-7)
    assert got["notation"] == case["notation"]
    assert got["square_m"] is None


@pytest.mark.parametrize("case", TYPED["squares"], ids=lambda case: case["text"])
def test_a_grid_reference_is_the_centre_of_its_square(case: dict) -> None:
    got = read_position(case["text"])
    half = case["square_m"] / 2
    east_m, north_m = TO_GRID[case["grid"]](got["lat"], got["lon"])
    assert abs(east_m - case["east_m"] - half) < 0.01
    assert abs(north_m - case["north_m"] - half) < 0.01
    assert got["notation"] == case["grid"]
    assert got["square_m"] == case["square_m"]


@pytest.mark.parametrize("case", TYPED["refuses"], ids=lambda case: str(case["text"]))
def test_what_cannot_be_read_in_one_way_is_refused_in_a_sentence(case: dict) -> None:
    with pytest.raises(BadInput) as refused:
        read_position(case["text"])
    assert refused.value.message == case["says"]
    assert refused.value.cure
    assert (refused.value.where or "").startswith("position")


def test_a_very_long_text_is_refused() -> None:
    with pytest.raises(BadInput, match="too long"):
        read_position("5" * 101)


@given(st.text(alphabet="0123456789 .,-+°'\"NSEWTYUVXnyio:;", max_size=30))
def test_whatever_is_typed_gives_a_position_or_a_sentence(text: str) -> None:
    try:
        got = read_position(text)
    except BadInput:
        return
    assert -90 <= got["lat"] <= 90
    assert -180 <= got["lon"] <= 180


@given(
    st.floats(-80, 84), st.floats(-180, 180), st.sampled_from([None, 1, 4, 10, 60, 100, 999]), st.sampled_from(range(6))
)
def test_what_is_shown_is_read_back_within_its_square(
    lat: float, lon: float, accuracy_m: float | None, which: int
) -> None:
    text = list(notations(lat, lon, accuracy_m).values())[which]
    if text is None:
        return
    got = read_position(text)
    side_m = max(10, accuracy_m or 10)  # no notation here is coarser than that
    # Half the diagonal; the zeros at the end of UTM figures say nothing, and are read as the corner.
    assert distance_m(lat, lon, got["lat"], got["lon"]) <= (1.5 if got["notation"] == "utm" else 0.72) * side_m


# --- shown ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("accuracy_m", "side_m"),
    [(0, 1), (0.4, 1), (1, 1), (9.99, 1), (10, 10), (99.9, 10), (100, 100), (150, 100), (1e5, 1e5), (1e7, 1e5)],
)
def test_the_square_is_the_coarsest_not_larger_than_the_accuracy(accuracy_m: float, side_m: float) -> None:
    assert square_for(accuracy_m) == side_m


def test_an_unknown_accuracy_is_not_a_good_one() -> None:
    assert square_for(None) == 10


@pytest.mark.parametrize("accuracy_m", [-1, float("nan"), "5", True])
def test_an_accuracy_that_is_no_measure_is_refused(accuracy_m: object) -> None:
    with pytest.raises(BadInput):
        notations(*HERE, accuracy_m)


# Published figures of these two places stand in vectors/grid.json: 30U 494256.653 6034807.206.
@pytest.mark.parametrize(
    ("accuracy_m", "mgrs", "in_utm"),
    [
        (1, "30UVF9425634807", "30U 494256 6034807"),
        (10, "30UVF94253480", "30U 494250 6034800"),
        (100, "30UVF942348", "30U 494200 6034800"),
        (1000, "30UVF9434", "30U 494000 6034000"),
        (10_000, "30UVF93", "30U 494000 6034000"),
        (100_000, "30UVF", "30U 494000 6034000"),
    ],
)
def test_figures_are_cut_off_never_rounded(accuracy_m: float, mgrs: str, in_utm: str) -> None:
    assert shown("mgrs", *HERE, accuracy_m) == mgrs
    assert shown("utm", *HERE, accuracy_m) == in_utm


def test_the_british_and_the_irish_grid_promise_no_more_than_ten_metres() -> None:
    # Scafell Pike is at 321544.832 507209.618, the Dublin Spire at 315900.562 234671.359 (grid.json).
    assert shown("gb_grid", 54.4542, -3.2116, 1) == "NY 2154 0721"  # 1 m off: 507210.550 by the seven numbers
    assert shown("irish_grid", 53.3498, -6.2603, 1) == "O 1590 3467"
    assert shown("gb_grid", 54.4542, -3.2116, 100_000) == "NY"


@pytest.mark.parametrize(
    ("accuracy_m", "decimal", "dms"),
    [
        (0.01, "54.4609000, -3.0886000", "54°27′39.240″N 3°05′18.960″W"),
        (1, "54.460900, -3.088600", "54°27′39.24″N 3°05′18.96″W"),
        (5, "54.46090, -3.08860", "54°27′39.2″N 3°05′19.0″W"),
        (50, "54.4609, -3.0886", "54°27′39″N 3°05′19″W"),
        (5000, "54.46, -3.09", "54°27′39″N 3°05′19″W"),
    ],
)
def test_degrees_have_the_places_the_accuracy_deserves(accuracy_m: float, decimal: str, dms: str) -> None:
    # By hand: 0.4609 x 60 = 27.654, 0.654 x 60 = 39.24; 0.0886 x 60 = 5.316, 0.316 x 60 = 18.96.
    assert shown("decimal", *HERE, accuracy_m) == decimal
    assert shown("dms", *HERE, accuracy_m) == dms


def test_sixty_seconds_are_never_shown() -> None:
    assert shown("dms", 54.999999, -3.999999, 50) == "55°00′00″N 4°00′00″W"


def test_nothing_is_never_minus_nothing() -> None:
    assert shown("decimal", -0.0, -0.000001, 50) == "0.0000, 0.0000"


@pytest.mark.parametrize(("lat", "applies"), [(84.0, True), (84.001, False), (-80.0, True), (-80.001, False)])
def test_utm_and_mgrs_end_before_the_poles(lat: float, applies: bool) -> None:
    got = notations(lat, 10.0)
    assert (got["utm"] is not None, got["mgrs"] is not None) == (applies, applies)


def test_beyond_them_ups_is_named() -> None:
    with pytest.raises(BadInput, match="UPS"):
        utm.to_utm(84.5, 0.0)


# Headlands on both sides of the channels, from any atlas, and other countries.
@pytest.mark.parametrize(
    ("place", "lat", "lon", "british", "irish"),
    [
        ("Torr Head", 55.19, -6.06, False, True),
        ("Mull of Kintyre", 55.31, -5.80, True, False),
        ("Rathlin", 55.29, -6.20, False, True),
        ("Islay, the Oa", 55.59, -6.29, True, False),
        ("Portpatrick", 54.84, -5.12, True, False),
        ("Ards peninsula", 54.49, -5.44, False, True),
        ("Calf of Man", 54.05, -4.82, True, False),
        ("Holyhead", 53.31, -4.66, True, False),
        ("Wicklow Head", 52.97, -6.00, False, True),
        ("St David's Head", 51.90, -5.32, True, False),
        ("Carnsore Point", 52.17, -6.36, False, True),
        ("Isles of Scilly", 49.93, -6.32, True, False),
        ("South Foreland", 51.14, 1.37, True, False),
        ("Calais", 50.95, 1.85, False, False),
        ("Jersey", 49.2, -2.1, False, False),
        ("Paris", 48.86, 2.35, False, False),
        ("Bergen", 60.39, 5.32, False, False),
        ("west of Ireland, far out", 53.0, -13.0, False, False),
        ("the other side of the earth", 54.0, 177.0, False, False),
        ("Gulf of Guinea", 0.0, 0.0, False, False),
    ],
)
def test_each_national_grid_stays_in_its_country(
    place: str, lat: float, lon: float, british: bool, irish: bool
) -> None:
    got = notations(lat, lon)
    assert (got["gb_grid"] is not None, got["irish_grid"] is not None) == (british, irish), place


def test_off_the_grids_there_are_no_letters() -> None:
    assert national_grid.british_letters(-1, 0) is None
    assert national_grid.british_letters(700_000, 0) is None
    assert national_grid.british_letters(0, 1_300_000) is None
    assert national_grid.irish_letter(0, 500_000) is None
    assert national_grid.irish_letter(499_999, 499_999) == "E"


def test_what_is_no_position_is_refused() -> None:
    with pytest.raises(BadInput):
        notations(91, 0)
