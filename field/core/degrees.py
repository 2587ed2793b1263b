"""Latitude and longitude as people write them: decimal degrees, and degrees, minutes and seconds.

Degrees name a point, so figures are rounded to the nearest, unlike those of a grid, which name a square.
"""

from __future__ import annotations

import math
import re

from field.core.errors import BadInput
from field.core.geodesy import read_position as check_position
from field.core.squares import UNKNOWN_SQUARE_M
from field.core.units import read_measure, round_half_up

METRES_PER_DEGREE = 111_320.0  # of longitude at the equator, WGS 84: the most a degree can be
MOST_DECIMALS = 7  # 1 cm
MOST_SECOND_DECIMALS = 3  # 3 cm
MARKS = "°'\""
CURE = "Write latitude and longitude as in 54.4609 -3.0886 or 54°27'39\"N 3°05'19\"W."
PART_NAMES = ("degrees", "minutes", "seconds")
# A power of ten (1E-05) is what programs write; its sign keeps it apart from an E for east.
TOKEN = re.compile(r"((?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:E[-+][0-9]+)?)|([-+])|([°'\"])|([NSEW])|([,;])|(:)")


def show_decimal(lat: float, lon: float, accuracy_m: float | None = None) -> str:
    """Return 'latitude, longitude' in decimal degrees with as many places as an accuracy deserves.

    Args:
        lat, lon: degrees, WGS 84.
        accuracy_m: metres; one unit of the last place is the coarsest power of ten not larger. None: 10 m.
    """
    places = _places(METRES_PER_DEGREE, accuracy_m, MOST_DECIMALS)
    return ", ".join(_show_number(number, places) for number in (lat, lon))


def show_dms(lat: float, lon: float, accuracy_m: float | None = None) -> str:
    """Return degrees, minutes and seconds, '54°27′39.24″N 3°05′18.96″W'; arguments as `show_decimal`."""
    places = _places(METRES_PER_DEGREE / 3600, accuracy_m, MOST_SECOND_DECIMALS)
    return f"{_show_sexagesimal(lat, places)}{'S' if lat < 0 else 'N'} {_show_sexagesimal(lon, places)}" + (
        "W" if lon < 0 else "E"
    )


def _places(unit_m: float, accuracy_m: float | None, most: int) -> int:
    known = read_measure(accuracy_m, "The accuracy of a position", "accuracy_m")
    wanted_m = UNKNOWN_SQUARE_M if known is None else known
    places = 0
    while places < most and unit_m > wanted_m:
        unit_m /= 10
        places += 1
    return places


def _show_number(number: float, places: int) -> str:
    units = round_half_up(abs(number) * 10**places)
    whole, rest = divmod(units, 10**places)
    sign = "-" if number < 0 and units else ""
    return f"{sign}{whole}" + (f".{rest:0{places}d}" if places else "")


def _show_sexagesimal(number: float, places: int) -> str:
    units = round_half_up(abs(number) * 3600 * 10**places)  # rounded once, so that no 60 seconds can stand
    seconds, rest = divmod(units, 10**places)
    tail = f".{rest:0{places}d}" if places else ""
    return f"{seconds // 3600}°{seconds // 60 % 60:02d}′{seconds % 60:02d}{tail}″"


def read_degrees(text: str) -> tuple[float, float, str]:
    """Return (lat, lon, notation) of a position in degrees.

    Args:
        text: capitals; minus as '-', marks as ° ' \\". Without letters the latitude comes first.
    Returns: degrees, and 'decimal' or 'dms' (minutes alone count as the latter).
    Raises: BadInput if it cannot be read in one way only, or is out of range.
    """
    tokens = _split(_settle_commas(text))
    letters = [i for i, (kind, _) in enumerate(tokens) if kind == "letter"]
    first, second = _halves_by_letter(tokens, letters) if letters else _halves_without_letters(tokens)
    one, one_letter, one_parts = _read_coordinate(first)
    two, two_letter, two_parts = _read_coordinate(second)
    if one_parts != two_parts and 1 in (one_parts, two_parts) and not letters and 3 in (one_parts, two_parts):
        raise BadInput("Latitude and longitude are written in two different ways.", CURE, "position")
    if one_letter and one_letter in "EW":
        one, two, one_letter, two_letter = two, one, two_letter, one_letter
    if letters and (one_letter not in ("N", "S") or two_letter not in ("E", "W")):
        raise BadInput("One of the two must be north or south, the other east or west.", CURE, "position")
    lat, lon = check_position(one, two, "position")
    return lat, lon, "decimal" if one_parts == two_parts == 1 else "dms"


