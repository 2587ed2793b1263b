"""How much water the air takes on a day: radiation above the air, day length, reference evapotranspiration.

Source of all equations: Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, equations 21 to 25,
34 and 52. Reference evapotranspiration is that of a short, well watered grass, in mm a day (1 mm is 1 L a m2).
Twin: `static/js/core/evapotranspiration.js`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from field.core.caution import Caution
from field.core.errors import BadInput
from field.core.weather import check_extremes

SOLAR_CONSTANT = 0.0820  # MJ m-2 min-1, FAO-56 equation 21
MM_PER_MJ = 0.408  # 1 / 2.45 MJ kg-1, FAO-56 equation 20
LIMITED_BEYOND_LAT = 55.0  # FAO-56 on equations 21 to 25: limited validity beyond about 55 degrees

HIGH_LATITUDE = Caution(
    "high-latitude", "Beyond 55 degrees of latitude the formula for the sun's radiation is of limited use."
)
WIND = Caution("wind", "In wind above about 3 m/s more water goes than this says: expect the shorter end.")
HUMID = Caution("humid", "In damp air less goes than this says; in one humid place it was 8.5 % too high on average.")


@dataclass(frozen=True, slots=True)
class Drying:
    """One day's reference evapotranspiration and what it was reckoned from."""

    ra_mj_m2_d: float  # radiation above the air
    daylight_h: float
    et0_mm_d: float
    cautions: tuple[Caution, ...]


def inverse_distance(day_of_year: int) -> float:
    """Return the inverse relative distance from earth to sun, equation 23."""
    return 1 + 0.033 * math.cos(2 * math.pi * day_of_year / 365)


def declination_rad(day_of_year: int) -> float:
    """Return the sun's declination, equation 24."""
    return 0.409 * math.sin(2 * math.pi * day_of_year / 365 - 1.39)


def sunset_angle_rad(lat: float, day_of_year: int) -> float:
    """Return the sunset hour angle, equation 25: exactly 0 in the polar night, pi where the sun does not set."""
    cosine = -math.tan(math.radians(lat)) * math.tan(declination_rad(day_of_year))
    return math.acos(max(-1.0, min(1.0, cosine)))


def radiation_mj(lat: float, on: date) -> float:
    """Return the radiation above the air on a day, equation 21, in MJ m-2 d-1.

    Args:
        lat: degrees, -90 to 90.
        on: the day.
    Raises: BadInput for a latitude that no place has.
    Accuracy: within 0.001 of three libraries (tests/reference/test_evapotranspiration.py).
    """
    phi = math.radians(_check_lat(lat))
    day = on.timetuple().tm_yday
    delta, angle = declination_rad(day), sunset_angle_rad(lat, day)
    heights = angle * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(angle)
    return max(0.0, 24 * 60 / math.pi * SOLAR_CONSTANT * inverse_distance(day) * heights)


def daylight_h(lat: float, on: date) -> float:
    """Return how many hours the sun is up, equation 34; 0 in the polar night, 24 where it does not set."""
    return 24 / math.pi * sunset_angle_rad(_check_lat(lat), on.timetuple().tm_yday)


def hargreaves_mm(tmin_c: float, tmax_c: float, ra_mj_m2_d: float, tmean_c: float | None = None) -> float:
    """Return reference evapotranspiration from temperatures alone, equation 52, in mm a day; never below 0.

    Args:
        tmin_c, tmax_c: of the day; the lower first.
        ra_mj_m2_d: radiation above the air.
        tmean_c: the day's mean; None: halfway between the two, as FAO-56 has it.
    """
    mean = (tmin_c + tmax_c) / 2 if tmean_c is None else tmean_c
    return max(0.0, 0.0023 * (mean + 17.8) * math.sqrt(max(0.0, tmax_c - tmin_c)) * MM_PER_MJ * ra_mj_m2_d)


def drying_of_day(tmin_c: float, tmax_c: float, lat: float, on: date) -> Drying:
    """Return the reference evapotranspiration of one day at a place, with what to think of beside it.

    Args:
        tmin_c, tmax_c: lowest and highest air temperature of the day.
        lat: degrees, negative south of the equator.
        on: the day.
    Raises: BadInput for a latitude or temperature that no place has, or a minimum above the maximum.
    """
    check_extremes(tmin_c, tmax_c)
    ra = radiation_mj(lat, on)
    cautions = (HIGH_LATITUDE, WIND, HUMID) if abs(lat) > LIMITED_BEYOND_LAT else (WIND, HUMID)
    return Drying(ra, daylight_h(lat, on), hargreaves_mm(tmin_c, tmax_c, ra), cautions)


def _check_lat(lat: float) -> float:
    if not -90 <= lat <= 90:  # so written that NaN is refused too
        raise BadInput(f"A latitude of {lat:g} is not on the earth.", "Give degrees between -90 and 90.", "lat")
    return lat
