"""UTM and MGRS: zones with their exceptions, bands, squares; from positions and back.

Both cover 80 degrees south to 84 north. Beyond, the polar grid (UPS) takes over, which is not written or read here.
"""

from __future__ import annotations

import math

from field.core.errors import BadInput
from field.core.geodesy import wrap_lon
from field.core.mercator import WGS84, Projection
from field.core.squares import HUNDRED_KM, Square, cut, read_figures, show_figures, square_for

SOUTH_END, NORTH_END = -80.0, 84.0
BANDS = "CDEFGHJKLMNPQRSTUVWX"  # 8 degrees each from 80 S; X has 12
COLUMNS = ("ABCDEFGH", "JKLMNPQR", "STUVWXYZ")  # of zones 1, 4 ...; 2, 5 ...; 3, 6 ... (NGA.STND.0037, 3-2)
ROWS = "ABCDEFGHJKLMNPQRSTUV"  # from the equator in zones of odd number, five on in the others
ROWS_M = 2_000_000  # after which the rows begin again
SOUTH_NORTHING_M = 10_000_000.0  # what the equator is called south of it
MOST_UTM_SQUARE_M = 1000  # figures filled up with more zeros would look like a place
# References are also written a little beyond the edge of their zone, so that a sheet keeps one grid.
ZONE_OVERLAP_M = 100_000.0
BAND_SLACK = 0.01  # degrees: a kilometre, the coarsest square shown in UTM
POLAR = "Near the poles UPS takes the place of UTM and MGRS, and it is not used here."
POLAR_CURE = "Give latitude and longitude."


