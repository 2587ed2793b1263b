"""The papers of a leave as documents: the letter to sign, the one that was signed, the one that asks for another term.

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
from datetime import date
from typing import Any

from field.core.dates import show_date
from field.core.leave_letter import BLANK, leave_letter
from field.papers.map_sketch import Sketch

Document = dict[str, Any]
Facts = Mapping[str, Any]

STROKES_WIDE = 1000  # across; y down, as deep as it was written
TYPED = "typed as the signature, not drawn"
ALTERED = (
    "This letter was changed on a device after it was signed. What was written to it later does not count: printed "
    "here is what was signed."
)
UNPROVEN = "Nothing that was kept of this letter fits its seal: it may not be what was signed."


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
        sketch_block(sketch),
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


def signed_paper(facts: Facts, signing: Mapping[str, Any], doubt: str = "") -> Document:
    """Return a letter as it was signed on the glass: its own words, the signature, and what proves it.

    Args:
        facts: "collector", "landholder" for the head of the letter.
        signing: fields of the record, as they were signed.
        doubt: ALTERED, UNPROVEN, or "" for one that stands as it was signed.
    """
    letter = signing.get("letter")
    kept: Mapping[str, Any] = letter if isinstance(letter, Mapping) else {}
    blocks = [made for block in items_of(kept.get("blocks")) if (made := _block_of(block))]
    title = kept.get("title") if isinstance(kept.get("title"), str) else "Leave to lift trees"
    rows = [
        ["Signed by", _text(signing.get("name"))],
        ["As", _text(signing.get("role"))],
        ["On", day_words(signing.get("signed_on"))],
        ["At", _text(signing.get("place"))],
    ]
    version = signing.get("version")
    proof = " ".join(
        text
        for text in (
            f"Version {version} of this letter." if isinstance(version, int) else "",
            f"Signed at {signing['signed_at']}." if isinstance(signing.get("signed_at"), str) else "",
            f"SHA-256 of letter and signature: {signing['content_sha256']}"
            if isinstance(signing.get("content_sha256"), str)
            else "",
        )
        if text
    )
    strokes = _strokes(signing.get("strokes"))
    blocks += [
        {"kind": "heading", "text": "Signed"},
        {"kind": "strokes", "strokes": strokes, "typed": "" if strokes else rows[0][1] or "no name", "rows": rows},
        {"kind": "small", "text": proof},
        {"kind": "para", "text": doubt} if doubt else {},
    ]
    told = {**facts, "made_on": signing.get("signed_on")}
    return document("signed", str(title), told, blocks)


def renewal_paper(facts: Facts, lifted: int, sketch: Sketch | None) -> Document:
    """Return the letter that asks for another term on the same ground.

    Args:
        facts: as `leave_letter` takes them, of the leave that ends.
        lifted: how many trees were lifted under it.
        sketch: of its ground, shown where that is a part of the site only.
    """
    leave: Mapping[str, Any] = facts.get("leave") or {}
    site: Mapping[str, Any] = facts.get("site") or {}
    name, place = _name(facts.get("landholder")), _text(site.get("name")) or "your ground"
    ends, made = leave.get("ends_on"), facts.get("made_on")
    if not isinstance(ends, str):
        term = f"You gave me leave to lift trees at {place}."
    elif isinstance(made, str) and ends < made:
        term = f"Your leave to lift trees at {place} ended on {day_words(ends)}."
    else:
        term = f"Your leave to lift trees at {place} ends on {day_words(ends)}."
    allowance = leave.get("allowance")
    taken = f"Under it {trees(lifted)} {'was' if lifted == 1 else 'were'} lifted" + (
        f", of the {allowance} agreed." if isinstance(allowance, int) else "."
    )
    letter: Any = leave_letter({**facts, "leave": {**leave, "starts_on": None, "ends_on": None, "withdrawn_on": None}})
    terms = [block for block in letter["blocks"] if block["kind"] == "terms"]
    blocks = [
        {"kind": "para", "text": f"Dear {name or 'landholder'},"},
        {"kind": "para", "text": f"{term} {taken} Thank you for it."},
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


def sketch_block(sketch: Sketch | None) -> Mapping[str, Any]:
    """Return the block of a sketch with what stands under it; an empty one where there is none."""
    if sketch is None:
        return {}
    caption = "Sketch of the ground. Solid line: the ground this letter is about."
    if any(shape.kind == "site" for shape in sketch.shapes):
        caption += " Dotted: the whole site."
    return {"kind": "sketch", "sketch": sketch, "caption": f"{caption} North is at the top."}


def day_words(value: object) -> str:
    """Return 'YYYY-MM-DD' as '14 February 2027', "" for anything else."""
    try:
        return show_date(date.fromisoformat(value)) if isinstance(value, str) else ""
    except ValueError:
        return ""


def trees(count: int) -> str:
    """Return '1 tree', '3 trees', 'no tree'."""
    return "no tree" if count == 0 else "1 tree" if count == 1 else f"{count} trees"


def _name(person: object) -> str:
    return _text(person.get("name")) if isinstance(person, Mapping) else ""


def _head(person: object) -> list[str]:
    if not isinstance(person, Mapping):
        return []
    reach = " · ".join(filter(None, (_text(person.get("phone")), _text(person.get("email")))))
    return [*_address(person), *([reach] if reach else [])]


def _address(person: object) -> list[str]:
    if not isinstance(person, Mapping):
        return []
    address = person.get("address")
    lines = address.splitlines() if isinstance(address, str) else []
    return [line for line in (_name(person), *(one.strip(" \t,") for one in lines)) if line]


def _text(value: object) -> str:
    return " ".join(value.split()) if isinstance(value, str) else ""


def items_of(value: object) -> list[Any]:
    """Return the items of a list, none for anything else."""
    return list(value) if isinstance(value, (list, tuple)) else []


def _block_of(block: object) -> dict[str, Any]:
    """Return a block of a kept letter as it can be drawn; an empty one for a kind that is not known here."""
    if not isinstance(block, Mapping):
        return {}
    kind = block.get("kind")
    if kind in ("para", "heading"):
        return {"kind": kind, "text": _as_kept(block.get("text"))}
    if kind == "terms":
        return {"kind": kind, "items": [_as_kept(item) for item in items_of(block.get("items"))]}
    if kind == "facts":
        rows = [[_as_kept(part) for part in items_of(row)] for row in items_of(block.get("rows"))]
        return {"kind": kind, "rows": [row for row in rows if len(row) == 2]}
    return {}


def _as_kept(value: object) -> str:
    return value if isinstance(value, str) else ""  # nothing of what was signed is put otherwise


def _strokes(value: object) -> list[list[tuple[float, float]]]:
    strokes = []
    for stroke in items_of(value):
        points = [
            (float(one[0]), float(one[1]))
            for one in items_of(stroke)
            if isinstance(one, (list, tuple)) and len(one) == 2 and all(isinstance(part, (int, float)) for part in one)
        ]
        if points:
            strokes.append(points)
    return strokes
