"""A PDF file (ISO 32000-1): pages of letters, lines, areas and JPEG pictures, with every font inside it.

Written here rather than by a library, since names have to come out of it as they went in: a font is embedded glyph by
glyph, and where glyphs do not tell their letters (joined, moved or stacked ones) the letters stand beside them as
ActualText. The same input gives the same bytes: no clock, no chance, no name of a machine.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from field.papers.fonts import Face, own_width, subset
from field.papers.typeset import Line, Run

Points = Sequence[tuple[float, float]]


def number(value: float) -> str:
    """Return a number as a PDF writes it: at most three decimals, no exponent."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def text_string(text: str) -> bytes:
    """Return a text as a PDF string: UTF-16 with its mark, in hex."""
    return b"<FEFF" + text.encode("utf-16-be", "replace").hex().upper().encode() + b">"


@dataclass(slots=True)
class Page:
    """What is drawn on one page, in the order it is drawn."""

    width: float
    height: float
    content: list[str] = field(default_factory=list)
    fonts: dict[Face, str] = field(default_factory=dict)
    pictures: dict[str, str] = field(default_factory=dict)


class PdfFile:
    """A file that is being written: add pages, draw on them, take the bytes."""

    def __init__(self, title: str, author: str, lang: str = "en-GB") -> None:
        self._title, self._author, self._lang = title, author, lang
        self.pages: list[Page] = []
        self._letters: dict[Face, dict[int, str]] = {}  # what each glyph stands for
        self._pictures: dict[str, tuple[bytes, int, int, int]] = {}

    def add_page(self, width: float, height: float) -> Page:
        """Return a new page of a size in points."""
        page = Page(width, height)
        self.pages.append(page)
        return page

    def draw_line(self, page: Page, x: float, y: float, line: Line, size: float, grey: float = 0.0) -> None:
        """Draw a line of letters with its baseline beginning at x, y."""
        page.content.append(f"BT {number(grey)} g")
        for run in line.runs:
            name = page.fonts.setdefault(run.face, f"F{len(page.fonts) + 1}")
            page.content.append(f"/{name} {number(size)} Tf 1 0 0 1 {number(x)} {number(y)} Tm")
            page.content.extend(self._show(run, size))
            x += run.width
        page.content.append("ET")

    def draw_path(
        self,
        page: Page,
        rings: Sequence[Points],
        *,
        closed: bool = True,
        width: float = 0.6,
        stroke: float | None = 0.0,
        fill: float | None = None,
        dash: str = "",
        rounded: bool = False,
    ) -> None:
        """Draw lines, or areas whose inner rings are holes; stroke, fill: grey, 0 black to 1 white, None not at all."""
        out = ["q", f"{number(width)} w", "1 J 1 j" if rounded else "0 J 1 j"]
        if dash:
            out.append(f"[{dash}] 0 d")
        if stroke is not None:
            out.append(f"{number(stroke)} G")
        if fill is not None:
            out.append(f"{number(fill)} g")
        for ring in rings:
            for at, (x, y) in enumerate(ring):
                out.append(f"{number(x)} {number(y)} {'m' if at == 0 else 'l'}")
            if closed:
                out.append("h")
        out.append({(True, True): "B*", (True, False): "S", (False, True): "f*"}[stroke is not None, fill is not None])
        page.content += [*out, "Q"]

    def draw_picture(
        self, page: Page, sha256: str, jpeg: bytes, box: tuple[float, float, float, float], pixels: tuple[int, int, int]
    ) -> None:
        """Draw a JPEG into x, y, width, height; pixels: its own width, height and number of colours."""
        self._pictures.setdefault(sha256, (jpeg, *pixels))
        name = page.pictures.setdefault(sha256, f"I{len(page.pictures) + 1}")
        x, y, width, height = map(number, box)
        page.content.append(f"q {width} 0 0 {height} {x} {y} cm /{name} Do Q")

    def _show(self, run: Run, size: float) -> list[str]:
        known = self._letters.setdefault(run.face, {})
        out: list[str] = []
        row: list[str] = []  # of one TJ
        lift = 0.0

        def flush() -> None:
            if row:
                out.append(f"[{''.join(row)}] TJ")
                row.clear()

        for start, end, text in _told_apart(run, known):
            told = text is None
            if text is not None:
                flush()
                out.append(f"/Span <</ActualText {text_string(text).decode()}>> BDC")
            for glyph in run.glyphs[start:end]:
                known.setdefault(glyph.gid, "")
                if glyph.dy != lift:
                    flush()
                    out.append(f"{number(glyph.dy * size / 1000)} Ts")
                    lift = glyph.dy
                if glyph.dx:
                    row.append(number(-glyph.dx))
                row.append(f"<{glyph.gid:04X}>")
                back = own_width(run.face, glyph.gid) - glyph.advance + glyph.dx
                if abs(back) > 0.0005:
                    row.append(number(back))
            if not told:
                flush()
                out.append("EMC")
        flush()
        if lift:
            out.append("0 Ts")
        return out

    def write(self) -> bytes:
        """Return the bytes of the file."""
        book = _Book()
        fonts = {face: self._write_font(book, face) for face in self._letters}
        pictures = {
            name: book.add_stream(
                f"/Type /XObject /Subtype /Image /Width {wide} /Height {high} /BitsPerComponent 8 /ColorSpace "
                f"/{'DeviceGray' if colours == 1 else 'DeviceRGB'} /Filter /DCTDecode",
                jpeg,
                pack=False,
            )
            for name, (jpeg, wide, high, colours) in self._pictures.items()
        }
        pages = book.reserve()
        kids = [self._write_page(book, page, pages, fonts, pictures) for page in self.pages]
        book.put(
            pages, f"<</Type /Pages /Count {len(kids)} /Kids [{' '.join(f'{kid} 0 R' for kid in kids)}]>>".encode()
        )
        root = book.add(
            f"<</Type /Catalog /Pages {pages} 0 R /Lang ({self._lang}) "
            "/ViewerPreferences <</DisplayDocTitle true>>>>".encode()
        )
        author = b" /Author " + text_string(self._author) if self._author else b""
        info = book.add(b"<</Title " + text_string(self._title) + author + b" /Creator (Fellside)>>")
        return book.finish(root, info)

    def _write_page(
        self, book: _Book, page: Page, parent: int, fonts: Mapping[Face, int], pictures: Mapping[str, int]
    ) -> int:
        content = book.add_stream("", "\n".join(page.content).encode("ascii"))
        own = " ".join(f"/{name} {fonts[face]} 0 R" for face, name in page.fonts.items())
        seen = " ".join(f"/{name} {pictures[sha256]} 0 R" for sha256, name in page.pictures.items())
        return book.add(
            f"<</Type /Page /Parent {parent} 0 R /MediaBox [0 0 {number(page.width)} {number(page.height)}] "
            f"/Contents {content} 0 R /Resources <</Font <<{own}>> /XObject <<{seen}>>>>>>".encode()
        )

    def _write_font(self, book: _Book, face: Face) -> int:
        letters = dict(sorted(self._letters[face].items()))
        data = subset(face, letters)
        tag = "".join(chr(65 + byte % 26) for byte in hashlib.sha256(data).digest()[:6])  # 9.6.4: six capitals
        name = f"{tag}+{face.name}"
        program = book.add_stream(f"/Length1 {len(data)}", data)
        box = " ".join(map(str, face.bounds))
        descriptor = book.add(
            f"<</Type /FontDescriptor /FontName /{name} /Flags 4 /FontBBox [{box}] /ItalicAngle 0 /Ascent "
            f"{number(face.ascent)} /Descent {number(face.descent)} /CapHeight {number(face.ascent * 0.7)} /StemV "
            f"{80 if face.weight < 600 else 140} /FontFile2 {program} 0 R>>".encode()
        )
        widths = " ".join(f"{gid} [{number(own_width(face, gid))}]" for gid in letters)
        drawn = book.add(
            f"<</Type /Font /Subtype /CIDFontType2 /BaseFont /{name} /CIDSystemInfo <</Registry (Adobe) /Ordering "
            f"(Identity) /Supplement 0>> /FontDescriptor {descriptor} 0 R /DW 0 /W [{widths}] "
            "/CIDToGIDMap /Identity>>".encode()
        )
        told = book.add_stream("", _to_unicode(letters))
        return book.add(
            f"<</Type /Font /Subtype /Type0 /BaseFont /{name} /Encoding /Identity-H /DescendantFonts [{drawn} 0 R] "
            f"/ToUnicode {told} 0 R>>".encode()
        )


