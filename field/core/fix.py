"""One position out of several fixes of the same tree.

Receivers state a 68 % radius and err together for minutes: the sky they see is the same. So averaging helps less
than the square root of the number promises, and the stated accuracy stops at half the best single fix.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from field.core.errors import BadInput
from field.core.geodesy import metres_per_degree, read_position, wrap_lon
from field.core.units import read_measure

SCALED_MAD = 1.4826  # normal law: 1 / Φ⁻¹(3/4)
OUTLIER_MADS = 3.0
# Fixes that agree to the last digit have a MAD of zero; closer than this none is called an outlier. Common practice.
LEAST_SPREAD_M = 1.0
ROUNDING_M = 1e-6  # degrees hold no less; a fix right on the limit must not fall out by the order of the list
LEAST_ACCURACY_M = 0.01  # no receiver in a hand knows better; keeps the weights finite
BEST_SHARE = 0.5  # of the best single fix: errors of one receiver are not independent


@dataclass(frozen=True, slots=True)
class AveragedFix:
    """A position made of several, and what it was made of."""

    lat: float
    lon: float
    accuracy_m: float | None  # 68 %; None: no fix told its own
    height_m: float | None
    used: tuple[int, ...]  # places in the list that was given
    set_aside: tuple[int, ...]  # the others: too far off, or without an accuracy beside fixes that have one


@dataclass(frozen=True, slots=True)
class _Fix:
    place: int
    north_m: float  # from the first fix
    east_m: float
    accuracy_m: float | None
    height_m: float | None


def average_fixes(fixes: Sequence[Mapping[str, object]]) -> AveragedFix:
    """Return the weighted mean of several fixes of one tree.

    Args:
        fixes: each {"lat", "lon", "accuracy_m", "height_m"}; degrees and metres. An accuracy of 0 says nothing and
            counts as not known. At least one fix.
    Returns: the mean by 1 / accuracy², of the fixes that lie within 3 scaled MAD of the median, northwards and
        eastwards; its accuracy is that of independent errors, but never better than half the best single fix used.
        When no fix has an accuracy: the plain mean, accuracy not known.
    Raises: BadInput if there is no fix, or one is no position.
    Source: outliers: Leys et al. 2013, doi:10.1016/j.jesp.2013.03.013 (median absolute deviation).
    """
    if not fixes:
        raise BadInput("There is no position to average.", "Take a position first.", "fixes")
    lat0, lon0 = read_position(fixes[0].get("lat"), fixes[0].get("lon"), "fixes[0]")
    north_scale, east_scale = metres_per_degree(lat0)
    read = [_read_fix(fix, i, lat0, lon0, north_scale, east_scale) for i, fix in enumerate(fixes)]
    known = [fix for fix in read if fix.accuracy_m is not None]
    kept = _without_outliers(known or read)
    weights = [1.0 if fix.accuracy_m is None else 1.0 / max(fix.accuracy_m, LEAST_ACCURACY_M) ** 2 for fix in kept]
    total = math.fsum(weights)
    north = math.fsum(w * fix.north_m for w, fix in zip(weights, kept, strict=True)) / total
    east = math.fsum(w * fix.east_m for w, fix in zip(weights, kept, strict=True)) / total
    used = tuple(fix.place for fix in kept)
    accuracies = [fix.accuracy_m for fix in kept if fix.accuracy_m is not None]
    return AveragedFix(
        lat=lat0 + north / north_scale,
        lon=wrap_lon(lon0 + east / east_scale),
        accuracy_m=max(1.0 / math.sqrt(total), BEST_SHARE * min(accuracies)) if accuracies else None,
        height_m=_mean_height(kept, weights),
        used=used,
        set_aside=tuple(fix.place for fix in read if fix.place not in used),
    )


def _read_fix(
    fix: Mapping[str, object], place: int, lat0: float, lon0: float, north_scale: float, east_scale: float
) -> _Fix:
    where = f"fixes[{place}]"
    lat, lon = read_position(fix.get("lat"), fix.get("lon"), where)
    accuracy = read_measure(fix.get("accuracy_m"), "The accuracy of a position", f"{where}.accuracy_m")
    height = fix.get("height_m")
    if height is not None and (isinstance(height, bool) or not isinstance(height, (int, float))):
        raise BadInput("The height of a position is not a number.", "Give metres.", f"{where}.height_m")
    if height is not None and not math.isfinite(height):
        raise BadInput("The height of a position is not a usable number.", "Give metres.", f"{where}.height_m")
    return _Fix(
        place,
        (lat - lat0) * north_scale,
        wrap_lon(lon - lon0) * east_scale,
        accuracy or None,
        None if height is None else float(height),
    )


def _without_outliers(fixes: Sequence[_Fix]) -> list[_Fix]:
    north_off = _off_median([fix.north_m for fix in fixes])
    east_off = _off_median([fix.east_m for fix in fixes])
    north_limit = max(LEAST_SPREAD_M, OUTLIER_MADS * SCALED_MAD * median(north_off))
    east_limit = max(LEAST_SPREAD_M, OUTLIER_MADS * SCALED_MAD * median(east_off))
    return [
        fix
        for fix, north, east in zip(fixes, north_off, east_off, strict=True)
        if north <= north_limit + ROUNDING_M and east <= east_limit + ROUNDING_M
    ]


def _off_median(numbers: Sequence[float]) -> list[float]:
    middle = median(numbers)
    return [abs(number - middle) for number in numbers]


def _mean_height(fixes: Sequence[_Fix], weights: Sequence[float]) -> float | None:
    told = [(w, fix.height_m) for w, fix in zip(weights, fixes, strict=True) if fix.height_m is not None]
    if not told:
        return None
    return math.fsum(w * height for w, height in told) / math.fsum(w for w, _ in told)
