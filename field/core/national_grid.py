"""The British National Grid and the Irish Grid: figures from positions, and squares from references.

From WGS 84 the seven-number transformation is used. It is up to 5 m (2 m in the mean) from the surveyed one in Britain
and about 1 m in Ireland, so neither grid is shown finer than ten metres: an eight-figure reference.
"""

from __future__ import annotations

from bisect import bisect_right

from field.core.errors import BadInput
from field.core.mercator import AIRY, AIRY_MODIFIED, WGS84, Helmert, Projection
from field.core.squares import HUNDRED_KM, Square, read_figures, show_figures, square_for

LETTERS = "ABCDEFGHJKLMNOPQRSTUVWXYZ"  # five rows of five from the north-west; I is not used
LEAST_SQUARE_M = 10
BRITISH_EAST_M, BRITISH_NORTH_M = 700_000, 1_300_000
IRISH_SIDE_M = 500_000

# A guide to coordinate systems in Great Britain, annex A and section 6.6.
BRITISH = Projection(AIRY, 49.0, -2.0, 0.9996012717, 400_000.0, -100_000.0)
TO_BRITISH = Helmert(-446.448, 125.157, -542.060, 20.4894, -0.1502, -0.2470, -0.8421)
# EPSG:29903, and EPSG:1954 (from the Irish datum to WGS 84: undone here).
IRISH = Projection(AIRY_MODIFIED, 53.5, -8.0, 1.000035, 200_000.0, 250_000.0)
FROM_IRISH = Helmert(482.5, -130.6, 564.6, 8.15, -1.042, -0.214, -0.631)

# The 100 km squares that hold land of Great Britain or the Isle of Man. Elsewhere the grid is only lines on the sea, or
# on other countries.
BRITISH_SQUARES = {
    "H": "PTUWXYZ",
    "N": "ABCDFGHJKLMNORSTUWXYZ",
    "O": "V",
    "S": "CDEHJKMNOPRSTUVWXYZ",
    "T": "AFGLMQRV",
}
FRENCH_COAST = ("TR", 645_000.0)  # east of this the square holds only France: the Strait of Dover lies between
# Far outside, the projection goes round the earth and gives figures that look like some of the grid.
BRITISH_SOUTH, BRITISH_NORTH, BRITISH_WEST, BRITISH_EAST = 49.0, 62.0, -10.0, 3.0
IRISH_WEST = -12.0
# Mid-channel between Ireland and Great Britain: latitude, and the longitude that parts the two grids there.
CHANNEL_LAT = (51.3, 52.2, 53.4, 54.2, 54.8, 55.05, 55.3, 55.5)
CHANNEL_LON = (-6.0, -5.95, -5.4, -5.2, -5.3, -5.6, -5.95, -6.0)


def to_british(lat: float, lon: float) -> tuple[float, float]:
    """Return (easting, northing) in metres on the British National Grid.

    Args:
        lat, lon: degrees, WGS 84.
    Returns: metres, also where the grid does not apply: `show_british` knows where.
    Accuracy: 0.01 m against the same transformation elsewhere; up to 5 m from the true grid
        (tests/reference/test_gridref.py).
    Source: A guide to coordinate systems in Great Britain, section 6.6.
    """
    return BRITISH.to_grid(*TO_BRITISH.apply(lat, lon, WGS84, AIRY))


def from_british(east_m: float, north_m: float) -> tuple[float, float]:
    """Return (lat, lon), WGS 84, of metres on the British National Grid; accuracy as `to_british`."""
    return TO_BRITISH.undo(*BRITISH.from_grid(east_m, north_m), AIRY, WGS84)


def to_irish(lat: float, lon: float) -> tuple[float, float]:
    """Return (easting, northing) in metres on the Irish Grid.

    Args, returns: as `to_british`.
    Accuracy: 0.01 m against the same transformation elsewhere; about 1 m from the true grid.
    Source: EPSG:29903 and EPSG:1954.
    """
    return IRISH.to_grid(*FROM_IRISH.undo(lat, lon, WGS84, AIRY_MODIFIED))


def from_irish(east_m: float, north_m: float) -> tuple[float, float]:
    """Return (lat, lon), WGS 84, of metres on the Irish Grid; accuracy as `to_irish`."""
    return FROM_IRISH.apply(*IRISH.from_grid(east_m, north_m), AIRY_MODIFIED, WGS84)


