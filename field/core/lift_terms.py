"""Which terms a lift had to keep, and what of them nobody noted as done. Twin: static/js/core/lift_terms.js."""

from __future__ import annotations

from collections.abc import Mapping

NO = "no"

Record = Mapping[str, object]


def terms_of_lift(lift: Record, leave_id: str | None, leave: Record | None) -> list[str]:
    """Return the terms that stood for a lift, in their order.

    Those shown beside the answer before it, which stand as they were that day; else those of the leave. An answer
    that said no has none of its own: what was logged all the same had the terms of its leave to keep.

    Args:
        lift: its merged fields.
        leave_id, leave: the leave it is logged under and its merged fields; None: none is known.
    """
    answer = lift.get("answer")
    if isinstance(answer, Mapping):
        if isinstance(answer.get("keep"), list):
            return _texts(answer["keep"])
        verdict = answer.get("verdict")
        if isinstance(verdict, Mapping) and verdict.get("answer") != NO and verdict.get("leave") == leave_id:
            return _texts(verdict.get("keep"))
    return [] if leave is None else _texts(leave.get("conditions"))


def terms_not_ticked(lift: Record, leave_id: str | None, leave: Record | None) -> list[str]:
    """Return those terms of a lift that are not ticked as kept; arguments as `terms_of_lift`."""
    ticked = _texts(lift.get("kept_conditions"))
    return [term for term in terms_of_lift(lift, leave_id, leave) if term not in ticked]


def is_hole_open(lift: Record) -> bool:
    """Return whether nobody noted the hole of a lift as filled; every letter asks for that."""
    return lift.get("hole_filled") is not True


def _texts(value: object) -> list[str]:
    return list(dict.fromkeys(text for text in value if isinstance(text, str))) if isinstance(value, list) else []
