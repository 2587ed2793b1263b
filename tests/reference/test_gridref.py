"""Grid coordinates against figures from outside: tests/vectors/grid.json, and pyproj, utm and mgrs on many more places.

Sources stand in that file: Ordnance Survey, A guide to coordinate systems in Great Britain, and its OSTN15 test points;
PROJ 9.5.1 by pyproj 3.7.2; NGA GeoTrans by mgrs 1.6.0.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import mgrs
import pytest
import utm as other_utm
from pyproj import Transformer

from field.core import national_grid as grids
from field.core import utm
from field.core.errors import BadInput
from field.core.gridref import notations, read_position

FILE = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "grid.json").read_text(encoding="utf-8"))
OS_POINTS = FILE["os_test_points_etrs89_to_osgb36"]["points"]
MORE_POINTS = FILE["more_points"]["points"]
UTM_POINTS = FILE["utm_mgrs"]["points"]


def off_m(got: tuple[float, float], east_m: float, north_m: float) -> float:
    return max(abs(got[0] - east_m), abs(got[1] - north_m))


def test_the_worked_example_of_the_projection() -> None:
    want = FILE["worked_example_projection"]
    got = grids.BRITISH.to_grid(want["lat"], want["lon"])
    assert off_m(got, want["easting"], want["northing"]) < 0.001
    assert off_m(got, want["pyproj_easting"], want["pyproj_northing"]) < 0.001
    lat, lon = grids.BRITISH.from_grid(want["easting"], want["northing"])
    assert abs(lat - want["lat"]) < 2e-8
    assert abs(lon - want["lon"]) < 2e-8
    letters = grids.british_letters(*got)
    assert f"{letters} {int(got[0]) % 100000:05d} {int(got[1]) % 100000:05d}" == want["grid_reference_10fig"]


def test_the_seven_numbers_are_those_of_the_guide() -> None:
    want = FILE["helmert_wgs84_to_osgb36"]
    got = grids.TO_BRITISH
    assert (got.tx_m, got.ty_m, got.tz_m, got.scale_ppm) == (want["tx_m"], want["ty_m"], want["tz_m"], want["s_ppm"])
    assert (got.rx, got.ry, got.rz) == (want["rx_arcsec"], want["ry_arcsec"], want["rz_arcsec"])


@pytest.mark.parametrize("row", OS_POINTS, ids=lambda row: row["id"])
def test_ordnance_survey_points(row: dict) -> None:
    got = grids.to_british(row["lat"], row["lon"])
    assert off_m(got, row["helmert_easting"], row["helmert_northing"]) < 0.01
    assert off_m(got, row["helmert_os_easting"], row["helmert_os_northing"]) < 0.01
    assert math.dist(got, (row["easting"], row["northing"])) < 5


@pytest.mark.parametrize("row", MORE_POINTS, ids=lambda row: row["name"])
def test_more_british_points(row: dict) -> None:
    got = grids.to_british(row["lat"], row["lon"])
    assert off_m(got, row["helmert_easting"], row["helmert_northing"]) < 0.01
    assert math.dist(got, (row["ostn15_easting"], row["ostn15_northing"])) < 5


def test_a_forgotten_datum_would_be_seen() -> None:
    # The comparison must be able to fail: without the seven numbers every point is off by a field's width.
    off = [off_m(grids.BRITISH.to_grid(r["lat"], r["lon"]), r["easting"], r["northing"]) for r in OS_POINTS]
    assert min(off) > 5


@pytest.mark.parametrize("row", OS_POINTS + MORE_POINTS, ids=lambda row: row.get("id") or row["name"])
def test_the_british_reference_shown_is_true_within_what_it_claims(row: dict) -> None:
    # Centre of a 10 m square, 7.1 m from its corners, by a transformation good for 5 m.
    text = notations(row["lat"], row["lon"], 1)["gb_grid"]
    assert text is not None
    want = (row["easting"], row["northing"]) if "id" in row else (row["ostn15_easting"], row["ostn15_northing"])
    back = read_position(text)
    assert math.dist(grids.to_british(back["lat"], back["lon"]), want) < 12.1
    want_letters = row["grid_reference_10fig"] if "id" in row else row["grid_reference"]["6_figure"]
    assert text[:2] == want_letters[:2]


@pytest.mark.parametrize("row", FILE["letters"]["cases"], ids=lambda row: row["ten_figure"])
def test_letters(row: dict) -> None:
    assert grids.british_letters(row["easting"], row["northing"]) == row["letters"]
    assert grids.read_british(row["letters"], row["ten_figure"][2:]).east_m == row["easting"]
    assert grids.read_british(row["letters"], row["ten_figure"][2:]).north_m == row["northing"]
    six = grids.read_british(row["letters"], row["six_figure"][2:])
    assert (six.east_m, six.north_m) == (row["easting"] // 100 * 100, row["northing"] // 100 * 100)


@pytest.mark.parametrize("row", FILE["parsing"]["cases"], ids=lambda row: row["text"])
def test_reading(row: dict) -> None:
    text = row["text"].upper().replace(" ", "")
    got = grids.read_british(text[:2], row["text"][2:])
    assert (got.east_m, got.north_m) == (row["easting"], row["northing"])
    centre = read_position(row["text"])
    half = got.side_m / 2
    assert off_m(grids.to_british(centre["lat"], centre["lon"]), row["easting"] + half, row["northing"] + half) < 0.01


@pytest.mark.parametrize("row", FILE["parsing"]["must_refuse"], ids=lambda row: row["why"])
def test_what_others_misread_is_refused(row: dict) -> None:
    with pytest.raises(BadInput):
        read_position(row["text"])


@pytest.mark.parametrize("row", FILE["irish"]["points"], ids=lambda row: row["name"])
def test_irish_points(row: dict) -> None:
    got = grids.to_irish(row["lat"], row["lon"])
    assert off_m(got, row["irish_grid_easting"], row["irish_grid_northing"]) < 0.01
    assert grids.irish_letter(*got) == row["letter"]
    assert notations(row["lat"], row["lon"], 100)["irish_grid"] == row["six_figure"]
    assert notations(row["lat"], row["lon"], 100)["gb_grid"] is None


@pytest.mark.parametrize("row", UTM_POINTS, ids=lambda row: row["name"])
def test_utm_and_mgrs(row: dict) -> None:
    zone, band, east_m, north_m = utm.to_utm(row["lat"], row["lon"])
    assert (zone, band) == (row["zone"], row["band"])
    assert off_m((east_m, north_m), row["easting"], row["northing"]) < 0.001
    assert notations(row["lat"], row["lon"], 1)["mgrs"] == row["mgrs_1m"]
    assert notations(row["lat"], row["lon"], 100)["mgrs"] == row["mgrs_100m"]


@pytest.mark.parametrize("row", UTM_POINTS, ids=lambda row: row["name"])
def test_utm_and_mgrs_are_read_back(row: dict) -> None:
    typed = read_position(f"{row['zone']}{row['band']} {row['easting']:.3f} {row['northing']:.3f}")
    assert off_m((typed["lat"], typed["lon"]), row["lat"], row["lon"]) < 2e-7  # 2 cm; at 84 N a mm east is 1e-7 deg
    square = read_position(row["mgrs_1m"])
    back = utm.to_utm(square["lat"], square["lon"])
    if back[0] == row["zone"]:  # on the very edge the middle of the square may lie in the neighbour
        assert off_m((back[2], back[3]), row["easting"], row["northing"]) < 1


def test_ten_thousand_places_against_other_programs() -> None:
    geotrans, places = mgrs.MGRS(), random.Random(11)
    for _ in range(10_000):
        lat, lon = places.uniform(-79.9, 83.9), places.uniform(-180, 180)
        zone, band, east_m, north_m = utm.to_utm(lat, lon)
        want = other_utm.from_latlon(lat, lon)
        assert (zone, band) == want[2:]
        assert off_m((east_m, north_m), float(want[0]), float(want[1])) < 0.02  # that series is cut off sooner
        if min(east_m % 1, 1 - east_m % 1, north_m % 1, 1 - north_m % 1) > 0.01:
            assert utm.show_mgrs(lat, lon, 1) == geotrans.toMGRS(lat, lon, MGRSPrecision=5)


@pytest.mark.parametrize(("zone", "epsg"), [(30, 32630), (31, 32631), (32, 32632), (60, 32660)])
def test_the_projection_far_from_its_middle_against_proj(zone: int, epsg: int) -> None:
    proj = Transformer.from_crs(4326, epsg)
    places = random.Random(zone)
    for _ in range(500):
        lat, lon = places.uniform(0, 84), zone * 6 - 183 + places.uniform(-9, 9)
        grid = utm._projection(zone, False)
        east_m, north_m = proj.transform(lat, lon if lon <= 180 else lon - 360)
        assert off_m(grid.to_grid(lat, lon), east_m, north_m) < 0.001
        back = grid.from_grid(east_m, north_m)
        assert abs(back[0] - lat) < 1e-9
        assert abs(math.remainder(back[1] - lon, 360)) < 1e-8
