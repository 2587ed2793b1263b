"""Says how long a box may last on a day like the one told: the document of the verb `drying`, and its lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from field.core.card import Edge
from field.core.drying import COEFFICIENTS, STATE_WORDS, box_drying
from field.core.evapotranspiration import drying_of_day
from field.core.materials import read_mix
from field.core.species import get_card, load_cards
from field.core.windows import climate_at, lies_between

# What the tree uses in the middle of the range, where how it does was not told: recovering; common practice.
MIDDLE_STATE = "recovering"
LEAF_FALL, BUD_BREAK = (Edge(event, 0, 0, 0, "no") for event in ("leaf_fall", "bud_break"))


def ask_drying(
    tmin_c: float,
    tmax_c: float,
    lat: float,
    on: date,
    box_l: float,
    canopy_cm: float,
    kind: str,
    mix: str,
    *,
    state: str | None = None,
    depth_cm: float | None = None,
    own_cards: Iterable[Mapping[str, object]] = (),
) -> dict[str, Any]:
    """Return reference evapotranspiration and the expected days between waterings.

    Args: as `evapotranspiration.drying_of_day` and `drying.box_drying`; `kind` is a card's short name, `mix` is text,
        `own_cards` are the person's own.
    Returns: {"ra_mj_m2_d", "et0_mm_d", "use_l_d", "available_l", "interval_d": [low, high]} with the middle of what is
        used and of what is there to use; their ranges, the interval by state, the reasons and the cautions beside them.
        `interval_d` is null where the air takes nothing.
    Raises: BadInput or NotFound for what cannot be used.
    """
    card = get_card(load_cards(own_cards), kind)
    moisture, leaf = card.traits.get("moisture_1_5"), card.traits.get("leaf_type")
    sheds = leaf is not None and str(leaf.value).startswith("deciduous")
    parts = read_mix(mix)
    day = drying_of_day(tmin_c, tmax_c, lat, on)
    got = box_drying(
        parts,
        box_l,
        canopy_cm,
        day.et0_mm_d,
        state=state,
        depth_cm=depth_cm,
        moisture_1_5=None if moisture is None else card.number("moisture_1_5"),
        is_bare=sheds and lies_between(card, on, LEAF_FALL, BUD_BREAK, climate_at(lat, None)),
    )
    middle = sum(COEFFICIENTS[state or MIDDLE_STATE]) / 2
    return {
        "ra_mj_m2_d": round(day.ra_mj_m2_d, 3),
        "et0_mm_d": round(day.et0_mm_d, 3),
        "use_l_d": round(middle * day.et0_mm_d * got.area_m2, 3),
        "available_l": round(sum(got.available_l) / 2, 2),
        "interval_d": _days(got.interval_d),
        "use_range_l_d": [round(one, 3) for one in got.use_l_d],
        "available_range_l": [round(one, 2) for one in got.available_l],
        "interval_by_state_d": {name: _days(one) for name, one in got.by_state.items()},
        "why": [one.as_json() for one in got.why],
        "cautions": [one.as_json() for one in (*got.cautions, *day.cautions)],
    }


def tell_drying(document: Mapping[str, Any], state: str | None = None) -> Iterator[str]:
    """Yield the answer as lines for a person at a terminal."""
    interval = document["interval_d"]
    if interval is None:
        yield "The air takes nothing from the box that can be reckoned."
    else:
        yield f"The box may last {_words(interval)} on days like this one."
        if state is None:
            for name, days in document["interval_by_state_d"].items():
                yield f"  {STATE_WORDS[name]}: {_words(days)}"
    yield (
        f"To use: about {document['available_l']:.1f} L; used: about {document['use_l_d']:.1f} L a day; "
        f"evapotranspiration {document['et0_mm_d']:.1f} mm."
    )
    for one in (*document["why"], *document["cautions"]):
        yield f"- {one['text']}"


def _days(interval: tuple[float, float] | None) -> list[float] | None:
    return None if interval is None else [round(one, 1) for one in interval]


def _words(days: list[float]) -> str:
    low, high = days
    if high < 1:
        return "less than a day"
    return f"{_number(low)} to {_number(high)} days"


def _number(days: float) -> str:
    return f"{days:.1f}" if days < 3 else f"{days:.0f}"
