"""How long a box may last between two waterings, as a range with its reasons; never an order to water.

A day's use is reference evapotranspiration times a coefficient times an area; what is there to use is half of what
the mix holds. Neither is well known for a tree in a box: "not generally known for hardy nursery stock; weighing the
pot is the honest measure" (Grant, review chapter [seen: abstract]). So both ends of every figure are carried through.
Twin: `static/js/core/drying.js`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from field.core.caution import Caution
from field.core.errors import BadInput
from field.core.materials import Part
from field.core.mix import ADDED, DEPTH, check_box, water_range

# Litres a day for each mm and m2; starting values, common practice, no source. Published ones for woody plants in
# containers run from below 1.0 to above 5.0 (HortTechnology, Oregon State University [seen: abstract]).
COEFFICIENTS: Mapping[str, tuple[float, float]] = {
    "fresh": (0.3, 0.6),  # freshly lifted, in shade
    "recovering": (0.8, 1.2),
    "vigorous": (1.5, 3.0),
}
STATE_WORDS: Mapping[str, str] = {
    "fresh": "freshly lifted, in shade",
    "recovering": "recovering",
    "vigorous": "growing strongly",
}
GUARD = 0.5  # of what the mix holds, the part that may be used before watering; common practice
THIRSTY = 4  # of 5, from which a card's kind is called thirsty
LOOK_DAYS = 7.0  # a box is looked at once a week whatever the reckoning says; common practice
MOST_CANOPY_CM = 2000.0

WEIGH = Caution(
    "weigh-and-feel",
    "This is an expectation and no order to water: weigh the box, and feel the mix a finger deep.",
)
BARE_MIX = Caution(
    "bare-mix",
    "For about two months after potting most of the loss is from the bare mix and not through the leaves: a cover of "
    "moss or bark lengthens it (Beeson 2012, HortScience 47:264).",
)
BARE_TREE = Caution(
    "bare-tree",
    "At this time of year the tree should stand bare: it uses far less than this says, and the box dries by its open "
    "top alone. It may still dry out in wind and frost, and too much water rots resting roots.",
)


@dataclass(frozen=True, slots=True)
class BoxDrying:
    """Ranges are (lowest, highest); None: the air takes nothing that can be reckoned."""

    area_m2: float
    area_of: str  # 'crown' or 'box'
    available_l: tuple[float, float]
    use_l_d: tuple[float, float]
    interval_d: tuple[float, float] | None
    by_state: Mapping[str, tuple[float, float] | None]
    why: tuple[Caution, ...]
    cautions: tuple[Caution, ...]


def box_drying(
    parts: Sequence[Part],
    box_l: float,
    canopy_cm: float,
    et0_mm_d: float,
    *,
    state: str | None = None,
    depth_cm: float | None = None,
    moisture_1_5: float | None = None,
    is_bare: bool = False,
) -> BoxDrying:
    """Return how many days a box may last on days like this one.

    Args:
        parts: the mix.
        box_l: inside volume, litres.
        canopy_cm: across the crown; 0 for none.
        et0_mm_d: reference evapotranspiration of the day.
        state: 'fresh', 'recovering', 'vigorous'; None: not told, and the range spans all three.
        depth_cm: of the mix; None: half the side of a square box of that volume.
        moisture_1_5: how thirsty the kind is by its card; told beside, for no coefficient of a kind is known.
        is_bare: the tree stands without leaves; told beside, for no coefficient of that is known either.
    Raises: BadInput for a box, crown, state or figure that cannot be, or a mix whose water is not known.
    """
    check_box(box_l, depth_cm)
    if not 0 <= canopy_cm <= MOST_CANOPY_CM:
        raise BadInput(f"A crown {canopy_cm:g} cm across is none.", "Give centimetres, 0 to 2000.", "canopy_cm")
    if not 0 <= et0_mm_d <= 100:
        raise BadInput("That much water no air takes in a day.", "Give mm a day.", "et0_mm_d")
    if state is not None and state not in COEFFICIENTS:
        raise BadInput("That is no state of a tree.", f"Known are: {', '.join(COEFFICIENTS)}.", "state")
    deep_cm = usual_depth_cm(box_l) if depth_cm is None else depth_cm
    water = water_range(parts, deep_cm)
    if water is None:
        names = ", ".join(part.material.words for part in parts if part.material.water_pct is None)
        cure = "Leave it out, or weigh a wet and a dry box instead."
        raise BadInput(f"How much water it holds was not found for {names}.", cure, "mix")
    box_m2 = box_l / 1000 / (deep_cm / 100)
    crown_m2 = math.pi / 4 * (canopy_cm / 100) ** 2
    area, area_of = (crown_m2, "crown") if crown_m2 > box_m2 else (box_m2, "box")
    available = (box_l * water[0] / 100 * GUARD, box_l * water[1] / 100 * GUARD)
    uses = {name: (low * et0_mm_d * area, high * et0_mm_d * area) for name, (low, high) in COEFFICIENTS.items()}
    use = (uses["fresh"][0], uses["vigorous"][1]) if state is None else uses[state]
    interval = _interval(available, use)
    return BoxDrying(
        area_m2=area,
        area_of=area_of,
        available_l=available,
        use_l_d=use,
        interval_d=interval,
        by_state={name: _interval(available, one) for name, one in uses.items()},
        why=_why(state, depth_cm, deep_cm, area, area_of, water, et0_mm_d),
        cautions=_cautions(state, parts, moisture_1_5, interval, is_bare),
    )


def usual_depth_cm(box_l: float) -> float:
    """Return the depth of a square box half as deep as it is wide; common practice for a box to grow on in."""
    return math.cbrt(2000.0 * box_l) / 2


def _interval(available: tuple[float, float], use: tuple[float, float]) -> tuple[float, float] | None:
    return (available[0] / use[1], available[1] / use[0]) if use[0] > 0 else None


def _why(
    state: str | None,
    depth_cm: float | None,
    deep_cm: float,
    area: float,
    area_of: str,
    water: tuple[float, float],
    et0_mm_d: float,
) -> tuple[Caution, ...]:
    held = "the crown" if area_of == "crown" else "the open top of the box"
    deep = f"the mix is {deep_cm:.0f} cm deep" + ("" if depth_cm is not None else ", taken as half the side of the box")
    low, high = COEFFICIENTS["fresh"][0], COEFFICIENTS["vigorous"][1]
    if state is None:
        how = (
            f"How the tree does was not told, so this spans everything from freshly lifted ({low}) to strong ({high})."
        )
    else:
        low, high = COEFFICIENTS[state]
        how = f"A tree that is {STATE_WORDS[state]} uses {low} to {high} times that (common practice, no source)."
    return (
        Caution(
            "air",
            f"A day like this takes {et0_mm_d:.1f} mm from short grass, as many litres from a square metre (FAO-56, "
            "from temperatures alone).",
        ),
        Caution("area", f"It is reckoned over {area:.2f} m², {held}, the larger of crown and box."),
        Caution("state", how),
        Caution(
            "holds",
            f"The drained mix holds {water[0]:.0f} to {water[1]:.0f} % of its volume in water, {deep}; "
            "half of that is used before watering (common practice).",
        ),
    )


def _cautions(
    state: str | None,
    parts: Sequence[Part],
    moisture_1_5: float | None,
    interval: tuple[float, float] | None,
    is_bare: bool,
) -> tuple[Caution, ...]:
    said = [WEIGH]
    if is_bare:
        said.append(BARE_TREE)
    if interval is None:
        said.append(Caution("no-drying", "By this reckoning the air takes nothing that day; wind still dries a box."))
    elif interval[1] > LOOK_DAYS:
        said.append(Caution("look-weekly", "Look at the box once a week all the same."))
    if moisture_1_5 is not None and moisture_1_5 >= THIRSTY and not is_bare:
        said.append(Caution("thirsty", "This kind is thirsty: expect the shorter end (common practice, no source)."))
    if state in (None, "fresh"):
        said.append(BARE_MIX)
    said.append(DEPTH)
    if len(parts) > 1:
        said.append(ADDED)
    return tuple(said)