def british_letters(east_m: float, north_m: float) -> str | None:
    """Return the two letters of the 100 km square, None off the grid (0 to 700 km east, 0 to 1300 km north)."""
    if not (0 <= east_m < BRITISH_EAST_M and 0 <= north_m < BRITISH_NORTH_M):
        return None
    east, north = int(east_m // HUNDRED_KM), int(north_m // HUNDRED_KM)
    # The 500 km square at the origin is S: fourth row, third column.
    return LETTERS[(3 - north // 5) * 5 + 2 + east // 5] + LETTERS[(4 - north % 5) * 5 + east % 5]


def irish_letter(east_m: float, north_m: float) -> str | None:
    """Return the letter of the 100 km square, None off the grid (0 to 500 km both ways)."""
    if not (0 <= east_m < IRISH_SIDE_M and 0 <= north_m < IRISH_SIDE_M):
        return None
    return LETTERS[(4 - int(north_m // HUNDRED_KM)) * 5 + int(east_m // HUNDRED_KM)]


def show_british(lat: float, lon: float, accuracy_m: float | None = None) -> str | None:
    """Return a British grid reference, 'NY 2944 0821', or None where that grid does not apply.

    Args:
        lat, lon: degrees, WGS 84.
        accuracy_m: how good the position is; the square shown is the coarsest not larger, and never under 10 m.
    """
    near = BRITISH_SOUTH < lat < BRITISH_NORTH and BRITISH_WEST < lon < BRITISH_EAST
    if not near or _lies_towards_ireland(lat, lon):
        return None
    east, north = to_british(lat, lon)
    letters = british_letters(east, north)
    if (
        letters is None
        or letters[1] not in BRITISH_SQUARES.get(letters[0], "")
        or (letters == FRENCH_COAST[0] and east > FRENCH_COAST[1])
    ):
        return None
    return " ".join(filter(None, (letters, *show_figures(east, north, square_for(accuracy_m, LEAST_SQUARE_M)))))


def show_irish(lat: float, lon: float, accuracy_m: float | None = None) -> str | None:
    """Return an Irish grid reference, 'O 1590 3467', or None where that grid does not apply; as `show_british`."""
    if not _lies_towards_ireland(lat, lon):
        return None
    east, north = to_irish(lat, lon)
    letter = irish_letter(east, north)
    if letter is None:
        return None
    return " ".join(filter(None, (letter, *show_figures(east, north, square_for(accuracy_m, LEAST_SQUARE_M)))))


def read_british(letters: str, figures: str) -> Square:
    """Return the square that a British grid reference names, in metres on that grid.

    Args:
        letters: two capitals.
        figures: what follows them.
    Raises: BadInput if no square has those letters, or as `read_figures`.
    """
    if "I" in letters:
        raise _no_letter_i(letters)
    first, second = LETTERS.index(letters[0]), LETTERS.index(letters[1])
    east = ((first % 5 - 2) * 5 + second % 5) * HUNDRED_KM
    north = ((3 - first // 5) * 5 + 4 - second // 5) * HUNDRED_KM
    if british_letters(east, north) != letters:
        raise BadInput(
            f"There is no square {letters} on the British grid.", "Check the two letters, as in NY or SU.", "position"
        )
    within = read_figures(figures)
    return Square(east + within.east_m, north + within.north_m, within.side_m)


def read_irish(letter: str, figures: str) -> Square:
    """Return the square that an Irish grid reference names, in metres on that grid; as `read_british`, one letter."""
    if letter == "I":
        raise _no_letter_i(letter)
    place = LETTERS.index(letter)
    within = read_figures(figures)
    return Square(place % 5 * HUNDRED_KM + within.east_m, (4 - place // 5) * HUNDRED_KM + within.north_m, within.side_m)


def _no_letter_i(letters: str) -> BadInput:
    return BadInput(
        f"There is no square {letters}: grids leave out the letter I.", "Perhaps it is a J or a 1.", "position"
    )


def _lies_towards_ireland(lat: float, lon: float) -> bool:
    """Whether a position is west of mid-channel, at the latitudes of Ireland."""
    if not (CHANNEL_LAT[0] <= lat < CHANNEL_LAT[-1] and lon > IRISH_WEST):
        return False
    i = bisect_right(CHANNEL_LAT, lat) - 1
    share = (lat - CHANNEL_LAT[i]) / (CHANNEL_LAT[i + 1] - CHANNEL_LAT[i])
    return lon < CHANNEL_LON[i] + share * (CHANNEL_LON[i + 1] - CHANNEL_LON[i])
