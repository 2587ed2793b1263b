"""What grid references have in common: figures that name a square, and how large a square fits an accuracy.

A reference of n figures names a square, not a point: figures are cut off, never rounded, for a rounded one can name a
neighbour in which nothing is.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from field.core.errors import BadInput
from field.core.units import read_measure

HUNDRED_KM = 100_000
TOUCH_M = 1e-6  # a value this close below a whole metre is that metre: the last bits of arithmetic are no place
# Where nobody knows how good a position is: what a phone in the open usually keeps. Common practice.
UNKNOWN_SQUARE_M = 10
FIGURES_CURE = "Give the same number of figures eastwards and northwards, as in NN 166 712."


@dataclass(frozen=True, slots=True)
class Square:
    """A square of a grid: its south-west corner and its side."""

    east_m: float
    north_m: float
    side_m: float

    def centre(self) -> tuple[float, float]:
        """Return (easting, northing) of the middle: no spot of the square is further off than 0.71 sides."""
        return self.east_m + self.side_m / 2, self.north_m + self.side_m / 2

    def spots(self) -> list[tuple[float, float]]:
        """Return corners, middles of the sides and centre."""
        steps = (0.0, self.side_m / 2, self.side_m)
        return [(self.east_m + east, self.north_m + north) for east in steps for north in steps]


def square_for(accuracy_m: float | None, least_m: int = 1, most_m: int = HUNDRED_KM) -> int:
    """Return the side of the coarsest square that is not larger than an accuracy.

    Args:
        accuracy_m: metres; None is not known, and gives a ten metre square.
        least_m: the finest square the notation can vouch for; most_m: the coarsest it can write.
    Returns: 1, 10, 100 ... metres: figures of a grid come in tens, so 2 and 5 have no square of their own.
    Raises: BadInput if the accuracy is no measure.
    """
    known = read_measure(accuracy_m, "The accuracy of a position", "accuracy_m")
    side = UNKNOWN_SQUARE_M if known is None else 1
    while known is not None and side * 10 <= known and side < most_m:
        side *= 10
    return min(max(side, least_m), most_m)


def cut(metres: float, side_m: int) -> int:
    """Return how many whole squares fit below a number of metres."""
    return math.floor((metres + TOUCH_M) / side_m)


def show_figures(east_m: float, north_m: float, side_m: int) -> tuple[str, str]:
    """Return the figures of a spot within its 100 km square, eastwards and northwards; empty for that square itself."""
    count = len(str(HUNDRED_KM // side_m)) - 1
    if count == 0:
        return "", ""
    whole = HUNDRED_KM // side_m
    return f"{cut(east_m, side_m) % whole:0{count}d}", f"{cut(north_m, side_m) % whole:0{count}d}"


def read_figures(text: str) -> Square:
    """Return the square that the figures after the letters name, within its 100 km square.

    Args:
        text: the figures, in one block or in two of equal length; blanks and commas between them.
    Raises: BadInput if something else stands among them, or they are too many, uneven or in more than two blocks.
    """
    stray = re.search(r"[^0-9 ,]", text)
    if stray:
        raise BadInput(f"There is a '{stray[0]}' among the figures of the grid reference.", FIGURES_CURE, "position")
    blocks = re.findall(r"[0-9]+", text)
    figures = "".join(blocks)
    if len(figures) % 2 or len(blocks) > 2 or (len(blocks) == 2 and len(blocks[0]) != len(blocks[1])):
        raise BadInput("The figures of the grid reference are uneven.", FIGURES_CURE, "position")
    if len(figures) > 10:
        raise BadInput(
            "The grid reference has more than ten figures.", "Ten figures already name a square metre.", "position"
        )
    count = len(figures) // 2
    side = 10 ** (5 - count)
    return Square(int(figures[:count] or 0) * side, int(figures[count:] or 0) * side, float(side))
