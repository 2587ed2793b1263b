"""From degrees to metres on a flat grid and back: the transverse Mercator projection, and the step between two datums.

All grids here (UTM, British, Irish) are this one projection with other numbers, so there is one piece of code for them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from field.core.geodesy import RADIANS, wrap_lon

ARC_SECOND = RADIANS / 3600


@dataclass(frozen=True)
class Ellipsoid:
    """The figure of the earth that a datum uses."""

    a_m: float  # half the long axis
    b_m: float  # half the short one

    @property
    def e2(self) -> float:
        """The square of the eccentricity."""
        return 1.0 - (self.b_m / self.a_m) ** 2


# Half axes: NGA.STND.0036 (b follows from the flattening); A guide to coordinate systems in Great Britain, annex A;
# EPSG:7002 (Airy modified 1849).
WGS84 = Ellipsoid(6378137.0, 6378137.0 * (1 - 1 / 298.257223563))
AIRY = Ellipsoid(6377563.396, 6356256.909)
AIRY_MODIFIED = Ellipsoid(6377340.189, 6377340.189 * (1 - 1 / 299.3249646))


@dataclass(frozen=True)
class Projection:
    """A transverse Mercator grid.

    Accuracy: below 1 mm as far as 9 degrees from its middle meridian, the widest any zone goes
        (tests/reference/test_gridref.py).
    Source: Karney 2011, doi:10.1007/s00190-011-0445-3, equations 7-25, 35 and 36; the series of Krüger 1912, cut
        after the fourth power, which leaves less than a micrometre.
    """

    ellipsoid: Ellipsoid
    lat0: float  # true origin, degrees
    lon0: float
    scale: float  # on the middle meridian
    east0_m: float  # what the true origin is called
    north0_m: float

    @cached_property
    def _series(self) -> tuple[float, tuple[float, ...], tuple[float, ...]]:
        n = (self.ellipsoid.a_m - self.ellipsoid.b_m) / (self.ellipsoid.a_m + self.ellipsoid.b_m)
        n2, n3, n4 = n * n, n**3, n**4
        radius = self.ellipsoid.a_m / (1 + n) * (1 + n2 / 4 + n4 / 64)
        there = (
            n / 2 - 2 * n2 / 3 + 5 * n3 / 16 + 41 * n4 / 180,
            13 * n2 / 48 - 3 * n3 / 5 + 557 * n4 / 1440,
            61 * n3 / 240 - 103 * n4 / 140,
            49561 * n4 / 161280,
        )
        back = (
            n / 2 - 2 * n2 / 3 + 37 * n3 / 96 - n4 / 360,
            n2 / 48 + n3 / 15 - 437 * n4 / 1440,
            17 * n3 / 480 - 37 * n4 / 840,
            4397 * n4 / 161280,
        )
        return radius, there, back

    @cached_property
    def _origin_m(self) -> float:
        return self._plane(self.lat0, 0.0)[1]

    def to_grid(self, lat: float, lon: float) -> tuple[float, float]:
        """Return (easting, northing) in metres of a position in degrees on the grid's own datum."""
        east, north = self._plane(lat, wrap_lon(lon - self.lon0))
        return self.east0_m + east, self.north0_m + north - self._origin_m

    def from_grid(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return (lat, lon) in degrees on the grid's own datum."""
        radius, _, back = self._series
        xi = (north_m - self.north0_m + self._origin_m) / (self.scale * radius)
        eta = (east_m - self.east0_m) / (self.scale * radius)
        xi1, eta1 = xi, eta
        for j, factor in enumerate(back, start=1):
            xi1 -= factor * math.sin(2 * j * xi) * math.cosh(2 * j * eta)
            eta1 -= factor * math.cos(2 * j * xi) * math.sinh(2 * j * eta)
        wanted = math.sin(xi1) / math.hypot(math.sinh(eta1), math.cos(xi1))
        lon = math.atan2(math.sinh(eta1), math.cos(xi1)) / RADIANS
        return math.atan(self._tan_lat(wanted)) / RADIANS, wrap_lon(self.lon0 + lon)

    def _plane(self, lat: float, d_lon: float) -> tuple[float, float]:
        radius, there, _ = self._series
        tau = self._conformal(math.tan(lat * RADIANS))
        angle = d_lon * RADIANS
        xi1 = math.atan2(tau, math.cos(angle))
        eta1 = math.asinh(math.sin(angle) / math.hypot(tau, math.cos(angle)))
        xi, eta = xi1, eta1
        for j, factor in enumerate(there, start=1):
            xi += factor * math.sin(2 * j * xi1) * math.cosh(2 * j * eta1)
            eta += factor * math.cos(2 * j * xi1) * math.sinh(2 * j * eta1)
        return self.scale * radius * eta, self.scale * radius * xi

    def _conformal(self, tau: float) -> float:
        e = math.sqrt(self.ellipsoid.e2)
        sigma = math.sinh(e * math.atanh(e * tau / math.hypot(1.0, tau)))
        return tau * math.hypot(1.0, sigma) - sigma * math.hypot(1.0, tau)

    def _tan_lat(self, wanted: float) -> float:
        rest = 1.0 - self.ellipsoid.e2
        tau = wanted
        for _ in range(4):  # Newton: two steps reach the last digit, two more cost nothing
            got = self._conformal(tau)
            tau += (
                (wanted - got) / math.hypot(1.0, got) * (1.0 + rest * tau * tau) / (rest * math.hypot(1.0, tau))
            )  # equation 21
        return tau


@dataclass(frozen=True)
class Helmert:
    """Seven numbers that carry positions from one datum to another (rotation of the position vector).

    Heights are taken as 0: at 1000 m that moves a position by less than 2 cm, far below what the seven numbers promise.
    """

    tx_m: float
    ty_m: float
    tz_m: float
    scale_ppm: float
    rx: float  # arc seconds
    ry: float
    rz: float

    def apply(self, lat: float, lon: float, source: Ellipsoid, target: Ellipsoid) -> tuple[float, float]:
        """Return (lat, lon) on the target's datum of a position on the source's."""
        x, y, z = _to_space(lat, lon, source)
        rx, ry, rz = self.rx * ARC_SECOND, self.ry * ARC_SECOND, self.rz * ARC_SECOND
        m = 1.0 + self.scale_ppm * 1e-6
        return _from_space(
            self.tx_m + m * (x - rz * y + ry * z),
            self.ty_m + m * (rz * x + y - rx * z),
            self.tz_m + m * (-ry * x + rx * y + z),
            target,
        )

    def undo(self, lat: float, lon: float, source: Ellipsoid, target: Ellipsoid) -> tuple[float, float]:
        """Return (lat, lon) on the target's datum, by the exact inverse of `apply`."""
        x, y, z = _to_space(lat, lon, source)
        m = 1.0 + self.scale_ppm * 1e-6
        vx, vy, vz = (x - self.tx_m) / m, (y - self.ty_m) / m, (z - self.tz_m) / m
        rx, ry, rz = self.rx * ARC_SECOND, self.ry * ARC_SECOND, self.rz * ARC_SECOND
        # v = p + r × p has the solution p = (v + r (r·v) - r × v) / (1 + r·r).
        along = rx * vx + ry * vy + rz * vz
        d = 1.0 + rx * rx + ry * ry + rz * rz
        return _from_space(
            (vx + rx * along - (ry * vz - rz * vy)) / d,
            (vy + ry * along - (rz * vx - rx * vz)) / d,
            (vz + rz * along - (rx * vy - ry * vx)) / d,
            target,
        )


def _to_space(lat: float, lon: float, ellipsoid: Ellipsoid) -> tuple[float, float, float]:
    sin_lat, cos_lat = math.sin(lat * RADIANS), math.cos(lat * RADIANS)
    nu = ellipsoid.a_m / math.sqrt(1.0 - ellipsoid.e2 * sin_lat * sin_lat)
    return (
        nu * cos_lat * math.cos(lon * RADIANS),
        nu * cos_lat * math.sin(lon * RADIANS),
        nu * (1.0 - ellipsoid.e2) * sin_lat,
    )


def _from_space(x: float, y: float, z: float, ellipsoid: Ellipsoid) -> tuple[float, float]:
    across = math.hypot(x, y)
    lat = math.atan2(z, across * (1.0 - ellipsoid.e2))
    for _ in range(6):  # each step wins three digits near the ground
        sin_lat = math.sin(lat)
        nu = ellipsoid.a_m / math.sqrt(1.0 - ellipsoid.e2 * sin_lat * sin_lat)
        lat = math.atan2(z + ellipsoid.e2 * nu * sin_lat, across)
    return lat / RADIANS, math.atan2(y, x) / RADIANS
