"""Papers out of records that hold anything a damaged or newer phone may have written: always a paper, never a fault."""

from __future__ import annotations

import random
from typing import Any

import pypdfium2
from builders import SQUARE

from field.papers.html_page import make_html
from field.papers.letters import leave_paper, renewal_paper
from field.papers.map_sketch import draw_sketch
from field.papers.pdf_pages import make_pdf
from field.papers.signed_letter import signed_paper
from field.papers.unprintable import printable
from field.papers.visit_report import visit_report

TEXTS = (
    "",
    "x",
    "Żółw",
    "a\nb\r\n,c",
    "\x00\u202e\ud800",
    "山",
    "_" * 200,
    "y" * 400,
    "2027-02-14",
    "2027-02-30",
    "0000-00-00",
)
NUMBERS = (0, 1, -1, 7, 2**60, 1e300, 0.5, True)
OTHERS = (None, [], {}, ["a"], [None, 3, {"b": 1}], {"type": "Polygon"}, SQUARE)
VALUES: tuple[Any, ...] = (*TEXTS, *NUMBERS, *OTHERS)
DAYS = ("starts_on", "ends_on", "withdrawn_on", "given_on")
TERMS = (
    "area",
    "species",
    "max_girth_mm",
    "allowance",
    "methods",
    "form",
    "conditions",
    "by_role",
    "by_right",
    "renews",
)
NAMES = {
    "person": ("name", "address", "phone", "email"),
    "leave": (*DAYS, *TERMS),
    "site": ("name", "grid_ref", "area_ha"),
    "lift": ("tag", "kind", "girth_mm", "lifted_on", "where", "hole_filled", "kept_conditions"),
    "signing": ("version", "letter", "strokes", "name", "role", "place", "signed_at", "signed_on", "content_sha256"),
    "terms": ("area", "boundary"),
    "block": ("kind", "text", "rows", "items"),
}
BLOCKS = ("para", "heading", "terms", "facts", "sketch", "table", "photos", "strokes", "signatures", "checks")


def some(rng: random.Random, what: str) -> dict[str, Any]:
    return {name: rng.choice(VALUES) for name in NAMES[what] if rng.random() < 0.8}


def test_records_of_any_content_make_papers_that_open() -> None:
    rng = random.Random(4)
    for _ in range(25):
        people = [rng.choice([None, some(rng, "person")]) for _ in range(2)]
        leave = some(rng, "leave")
        facts = {
            "collector": people[0],
            "landholder": people[1],
            "leave": leave,
            "site": some(rng, "site"),
            "kinds": {"x": "box", "a": rng.choice(VALUES)},
            "role": rng.choice(VALUES),
            "by_right": rng.choice(VALUES),
            "made_on": rng.choice(VALUES),
        }
        sketch = draw_sketch(rng.choice(VALUES), leave.get("area"))
        blocks = [{**some(rng, "block"), "kind": rng.choice(BLOCKS)} for _ in range(4)]
        letter = {"title": rng.choice(VALUES), "blocks": blocks, "terms": some(rng, "terms")}
        signing = {**some(rng, "signing"), "letter": letter}
        lifts = [some(rng, "lift") for _ in range(rng.randrange(3))]
        for document in (
            leave_paper(facts, sketch),
            renewal_paper(facts, lifts, sketch, rng.choice(TEXTS)),
            signed_paper(signing),
            visit_report(facts, lifts, [], [{"ended_as": rng.choice(VALUES)}], len(lifts), sketch, rng.choice(TEXTS)),
        ):
            with pypdfium2.PdfDocument(make_pdf(printable(document), rng.choice(["a4", "letter"]))) as read:
                assert len(read) >= 1
            assert make_html(document, "a4", "").startswith("<!doctype html>")
