"""The report to the landholder after a visit: what was taken and from where, holes filled, what remains, thanks.

Its own sentences are facts. What is to be said beside them, as that one is sorry, the person says in their own words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from field.papers.letters import Document, Facts, document, items_of, sketch_block
from field.papers.map_sketch import Sketch
from field.papers.words import (
    allowance_of,
    day_words,
    joined,
    outside_words,
    over_words,
    own_words,
    tag_words,
    trees,
    was,
)

ENDS = {"lost": "died", "parted": "went to somebody else", "left_standing": "stayed in the ground"}


def visit_report(
    facts: Facts,
    lifts: Sequence[Mapping[str, Any]],
    photos: Sequence[Mapping[str, str]],
    earlier: Sequence[Mapping[str, Any]],
    lifted: int,
    sketch: Sketch | None,
    said: str = "",
) -> Document:
    """Return the report of one or more days under a leave.

    Args:
        facts: as `leave_letter` takes them.
        lifts: of these days, in order: {"tag", "kind", "girth_mm", "lifted_on", "where" (in words, as exact as this
            landholder may know), "hole_filled", "kept_conditions"}.
        photos: of the filled holes: {"sha256", "caption"}.
        earlier: trees lifted before these days with this landholder's leave: {"ended_as"}.
        lifted: how many trees were lifted under the leave in all.
        sketch: the ground with the places marked.
        said: what the person writes in their own words.
    """
    leave: Mapping[str, Any] = facts.get("leave") or {}
    site: Mapping[str, Any] = facts.get("site") or {}
    place = _said(site.get("name"), "your ground")
    to, sender = facts.get("landholder") or {}, facts.get("collector") or {}
    days = sorted({str(lift["lifted_on"]) for lift in lifts if lift.get("lifted_on")})
    when = joined([day_words(day) for day in days])
    subject = f"Trees lifted at {place}" + (f", {when}" if len(days) == 1 else "")
    blocks: list[Mapping[str, Any]] = [
        {"kind": "para", "text": f"Dear {_said(to.get('name'), 'landholder')},"},
        {"kind": "para", "text": _opening(place, when, leave, lifts, lifted)},
        *own_words(said),
    ]
    if lifts:
        blocks += [
            {"kind": "heading", "text": "What was taken, and from where"},
            {
                "kind": "table",
                "columns": [
                    ["Tree", 0.1],
                    ["Kind", 0.19],
                    ["Girth", 0.12],
                    ["From", 0.26],
                    ["On", 0.17],
                    ["Hole", 0.16],
                ],
                "rows": [_row(lift) for lift in lifts],
            },
        ]
    blocks += [
        sketch_block(sketch),
        *_holes(lifts, photos),
        *_remaining(leave, lifted, facts.get("made_on")),
        *_kept(leave, lifts),
    ]
    blocks += _fare(earlier)
    blocks += [
        {
            "kind": "para",
            "text": "If anything on your ground is not as you would have it, please tell me.",
        },
        {
            "kind": "closing",
            "text": "With kind regards," if _is_off(leave, lifted) else "With thanks,",
            "name": _said(sender.get("name"), ""),
        },
    ]
    return document("report", subject, facts, blocks)


def _is_off(leave: Mapping[str, Any], lifted: int) -> bool:
    """Return whether thanks for a leave would be out of place."""
    return bool(day_words(leave.get("withdrawn_on")) or over_words(leave, lifted))


def _opening(place: str, when: str, leave: Mapping[str, Any], lifts: Sequence[Mapping[str, Any]], lifted: int) -> str:
    """Return how it stands in the first sentences: what was dug out, and what of it was more or other than agreed."""
    withdrawn, over, outside = (
        day_words(leave.get("withdrawn_on")),
        over_words(leave, lifted),
        outside_words(leave, lifts),
    )
    begin = (
        f"You withdrew your leave to lift trees at {place} on {withdrawn}."
        if withdrawn
        else f"Thank you for your leave to lift trees at {place}."
    )
    dug = f"{f'On {when},' if when else 'In this time'} {trees(len(lifts))} {was(len(lifts))} dug out"
    if over and lifted == len(lifts):
        counted = [f"{dug}; {over}."]
    elif over:
        counted = [f"{dug}.", f"In all {trees(lifted)} {was(lifted)} dug out; {over}."]
    else:
        counted = [f"{dug}." if outside else f"{dug} under it."]
    return " ".join([begin, *counted, *outside])


def _row(lift: Mapping[str, Any]) -> list[str]:
    girth, filled = lift.get("girth_mm"), lift.get("hole_filled")
    return [
        _said(lift.get("tag"), "no tag"),
        _said(lift.get("kind"), "not noted"),
        f"{girth / 10:g} cm" if isinstance(girth, (int, float)) else "not taken",
        _said(lift.get("where"), "not noted"),
        _short_day(lift.get("lifted_on")),
        "filled" if filled is True else "not filled yet" if filled is False else "not noted",
    ]


def _said(value: object, otherwise: str) -> str:
    return value if isinstance(value, str) and value else otherwise


def _short_day(value: object) -> str:
    words = day_words(value).split()
    return f"{words[0]} {words[1][:3]} {words[2]}" if len(words) == 3 else ""


def _holes(lifts: Sequence[Mapping[str, Any]], photos: Sequence[Mapping[str, str]]) -> list[Mapping[str, Any]]:
    if not lifts:
        return []
    unfilled = [tag_words(lift) for lift in lifts if lift.get("hole_filled") is not True]
    filled = len(lifts) - len(unfilled)
    if not unfilled:
        text = "The hole was filled." if filled == 1 else "All holes were filled."
    elif len(lifts) == 1:
        text = "The hole is not noted as filled."
    else:
        text = (
            f"Of {len(lifts)} holes, {filled} {_be(filled)} noted as filled. Not noted as filled: {joined(unfilled)}."
        )
    blocks: list[Mapping[str, Any]] = [{"kind": "heading", "text": "Holes"}, {"kind": "para", "text": text}]
    if photos:
        blocks.append({"kind": "photos", "items": list(photos)})
    return blocks


def _remaining(leave: Mapping[str, Any], lifted: int, made: object) -> list[Mapping[str, Any]]:
    allowance, ends, withdrawn = allowance_of(leave), leave.get("ends_on"), day_words(leave.get("withdrawn_on"))
    taken = f"{trees(lifted)} {'have' if lifted > 1 else 'has'} been lifted"
    if allowance is None:
        text = f"Under this leave {taken} in all; no number was agreed."
    elif lifted > allowance:
        text = f"We agreed on {trees(allowance)}; {taken}, {lifted - allowance} more than agreed. None remains."
    elif withdrawn:
        text = f"We agreed on {trees(allowance)}; {taken}."
    else:
        left = allowance - lifted
        text = f"We agreed on {trees(allowance)}; {taken}, and {trees(left)} {'remain' if left > 1 else 'remains'}."
    if withdrawn:
        text += f" You withdrew this leave on {withdrawn}: nothing more is dug out under it."
    elif day_words(ends):
        ended = isinstance(made, str) and str(ends) < made
        text += (
            f" The leave ended on {day_words(ends)}."
            if ended
            else f" The leave runs until {day_words(ends)}, that day included."
        )
    return [{"kind": "heading", "text": "What remains"}, {"kind": "para", "text": text}]


def _be(count: int) -> str:
    return "is" if count == 1 else "are"


def _kept(leave: Mapping[str, Any], lifts: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    conditions = [text for text in items_of(leave.get("conditions")) if isinstance(text, str)]
    if not conditions or not lifts:
        return []
    items = []
    # Where nothing at all was noted with a lift, it did not have the terms before it; that is not the same as not kept.
    noted = [lift for lift in lifts if isinstance(lift.get("kept_conditions"), (list, tuple))]
    unasked = [tag_words(lift) for lift in lifts if lift not in noted]
    for text in conditions:
        without = [tag_words(lift) for lift in noted if text not in items_of(lift["kept_conditions"])]
        kept = len(noted) - len(without)
        said = []
        if kept == 0:
            said = ["not noted as kept"]
        elif without:
            said = [f"noted with {kept} of {len(noted)} trees, not with {joined(without)}"]
        if kept and unasked:
            said.append(f"not noted for {joined(unasked)}")
        items.append([not said, text + (f" ({'; '.join(said)})" if said else "")])
    return [{"kind": "heading", "text": "Your conditions"}, {"kind": "checks", "items": items}]


def _fare(earlier: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    if not earlier:
        return []
    if len(earlier) == 1:
        words = ENDS.get(str(earlier[0].get("ended_as")), "is growing on")
        text = f"The tree lifted before with your leave {words}."
    else:
        growing = sum(tree.get("ended_as") is None for tree in earlier)
        parts = [f"{growing} {_be(growing)} growing on"]
        for code, words in ENDS.items():
            count = sum(tree.get("ended_as") == code for tree in earlier)
            if count:
                parts.append(f"{count} {words}")
        told = " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))
        text = f"Of the {len(earlier)} trees lifted before with your leave, {told}."
    return [
        {"kind": "heading", "text": "How the earlier ones fare"},
        {"kind": "para", "text": text},
    ]
