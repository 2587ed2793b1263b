"""Distances and bearings on the ground, in metres and degrees, on WGS 84.

Near distances use the two radii of the ellipsoid at the middle latitude: a straight hypotenuse in a flat plane,
a hundred times faster than a true geodesic. Far ones, and those near a pole where meridians run together too
fast for a plane, use geographiclib. A sphere is never used: it is up to half a per cent off, which is enough to
put a tree on the wrong side of a wall.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Any

from geographiclib.geodesic import Geodesic

from field.core.errors import BadInput

WGS84_A_M = 6378137.0  # NGA.STND.0036, defining parameter
WGS84_F = 1 / 298.257223563  # NGA.STND.0036, defining parameter
WGS84_E2 = WGS84_F * (2 - WGS84_F)
MEAN_RADIUS_M = 6371008.8  # (2a + b) / 3 of WGS 84: Moritz, Geodetic Reference System 1980, J. Geodesy 74 (2000)
RADIANS = math.pi / 180

NEAR_M = 20_000.0  # beyond this the plane is off by more than 2 cm at 54 degrees
STEEP_LAT = 72.0  # beyond this the plane is off by 0.1 m at 20 km


def read_position(lat: object, lon: object, where: str = "position") -> tuple[float, float]:
    """Return a position as two floats after checking that it is one.

    Args:
        lat, lon: degrees, WGS 84; whole or real numbers, no text.
        where: place of the position in the input, for the sentence of the error.
    Returns: (lat, lon).
    Raises: BadInput if one is missing, not a finite number, or out of range (latitude -90 to 90, longitude -180 to
        180).
    """
    return (
        _read_degrees(lat, 90.0, "latitude", f"{where}.lat"),
        _read_degrees(lon, 180.0, "longitude", f"{where}.lon"),
    )


def _read_degrees(value: object, limit: float, name: str, where: str) -> float:
    if value is None:
        raise BadInput(f"The {name} is missing.", "Take a position first.", where)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise BadInput(f"The {name} is not a number.", "Give it in decimal degrees.", where)
    if not abs(value) <= limit:  # so written that NaN is refused too
        raise BadInput(
            f"The {name} must lie between -{limit:.0f} and {limit:.0f} degrees.",
            "Check the position: latitude first, then longitude.",
            where,
        )
    return float(value)


def wrap_lon(lon: float) -> float:
    """Return a longitude, or a difference of two, brought into -180 to 180 degrees."""
    if -180.0 <= lon <= 180.0:
        return lon
    wrapped = math.fmod(lon, 360.0)
    if wrapped > 180.0:
        return wrapped - 360.0
    return wrapped + 360.0 if wrapped < -180.0 else wrapped


def metres_per_degree(lat: float) -> tuple[float, float]:
    """Return how many metres one degree is at a latitude: northwards, then eastwards.

    Args:
        lat: degrees.
    Returns: (metres per degree of latitude, metres per degree of longitude), from the radii of curvature in the
        meridian and in the prime vertical.
    Source: Rapp, Geometric Geodesy I (1991), section 3.5: M = a(1-e2)/W^3, N = a/W.
    """
    sin_lat = math.sin(lat * RADIANS)
    w2 = 1.0 - WGS84_E2 * sin_lat * sin_lat
    n = WGS84_A_M / math.sqrt(w2)
    return n * (1.0 - WGS84_E2) / w2 * RADIANS, n * math.cos(lat * RADIANS) * RADIANS


def place_in_space(lat: float, lon: float) -> tuple[float, float, float]:
    """Return where a position on the ellipsoid is in space.

    Args:
        lat, lon: degrees, WGS 84; the longitude may be wound further than 180.
    Returns: (x, y, z) in metres from the middle of the earth: to 0, 0; to 0, 90 east; to the north pole.
    Source: Rapp, Geometric Geodesy I (1991), section 3.4, with no height.
    """
    sin_lat, cos_lat = math.sin(lat * RADIANS), math.cos(lat * RADIANS)
    n = WGS84_A_M / math.sqrt(1.0 - WGS84_E2 * sin_lat * sin_lat)
    out = n * cos_lat
    return out * math.cos(lon * RADIANS), out * math.sin(lon * RADIANS), n * (1.0 - WGS84_E2) * sin_lat


def arc_m(straight_m: float) -> float:
    """Return the way along the ground between two positions, from the straight line between them in space.

    Args:
        straight_m: metres, 0 or more.
    Accuracy: the earth's curve adds s^3 / 24 R^2, which is 8 mm at 20 km; R is known to 0.6 % anywhere and in any
        direction, so the result is right to 0.1 mm at 20 km and 0.1 m at 200 km.
    """
    return 2.0 * MEAN_RADIUS_M * math.asin(min(1.0, straight_m / (2.0 * MEAN_RADIUS_M)))


def distance_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the distance between two positions along the ellipsoid.

    Args:
        lat1, lon1, lat2, lon2: degrees, WGS 84; longitudes may be wound further than 180.
    Returns: metres, never negative.
    Raises: BadInput if a number is not finite or a latitude is beyond 90.
    Accuracy: within 1 mm below 1 km, 1 cm below 5 km and 0.1 m below 20 km, up to 72 degrees of latitude; elsewhere
        that of geographiclib, 15 nm (tests/reference/test_geodesy.py).
    """
    middle = (lat1 + lat2) / 2
    if -STEEP_LAT <= middle <= STEEP_LAT:
        north_m, east_m = metres_per_degree(middle)
        d_lon = lon2 - lon1
        if not -180.0 <= d_lon <= 180.0:
            d_lon = wrap_lon(d_lon) if math.isfinite(d_lon) else math.nan
        near = math.hypot((lat2 - lat1) * north_m, d_lon * east_m)
        if near <= NEAR_M:  # False for NaN too, and for any latitude over 90: both go on to be refused
            return near
    return float(_inverse(lat1, lon1, lat2, lon2)["s12"])


