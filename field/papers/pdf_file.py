"""A PDF file as reportlab writes it: pages of letters, lines, areas and JPEG pictures, with every font inside it.

Names have to come out of it as they went in: where glyphs do not tell their letters (joined, moved or stacked ones),
the letters stand beside them as ActualText (ISO 32000-1, 14.9.4). The same input gives the same bytes: no clock, no
chance, no name of a machine.
"""

from __future__ import annotations

import functools
import io
import threading
from collections.abc import Callable, Sequence
from typing import Any

from field.papers.fonts import PLAIN, Face, Piece, chain
from field.papers.outlines import draw_outline, outline_of
from field.papers.reading_order import plain_text
from field.papers.typeset import Line, Style

Points = Sequence[tuple[float, float]]
Mark = Callable[[Any], None]  # draws on reportlab's canvas
Page = list[Mark]
HIDDEN = 3  # ISO 32000-1, 9.3.6: letters neither filled nor stroked
_WRITING = threading.Lock()  # reportlab's fonts serve one file at a time


def text_string(text: str) -> str:
    """Return a text as a PDF string: UTF-16 with its mark, in hex."""
    return f"<FEFF{text.encode('utf-16-be', 'replace').hex().upper()}>"


class PdfFile:
    """A file that is being written: add pages, draw on them, take the bytes."""

    def __init__(self, title: str, author: str, size: tuple[float, float]) -> None:
        self._title, self._author, self._size = title, author, size
        self.pages: list[Page] = []

    def add_page(self) -> Page:
        """Return a new page; it may be drawn on until the bytes are taken."""
        page: Page = []
        self.pages.append(page)
        return page

    def draw_line(self, page: Page, x: float, y: float, line: Line, style: Style) -> None:
        """Draw a line of letters with its baseline beginning at x, y."""
        page.append(functools.partial(_draw_line, x=x, y=y, line=line, style=style))

    def draw_path(
        self,
        page: Page,
        rings: Sequence[Points],
        *,
        closed: bool = True,
        width: float = 0.6,
        stroke: float | None = 0.0,
        fill: float | None = None,
        dash: Sequence[float] = (),
        rounded: bool = False,
    ) -> None:
        """Draw lines, or areas whose inner rings are holes; stroke, fill: grey, 0 black to 1 white, None not at all."""

        def draw(canvas: Any) -> None:
            canvas.saveState()
            canvas.setLineWidth(width)
            canvas.setLineCap(1 if rounded else 0)
            canvas.setLineJoin(1)
            if dash:
                canvas.setDash(list(dash))
            if stroke is not None:
                canvas.setStrokeGray(stroke)
            if fill is not None:
                canvas.setFillGray(fill)
            path = canvas.beginPath()
            for ring in rings:
                path.moveTo(*ring[0])
                for point in ring[1:]:
                    path.lineTo(*point)
                if closed:
                    path.close()
            canvas.drawPath(path, stroke=stroke is not None, fill=fill is not None, fillMode=0)
            canvas.restoreState()

        page.append(draw)

    def draw_picture(self, page: Page, picture: Any, box: tuple[float, float, float, float]) -> None:
        """Draw what `read_picture` gave into x, y, width, height."""
        page.append(lambda canvas: canvas.drawImage(picture, *box))

    def write(self) -> bytes:
        """Return the bytes of the file."""
        from reportlab import rl_config
        from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFString
        from reportlab.pdfgen.canvas import Canvas

        rl_config.useA85 = 0  # no letters instead of bytes: they make a file a quarter larger
        out = io.BytesIO()
        first = next(chain(PLAIN)).name  # a page begins with a font: one that is inside the file
        canvas = Canvas(
            out, self._size, pageCompression=1, invariant=1, pdfVersion=(1, 7), lang="en-GB", initialFontName=first
        )
        canvas.setViewerPreference("DisplayDocTitle", "true")
        # In place of reportlab's own, which holds a day that is not true and words for what was not given.
        told = {"Title": plain_text(self._title), "Author": plain_text(self._author), "Creator": "Fellside"}
        info = PDFDictionary({name: PDFString(text) for name, text in told.items() if text})
        canvas._doc.info.format = info.format
        with _WRITING:
            for page in self.pages:
                for draw in page:
                    draw(canvas)
                canvas.showPage()
            canvas.save()
        return out.getvalue()


def read_picture(jpeg: bytes) -> tuple[Any, float, float] | None:
    """Return a JPEG as it is drawn, with its width and height in pixels; None where it cannot be read."""
    from reportlab.lib.utils import ImageReader

    try:
        picture = ImageReader(io.BytesIO(jpeg))
        return picture, *picture.getSize()
    except OSError:
        return None


def _draw_line(canvas: Any, x: float, y: float, line: Line, style: Style) -> None:
    canvas.setFillGray(style.grey)
    for run in line.runs:
        for piece in run.pieces:
            if piece.told is not None:
                canvas.addLiteral(f"/Span <</ActualText {text_string(piece.told)}>> BDC")
            if run.face.outlined:
                canvas.saveState()
            text = canvas.beginText(x, y)
            if run.face.outlined:
                text.setTextRenderMode(HIDDEN)
            text.setFont(run.face.name, style.size)
            text.textOut(piece.shown)
            canvas.drawText(text)
            if run.face.outlined:
                canvas.restoreState()
                _draw_areas(canvas, x, y, run.face, piece, style.size / 1000)
            if piece.told is not None:
                canvas.addLiteral("EMC")
            x += piece.width * style.size / 1000


def _draw_areas(canvas: Any, x: float, y: float, face: Face, piece: Piece, by: float) -> None:
    for gid, across, up in piece.areas:
        draw_outline(canvas, outline_of(face.hb_font, gid), x + across * by, y + up * by, face.scale * by)
