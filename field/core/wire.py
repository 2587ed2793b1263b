"""Wire for a branch: how thick, how long, how heavy, when to look at it first and then, and when it has to be off.

All figures are common practice without a source, unless one is named. Wire that touches comes off whatever the date.
Twin: `static/js/core/wire.js`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from field.core.card import Card
from field.core.caution import Caution
from field.core.errors import BadInput

SIZES_MM = (1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0)  # as stocked
# Of the branch's thickness. Aluminium: many hold a half, others a third [seen, a teaching page]; copper is stiffer by
# about 1.7 times [seen, a potter's page], and a third of it holds.
SHARES: Mapping[str, tuple[float, float]] = {"aluminium": (1 / 3, 1 / 2), "copper": (1 / 3, 1 / 3)}
DENSITY_G_CM3: Mapping[str, float] = {"aluminium": 2.70, "copper": 8.96}
LENGTH_TIMES = 1.5  # of the branch
ANCHOR_MM = 100.0  # where the thickness of what it is anchored on is not told
ANCHOR_TURNS = 2.0
MOST_BRANCH_MM, MOST_LENGTH_MM = 100.0, 20_000.0

# Days between two looks; every other week for fast growers, the others by the same care.
LOOK_DAYS: Mapping[str, int] = {"fast": 14, "medium": 28, "slow": 56}
PACE_WORDS: Mapping[str, str] = {
    "fast": "This kind grows in fast: a look every 2 weeks.",
    "medium": "This kind grows in at a middling pace: a look every 4 weeks.",
    "slow": "This kind grows in slowly: a look every 8 weeks.",
}
WEEKLY_MONTHS = frozenset({5, 6, 7})  # every week, whatever the kind: wood thickens fastest
WEEK = timedelta(days=7)
# Nothing thickens in these months, so the weeks on a branch count from their end; common practice, no source. Buds
# break later in most places: the count begins early on purpose, and the looks go on whatever it says.
REST_MONTHS = frozenset({11, 12, 1, 2})
FAST_KINDS = frozenset({"willow", "elm", "field-maple", "birch"})
FAST_UP_TO_WEEKS, SLOW_FROM_WEEKS = 12, 30  # of the card's time on the branch

CUT_OFF = Caution(
    "cut-off", "Take wire off by cutting it, turn by turn; never unwind it, for that breaks buds and bark."
)
ANGLE = Caution("angle", "Turns lie at 45 to 60 degrees and never cross; bend a little past the wanted place.")
TOO_THICK = Caution(
    "too-thick",
    "No stocked wire is thick enough alone: lay two strands side by side, or pull the branch down with a guy line.",
)
TOO_THIN = Caution("too-thin", "The thinnest stocked wire is thicker than this shoot wants: wait until it is firmer.")
SHARE_WORDS: Mapping[str, str] = {
    "aluminium": "Aluminium holds at a third to a half of the branch's thickness (common practice; one teaching page).",
    "copper": "Copper is stiffer, by about 1.7 times (one potter's page): a third of the branch's thickness holds.",
}
# What a look along the wire found, and what is to be done then; common practice, no source.
BITES: Mapping[str, Caution] = {
    "none": Caution("none", "It marks nothing yet: leave it on, and look again in time."),
    "begins": Caution(
        "begins", "It begins to mark: cut it off this week. If the branch springs back, wire again beside the old line."
    ),
    "bitten": Caution(
        "bitten",
        "It is bitten in: cut it off today, turn by turn. Where bark has closed over it, cut what is free and leave "
        "the rest: tearing it out does more harm.",
    ),
}


@dataclass(frozen=True, slots=True)
class Wire:
    """What to take for one branch; ranges are (lowest, highest)."""

    material: str
    wanted_mm: tuple[float, float]
    sizes_mm: tuple[float, ...]  # stocked ones that fit, or the nearest
    length_mm: float
    mass_g: tuple[float, float]
    why: tuple[Caution, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class WireDates:
    """When to look at wire that was put on, and between which days it comes off."""

    pace: str  # 'fast', 'medium' or 'slow'
    first_look_on: date
    counts_from: date  # the day it was put on; in the resting months the first day after them
    off_from: date
    off_by: date
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class WireState:
    """What one wiring wants on a day."""

    answer: str  # 'bitten', 'begins', 'over', 'look' or 'wait'
    look_on: date  # the next look, counted from the last one
    text: str  # what to do


def plan_wire(branch_mm: float, length_mm: float, material: str, anchor_mm: float | None = None) -> Wire:
    """Return which wire a branch wants.

    Args:
        branch_mm: its thickness where the bend will be.
        length_mm: of the part to be wired.
        material: 'aluminium' or 'copper'.
        anchor_mm: thickness of the stem or branch that the wire is anchored on; None when not told.
    Raises: BadInput for a branch or a material that is none.
    """
    if material not in SHARES:
        raise BadInput(f"Wire of “{material[:40]}” is not known here.", f"Known are: {', '.join(SHARES)}.", "material")
    if not 0 < branch_mm <= MOST_BRANCH_MM:
        raise BadInput(f"A branch {branch_mm:g} mm thick is none to wire.", "Give millimetres, up to 100.", "branch_mm")
    if not 0 < length_mm <= MOST_LENGTH_MM:
        raise BadInput(f"A branch {length_mm:g} mm long is none.", "Give millimetres, up to 20000.", "length_mm")
    if anchor_mm is not None and not 0 < anchor_mm <= 1000:
        raise BadInput(f"A stem {anchor_mm:g} mm thick is none.", "Give millimetres, up to 1000.", "anchor_mm")
    low, high = (share * branch_mm for share in SHARES[material])
    sizes = tuple(size for size in SIZES_MM if low - 1e-9 <= size <= high + 1e-9)
    cautions = [CUT_OFF, ANGLE]
    if not sizes:
        # The next thicker one holds; a thinner one would let go.
        sizes = (next((size for size in SIZES_MM if size >= low), SIZES_MM[-1]),)
        if low > SIZES_MM[-1]:
            cautions.append(TOO_THICK)
        elif high < SIZES_MM[0]:
            cautions.append(TOO_THIN)
    length = LENGTH_TIMES * length_mm + (ANCHOR_MM if anchor_mm is None else ANCHOR_TURNS * math.pi * anchor_mm)
    return Wire(
        material=material,
        wanted_mm=(low, high),
        sizes_mm=sizes,
        length_mm=length,
        mass_g=(wire_mass_g(sizes[0], length, material), wire_mass_g(sizes[-1], length, material)),
        why=(
            Caution("gauge", f"{SHARE_WORDS[material]} Here that is {_mm(low, high)}."),
            Caution("length", _length_words(anchor_mm)),
        ),
        cautions=tuple(cautions),
    )


def wire_mass_g(size_mm: float, length_mm: float, material: str) -> float:
    """Return the mass of a length of round wire in grams."""
    return math.pi / 4 * size_mm**2 * length_mm * DENSITY_G_CM3[material] / 1000


def plan_wire_dates(card: Card, on: date, *, south: bool = False) -> WireDates:
    """Return when to look at wire first, and between which days it has to come off.

    Args:
        card: of the kind: `wire_weeks_min` and `wire_weeks_max` say how long wire stays on.
        on: the day it was put on.
        south: the place is south of the equator: the weeks of fast growth are turned by six months.
    """
    least, most = card.number("wire_weeks_min"), card.number("wire_weeks_max")
    pace, counts_from = growth_pace(card), growth_begins(on, south=south)
    return WireDates(
        pace=pace,
        first_look_on=next_look(on, pace, south=south),
        counts_from=counts_from,
        off_from=counts_from + timedelta(weeks=least),
        off_by=counts_from + timedelta(weeks=most),
        why=f"{PACE_WORDS[pace]} In {_weekly_words(south)} it is looked at every week.",
        source=card.traits["wire_weeks_max"].source,
    )


def growth_begins(on: date, *, south: bool = False) -> date:
    """Return the day from which the weeks of wire count: the day it was put on, in the resting months their end."""
    day = on
    while _turned(day.month, south) in REST_MONTHS:
        day = (day.replace(day=1) + timedelta(days=31)).replace(day=1)
    return day


def judge_wire(
    card: Card, on: date, looks: Sequence[tuple[date, str]], today: date, *, south: bool = False
) -> WireState:
    """Return what wire that is on a branch wants today.

    Args:
        card: of the kind.
        on: the day it was put on.
        looks: day and what was found, of `BITES`, of every look along it; in any order.
        today: the day asked about.
        south: as `plan_wire_dates`.
    """
    dates = plan_wire_dates(card, on, south=south)
    # Of two looks on one day the worse counts.
    last_on, found = max(looks, key=lambda one: (one[0], list(BITES).index(one[1])), default=(on, "none"))
    look_on = next_look(max(on, last_on), dates.pace, south=south)
    if found != "none":
        return WireState(found, look_on, BITES[found].text)
    if today > dates.off_by:
        return WireState(
            "over", look_on, "It has been on longer than its kind allows: cut it off, and wire again if needed."
        )
    if today >= look_on:
        return WireState("look", look_on, "Look along it now, inside of bends first. Where it touches, it comes off.")
    return WireState("wait", look_on, BITES["none"].text if looks else "It is on. Look along it in time.")


def _length_words(anchor_mm: float | None) -> str:
    if anchor_mm is None:
        return "Half as much again as the branch is long, and 100 mm for its anchor, whose thickness is not told."
    return "Half as much again as the branch is long, and two turns round what it is anchored on."


def _mm(low: float, high: float) -> str:
    return f"{low:.1f} mm" if low == high else f"{low:.1f} to {high:.1f} mm"


def _weekly_words(south: bool) -> str:
    return "November to January" if south else "May to July"


def _turned(month: int, south: bool) -> int:
    """Return a month of the north, or in the south the one half a year away."""
    return (month + 5) % 12 + 1 if south else month


def growth_pace(card: Card) -> str:
    """Return how fast wire is grown in on a kind; of the trade's list and the card's weeks the faster counts."""
    if card.kind in FAST_KINDS or card.number("wire_weeks_max") <= FAST_UP_TO_WEEKS:
        return "fast"
    return "slow" if card.number("wire_weeks_min") >= SLOW_FROM_WEEKS else "medium"


def next_look(last_on: date, pace: str, *, south: bool = False) -> date:
    """Return the next day to look at wire: weekly in May to July, else by pace, and never past the start of May."""
    usual = last_on + timedelta(days=LOOK_DAYS[pace])
    day = last_on + WEEK
    while day < usual and _turned(day.month, south) not in WEEKLY_MONTHS:
        day += timedelta(days=1)
    return day


def look_days(on: date, pace: str, until: date, *, south: bool = False) -> Iterator[date]:
    """Yield the days to look at wire that was put on, up to a day inclusive."""
    day = next_look(on, pace, south=south)
    while day <= until:
        yield day
        day = next_look(day, pace, south=south)