def bearing_deg(lat1: float, lon1: float, lat2: float, lon2: float) -> float | None:
    """Return the bearing at the first position towards the second.

    Args:
        lat1, lon1, lat2, lon2: degrees, WGS 84.
    Returns: degrees clockwise from true north, 0 up to 360 (360 itself left out); None when both are the same spot.
    Raises: BadInput as `distance_m`.
    """
    got = _inverse(lat1, lon1, lat2, lon2)
    if got["s12"] == 0.0:
        return None
    return float(got["azi1"]) % 360.0


def point_at(lat: float, lon: float, bearing: float, distance: float) -> tuple[float, float]:
    """Return the position that is reached from another by a bearing and a distance.

    Args:
        lat, lon: degrees, WGS 84.
        bearing: degrees clockwise from true north.
        distance: metres.
    Returns: (lat, lon), longitude within -180 to 180.
    Raises: BadInput as `distance_m`.
    """
    _refuse_nonsense(lat, lon, bearing, distance)
    got: dict[str, Any] = Geodesic.WGS84.Direct(lat, lon, bearing, distance)
    return float(got["lat2"]), float(got["lon2"])


def length_m(line: Iterable[tuple[float, float]]) -> float:
    """Return the length of a line of (lat, lon) positions in metres; 0.0 for fewer than two."""
    return math.fsum(distance_m(*here, *there) for here, there in pairwise(line))


def _inverse(lat1: float, lon1: float, lat2: float, lon2: float) -> dict[str, Any]:
    _refuse_nonsense(lat1, lon1)
    _refuse_nonsense(lat2, lon2)
    got: dict[str, Any] = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    return got


def _refuse_nonsense(lat: float, *others: float) -> None:
    if not all(math.isfinite(number) for number in (lat, *others)) or abs(lat) > 90.0:
        raise BadInput("That is not a position on the earth.", "Check the latitude and the longitude.", "position")
