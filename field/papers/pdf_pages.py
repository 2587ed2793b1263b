"""From a document to the pages of a PDF: where each block stands, and what may not be torn apart.

Lengths are points; y is measured upwards from the foot of the page, as in the file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from field.core.errors import BadInput
from field.papers.fonts import BOLD
from field.papers.letters import STROKES_WIDE, TYPED, Document
from field.papers.map_sketch import AREA, BAR, MARK, SITE, Sketch
from field.papers.pdf_file import Page, PdfFile, read_picture
from field.papers.typeset import Line, Style, set_line, set_text

SIZES = {"a4": (595.276, 841.89), "letter": (612.0, 792.0)}  # ISO 216: 210 x 297 mm; ANSI/ASME Y14.1: 8.5 x 11 in
SIDE = 68.0  # 24 mm
TOP = 62.0
FOOT = 62.0
GAP = 7.0
GRID_NAME, GRID_NOTE = 0.26, 0.16  # shares of the width of a grid: the tree, and what is noted by pen
GRID_ROW = 17.0  # high enough for a pen
SIGNED = "signatures"

BODY = Style(10.5)
NAME = Style(13.5, BOLD)
SUBJECT = Style(14.5, BOLD)
HEADING = Style(11, BOLD)
LABEL = Style(9.5, grey=0.32)
CELL = Style(9.5)
CELL_HEAD = Style(9.5, BOLD)
SMALL = Style(8.5, grey=0.32)
TINY = Style(8)

# Photos come as small pictures of their own, upright and with no data of the camera in them.
Pictures = Mapping[str, bytes]


def make_pdf(document: Document, size: str, pictures: Pictures | None = None) -> bytes:
    """Return a document as a PDF.

    Args:
        document: see letters.
        size: 'a4' or 'letter'.
        pictures: SHA-256 of a photo -> its small JPEG; a photo that is not among them is told of in words.
    Raises: BadInput for another size.
    """
    if size not in SIZES:
        raise BadInput("This size of paper is not known.", "Ask for a4 or letter.", "size")
    return _Pages(document, *SIZES[size], pictures or {}).write()


class _Pages:
    def __init__(self, document: Document, width: float, height: float, pictures: Pictures) -> None:
        self.document = document
        self.size = (width, height)
        self.width = width - 2 * SIDE
        self.pictures = pictures
        self.file = PdfFile(document["title"], document["author"], self.size)
        self.page: Page = self.file.add_page()
        self.y = height - TOP  # top of what comes next
        self.terms = 0  # numbered through the whole letter, so that each can be named
        self.draw: dict[str, Callable[[Mapping[str, Any]], None]] = {
            "para": self._para,
            "facts": self._facts,
            "terms": self._terms,
            "checks": self._checks,
            "sketch": self._sketch,
            "table": self._table,
            "grid": self._grid,
            "photos": self._photos,
            SIGNED: self._signatures,
            "strokes": self._strokes,
            "closing": self._closing,
            "small": self._small,
        }

    def write(self) -> bytes:
        self._letterhead()
        heading: str | None = None
        blocks = self.document["blocks"]
        for block, after in zip(blocks, [*blocks[1:], {}], strict=True):
            if block.get("kind") == "heading":
                heading = str(block.get("text", ""))
                continue
            draw = self.draw[str(block["kind"])]
            if heading is not None:
                # An answer to be ticked is not torn from the line it is signed on.
                self._heading(heading, self._least(block) + (self._least(after) if after.get("kind") == SIGNED else 0))
                heading = None
            draw(block)
        self._numbers()
        return self.file.write()

    # --- places --------------------------------------------------------------------------------------------------

    def _room(self, height: float) -> None:
        """Go to a new page if there is no room for so much."""
        if self.y - height < FOOT and self.y < self.size[1] - TOP:
            self.page = self.file.add_page()
            self.y = self.size[1] - TOP

    def _lines(self, lines: Sequence[Line], style: Style, x: float = SIDE) -> None:
        for line in lines:
            self._put(line, style, x, self.y - style.size)
            self.y -= style.height

    def _put(self, line: Line, style: Style, x: float, baseline: float) -> None:
        self.file.draw_line(self.page, x, baseline, line, style)

    def _rule(self, x: float, y: float, width: float, grey: float = 0.25) -> None:
        self.file.draw_path(self.page, [[(x, y), (x + width, y)]], closed=False, width=0.6, stroke=grey)

    def _box(self, x: float, y: float, *, ticked: bool | None = None) -> None:
        side = 8.0
        corners = [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
        self.file.draw_path(self.page, [corners], width=0.7, stroke=0.15)
        if ticked:
            tick = [(x + 1.6, y + 4), (x + 3.4, y + 1.8), (x + 6.8, y + 6.6)]
            self.file.draw_path(self.page, [tick], closed=False, width=1.2, stroke=0, rounded=True)

    def _least(self, block: Mapping[str, Any]) -> float:
        """Return how much of a block has to stand under its heading."""
        kind = block.get("kind")
        if kind == SIGNED:
            return 150.0
        if kind == "strokes":
            return 190.0
        if kind == "sketch":
            return 260.0
        if kind in ("terms", "checks") and block.get("items"):
            items = block["items"] if kind == "checks" else block["items"][:2]
            texts = [item if isinstance(item, str) else str(item[-1]) for item in items]
            return sum(len(set_text(text, BODY, self.width - 44)) * BODY.height + 3 for text in texts)
        return 3 * BODY.height

    # --- the frame of the letter ---------------------------------------------------------------------------------

    def _letterhead(self) -> None:
        head = self.document["head"]
        if head:
            self._lines(set_text(head[0], NAME, self.width), NAME)
            for text in head[1:]:
                self._lines(set_text(text, SMALL, self.width), SMALL)
            self.y -= 4
            self._rule(SIDE, self.y, self.width, 0.55)
            self.y -= 16
        for text in self.document["to"]:
            self._lines(set_text(text, BODY, self.width * 0.6), BODY)
        if self.document["on"]:
            self.y -= 10
            self._lines([set_line(self.document["on"], BODY)], BODY)
        self.y -= 12
        self._lines(set_text(self.document["subject"], SUBJECT, self.width), SUBJECT)
        self.y -= 6

    def _numbers(self) -> None:
        total = len(self.file.pages)
        for at, page in enumerate(self.file.pages, 1):
            right = set_line(f"{at} of {total}", SMALL)
            self.file.draw_line(page, self.size[0] - SIDE - right.width, 34, right, SMALL)
            left = set_text(self.document["subject"], SMALL, self.width - 60)
            self.file.draw_line(page, SIDE, 34, left[0], SMALL)

    def _heading(self, text: str, least: float) -> None:
        lines = set_text(text, HEADING, self.width)
        self._room(len(lines) * HEADING.height + 8 + 3 + least)  # with the space above and below it
        self.y -= 8
        self._lines(lines, HEADING)
        self.y -= 3

    # --- blocks --------------------------------------------------------------------------------------------------

    def _para(self, block: Mapping[str, Any], style: Style = BODY) -> None:
        lines = set_text(str(block.get("text", "")), style, self.width)
        # No single line of a paragraph is left behind or sent ahead.
        self._room(min(len(lines), 2 if len(lines) != 3 else 3) * style.height)
        for at, line in enumerate(lines):
            self._room(2 * style.height if at == len(lines) - 2 else style.height)
            self._lines([line], style)
        self.y -= GAP

    def _small(self, block: Mapping[str, Any]) -> None:
        self._para(block, SMALL)

    def _facts(self, block: Mapping[str, Any]) -> None:
        label_width = 148.0
        for row in block.get("rows", ()):
            name, value = str(row[0]), str(row[1])
            labels = set_text(name, LABEL, label_width - 8)
            values = set_text(value, BODY, self.width - label_width) if value else []
            height = max(len(labels), len(values), 1) * BODY.height + (2 if values else 7)
            self._room(height)
            top = self.y - (0 if values else 5)
            for at, line in enumerate(labels):
                self._put(line, LABEL, SIDE, top - BODY.size - at * BODY.height)
            for at, line in enumerate(values):
                self._put(line, BODY, SIDE + label_width, top - BODY.size - at * BODY.height)
            if not values:
                self._rule(SIDE + label_width, top - BODY.size - 2, self.width - label_width)
            self.y -= height
        self.y -= GAP

    def _terms(self, block: Mapping[str, Any]) -> None:
        for text in block.get("items", ()):
            self.terms += 1
            lines = set_text(str(text), BODY, self.width - 44)
            self._room(len(lines) * BODY.height + 2)
            number = set_line(f"{self.terms}.", BODY)
            self._put(number, BODY, SIDE + 16 - number.width, self.y - BODY.size)
            if self.document["kind"] == "leave":  # the one that is read and ticked with a pen
                self._box(self.size[0] - SIDE - 9, self.y - BODY.size - 0.5)
            self._lines(lines, BODY, SIDE + 22)
            self.y -= 2
        self.y -= GAP - 2

    def _checks(self, block: Mapping[str, Any]) -> None:
        for done, text in block.get("items", ()):
            lines = set_text(str(text), BODY, self.width - 22)
            self._room(len(lines) * BODY.height + 3)
            self._box(SIDE + 2, self.y - BODY.size - 0.5, ticked=done)
            self._lines(lines, BODY, SIDE + 22)
            self.y -= 3
        self.y -= GAP - 3

    def _sketch(self, block: Mapping[str, Any]) -> None:
        sketch: Sketch = block["sketch"]
        captions = set_text(str(block.get("caption", "")), SMALL, self.width)
        self._room(sketch.height + len(captions) * SMALL.height + 12)
        x, top = SIDE + (self.width - sketch.width) / 2, self.y - 4

        def at(point: tuple[float, float]) -> tuple[float, float]:
            return x + point[0], top - point[1]

        frame = [(x, top), (x + sketch.width, top), (x + sketch.width, top - sketch.height), (x, top - sketch.height)]
        self.file.draw_path(self.page, [frame], width=0.5, stroke=0.6)
        for shape in sketch.shapes:
            rings = [[at(point) for point in ring] for ring in shape.rings]
            if shape.kind == SITE:
                self.file.draw_path(self.page, rings, width=0.7, stroke=0.45, dash=(1, 2.5), rounded=True)
            elif shape.kind == AREA:
                self.file.draw_path(self.page, rings, width=1.4, fill=0.92)
            elif shape.kind == MARK:
                self.file.draw_path(self.page, rings, width=0.8, fill=1.0, stroke=0)
            elif shape.kind == BAR:
                self.file.draw_path(self.page, rings[:1], width=0.6, fill=0.0)
                self.file.draw_path(self.page, rings[1:], width=0.6)
            else:
                self.file.draw_path(self.page, rings, width=0.6, fill=0.0 if shape is sketch.shapes[-1] else 1.0)
        for word in sketch.words:
            line = set_line(word.text, TINY)
            place = at((word.x, word.y))
            self._put(line, TINY, place[0] - (line.width / 2 if word.centred else 0), place[1])
        self.y = top - sketch.height - 4
        self._lines(captions, SMALL)
        self.y -= GAP

    def _table(self, block: Mapping[str, Any]) -> None:
        columns = [(str(name), float(share) * self.width) for name, share in block["columns"]]
        self._row([name for name, _ in columns], columns, CELL_HEAD)
        for row in block["rows"]:
            self._row([str(cell) for cell in row], columns, CELL)
        self.y -= GAP

    def _grid(self, block: Mapping[str, Any]) -> None:
        """Draw names with a box for each day that is to be ticked, and room for a word at the end."""
        columns = [str(name) for name in block["columns"]]
        name_wide = self.width * GRID_NAME
        wide = (self.width * (1 - GRID_NAME - GRID_NOTE)) / max(len(columns), 1)

        def head() -> None:
            self._room(4 * CELL.height)
            labels = [("Tree", SIDE), *((name, SIDE + name_wide + n * wide) for n, name in enumerate(columns))]
            for text, x in [*labels, ("Noted", SIDE + self.width * (1 - GRID_NOTE) + 4)]:
                self._put(set_line(text, TINY), TINY, x, self.y - TINY.size - 2)
            self.y -= TINY.height + 4
            self._rule(SIDE, self.y, self.width, 0.25)

        head()
        for name, marks in block["rows"]:
            lines = set_text(str(name), CELL, name_wide - 6)
            height = max(len(lines) * CELL.height + 5, GRID_ROW)
            page = self.page
            self._room(height)
            if page is not self.page:
                head()
            for at, line in enumerate(lines):
                self._put(line, CELL, SIDE, self.y - CELL.size - 3 - at * CELL.height)
            for n, is_due in enumerate(marks):
                if is_due:
                    self._box(SIDE + name_wide + n * wide + 2, self.y - 12.5)
            self.y -= height
            self._rule(SIDE, self.y, self.width, 0.75)
        self.y -= GAP

    def _row(self, cells: Sequence[str], columns: Sequence[tuple[str, float]], style: Style) -> None:
        texts = [set_text(cell, style, wide - 8) for cell, (_, wide) in zip(cells, columns, strict=True)]
        height = max(len(lines) for lines in texts) * style.height + 6
        self._room(height * (2 if style is CELL_HEAD else 1))
        x = SIDE
        for lines, (_, wide) in zip(texts, columns, strict=True):
            for at, line in enumerate(lines):
                self._put(line, style, x, self.y - style.size - 2 - at * style.height)
            x += wide
        self.y -= height
        self._rule(SIDE, self.y, self.width, 0.25 if style is CELL_HEAD else 0.75)

    def _photos(self, block: Mapping[str, Any]) -> None:
        wide = (self.width - 14) / 2
        items = list(block.get("items", ()))
        for at in range(0, len(items), 2):
            pair = items[at : at + 2]
            shown = [read_picture(self.pictures.get(item["sha256"], b"")) for item in pair]
            heights = [min(wide * one[2] / one[1], 190) if one else 14.0 for one in shown]
            captions = [set_text(item["caption"], SMALL, wide) for item in pair]
            height = max(heights) + max(map(len, captions)) * SMALL.height + 10
            self._room(height)
            for place, (one, high, lines) in enumerate(zip(shown, heights, captions, strict=True)):
                x, foot = SIDE + place * (wide + 14), self.y - max(heights)
                if one is not None:
                    picture, across, down = one
                    self.file.draw_picture(self.page, picture, (x, foot, high * across / down, high))
                else:
                    self._put(set_line("The photo is not here yet.", SMALL), SMALL, x, foot)
                for row, line in enumerate(lines):
                    self._put(line, SMALL, x, foot - 4 - SMALL.size - row * SMALL.height)
            self.y -= height
        self.y -= GAP

    def _signatures(self, block: Mapping[str, Any]) -> None:
        parties = list(block["parties"])
        gap = 26.0
        wide = (self.width - gap) / 2
        rows = ("Signature", "Name", "Place", "Date")
        self._room(20 + 34 + 3 * 26.0)
        top = self.y
        for place, party in enumerate(parties):
            x = SIDE + place * (wide + gap)
            self._put(set_line(str(party["title"]), CELL_HEAD), CELL_HEAD, x, top - CELL_HEAD.size)
            y = top - 20
            for name in rows:
                y -= 34 if name == "Signature" else 26
                self._put(set_line(name, LABEL), LABEL, x, y + 2)
                self._rule(x + 54, y, wide - 54)
                if name == "Name" and party["name"]:
                    style = BODY if len(set_text(str(party["name"]), BODY, wide - 58)) == 1 else TINY
                    lines = set_text(str(party["name"]), style, wide - 58)[:2]
                    for above, line in zip(reversed(range(len(lines))), lines, strict=True):
                        self._put(line, style, x + 58, y + 3 + above * style.height)
        self.y = top - 20 - 34 - 3 * 26 - GAP

    def _strokes(self, block: Mapping[str, Any]) -> None:
        wide, high = 230.0, 110.0
        typed = set_text(block["typed"], NAME, wide + 14) if block["typed"] else []
        if typed:
            high = len(typed) * NAME.height + 18
        self._room(high + 12 + len(block["rows"]) * (BODY.height + 2))
        strokes = block["strokes"]
        for above, line in zip(reversed(range(len(typed))), typed, strict=True):
            self._put(line, NAME, SIDE + 6, self.y - high + 8 + above * NAME.height)
        if typed:
            self._put(set_line(TYPED, LABEL), LABEL, SIDE + wide + 30, self.y - high + 8)
        deep = max((y for stroke in strokes for _, y in stroke), default=0.0)
        scale = min(wide / STROKES_WIDE, (high - 8) / deep if deep > 0 else 1.0)
        base = self.y - high
        for stroke in strokes:
            points = [(SIDE + 6 + x * scale, base + 6 + (deep - y) * scale) for x, y in stroke]
            if len(points) == 1:
                points.append((points[0][0] + 0.1, points[0][1]))
            self.file.draw_path(self.page, [points], closed=False, width=1.5, rounded=True)
        self._rule(SIDE, base, wide + 20)
        self.y = base - 8
        self._facts({"rows": [row for row in block["rows"] if row[1]]})

    def _closing(self, block: Mapping[str, Any]) -> None:
        self._room(BODY.height * 2 + 44)
        self._lines([set_line(str(block["text"]), BODY)], BODY)
        self.y -= 36
        if block["name"]:
            self._lines(set_text(str(block["name"]), BODY, self.width), BODY)
        self.y -= GAP
