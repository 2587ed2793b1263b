"""Compare a leave letter as a PDF with the same sentences set by reportlab, plain, in the same run.

The peer sets the same paragraphs in the same font file by its own paragraphs, breaks the pages and embeds the font; it
has no terms with boxes, no sketch and no lines to sign on, and it neither joins nor kerns letters. Ours is measured
with all letters seen before, as from the second letter on, and once with nothing remembered, as the first of a server.
Needs reportlab. Goal: at most 2 x the peer, letters seen before.
"""

from __future__ import annotations

import io
import time
from pathlib import Path

import fontpkg_noto_sans
from timing import Case, compare, judge, tell_machine

from field.papers import fonts
from field.papers.letters import Document, leave_paper
from field.papers.map_sketch import draw_sketch
from field.papers.pdf_pages import make_pdf

LETTERS = 10
WEST, SOUTH = -3.40, 55.40
GROUND = {
    "type": "Polygon",
    "coordinates": [[[WEST, SOUTH], [WEST + 0.01, SOUTH], [WEST + 0.01, SOUTH + 0.005], [WEST, SOUTH]]],
}
FACTS = {
    "collector": {"name": "Zofia Wrzesień", "address": "3 Kiln Row\nAlderhope", "phone": "01632 960 114"},
    "landholder": {"name": "Đặng Thị Hương", "address": "Hopehead Farm"},
    "role": "owner",
    "site": {"name": "Hopehead Moss", "grid_ref": "NT 117 129", "area_ha": 17.6},
    "leave": {
        "starts_on": "2027-02-14",
        "ends_on": "2027-03-31",
        "conditions": ["Close the gates.", "Keep off the hay meadow until it is cut."],
    },
    "made_on": "2027-01-03",
}


def letter() -> Document:
    """Return the letter as a document; making its words and its sketch counts too."""
    return leave_paper(FACTS, draw_sketch(GROUND, None))


def texts_of(document: Document) -> list[str]:
    """Return every sentence of the letter, for the peer."""
    texts = [*document["head"], *document["to"], document["on"], document["subject"]]
    for block in document["blocks"]:
        texts += [block["text"]] if block.get("text") else []
        texts += [" ".join(row) for row in block.get("rows", ())] + list(block.get("items", ()))
    return texts


def ours(_: object) -> None:
    for _number in range(LETTERS):
        make_pdf(letter(), "a4")


def ours_forgetting(_: object) -> None:
    for _number in range(LETTERS):
        fonts.shape.cache_clear()
        fonts.chain.cache_clear()
        fonts._load.cache_clear()
        make_pdf(letter(), "a4")


def main() -> None:
    """Time both and print the ratio."""
    tell_machine()
    start = time.perf_counter()
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.platypus import Paragraph, SimpleDocTemplate

    print(f"importing the peer: {time.perf_counter() - start:.2f} s")
    file = Path(fontpkg_noto_sans.__file__).parent / "files" / "NotoSans[wdth,wght].ttf"
    pdfmetrics.registerFont(TTFont("Noto", str(file), shapable=False))
    style = ParagraphStyle("body", fontName="Noto", fontSize=10.5, leading=14.5)

    def peer(_: object) -> None:
        for _number in range(LETTERS):
            out = io.BytesIO()
            SimpleDocTemplate(out, pagesize=A4).build([Paragraph(text, style) for text in texts_of(letter())])

    cases = {"ours": Case(ours), "ours, nothing remembered": Case(ours_forgetting), "reportlab, plain": Case(peer)}
    taken = compare("a leave letter", cases, LETTERS, "letter", rounds=7)
    judge("letter / reportlab", taken["ours"] / taken["reportlab, plain"], 2)
    judge("the same, nothing remembered", taken["ours, nothing remembered"] / taken["reportlab, plain"], 2)


if __name__ == "__main__":
    main()
