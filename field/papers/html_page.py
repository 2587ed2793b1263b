"""A document as one plain HTML page that prints well: no scripts, nothing fetched, pictures and sketch inside it.

The words and blocks are those of the PDF. The look is in one style sheet, handed in, so that the page keeps it when it
is saved as a file; inside the app the same sheet is a file of its own, for its content policy wants no styles in a
page.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from field.papers.letters import STROKES_WIDE, TYPED, Document
from field.papers.map_sketch import AREA, BAR, MARK, SITE, Shape, Sketch
from field.papers.reading_order import STEERING

WITHOUT_STEERING = dict.fromkeys(map(ord, STEERING))
PAGE_SIZES = {"a4": "A4", "letter": "letter"}
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
SHOWN = {
    SITE: 'fill="none" stroke="#777" stroke-width="0.8" stroke-dasharray="1 2.5" stroke-linecap="round"',
    AREA: 'fill="#ebebeb" stroke="#000" stroke-width="1.4" stroke-linejoin="round"',
    MARK: 'fill="#fff" stroke="#000" stroke-width="0.8"',
}


def escape(text: str) -> str:
    """Return a text as markup shows it; a name turns no words around but its own."""
    return html.escape(text.translate(WITHOUT_STEERING))


def make_html(document: Document, size: str, style: str, pictures: Mapping[str, bytes] | None = None) -> str:
    """Return a document as the text of an HTML page.

    Args:
        document: see letters.
        size: 'a4' or 'letter', for printing.
        style: the style sheet, our own.
        pictures: SHA-256 of a photo -> its small JPEG.
    """
    held = pictures or {}
    blocks = []
    terms = 0
    for block in document["blocks"]:
        if block.get("kind") == "terms":
            blocks.append(_terms(block, terms, ticks=document["kind"] == "leave"))
            terms += len(block.get("items", ()))
        elif block.get("kind") == "photos":
            blocks.append(_photos(block, held))
        elif str(block.get("kind")) in DRAWN:
            blocks.append(DRAWN[str(block["kind"])](block))
    head, to = document["head"], document["to"]
    sender = f'<header><p class="sender">{escape(head[0])}</p>{_lines(head[1:])}</header>' if head else ""
    date = f'<p class="on">{escape(document["on"])}</p>' if document["on"] else ""
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        f"<title>{escape(document['title'])}</title>\n"
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>\n{style}@page {{ size: {PAGE_SIZES[size]}; }}\n</style>\n</head>\n<body>\n"
        f'<article class="letter-page">\n{sender}\n<address>{_lines(to)}</address>\n{date}\n'
        f"<h1>{escape(document['subject'])}</h1>\n" + "\n".join(blocks) + "\n</article>\n</body>\n</html>\n"
    )


def number(value: float) -> str:
    """Return a number as a drawing writes it: at most three decimals, no exponent."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _lines(lines: Sequence[str]) -> str:
    return "".join(f"<p>{escape(line)}</p>" for line in lines)


def _facts(block: Mapping[str, Any]) -> str:
    def row(name: str, value: str) -> str:
        shown = f"<dd>{escape(value)}</dd>" if value else '<dd class="open"></dd>'
        return f"<div><dt>{escape(name)}</dt>{shown}</div>"

    return f"<dl>{''.join(row(str(name), str(value)) for name, value in block.get('rows', ()))}</dl>"


def _terms(block: Mapping[str, Any], before: int, *, ticks: bool) -> str:
    items = "".join(f"<li>{escape(str(text))}</li>" for text in block.get("items", ()))
    return f'<ol start="{before + 1}"{" class=ticks" if ticks else ""}>{items}</ol>'


def _checks(block: Mapping[str, Any]) -> str:
    def item(done: object, text: object) -> str:
        said = ' class="done"' if done else ""
        # The tick is a drawing; who cannot see it is told in words.
        return f"<li{said}>{'<span class=told>Kept: </span>' if done else ''}{escape(str(text))}</li>"

    return f'<ul class="checks">{"".join(item(done, text) for done, text in block.get("items", ()))}</ul>'


