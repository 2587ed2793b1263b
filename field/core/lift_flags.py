"""What is to be said of a lift beside its leave: one over the number, after the withdrawal, another kind than agreed.

A flag refuses nothing and strikes nothing out: the tree is out of the ground, and the log says so. Two phones with no
signal may each have taken the last tree in good faith; only here, with all lifts together, is it to be seen.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from field.core.dates import show_date
from field.core.leave import plain_kind
from field.core.reasons import cm_words
from field.core.windows import find_date

NO_LEAVE = "no-leave"
OVER_NUMBER = "over-number"
AFTER_WITHDRAWAL = "after-withdrawal"
AFTER_END = "after-end"
BEFORE_BEGIN = "before-begin"
KINDS = "kinds"
GIRTH = "girth"

Record = Mapping[str, object]
Flag = dict[str, str]
_LAST = "~"  # sorts behind every date and instant: a lift whose day nobody noted counts as the latest


def lift_flags(
    lifts: Iterable[Record], leaves: Iterable[Record], trees: Iterable[Record] = ()
) -> dict[str, list[Flag]]:
    """Return what is to be said of each lift beside its leave.

    Args:
        lifts, leaves, trees: merged records with "id", of all sites, in any order; deleted ones are passed over.
            trees: for the kind and for a girth that was not taken again at the lift.
    Returns: {lift id: [{"code", "text"}]}; lifts without a flag are left out. Codes: no-leave, over-number,
        after-withdrawal, after-end, before-begin, kinds, girth. Of the lifts under one leave those come over the
        number that are the latest by day, then by instant, then by id: the same on every device.
    """
    by_leave: dict[str, list[Record]] = {}
    known = {str(leave["id"]): leave for leave in kept(leaves)}
    standing = {str(tree["id"]): tree for tree in kept(trees)}
    flags: dict[str, list[Flag]] = {}
    for lift in kept(lifts):
        leave_id = lift.get("leave")
        if isinstance(leave_id, str) and leave_id in known:
            by_leave.setdefault(leave_id, []).append(lift)
        else:
            flags[str(lift["id"])] = [_flag(NO_LEAVE, "No leave is named for this lift.")]
    for leave_id, some in by_leave.items():
        leave = known[leave_id]
        allowance = count_of(leave.get("allowance"))
        for number, lift in enumerate(in_order(some), 1):
            own = [
                *_number_flags(number, allowance),
                *_day_flags(find_date(lift.get("lifted_on")), leave),
                *_tree_flags(lift, standing.get(str(lift.get("tree")), {}), leave),
            ]
            if own:
                flags[str(lift["id"])] = own
    return flags


def in_order(lifts: Iterable[Record]) -> list[Record]:
    """Return lifts by day, then by instant, then by id; those of no known day last."""
    return sorted(
        lifts,
        key=lambda lift: (str(lift.get("lifted_on") or _LAST), str(lift.get("lifted_at") or _LAST), str(lift["id"])),
    )


def kept(records: Iterable[Record]) -> list[Record]:
    """Return the records that are not deleted."""
    return [record for record in records if record.get("deleted") is not True]


def count_of(value: object) -> int | None:
    """Return a number of trees, or None where none is agreed or it is no count."""
    return value if isinstance(value, int) and not isinstance(value, bool) and value >= 0 else None


def _number_flags(number: int, allowance: int | None) -> list[Flag]:
    if allowance is None or number <= allowance:
        return []
    return [_flag(OVER_NUMBER, f"Over the number agreed: tree {number} under a leave for {allowance}.")]


def _day_flags(day: dt.date | None, leave: Record) -> list[Flag]:
    """Both days of a leave count; a withdrawal counts from its very day."""
    if day is None:
        return []
    withdrawn_on, first, last = (find_date(leave.get(name)) for name in ("withdrawn_on", "starts_on", "ends_on"))
    flags = []
    if withdrawn_on is not None and day >= withdrawn_on:
        words = f"The leave was withdrawn on {show_date(withdrawn_on)}; this tree was lifted on or after that day."
        flags.append(_flag(AFTER_WITHDRAWAL, words))
    if last is not None and day > last:
        flags.append(_flag(AFTER_END, f"Lifted after the leave had ended on {show_date(last)}."))
    if first is not None and day < first:
        flags.append(_flag(BEFORE_BEGIN, f"Lifted before the leave began on {show_date(first)}."))
    return flags


def _tree_flags(lift: Record, tree: Record, leave: Record) -> list[Flag]:
    """A kind or girth that nobody noted is not held against anyone."""
    flags = []
    kind, kinds = tree.get("species"), leave.get("species")
    if isinstance(kind, str) and isinstance(kinds, Sequence) and not isinstance(kinds, str):
        named = {plain_kind(one) for one in kinds if isinstance(one, str)}
        if plain_kind(kind) and plain_kind(kind) not in named:
            flags.append(_flag(KINDS, "The leave does not name this kind."))
    taken, limit = lift.get("girth_mm"), leave.get("max_girth_mm")
    girth = tree.get("girth_mm") if taken is None else taken
    if isinstance(girth, int) and isinstance(limit, int) and girth > limit:
        flags.append(_flag(GIRTH, f"Thicker than agreed: {cm_words(girth)} round, the leave allows {cm_words(limit)}."))
    return flags


def _flag(code: str, text: str) -> Flag:
    return {"code": code, "text": text}
