"""What boxes are filled with: the water, air and mass of each material as ranges, every cell with its source.

The table lies in `tables/materials.json`.
"""

from __future__ import annotations

import difflib
import functools
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources

from field.core.errors import BadInput, NotFound

MOST_PARTS = 12  # of one mix; common practice
_SHARE = re.compile(r"[0-9]{1,6}(?:\.[0-9]{1,6})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Range:
    """A figure as it is told: the lowest, the highest, and by whom."""

    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Material:
    """One material; None: not known."""

    name: str
    words: str
    water_pct: Range | None  # of volume, held after draining: container capacity
    air_pct: Range | None
    total_pct: Range | None
    dry_kg_l: Range | None
    wet_kg_l: Range | None


@dataclass(frozen=True, slots=True)
class Part:
    """One material of a mix."""

    material: Material
    share: float  # of the whole, 0 to 1, by volume


def materials() -> Mapping[str, Material]:
    """Return every known material by its name."""
    return _table()[0]


def get_material(name: str) -> Material:
    """Return a material by its name or another name it goes by; NotFound names near ones."""
    known, others = _table()
    short = re.sub(r"[\s_]+", "-", name.strip().lower())
    if short in known:
        return known[short]
    if short in others:
        return known[others[short]]
    near = difflib.get_close_matches(short, [*known, *others], n=3, cutoff=0.5)
    cure = f"Near ones are: {', '.join(near)}." if near else f"Known are: {', '.join(sorted(known))}."
    shown = "".join(c for c in name[:40] if c.isprintable())
    raise NotFound(f"There is no material called “{shown}”.", cure, "mix", code="no-such-material")


def read_mix(text: str) -> tuple[Part, ...]:
    """Return the parts of a mix written as 'pumice=50,bark=30,peat=20'.

    Args:
        text: parts by volume; they need not add to 100.
    Returns: the parts in the order written, each with its share of the whole.
    Raises: BadInput for what is no mix; NotFound for an unknown material, with near names.
    """
    cure = "Write parts by volume, as in pumice=50,bark=30,peat=20."
    pieces = [piece.strip() for piece in text[:1000].split(",") if piece.strip()]
    if not pieces:
        raise BadInput("The mix has no parts.", cure, "mix")
    if len(pieces) > MOST_PARTS:
        raise BadInput(f"A mix has at most {MOST_PARTS} parts.", cure, "mix")
    shares: dict[str, float] = {}
    for piece in pieces:
        name, sign, amount = piece.partition("=")
        if not sign or _SHARE.fullmatch(amount.strip()) is None:
            shown = "".join(c for c in piece[:40] if c.isprintable())
            raise BadInput(f"“{shown}” is no part of a mix.", cure, "mix")
        material = get_material(name)
        if material.name in shares:
            raise BadInput(f"The mix names {material.words} twice.", cure, "mix")
        shares[material.name] = float(amount)
    whole = sum(shares.values())
    if whole <= 0:
        raise BadInput("All parts of the mix are nought.", cure, "mix")
    return tuple(Part(materials()[name], share / whole) for name, share in shares.items() if share > 0)


@functools.cache
def _table() -> tuple[Mapping[str, Material], Mapping[str, str]]:
    file = resources.files("field.core") / "tables" / "materials.json"
    raw = json.loads(file.read_text(encoding="utf-8"))
    known: dict[str, Material] = {}
    others: dict[str, str] = {}
    for row in raw["materials"]:

        def cell(name: str, row: Mapping[str, list[object] | None] = row) -> Range | None:
            told = row[name]
            if told is None:
                return None
            low, high, names = told
            words = "; ".join(raw["sources"][one.strip()] for one in str(names).split(","))
            return Range(float(str(low)), float(str(high)), words)

        name = row["name"]
        known[name] = Material(
            name,
            row["words"],
            cell("water_pct"),
            cell("air_pct"),
            cell("total_pct"),
            cell("dry_kg_l"),
            cell("wet_kg_l"),
        )
        others.update(dict.fromkeys(row["also"], name))
    return known, others
