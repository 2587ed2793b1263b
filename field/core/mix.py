"""A mix for a box: litres of each part, its mass, and the water and air it will hold, as far as these can be known.

Of a mix only the mass can be reckoned from its parts; how much water and air it holds cannot, for small grains fill the
spaces between large ones (Gabriel, Altland and Owen 2009, HortScience 44:874 [seen: abstract]). So masses are sums, and
water and air are ranges. Twin: `static/js/core/mix.js`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from field.core.caution import Caution
from field.core.errors import BadInput
from field.core.materials import Part, Range

SETTLING = 0.10  # more than the box holds, for the mix settles when watered; common practice, no source
MIX_SPREAD = 0.10  # by how much a mix may hold more or less than its parts say; our own allowance, no source
# Owen and Altland 2008, HortScience 43:505 [seen: abstract]: container capacity of fir bark fell by 20 % (medium) to
# 42 % (fine) between columns of 3.8 and of 15.2 cm, in a straight line with height.
SHALLOW_CM, DEEP_CM = 3.8, 15.2
FALL_LEAST, FALL_MOST = 0.20, 0.42
MEASURED_AT_CM = 7.6  # height of the ring in which such figures are measured, 3 inches [memory]
MOST_BOX_L = 20_000.0

ADDED = Caution(
    "cannot-be-added",
    "The water and air of a mix cannot be added up from its parts: small grains fill the spaces between large ones. "
    "Take these as bounds, and weigh a wet and a dry box of your own.",
)
DEPTH = Caution(
    "shallow-is-wetter",
    "The same mix stays wetter in a shallow box than in a deep one: a layer at the bottom stays full.",
)


@dataclass(frozen=True, slots=True)
class Mix:
    """What to put into a box; ranges are (lowest, highest), None: not known for one of the parts."""

    litres: tuple[tuple[str, float], ...]  # loose, by material, settling allowed for
    dry_kg: tuple[float, float] | None  # of the filled box
    wet_kg: tuple[float, float] | None
    water_pct: tuple[float, float] | None
    air_pct: tuple[float, float] | None
    cautions: tuple[Caution, ...]


def plan_mix(parts: Sequence[Part], box_l: float, depth_cm: float | None = None) -> Mix:
    """Return the litres of each part for a box, its mass dry and wet, and its water and air as ranges.

    Args:
        parts: the mix.
        box_l: inside volume of the box in litres.
        depth_cm: of the mix in the box, None when not known: then water is told as it is measured, 7.6 cm deep.
    Raises: BadInput for a volume or depth that no box has.
    """
    check_box(box_l, depth_cm)
    cautions = [Caution("settling", f"{SETTLING:.0%} more than the box holds is reckoned in, for the mix settles.")]
    unknown = [part.material.words for part in parts if part.material.water_pct is None]
    if unknown:
        cautions.append(Caution("not-known", f"How much water it holds was not found for: {', '.join(unknown)}."))
    if len(parts) > 1:
        cautions.append(ADDED)
    cautions.append(DEPTH)
    return Mix(
        litres=tuple((part.material.name, part.share * box_l * (1 + SETTLING)) for part in parts),
        dry_kg=_sum([part.material.dry_kg_l for part in parts], parts, box_l),
        wet_kg=_sum([part.material.wet_kg_l for part in parts], parts, box_l),
        water_pct=water_range(parts, depth_cm),
        air_pct=_spread(_sum([part.material.air_pct for part in parts], parts, 1.0), parts),
        cautions=tuple(cautions),
    )


def box_volume_l(length_mm: float, width_mm: float | None, height_mm: float) -> float:
    """Return the inside volume of a box in litres.

    Args:
        length_mm: of a round one its diameter.
        width_mm: None: it is round.
        height_mm: as high as it is filled.
    """
    area = math.pi / 4 * length_mm**2 if width_mm is None else length_mm * width_mm
    return area * height_mm / 1e6


def water_range(parts: Sequence[Part], depth_cm: float | None = None) -> tuple[float, float] | None:
    """Return how much of a drained mix is water, lowest and highest in % of its volume; None when not known.

    Args:
        parts: the mix.
        depth_cm: of the mix in its box; None: as measured, 7.6 cm deep.
    """
    told = _spread(_sum([part.material.water_pct for part in parts], parts, 1.0), parts)
    if told is None:
        return None
    least, most = depth_factors(MEASURED_AT_CM if depth_cm is None else depth_cm)
    total = _sum([part.material.total_pct for part in parts], parts, 1.0)
    most_of_all = 100.0 if total is None else total[1]
    return min(told[0] * least, most_of_all), min(told[1] * most, most_of_all)


def depth_factors(depth_cm: float) -> tuple[float, float]:
    """Return by how much a depth changes the water a mix holds, against the depth it is measured at.

    Returns: the lower and the higher factor; both 1 at 7.6 cm, above 1 in a shallower box. Deeper than 15.2 cm nothing
        was measured, and the figure of 15.2 cm is kept.
    """
    at = max(SHALLOW_CM, min(DEEP_CM, depth_cm))
    span = DEEP_CM - SHALLOW_CM
    factors = [
        (1 - fall * (at - SHALLOW_CM) / span) / (1 - fall * (MEASURED_AT_CM - SHALLOW_CM) / span)
        for fall in (FALL_LEAST, FALL_MOST)
    ]
    return min(factors), max(factors)


def check_box(box_l: float, depth_cm: float | None) -> None:
    """Refuse a volume or depth that no box has; BadInput, with one sentence."""
    if not 0 < box_l <= MOST_BOX_L:
        cure = f"Give its inside volume in litres, up to {MOST_BOX_L:.0f}."
        raise BadInput(f"A box of {box_l:g} L is none.", cure, "box_l")
    if depth_cm is not None and not 1 <= depth_cm <= 300:
        raise BadInput(f"A mix {depth_cm:g} cm deep is in no box.", "Give centimetres, 1 to 300.", "depth_cm")


def _sum(cells: Sequence[Range | None], parts: Sequence[Part], litres: float) -> tuple[float, float] | None:
    low = high = 0.0
    for cell, part in zip(cells, parts, strict=True):
        if cell is None:
            return None
        low, high = low + cell.low * part.share * litres, high + cell.high * part.share * litres
    return low, high


def _spread(told: tuple[float, float] | None, parts: Sequence[Part]) -> tuple[float, float] | None:
    if told is None or len(parts) == 1:
        return told
    return told[0] * (1 - MIX_SPREAD), told[1] * (1 + MIX_SPREAD)
