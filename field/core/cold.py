"""Whether the roots of a boxed tree stand a night's cold: safe, near the line, or to be sheltered, with reasons.

Roots are far less hardy than tops, and young ones die many degrees warmer than old ones; in a box they meet the cold of
the air within hours. So the line that a tree is sheltered by is the prudent one of its card, never the temperature at
which roots were found dead. Twin: `static/js/core/cold.js`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from field.core.card import Card
from field.core.caution import Caution
from field.core.errors import BadInput
from field.core.weather import COLDEST_C, HOTTEST_C

# Above the line by less than this is near it: forecasts of a night err by some degrees, and a hollow is colder than
# the station. Common practice, no source.
NEAR_C = 3.0
SHALLOW_BOX_CM = 15.0  # common practice
FIRST_YEAR_DAYS = 365
# Lindström and Stattin 1994, Can. J. For. Res. 24:2477 [seen: abstract]: frozen at -10 to -20 °C in late October only 0
# to 13 % of Scots pine seedlings lived, and over half of those frozen at -20 °C in January.
UNHARDENED_MONTHS = frozenset({8, 9, 10, 11})

CONTACT = Caution(
    "ground-contact",
    "Set the box on the ground and pack it round: raised, or on stone or metal, it cools from all sides.",
)
SHALLOW = Caution("shallow-box", "A shallow box freezes through first; count on the shorter time.")
UNHARDENED = Caution(
    "not-hardened",
    "Before midwinter roots are not hardened yet: pines frozen in late October mostly died of a cold that most of them "
    "lived through in January.",
)


@dataclass(frozen=True, slots=True)
class Night:
    """What one night means for one tree."""

    answer: str  # 'safe', 'near' or 'shelter'
    line_c: float  # at or below which the tree is sheltered
    reasons: tuple[Caution, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class FrostRound:
    """One round over all trees for one night: none is due where no tree's line is crossed."""

    is_due: bool
    shelter: tuple[str, ...]  # trees whose line is reached
    near: tuple[str, ...]


def judge_night(
    card: Card,
    tmin_c: float,
    on: date,
    lifted_on: date | None,
    *,
    south: bool = False,
    box_depth_cm: float | None = None,
) -> Night:
    """Return whether a night is safe for the roots of a tree in a box.

    Args:
        card: of its kind.
        tmin_c: lowest air temperature of the night, logged or forecast.
        on: the day that the night belongs to.
        lifted_on: None when not known: then the line of the first year holds, as the careful one.
        south: the place is south of the equator.
        box_depth_cm: of the mix; None when not known.
    Raises: BadInput for a temperature that no night has.
    """
    if not COLDEST_C <= tmin_c <= HOTTEST_C:
        cure = f"Give degrees Celsius between {COLDEST_C:.0f} and {HOTTEST_C:.0f}."
        raise BadInput(f"A night of {tmin_c:g} °C was never measured anywhere.", cure, "tmin")
    line, whose, reasons = _line(card, on, lifted_on)
    if tmin_c <= line:
        answer, how = "shelter", "is at or below"
    elif tmin_c < line + NEAR_C:
        answer, how = "near", f"is less than {NEAR_C:.0f} degrees above"
    else:
        answer, how = "safe", "is well above"
    said = [Caution(answer, f"{_degrees(tmin_c)} {how} {_degrees(line)}, the line for {card.name} {whose}."), *reasons]
    killing = _find(card, "root_kill_c")
    if killing is not None and tmin_c <= killing:
        source = card.traits["root_kill_c"].source
        said.append(
            Caution("root-kill", f"Old roots of this kind were found to die near {_degrees(killing)} ({source}).")
        )
    return Night(answer, line, tuple(said), () if answer == "safe" else _cautions(on, south, box_depth_cm))


def plan_frost_round(
    trees: Iterable[tuple[str, Card, date | None]], tmin_c: float, on: date, *, south: bool = False
) -> FrostRound:
    """Return the frost round of a night: due as soon as one tree's line is reached.

    Args:
        trees: of those in boxes: id, card, day of the lift or None.
        tmin_c, on, south: as `judge_night`.
    """
    answers = {tree: judge_night(card, tmin_c, on, lifted_on, south=south).answer for tree, card, lifted_on in trees}
    shelter = tuple(sorted(tree for tree, answer in answers.items() if answer == "shelter"))
    return FrostRound(bool(shelter), shelter, tuple(sorted(t for t, answer in answers.items() if answer == "near")))


def _line(card: Card, on: date, lifted_on: date | None) -> tuple[float, str, list[Caution]]:
    is_first_year = lifted_on is None or (on - lifted_on).days < FIRST_YEAR_DAYS
    trait = "protect_below_c_year1" if is_first_year else "protect_below_c_later"
    line = card.number(trait)
    source = card.traits[trait].source
    whose = "in the first year" if is_first_year else "after the first year"
    if lifted_on is None:
        whose = "freshly lifted, as its lift is not known"
        reasons = [
            Caution("lift-not-known", f"When it was lifted is not known: freshly cut roots are assumed ({source}).")
        ]
    elif is_first_year:
        reasons = [Caution("first-year", f"In the first year after the lift the roots are freshly cut ({source}).")]
    else:
        reasons = [Caution("later-years", f"The lift is more than a year past ({source}).")]
    young = _find(card, "root_kill_young_c")
    if young is not None and young > line:
        line, whose = young, "with young roots"
        found = card.traits["root_kill_young_c"].source
        reasons.append(Caution("young-roots", f"Young roots of this kind die near {_degrees(young)} ({found})."))
    if card.stands_in:
        reasons.append(Caution("stands-in", "This kind has no card of its own: the careful one stands in."))
    return line, whose, reasons


def _cautions(on: date, south: bool, box_depth_cm: float | None) -> tuple[Caution, ...]:
    said = [CONTACT]
    if box_depth_cm is not None and box_depth_cm < SHALLOW_BOX_CM:
        said.append(SHALLOW)
    if ((on.month + 5) % 12 + 1 if south else on.month) in UNHARDENED_MONTHS:
        said.append(UNHARDENED)
    return tuple(said)


def _find(card: Card, trait: str) -> float | None:
    return card.number(trait) if trait in card.traits else None


def _degrees(temp_c: float) -> str:
    return f"{round(temp_c, 1) + 0.0:.1f} °C".replace(".0 ", " ").replace("-", "\N{MINUS SIGN}")