def zone_for(lat: float, lon: float) -> int:
    """Return the number of the UTM zone, 1 to 60.

    Zone 32 is widened westwards over south-western Norway (56 to 64 north), and zones 31, 33, 35 and 37 share the north
    of 72 degrees between 0 and 42 east.
    Source: NGA.STND.0037_2.0.0_GRIDS, section 3-1.
    """
    lon = -180.0 if lon >= 180.0 else lon
    if 56.0 <= lat < 64.0 and 3.0 <= lon < 12.0:
        return 32
    if lat >= 72.0 and 0.0 <= lon < 42.0:
        return 31 if lon < 9.0 else 33 if lon < 21.0 else 35 if lon < 33.0 else 37
    return min(int((lon + 180.0) // 6.0) + 1, 60)  # a hair west of 180 the sum is 360


def band_for(lat: float) -> str:
    """Return the letter of the latitude band; the position must lie in the covered range."""
    return BANDS[min(int((lat - SOUTH_END) // 8.0), len(BANDS) - 1)]


def to_utm(lat: float, lon: float) -> tuple[int, str, float, float]:
    """Return (zone, band, easting, northing) of a position.

    Args:
        lat, lon: degrees, WGS 84.
    Returns: metres; south of the equator northings are counted from 10 000 km below it.
    Raises: BadInput beyond 80 south or 84 north, where UPS takes over.
    Accuracy: 0.001 m (tests/reference/test_gridref.py).
    """
    if not SOUTH_END <= lat <= NORTH_END:
        raise BadInput(POLAR, POLAR_CURE, "position.lat")
    zone, band = zone_for(lat, lon), band_for(lat)
    # By the band, not by the sign: a hair south of the equator the sum in it is already that of band N.
    return zone, band, *_projection(zone, band < "N").to_grid(lat, lon)


def show_utm(lat: float, lon: float, accuracy_m: float | None = None) -> str | None:
    """Return 'zone-and-band easting northing' in whole metres, '30U 494256 6034807'; None near the poles.

    Args:
        lat, lon: degrees, WGS 84.
        accuracy_m: how good the position is; figures below the coarsest square not larger are zeros (at most three).
    """
    if not SOUTH_END <= lat <= NORTH_END:
        return None
    zone, band, east, north = to_utm(lat, lon)
    side = square_for(accuracy_m, most_m=MOST_UTM_SQUARE_M)
    return f"{zone}{band} {cut(east, side) * side:06d} {cut(north, side) * side:07d}"


def show_mgrs(lat: float, lon: float, accuracy_m: float | None = None) -> str | None:
    """Return an MGRS reference, '30UVF9425634807'; None near the poles.

    Args:
        lat, lon: degrees, WGS 84.
        accuracy_m: how good the position is; the square shown is the coarsest not larger.
    """
    if not SOUTH_END <= lat <= NORTH_END:
        return None
    zone, band, east, north = to_utm(lat, lon)
    column = COLUMNS[(zone - 1) % 3][cut(east, HUNDRED_KM) - 1]
    row = ROWS[(cut(north, HUNDRED_KM) + _row_shift(zone)) % len(ROWS)]
    return f"{zone:02d}{band}{column}{row}" + "".join(show_figures(east, north, square_for(accuracy_m)))


def read_utm(zone: int, letter: str, square: Square) -> tuple[float, float]:
    """Return (lat, lon) of the centre of a square in UTM.

    Args:
        zone: 1 to 60.
        letter: the band, or 'NORTH' or 'SOUTH' for the half of the earth. A single N or S is always the band.
        square: of one metre or less, for UTM is written in metres.
    Raises: BadInput if there is no such zone or band, or the place does not lie in it.
    """
    _check_zone(zone, letter)
    is_south = letter == "SOUTH" or (len(letter) == 1 and letter < "N")
    if not (100_000 <= square.east_m <= 900_000 and 0 <= square.north_m <= SOUTH_NORTHING_M):
        raise BadInput(
            "That easting or northing lies outside its zone.",
            "An easting has six figures before the point, a northing up to seven; the easting comes first.",
            "position",
        )
    lat, lon = _projection(zone, is_south).from_grid(*square.centre())
    if len(letter) == 1 and not _band_touches(letter, lat, BAND_SLACK):
        raise BadInput(
            f"That northing does not lie in band {letter}.",
            "The letter is the latitude band; for a half of the earth write north or south in full.",
            "position",
        )
    _check_in_zone(zone, [(lat, lon)])
    return lat, lon


def read_mgrs(zone: int, band: str, letters: str, figures: str) -> tuple[float, float, float]:
    """Return (lat, lon, side in metres) of the centre of the square that an MGRS reference names.

    Args:
        zone: 1 to 60.
        band, letters: capitals: one, and the two of the 100 km square.
        figures: what follows them.
    Raises: BadInput if there is no such zone, band or square, or as `read_figures`.
    """
    _check_zone(zone, band)
    column = COLUMNS[(zone - 1) % 3].find(letters[0])
    row = ROWS.find(letters[1])
    if column < 0 or row < 0:
        raise BadInput(
            f"There is no square {letters} in zone {zone}.", "Check the two letters after the zone.", "position"
        )
    within = read_figures(figures)
    grid = _projection(zone, band < "N")
    first = (row - _row_shift(zone)) % len(ROWS) * HUNDRED_KM
    for north in range(first, int(SOUTH_NORTHING_M), ROWS_M):
        square = Square((column + 1) * HUNDRED_KM + within.east_m, north + within.north_m, within.side_m)
        spots = [grid.from_grid(*spot) for spot in square.spots()]
        if any(_band_touches(band, lat, 1e-5) for lat, _ in spots):
            _check_in_zone(zone, spots)
            return *grid.from_grid(*square.centre()), square.side_m
    raise BadInput(
        f"Square {letters} of zone {zone} does not lie in band {band}.", "Check zone, band and letters.", "position"
    )


def _projection(zone: int, is_south: bool) -> Projection:
    # NGA.STND.0037, table 2-1.
    return Projection(WGS84, 0.0, zone * 6 - 183.0, 0.9996, 500_000.0, SOUTH_NORTHING_M if is_south else 0.0)


def _row_shift(zone: int) -> int:
    return 0 if zone % 2 else 5


def _band_touches(band: str, lat: float, slack: float) -> bool:
    south = SOUTH_END + 8.0 * BANDS.index(band)
    return south - slack <= lat <= (NORTH_END if band == "X" else south + 8.0) + slack


def _check_zone(zone: int, band: str) -> None:
    if not 1 <= zone <= 60:
        raise BadInput(f"There is no zone {zone}.", "Zones are numbered 1 to 60.", "position")
    if band in ("A", "B", "Y", "Z"):
        raise BadInput(POLAR, POLAR_CURE, "position")
    if len(band) == 1 and band not in BANDS:
        raise BadInput(f"There is no band {band}.", "Bands are lettered C to X, without I and O.", "position")
    if band == "X" and zone in (32, 34, 36):
        raise BadInput(f"There is no zone {zone} in band X.", "Its neighbours take its place there.", "position")


def _check_in_zone(zone: int, spots: list[tuple[float, float]]) -> None:
    """Refuse a place so far from its zone that one of the two must be a slip; the wide northern ones count as wide."""
    for lat, lon in spots:
        beyond = abs(wrap_lon(lon - (zone * 6 - 183.0))) - (6.0 if lat >= 55.0 else 3.0)
        if beyond * 111_320.0 * math.cos(lat * math.pi / 180) <= ZONE_OVERLAP_M:
            return
    raise BadInput(f"That place does not lie in zone {zone}.", "Check the zone and the easting.", "position")
