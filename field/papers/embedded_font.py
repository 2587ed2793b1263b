"""A TrueType font as reportlab embeds it, whose glyphs tell the letters they stand for.

By itself reportlab knows a glyph by one letter of its own. Joined, stacked and moved ones have none: here they get a
code each, and the file says which letters it stands for (ToUnicode: ISO 32000-1, 9.10.3).
"""

from __future__ import annotations

import io
import itertools
import re
from typing import Any

from reportlab.pdfbase.ttfonts import TTFont

FIRST_CODE = 0xF0000  # a private plane of Unicode: no font's own letters lie there


class EmbeddedFont(TTFont):  # type: ignore[misc]
    """One font at one weight; made once, used by every file."""

    def __init__(self, name: str, data: bytes) -> None:
        super().__init__(name, io.BytesIO(data), asciiReadable=False)
        self.face.name = name.encode()  # each weight of a variable font calls itself regular
        self.letters = frozenset(self.face.charToGlyph)
        self._codes: dict[tuple[int, str], int] = {}
        self._told: dict[int, str] = {}
        self._next = itertools.count(FIRST_CODE)

    def code_for(self, gid: int, letters: str, width: float) -> str:
        """Return by which letter reportlab is to draw a glyph: its own, or one that stands for these letters.

        Args:
            width: the glyph's own, in thousandths of the letter size.
        """
        glyphs = self.face.charToGlyph
        if len(letters) == 1 and glyphs.get(ord(letters)) == gid:
            return letters
        code = self._codes.setdefault((gid, letters), next(self._next))
        self._told[code] = letters
        self.face.charWidths[code] = width
        glyphs[code] = gid
        return chr(code)

    def addObjects(self, doc: Any) -> None:
        """Add the font to a file, and to what each of its codes stands for the letters of those made here."""
        super().addObjects(doc)
        for name, stream in doc.idToObject.items():
            if name.startswith("toUnicodeCMap:") and name.endswith(f"+{self.fontName}"):
                stream.content = re.sub("<(F[0-9A-F]{4})>$", self._letters_of, stream.content, flags=re.MULTILINE)

    def _letters_of(self, code: re.Match[str]) -> str:
        return f"<{self._told[int(code[1], 16)].encode('utf-16-be', 'replace').hex().upper()}>"
