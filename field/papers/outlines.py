"""Letters drawn as areas: those of a font whose curves reportlab cannot embed (cubic ones: OpenType with CFF)."""

from __future__ import annotations

import functools
from typing import Any

# Of one glyph: what is done, and the points of it; in the units of the font.
Steps = tuple[tuple[str, tuple[float, ...]], ...]


class _Pen:
    """Takes down what HarfBuzz draws; the names are those it calls."""

    def __init__(self) -> None:
        self.steps: list[tuple[str, tuple[float, ...]]] = []

    def moveTo(self, to: tuple[float, float]) -> None:
        self.steps.append(("moveTo", to))

    def lineTo(self, to: tuple[float, float]) -> None:
        self.steps.append(("lineTo", to))

    def curveTo(self, *points: tuple[float, float]) -> None:
        self.steps.append(("curveTo", tuple(part for point in points for part in point)))

    def qCurveTo(self, bend: tuple[float, float], to: tuple[float, float]) -> None:
        x, y = self.steps[-1][1][-2:]
        (bx, by), (tx, ty) = bend, to
        first, second = (x + 2 * (bx - x) / 3, y + 2 * (by - y) / 3), (tx + 2 * (bx - tx) / 3, ty + 2 * (by - ty) / 3)
        self.curveTo(first, second, to)  # the same curve, as a PDF knows it

    def closePath(self) -> None:
        self.steps.append(("close", ()))


@functools.lru_cache(maxsize=2048)
def outline_of(hb_font: Any, gid: int) -> Steps:
    """Return how a glyph is drawn."""
    pen = _Pen()
    hb_font.draw_glyph_with_pen(gid, pen)
    return tuple(pen.steps)


def draw_outline(canvas: Any, steps: Steps, x: float, y: float, scale: float) -> None:
    """Fill a glyph whose origin lies at x, y on reportlab's canvas; scale: points for one unit of the font."""
    path = canvas.beginPath()
    for step, parts in steps:
        getattr(path, step)(*(part * scale + (y if at % 2 else x) for at, part in enumerate(parts)))
    canvas.drawPath(path, stroke=0, fill=1, fillMode=1)