class _Book:
    """The numbered objects of a file."""

    def __init__(self) -> None:
        self._objects: list[bytes] = []

    def reserve(self) -> int:
        return self.add(b"")

    def add(self, content: bytes) -> int:
        self._objects.append(content)
        return len(self._objects)

    def put(self, place: int, content: bytes) -> None:
        self._objects[place - 1] = content

    def add_stream(self, entries: str, data: bytes, *, pack: bool = True) -> int:
        if pack:
            data = zlib.compress(data, 6)
            entries += " /Filter /FlateDecode"
        return self.add(f"<<{entries} /Length {len(data)}>>\nstream\n".encode() + data + b"\nendstream")

    def finish(self, root: int, info: int) -> bytes:
        out = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        places = []
        for at, content in enumerate(self._objects, 1):
            places.append(len(out))
            out += f"{at} 0 obj\n".encode() + content + b"\nendobj\n"
        name = hashlib.sha256(bytes(out)).hexdigest()[:32]
        start = len(out)
        out += f"xref\n0 {len(places) + 1}\n0000000000 65535 f \n".encode()
        out += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
        out += (
            f"trailer\n<</Size {len(places) + 1} /Root {root} 0 R /Info {info} 0 R /ID [<{name}> <{name}>]>>\n".encode()
        )
        out += f"startxref\n{start}\n%%EOF\n".encode()
        return bytes(out)