Token = tuple[str, str]


def _split(text: str) -> list[Token]:
    tokens: list[Token] = []
    at = 0
    while at < len(text):
        if text[at] == " ":
            at += 1
            continue
        found = TOKEN.match(text, at)
        if found is None:
            raise BadInput(f"'{text[at]}' has no place in a position.", CURE, "position")
        kind = ("number", "sign", "mark", "letter", "comma", "colon")[(found.lastindex or 1) - 1]
        tokens.append((kind, found[0]))
        at = found.end()
    return tokens


def _settle_commas(text: str) -> str:
    """Turn decimal commas into points; refuse where a comma may be either."""
    between = len(re.findall(r"[0-9],(?=[0-9])", text))
    if "." in text or between == 0:
        return text
    is_chain = re.search(r"[0-9],[0-9]+,[0-9]", text) is not None
    if not is_chain and (between == 2 or (between == 1 and re.search(r"[°'\"NSEW]", text))):
        return re.sub(r"([0-9]),(?=[0-9])", r"\1.", text)
    raise BadInput(
        "A comma between two figures may be a decimal comma or part the two numbers.",
        "Write decimals with a point, or put a blank after the comma.",
        "position",
    )


def _halves_by_letter(tokens: list[Token], letters: list[int]) -> tuple[list[Token], list[Token]]:
    if len(letters) == 1:
        raise BadInput("North, south, east or west is given for one of the two numbers only.", CURE, "position")
    if len(letters) > 2:
        raise BadInput("There are more than two letters for north, south, east or west.", CURE, "position")
    # Either each number follows its letter, or each letter its number.
    part = letters[1] if letters[0] == 0 else letters[0] + 1
    return tokens[:part], tokens[part:]


def _halves_without_letters(tokens: list[Token]) -> tuple[list[Token], list[Token]]:
    commas = [i for i, (kind, _) in enumerate(tokens) if kind == "comma"]
    if len(commas) == 1:
        return tokens[: commas[0]], tokens[commas[0] + 1 :]
    numbers = [i for i, (kind, _) in enumerate(tokens) if kind == "number"]
    degrees = [i - 1 for i, token in enumerate(tokens) if token == ("mark", "°")]
    if commas or len(numbers) < 2:
        raise BadInput("That is not one latitude and one longitude.", CURE, "position")
    if len(degrees) == 2:
        part = degrees[1]
    elif len(numbers) in (2, 4, 6):
        part = numbers[len(numbers) // 2]
    else:
        raise BadInput("It is not clear where the latitude ends and the longitude begins.", CURE, "position")
    if part > 0 and tokens[part - 1][0] == "sign":
        part -= 1
    return tokens[:part], tokens[part:]


def _read_coordinate(tokens: list[Token]) -> tuple[float, str | None, int]:
    """Return (degrees with their sign, letter, how many numbers) of a latitude or a longitude."""
    letter = next((word for kind, word in tokens if kind == "letter"), None)
    rest = [token for token in tokens if token[0] not in ("letter", "comma")]
    sign = 1.0
    if rest and rest[0][0] == "sign":
        sign = -1.0 if rest[0][1] == "-" else 1.0
        rest = rest[1:]
        if letter is not None:
            raise BadInput(
                f"A sign and the letter {letter} stand at the same number.", "Leave out one of them.", "position"
            )
    parts = _read_parts(rest)
    if not 1 <= len(parts) <= 3:
        raise BadInput("That is not one latitude and one longitude.", CURE, "position")
    for name, part in zip(PART_NAMES[1:], parts[1:], strict=False):
        if part >= 60:
            raise BadInput(f"There are 60 {name} or more.", "Minutes and seconds go up to 59.", "position")
    if any(part != math.floor(part) for part in parts[:-1]):
        raise BadInput("Only the last of degrees, minutes and seconds may have decimals.", CURE, "position")
    value = sum(part / 60**i for i, part in enumerate(parts))
    return -value if sign < 0 or letter in ("S", "W") else value, letter, len(parts)


def _read_parts(tokens: list[Token]) -> list[float]:
    parts: list[float] = []
    was_number = False
    for kind, word in tokens:
        if kind == "number":
            parts.append(float(word))
        elif kind == "mark":
            if not was_number or MARKS.index(word) != len(parts) - 1:
                raise BadInput(f"The mark {word} is not where it belongs.", CURE, "position")
        elif kind == "sign" or not was_number:
            raise BadInput(f"'{word}' is not where it belongs.", CURE, "position")
        was_number = kind == "number"
    return parts