def _table(block: Mapping[str, Any]) -> str:
    head = "".join(f"<th scope=col>{escape(str(name))}</th>" for name, _ in block["columns"])
    rows = "".join("<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in block["rows"])
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _grid(block: Mapping[str, Any]) -> str:
    columns = [str(name) for name in block["columns"]]
    head = "".join(f"<th scope=col>{escape(name)}</th>" for name in ["Tree", *columns, "Noted"])
    box, rest = '<td class="box"><span class="told">due</span></td>', "<td></td>"
    rows = "".join(
        f"<tr><th scope=row>{escape(str(name))}</th>{''.join(box if due else rest for due in marks)}{rest}</tr>"
        for name, marks in block["rows"]
    )
    return f'<table class="grid"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def _photos(block: Mapping[str, Any], pictures: Mapping[str, bytes]) -> str:
    shown = []
    for item in block.get("items", ()):
        data, caption = pictures.get(item["sha256"]), escape(item["caption"])
        picture = (
            f'<img alt="{caption}" src="data:image/jpeg;base64,{base64.b64encode(data).decode()}">'
            if data
            else "<p>The photo is not here yet.</p>"
        )
        shown.append(f"<figure>{picture}<figcaption>{caption}</figcaption></figure>")
    return f'<div class="photos">{"".join(shown)}</div>'


def _signatures(block: Mapping[str, Any]) -> str:
    def party(title: str, name: str) -> str:
        rows = (("Signature", ""), ("Name", name), ("Place", ""), ("Date", ""))
        lines = "".join(f'<div><dt>{row}</dt><dd class="open">{escape(value)}</dd></div>' for row, value in rows)
        return f"<section><h3>{escape(title)}</h3><dl>{lines}</dl></section>"

    return f'<div class="signatures">{"".join(party(one["title"], one["name"]) for one in block["parties"])}</div>'


def _strokes(block: Mapping[str, Any]) -> str:
    rows = _facts({"rows": [row for row in block["rows"] if row[1]]})
    if block["typed"]:
        typed = f'<p class="typed"><span>{escape(block["typed"])}</span> {TYPED}</p>'
        return f'<div class="signed">{typed}{rows}</div>'
    strokes = block["strokes"]
    deep = max((y for stroke in strokes for _, y in stroke), default=0.0)
    lines = "".join(f'<polyline points="{_points(stroke)}"/>' for stroke in strokes)
    drawn = (
        f'<svg class="strokes" role="img" aria-label="The signature" viewBox="-10 -10 {STROKES_WIDE + 20} '
        f'{number(deep + 20)}" fill="none" stroke="#000" stroke-width="6" stroke-linecap="round" '
        f'stroke-linejoin="round">{lines}</svg>'
    )
    return f'<div class="signed">{drawn}{rows}</div>'


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _sketch(block: Mapping[str, Any]) -> str:
    sketch: Sketch = block["sketch"]
    caption = escape(str(block.get("caption", "")))
    shapes = "".join(_shape(shape, last=shape is sketch.shapes[-1]) for shape in sketch.shapes)
    words = "".join(
        f'<text x="{number(word.x)}" y="{number(word.y)}"{" text-anchor=middle" if word.centred else ""}>'
        f"{escape(word.text)}</text>"
        for word in sketch.words
    )
    return (
        f'<figure class="sketch"><svg role="img" aria-label="{caption}" viewBox="0 0 {number(sketch.width)} '
        f'{number(sketch.height)}" font-size="8" fill="#000">{shapes}{words}</svg><figcaption>{caption}'
        "</figcaption></figure>"
    )


def _shape(shape: Shape, *, last: bool) -> str:
    def path(rings: Sequence[Sequence[tuple[float, float]]], look: str) -> str:
        data = "".join("M" + " L".join(f"{number(x)} {number(y)}" for x, y in ring) + "Z" for ring in rings)
        return f'<path fill-rule="evenodd" d="{data}" {look}/>'

    outlined = 'fill="#fff" stroke="#000" stroke-width="0.6"'
    if shape.kind == BAR:
        return path(shape.rings[:1], 'fill="#000"') + path(shape.rings[1:], outlined)
    return path(shape.rings, SHOWN.get(shape.kind, 'fill="#000"' if last else outlined))


DRAWN: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "para": lambda block: f"<p>{escape(str(block.get('text', '')))}</p>",
    "small": lambda block: f'<p class="small">{escape(str(block.get("text", "")))}</p>',
    "heading": lambda block: f"<h2>{escape(str(block.get('text', '')))}</h2>",
    "closing": lambda block: f'<p class="closing">{escape(block["text"])}</p><p>{escape(block["name"])}</p>',
    "facts": _facts,
    "checks": _checks,
    "table": _table,
    "grid": _grid,
    "signatures": _signatures,
    "strokes": _strokes,
    "sketch": _sketch,
}
