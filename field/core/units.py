"""Numbers with units: reading them with care, and showing them short.

Kept values are millimetres for parts of a tree, metres on the ground, kilograms, litres. Feet and inches are only
ever a way of showing.
"""

from __future__ import annotations

import math

from field.core.errors import BadInput

MM_PER_INCH = 25.4  # exact, international yard and pound agreement of 1959
M_PER_FOOT = 0.3048  # exact, the same
KG_PER_POUND = 0.45359237  # exact, the same
LARGEST = 1e300  # beyond lies no measure of anything, and infinity
WHOLE_LIMIT = 2**53  # whole numbers beyond are not told apart by every reader of JSON


def read_measure(value: object, name: str, where: str) -> float | None:
    """Return a measured number, or None where it is not known.

    Args:
        value: what was given; None means not known.
        name: what it is, with its article: 'The girth'.
        where: its place in the input.
    Returns: a finite float, 0 or more; None stays None.
    Raises: BadInput if it is text, a truth value, not finite, or negative.
    """
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise BadInput(f"{name} is not a number.", "Give a number, or leave it empty.", where)
    if not -LARGEST <= value <= LARGEST:  # so written that NaN is refused too
        raise BadInput(f"{name} is not a usable number.", "Give a number, or leave it empty.", where)
    if value < 0:
        raise BadInput(f"{name} is negative.", "Give 0 or more, or leave it empty.", where)
    return float(value)


def read_count(value: object, name: str, where: str) -> int | None:
    """Return a counted number, or None where it is not known.

    Args, raises: as `read_measure`; a number with a fraction is refused as well.
    Returns: a whole number, 0 or more; None stays None.
    """
    number = read_measure(value, name, where)
    if number is None:
        return None
    if number != int(number) or number >= WHOLE_LIMIT:
        raise BadInput(f"{name} is not a whole number.", "Give a whole number, or leave it empty.", where)
    return int(number)


def round_half_up(number: float) -> int:
    """Return the nearest whole number, halves upwards: the phone's rounding, so that both show the same."""
    return math.floor(number + 0.5)


def show_distance(metres: float) -> str:
    """Return a distance in short words: 'less than 1 m', '12 m', '1.4 km'."""
    if metres < 1:
        return "less than 1 m"
    whole = round_half_up(metres)
    if whole < 1000:
        return f"{whole} m"
    tenths = round_half_up(metres / 100)
    return f"{tenths // 10}.{tenths % 10} km" if tenths < 100 else f"{round_half_up(metres / 1000)} km"


def show_length(mm: float) -> str:
    """Return the size of a part of a tree in whole millimetres: '240 mm'."""
    return f"{round_half_up(mm)} mm"


def inches(mm: float) -> float:
    """Return millimetres as inches."""
    return mm / MM_PER_INCH


def feet(metres: float) -> float:
    """Return metres as feet."""
    return metres / M_PER_FOOT


def pounds(kg: float) -> float:
    """Return kilograms as pounds."""
    return kg / KG_PER_POUND
