"""A position in every notation people use on the hill, and read from any of them.

Shown: decimal degrees, degrees-minutes-seconds, UTM, MGRS, British and Irish grid, each with no more figures than the
accuracy deserves. Read: the same, as a person types them. None of it makes a navigation or rescue device.
"""

from __future__ import annotations

import re
from typing import TypedDict

from field.core.degrees import read_degrees, show_decimal, show_dms
from field.core.errors import BadInput
from field.core.geodesy import read_position as check_position
from field.core.national_grid import from_british, from_irish, read_british, read_irish, show_british, show_irish
from field.core.squares import Square
from field.core.utm import POLAR, POLAR_CURE, read_mgrs, read_utm, show_mgrs, show_utm

LONGEST = 100
CURE = "Write degrees (54.4609 -3.0886), a grid reference (NY 295 078), MGRS or UTM."
# What keyboards and web pages put in place of the plain signs.
PLAIN = str.maketrans(
    {
        **dict.fromkeys("−–—‒‐", "-"),
        **dict.fromkeys("′’‘´`ʹ", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("\t\n\r\u00a0\u2007\u2009\u200a\u202f", " "),
    }
)
WORDS = {"NORTH": "N", "SOUTH": "S", "EAST": "E", "WEST": "W", "DEGREES": "°", "DEG": "°"}
MGRS_LIKE = re.compile(r"([0-9]{1,2}) ?([A-Z]) ?([A-Z]) ?([A-Z])(?![A-Z])(.*)")
UTM_LIKE = re.compile(r"(?:UTM )?(?:ZONE )?([0-9]{1,2}) ?(NORTH|SOUTH|[A-Z])[ ,]+([0-9]{5,}.*)")
UTM_METRES = re.compile(r"([0-9]+)(?:\.([0-9]+))? ?(?:M ?E|E|M)?[ ,]+([0-9]+)(?:\.([0-9]+))? ?(?:M ?N|N|M)?")
POLAR_LIKE = re.compile(r"[ABYZ] ?[A-Z] ?[A-Z] ?[0-9 ]*")
BRITISH_LIKE = re.compile(r"([A-Z]) ?([A-Z])(?![A-Z])(?=$|.*[0-9])(.*)")
IRISH_LIKE = re.compile(r"([A-Z])(?![A-Z])(?=$|.*[0-9])(.*)")
LABELS = re.compile(r"LAT(?:ITUDE)?[ :=]*([^A-Z]+?[NS]?)[ ,;]*LON(?:G|GITUDE)?[ :=]*([^A-Z]+[EW]?)")


class TypedPosition(TypedDict):
    """What a person typed, as a position."""

    lat: float  # degrees, WGS 84
    lon: float
    notation: str
    square_m: float | None  # side of the square that was named; None: a point was


def notations(lat: float, lon: float, accuracy_m: float | None = None) -> dict[str, str | None]:
    """Return a position in every notation, None under each that does not apply there.

    Args:
        lat, lon: degrees, WGS 84.
        accuracy_m: metres; figures name the coarsest square not larger than it, in steps of ten: 1, 10, 100 m. None
            is not known, and counts as 10 m.
    Returns: texts under "decimal", "dms", "utm", "mgrs", "gb_grid", "irish_grid". Figures of grids are cut off, never
        rounded; degrees are rounded. The British and the Irish grid are never shown finer than 10 m, because the
        transformation to them is not better known here.
    Raises: BadInput if it is no position, or the accuracy no measure.
    """
    lat, lon = check_position(lat, lon)
    return {
        "decimal": show_decimal(lat, lon, accuracy_m),
        "dms": show_dms(lat, lon, accuracy_m),
        "utm": show_utm(lat, lon, accuracy_m),
        "mgrs": show_mgrs(lat, lon, accuracy_m),
        "gb_grid": show_british(lat, lon, accuracy_m),
        "irish_grid": show_irish(lat, lon, accuracy_m),
    }


def read_position(text: object) -> TypedPosition:
    """Return the position that a person typed, in any notation of `notations`.

    Args:
        text: blanks, case, commas and kinds of degree signs do not matter; N, S, E, W stand before or after. Degrees
            without letters: the latitude first.
    Returns: {"lat", "lon": degrees WGS 84, "notation": a name out of `notations`, "square_m"}. A grid reference names a
        square: the position is its centre, and `square_m` its side; None for degrees, which name a point. UTM metres
        count as a square of their last figure.
    Raises: BadInput, with one sentence, for what can be read in no way or in more than one.
    """
    plain = _plain_text(text)
    for read in (_read_mgrs, _read_utm, _read_polar, _read_british, _read_irish):
        found = read(plain)
        if found is not None:
            return found
    return _read_degrees(plain)


def _plain_text(text: object) -> str:
    if not isinstance(text, str):
        raise BadInput("A position is typed as text.", CURE, "position")
    plain = " ".join(text.translate(PLAIN).upper().replace("''", '"').split(" ")).strip(" ")
    plain = re.sub(" +", " ", plain)
    if not plain:
        raise BadInput("No position is given.", CURE, "position")
    if len(plain) > LONGEST:
        raise BadInput("That is too long to be a position.", CURE, "position")
    return plain


def _answer(lat: float, lon: float, notation: str, square_m: float | None) -> TypedPosition:
    return {"lat": lat, "lon": lon, "notation": notation, "square_m": square_m}


def _read_mgrs(text: str) -> TypedPosition | None:
    found = MGRS_LIKE.fullmatch(text)
    if found is None:
        return None
    lat, lon, side_m = read_mgrs(int(found[1]), found[2], found[3] + found[4], found[5])
    return _answer(lat, lon, "mgrs", side_m)


def _read_utm(text: str) -> TypedPosition | None:
    found = UTM_LIKE.fullmatch(text)
    if found is None:
        return None
    metres = UTM_METRES.fullmatch(found[3])
    if metres is None:
        raise BadInput(
            "UTM needs an easting and a northing in metres.", "Write it as in 30U 494256 6034807.", "position"
        )
    places = max(len(metres[2] or ""), len(metres[4] or ""))
    side_m = 10.0**-places
    east_m, north_m = float(f"{metres[1]}.{metres[2] or 0}"), float(f"{metres[3]}.{metres[4] or 0}")
    lat, lon = read_utm(int(found[1]), found[2], Square(east_m, north_m, side_m))
    return _answer(lat, lon, "utm", side_m)


def _read_polar(text: str) -> None:
    if POLAR_LIKE.fullmatch(text):
        raise BadInput(POLAR, POLAR_CURE, "position")


def _read_british(text: str) -> TypedPosition | None:
    found = BRITISH_LIKE.fullmatch(text)
    if found is None:
        return None
    square = read_british(found[1] + found[2], found[3])
    return _answer(*from_british(*square.centre()), "gb_grid", square.side_m)


def _read_irish(text: str) -> TypedPosition | None:
    found = IRISH_LIKE.fullmatch(text)
    if found is None:
        return None
    letter, rest = found[1], found[2]
    if letter in "NSEW":
        if re.search(r"[NSEW.°'\":+-]", rest):
            return None
        if len(re.findall(r"[0-9]", rest)) < 6:
            raise BadInput(
                f"{text} may be half of a position in degrees, or a square of the Irish grid.",
                "Add the other half, or write six figures or more.",
                "position",
            )
    square = read_irish(letter, rest)
    return _answer(*from_irish(*square.centre()), "irish_grid", square.side_m)


def _read_degrees(text: str) -> TypedPosition:
    labelled = LABELS.fullmatch(text)
    if labelled:
        text = (
            f"{labelled[1]} {labelled[2]}"
            if re.search("[A-Z]", labelled[1] + labelled[2])
            else f"{labelled[1]}; {labelled[2]}"
        )
    for word, sign in WORDS.items():
        text = re.sub(rf"(?<![A-Z]){word}(?![A-Z])", sign, text)
    if re.fullmatch(r"[0-9]{4,7}(?:\.[0-9]+)?[ ,;]+[0-9]{4,7}(?:\.[0-9]+)?", text):
        raise BadInput(
            "Those look like an easting and a northing without their grid.",
            "Put the letters of the square or the UTM zone before them.",
            "position",
        )
    lat, lon, notation = read_degrees(text)
    return _answer(lat, lon, notation, None)
