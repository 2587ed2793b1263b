"""The papers of a leave as documents: the letter to sign, and the one that asks for another term.

A document is what pdf_pages and html_page draw; its words are made here and in core/leave_letter, nowhere else:

    {"kind", "title", "author", "head": lines, "to": lines, "on": date in words, "subject", "blocks": [...]}

Blocks, beside those of a leave letter (facts, para, heading, terms):

    {"kind": "sketch", "sketch", "caption"}            {"kind": "signatures", "parties": [{"title", "name"}]}
    {"kind": "strokes", "strokes", "typed", "rows"}    {"kind": "closing", "text", "name"}
    {"kind": "table", "columns": [[name, share]], "rows"}    {"kind": "small", "text"}
    {"kind": "photos", "items": [{"sha256", "caption"}]}     {"kind": "checks", "items": [[True or not, text]]}
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from field.core.leave_letter import BLANK, leave_letter
from field.papers.map_sketch import Sketch
from field.papers.words import allowance_of, day_words, outside_words, over_words, own_words, trees, was

Document = dict[str, Any]
Facts = Mapping[str, Any]

STROKES_WIDE = 1000  # across; y down, as deep as it was written
TYPED = "typed as the signature, not drawn"


def leave_paper(facts: Facts, sketch: Sketch | None) -> Document:
    """Return the leave letter to send and sign.

    Args:
        facts: as `leave_letter` takes them.
        sketch: of the ground; None: a space to draw it in is left to the landholder.
    """
    letter: Any = leave_letter(facts)
    name = _name(facts.get("landholder"))
    opening = [
        {"kind": "para", "text": f"Dear {name or 'landholder'},"},
        {
            "kind": "para",
            "text": "This is what I understand we agreed. Please strike out what does not hold, fill in what is open, "
            "tick what you have read, and sign. One copy is yours to keep.",
        },
    ]
    closing = [
        sketch_block(sketch, grid_ref=(facts.get("site") or {}).get("grid_ref")),
        {"kind": "heading", "text": "Signed"},
        {
            "kind": "signatures",
            "parties": [
                {"title": "Landholder", "name": name},
                {"title": "Collector", "name": _name(facts.get("collector"))},
            ],
        },
    ]
    return document("leave", letter["title"], facts, [*opening, *letter["blocks"], *closing])


def renewal_paper(facts: Facts, lifts: Sequence[Mapping[str, Any]], sketch: Sketch | None, said: str = "") -> Document:
    """Return the letter that asks for another term on the same ground.

    Args:
        facts: as `leave_letter` takes them, of the leave that ends.
        lifts: made under it: "tag", "lifted_on".
        sketch: of its ground, shown where that is a part of the site only.
        said: what the person writes in their own words.
    """
    leave: Mapping[str, Any] = facts.get("leave") or {}
    site: Mapping[str, Any] = facts.get("site") or {}
    name, place = _name(facts.get("landholder")), text_of(site.get("name")) or "your ground"
    ends, made = leave.get("ends_on"), facts.get("made_on")
    withdrawn = day_words(leave.get("withdrawn_on"))
    if withdrawn:
        term = f"You withdrew your leave to lift trees at {place} on {withdrawn}."
    elif not isinstance(ends, str):
        term = f"You gave me leave to lift trees at {place}."
    elif isinstance(made, str) and ends < made:
        term = f"Your leave to lift trees at {place} ended on {day_words(ends)}."
    else:
        term = f"Your leave to lift trees at {place} ends on {day_words(ends)}."
    count, over = len(lifts), over_words(leave, len(lifts))
    allowance = allowance_of(leave)
    if over:
        taken = f"{trees(count).capitalize()} {was(count)} dug out; {over}."
    else:
        taken = f"Under it {trees(count)} {was(count)} lifted" + (
            "." if allowance is None else f", of the {allowance} agreed."
        )
    told = " ".join([term, taken, *outside_words(leave, lifts), *([] if withdrawn or over else ["Thank you for it."])])
    letter: Any = leave_letter({**facts, "leave": {**leave, "starts_on": None, "ends_on": None, "withdrawn_on": None}})
    terms = [block for block in letter["blocks"] if block["kind"] == "terms"]
    blocks = [
        {"kind": "para", "text": f"Dear {name or 'landholder'},"},
        {"kind": "para", "text": told},
        *own_words(said),
        {
            "kind": "para",
            "text": "I would like to ask for another term on the same ground. The terms of the last one stand below; "
            "please change them as you see fit. Nothing is dug out before you have said yes, and no is a good answer "
            "too.",
        },
        {"kind": "heading", "text": "Terms for another term"},
        # The last list is what holds in any case; the leave letter itself brings it when the term is agreed.
        *({"kind": "terms", "items": block["items"]} for block in terms[:-1]),
        {"kind": "closing", "text": "With kind regards,", "name": _name(facts.get("collector"))},
        {"kind": "heading", "text": "Your answer"},
        {
            "kind": "checks",
            "items": [
                [None, f"Yes, from {BLANK} to {BLANK}, both days included."],
                [None, "Yes, with the changes I have written above."],
                [None, "Not this time."],
            ],
        },
        {"kind": "signatures", "parties": [{"title": "Landholder", "name": name}]},
        sketch_block(sketch if leave.get("area") is not None else None),
    ]
    return document("renewal", f"Asking for another term: {place}", facts, blocks)


def document(kind: str, subject: str, facts: Facts, blocks: Sequence[Mapping[str, Any]]) -> Document:
    """Return a letter from the collector to the landholder of `facts`."""
    return {
        "kind": kind,
        "title": subject,
        "author": _name(facts.get("collector")),
        "head": _head(facts.get("collector")),
        "to": _address(facts.get("landholder")),
        "on": day_words(facts.get("made_on")),
        "subject": subject,
        "blocks": [block for block in blocks if block],
    }


def sketch_block(
    sketch: Sketch | None, what: str = "Sketch of the ground.", grid_ref: object = None
) -> Mapping[str, Any]:
    """Return the block of a sketch with what stands under it; an empty one where there is none.

    Args:
        sketch: None for none.
        what: what it is, as a sentence.
        grid_ref: of the middle of the ground; None or "" where it is not told.
    """
    if sketch is None:
        return {}
    caption = f"{what} Solid line: the ground this letter is about."
    if any(shape.kind == "site" for shape in sketch.shapes):
        caption += " Dotted: the whole site."
    middle = f" Grid reference of its middle: {text_of(grid_ref)}." if text_of(grid_ref) else ""
    return {"kind": "sketch", "sketch": sketch, "caption": f"{caption} North is at the top.{middle}"}


def _name(person: object) -> str:
    """Return the name of a person as one line, "" where it is not known."""
    return text_of(person.get("name")) if isinstance(person, Mapping) else ""


def _head(person: object) -> list[str]:
    if not isinstance(person, Mapping):
        return []
    reach = " · ".join(filter(None, (text_of(person.get("phone")), text_of(person.get("email")))))
    return [*_address(person), *([reach] if reach else [])]


def _address(person: object) -> list[str]:
    if not isinstance(person, Mapping):
        return []
    address = person.get("address")
    lines = address.splitlines() if isinstance(address, str) else []
    return [line for line in (_name(person), *(one.strip(" \t,") for one in lines)) if line]


def text_of(value: object) -> str:
    """Return a text as one line, "" for anything else."""
    return " ".join(value.split()) if isinstance(value, str) else ""


def items_of(value: object) -> list[Any]:
    """Return the items of a list, none for anything else."""
    return list(value) if isinstance(value, (list, tuple)) else []
