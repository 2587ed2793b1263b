"""Compare a leave letter as a PDF with the same sentences set by reportlab, plain, in the same run.

The peer sets the same paragraphs in the same font file by its own paragraphs, breaks the pages and embeds the font; it
has no terms with boxes, no sketch and no lines to sign on, and it neither joins nor kerns letters. Ours is drawn by the
same library. Measured with all letters seen before, as from the second letter on, and the first letter of a process,
where either imports the library and opens its fonts. Goal: at most 2 x the peer, both times.
"""

from __future__ import annotations

import io
import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import fontpkg_noto_sans
from timing import Case, compare, judge, tell_machine

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


def set_up_peer() -> Callable[[object], None]:
    """Return what the peer does; importing it and opening its font is a part of its first letter."""
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.platypus import Paragraph, SimpleDocTemplate

    file = Path(fontpkg_noto_sans.__file__).parent / "files" / "NotoSans[wdth,wght].ttf"
    pdfmetrics.registerFont(TTFont("Noto", str(file), shapable=False))
    style = ParagraphStyle("body", fontName="Noto", fontSize=10.5, leading=14.5)

    def peer(_: object) -> None:
        for _number in range(LETTERS):
            out = io.BytesIO()
            SimpleDocTemplate(out, pagesize=A4).build([Paragraph(text, style) for text in texts_of(letter())])

    return peer


FIRSTS = {"ours": lambda: make_pdf(letter(), "a4"), "reportlab, plain": lambda: set_up_peer()(None)}


def first_letter_s(whose: str) -> float:
    """Return how long the first letter of a fresh process takes, with what has to be imported and opened for it."""
    code = (
        "import time, bench_papers; bench_papers.LETTERS = 1; start = time.perf_counter(); "
        f"bench_papers.FIRSTS[{whose!r}](); print(time.perf_counter() - start)"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parent, capture_output=True, check=True)
    return float(said.stdout)


def main() -> None:
    """Time both and print the ratios."""
    tell_machine()
    cases = {"ours": Case(ours), "reportlab, plain": Case(set_up_peer())}
    taken = compare("a leave letter", cases, LETTERS, "letter", rounds=7)
    judge("letter / reportlab", taken["ours"] / taken["reportlab, plain"], 2)
    firsts = {whose: statistics.median(first_letter_s(whose) for _ in range(5)) for whose in FIRSTS}
    for whose, first_s in firsts.items():
        print(f"  the first letter of a process, {whose}: {first_s * 1000:.0f} ms")
    judge("the first letter / reportlab", firsts["ours"] / firsts["reportlab, plain"], 2)


if __name__ == "__main__":
    main()
