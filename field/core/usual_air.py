"""What the air usually takes on a day where no weather is logged: a wide, rough range by latitude, height and season.

A stand-in until days are logged. The usual mean is a smooth wave through the year, fitted by eye to lowlands near a
western coast (common practice, no source): inland summers are warmer and winters colder, which the width of the range
is for. Twin: `static/js/core/usual_air.js`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from field.core.evapotranspiration import drying_of_day

WARMEST_DAY = 201  # of the year, about 20 July in the north; a month after the longest day
TROPIC_MEAN_C, TROPIC_LAT = 27.0, 15.0  # the mean of the year at sea level, up to that latitude
COOLER_PER_DEGREE = 0.46  # beyond it: 10 °C at 52 degrees
SWING_PER_DEGREE = 1 / 7  # half the way from midwinter to midsummer: 7 degrees at 52 degrees
COOLER_PER_M = 0.0065  # the standard atmosphere's, ISO 2533
LOWEST_M, HIGHEST_M = -500.0, 9000.0
APART_C = 6.0  # a cool day below the mean, a warm one above it
GREY_SWING_C, CLEAR_SWING_C = 4.0, 12.0  # from the lowest to the highest of a grey and of a clear day


@dataclass(frozen=True, slots=True)
class UsualAir:
    """What is usual on a day; ranges are (a cool grey day, a warm clear day)."""

    mean_c: tuple[float, float]
    et0_mm_d: tuple[float, float]


def usual_air(lat: float, on: date, height_m: float | None = None) -> UsualAir:
    """Return what the air usually takes on a day at a place.

    Args:
        lat: degrees, negative south of the equator.
        on: the day.
        height_m: above the sea; None when not known, then the lowland's.
    Raises: BadInput for a latitude that no place has.
    """
    year = TROPIC_MEAN_C - COOLER_PER_DEGREE * max(0.0, abs(lat) - TROPIC_LAT)
    wave = math.cos(2 * math.pi * (on.timetuple().tm_yday - WARMEST_DAY) / 365)
    height = 0.0 if height_m is None else min(HIGHEST_M, max(LOWEST_M, height_m))
    mean = year + lat * SWING_PER_DEGREE * wave - COOLER_PER_M * height
    cool, warm = mean - APART_C, mean + APART_C
    takes = [
        drying_of_day(middle - swing / 2, middle + swing / 2, lat, on).et0_mm_d
        for middle, swing in ((cool, GREY_SWING_C), (warm, CLEAR_SWING_C))
    ]
    return UsualAir((cool, warm), (takes[0], takes[1]))
