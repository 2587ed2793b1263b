"""What papers say alike: days, numbers of trees as they are, and which of them lay outside of the leave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from field.core.dates import show_date

Fields = Mapping[str, Any]


def day_words(value: object) -> str:
    """Return 'YYYY-MM-DD' as '14 February 2027', "" for anything else."""
    try:
        return show_date(date.fromisoformat(value)) if isinstance(value, str) else ""
    except ValueError:
        return ""


def trees(count: int) -> str:
    """Return '1 tree', '3 trees', 'no tree'."""
    return "no tree" if count == 0 else "1 tree" if count == 1 else f"{count} trees"


def was(count: int) -> str:
    """Return the verb that goes with so many trees."""
    return "was" if count < 2 else "were"


def joined(words: Sequence[str]) -> str:
    """Return 'A, B and C'."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def allowance_of(leave: Fields) -> int | None:
    """Return how many trees were agreed, None where no number was."""
    number = leave.get("allowance")
    return number if isinstance(number, int) and not isinstance(number, bool) and number >= 0 else None


def over_words(leave: Fields, lifted: int) -> str:
    """Return '3 were agreed: 1 more than agreed', "" where it was no more than agreed."""
    allowance = allowance_of(leave)
    if allowance is None or lifted <= allowance:
        return ""
    agreed = "none was agreed" if allowance == 0 else f"{allowance} {was(allowance)} agreed"
    return f"{agreed}: {lifted - allowance} more than agreed"


def outside_words(leave: Fields, lifts: Sequence[Fields]) -> list[str]:
    """Return sentences on trees that were dug out before the leave began, after it had ended, or once it was withdrawn.

    Args:
        lifts: with "tag" and "lifted_on"; one without a day is passed over, for nobody can tell.
    """
    first, last, withdrawn = (
        value if day_words(value := leave.get(name)) else "" for name in ("starts_on", "ends_on", "withdrawn_on")
    )
    dated = [(tag_words(lift), str(lift["lifted_on"])) for lift in lifts if day_words(lift.get("lifted_on"))]
    late = [tag for tag, on in dated if withdrawn and on >= withdrawn]
    early = [tag for tag, on in dated if first and on < first]
    after = [tag for tag, on in dated if last and on > last]
    said = []
    if withdrawn and dated:
        said.append(
            f"{joined(late)} {was(len(late))} dug out on the day of the withdrawal or after it."
            if late
            else f"{'It was' if len(dated) == 1 else 'All of them were'} dug out before the withdrawal."
        )
    if early:
        said.append(f"{joined(early)} {was(len(early))} dug out before the leave began on {day_words(first)}.")
    if after:
        said.append(f"{joined(after)} {was(len(after))} dug out after the leave had ended on {day_words(last)}.")
    return said


def tag_words(lift: Fields) -> str:
    """Return the tag of a lifted tree, or that it has none."""
    tag = lift.get("tag")
    return tag if isinstance(tag, str) and tag else "a tree without a tag"


def own_words(text: object) -> list[dict[str, Any]]:
    """Return what the person wrote themselves as paragraphs, one for each of its lines."""
    lines = text.splitlines() if isinstance(text, str) else []
    return [{"kind": "para", "text": line} for one in lines if (line := " ".join(one.split()))]
