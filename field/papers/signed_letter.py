"""A letter as it was signed on the glass, out of what was signed alone: its words, ground, signature and proof.

Nothing of what the log says today is put into it, neither names at its head nor the boundary. What was left open is
said to be so: a line to write on, above a signature, could be filled in by anybody.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from field.core.leave_letter import BLANK
from field.papers.letters import Document, document, items_of, sketch_block, text_of
from field.papers.map_sketch import draw_sketch
from field.papers.words import day_words

OPEN = "left open"
ALTERED = (
    "This letter was changed on a device after it was signed. What was written to it later does not count: printed "
    "here is what was signed."
)
UNPROVEN = "Nothing that was kept of this letter fits its seal: it may not be what was signed."
NO_GROUND = "No boundary of the ground was drawn when this was signed."
# Where the names at the head stand in the letter; letters signed once keep these words.
PEOPLE = {
    "collector": {"name": "Collector", "address": "Collector’s address", "phone": "Collector’s telephone"},
    "landholder": {"name": "Landholder", "address": "Their address"},
}


def signed_paper(signing: Mapping[str, Any], doubt: str = "") -> Document:
    """Return a letter as it was signed.

    Args:
        signing: fields of the record, as they were signed.
        doubt: ALTERED, UNPROVEN, or "" for one that stands as it was signed.
    """
    letter = signing.get("letter")
    kept: Mapping[str, Any] = letter if isinstance(letter, Mapping) else {}
    blocks = [made for block in items_of(kept.get("blocks")) if (made := _block_of(block))]
    title = kept.get("title") if isinstance(kept.get("title"), str) else "Leave to lift trees"
    rows = [
        ["Signed by", text_of(signing.get("name"))],
        ["As", text_of(signing.get("role"))],
        ["On", day_words(signing.get("signed_on"))],
        ["At", text_of(signing.get("place"))],
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
        _ground(kept.get("terms")),
        {"kind": "heading", "text": "Signed"},
        {"kind": "strokes", "strokes": strokes, "typed": "" if strokes else rows[0][1] or "no name", "rows": rows},
        {"kind": "small", "text": proof},
        {"kind": "para", "text": doubt} if doubt else {},
    ]
    told = {**_people(kept), "made_on": signing.get("signed_on")}
    return document("signed", str(title), told, blocks)


def _people(letter: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """Return collector and landholder as the letter itself names them."""
    known: dict[str, str] = {}
    for block in items_of(letter.get("blocks")):
        rows = items_of(block.get("rows")) if isinstance(block, Mapping) and block.get("kind") == "facts" else []
        for row in (items_of(one) for one in rows):
            if len(row) == 2 and all(isinstance(part, str) for part in row):
                known.setdefault(*row)
    return {who: {name: known.get(label, "") for name, label in labels.items()} for who, labels in PEOPLE.items()}


def _ground(terms: object) -> dict[str, Any]:
    """Return the sketch of the ground as it was signed; of a letter without terms nobody can tell."""
    if not isinstance(terms, Mapping):
        return {}
    sketch = draw_sketch(terms.get("boundary"), terms.get("area"))
    if sketch is None:
        return {"kind": "small", "text": NO_GROUND}
    return dict(sketch_block(sketch, "Sketch of the ground as it was signed."))


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
        return {"kind": kind, "rows": [[name, value or OPEN] for name, value in (row for row in rows if len(row) == 2)]}
    return {}


def _as_kept(value: object) -> str:
    # Nothing else of what was signed is put otherwise.
    return value.replace(BLANK, f"({OPEN})") if isinstance(value, str) else ""


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