def _clusters(run: Run) -> list[tuple[int, int, str]]:
    """Return the glyphs that stand for the same letters: from, to, and the letters."""
    starts = sorted({glyph.cluster for glyph in run.glyphs})
    ends = dict(zip(starts, [*starts[1:], len(run.text)], strict=True))
    found: list[tuple[int, int, str]] = []
    at = 0
    for place in range(1, len(run.glyphs) + 1):
        if place == len(run.glyphs) or run.glyphs[place].cluster != run.glyphs[at].cluster:
            first = run.glyphs[at].cluster
            found.append((at, place, run.text[first : ends[first]]))
            at = place
    return found


def _told_apart(run: Run, known: dict[int, str]) -> list[tuple[int, int, str | None]]:
    """Return the glyphs of a run in groups: from, to, and the letters where the glyphs do not tell them by themselves.

    Letters that stand beside their glyphs do so for a whole word: a reader may take a part of a word for a word.
    """
    groups: list[tuple[int, int, str | None]] = []
    word: list[tuple[int, int, str]] = []

    def close() -> None:
        tells = [_tell(run, start, end, text, known) for start, end, text in word]
        if run.rightwards and not all(tells):
            groups.append((word[0][0], word[-1][1], "".join(text for _, _, text in word)))
        else:
            groups.extend(
                (start, end, None if told else text) for (start, end, text), told in zip(word, tells, strict=True)
            )
        word.clear()

    for cluster in _clusters(run):
        if cluster[2] == " ":
            close()
        word.append(cluster)
        if cluster[2] == " ":
            close()
    close()
    return groups


def _tell(run: Run, start: int, end: int, text: str, known: dict[int, str]) -> bool:
    """Return whether the glyphs of a cluster tell its letters by themselves, and note what each stands for."""
    if end - start != 1:
        return False
    gid = run.glyphs[start].gid
    if not run.rightwards:
        text = text[::-1]  # readers turn such a line round letter by letter, the letters of one glyph too
    if not known.get(gid):
        known[gid] = text
    return known[gid] == text


def _to_unicode(letters: Mapping[int, str]) -> bytes:
    rows = [f"<{gid:04X}> <{text.encode('utf-16-be').hex().upper()}>" for gid, text in letters.items() if text]
    parts = [rows[at : at + 100] for at in range(0, len(rows), 100)]  # 9.10.3: at most 100 in one block
    body = "\n".join(f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar" for part in parts)
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CIDSystemInfo <</Registry (Adobe) "
        "/Ordering (UCS) /Supplement 0>> def\n/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <FFFF>\n"
        f"endcodespacerange\n{body}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")
