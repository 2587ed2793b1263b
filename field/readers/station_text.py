"""The lines and cells of a table in a text file: which letters, which mark between cells, and never more than fits.

Hostile bytes end in one clear sentence. Nothing is read whole: a file of a hundred years streams.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from typing import BinaryIO

from field.core.errors import BadInput, TooLarge

MOST_BYTES = 256 * 1024 * 1024  # hourly readings of a hundred years are some 40 MB
LONGEST_LINE = 20_000  # characters
CHUNK = 64 * 1024
SEPARATORS = ("\t", ";", "|", ",")  # in this order where two fit alike: a comma may be a decimal one
WHOLE_FILES = (
    (b"PK\x03\x04", "The file is a spreadsheet or a packed file", "Open it and save its table as CSV."),
    (b"\xd0\xcf\x11\xe0", "The file is an old spreadsheet", "Open it and save its table as CSV."),
    (b"%PDF", "The file is a PDF", "Ask the station for its figures as CSV."),
    (b"\x1f\x8b", "The file is packed", "Unpack it first."),
    (b"\x89PNG", "The file is a picture", "Ask the station for its figures as CSV."),
    (b"\xff\xd8\xff", "The file is a picture", "Ask the station for its figures as CSV."),
)


class TextLines:
    """The numbered lines of a file; `encoding` tells how it was read, as far as that is known."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._head = _read(stream, CHUNK)
        self.encoding = _find_encoding(self._head)

    def __iter__(self) -> Iterator[tuple[int, str]]:
        """Yield (line number from 1, text without its end)."""
        number, kept = 0, ""
        for text in self._texts():
            *lines, kept = (kept + text).split("\n")
            for line in lines:
                number += 1
                yield number, _checked(line, number)
            _checked(kept, number + 1)
        if kept:
            yield number + 1, kept

    def _texts(self) -> Iterator[str]:
        decoder = codecs.getincrementaldecoder(self.encoding)("strict" if self.encoding == "utf-8" else "replace")
        ends = io.IncrementalNewlineDecoder(None, translate=True)
        chunk, taken = self._head, 0
        while chunk:
            taken += len(chunk)
            if taken > MOST_BYTES:
                raise TooLarge("The file is too large for daily temperatures.", "Send it in parts.")
            waiting = decoder.getstate()[0]
            try:
                text = decoder.decode(chunk)
            except UnicodeDecodeError:
                # What came before was plain letters, so only from here on the other reading shows.
                self.encoding = "latin-1"
                decoder = codecs.getincrementaldecoder("cp1252")("replace")
                text = decoder.decode(waiting + chunk)
            yield ends.decode(text.replace("\0", ""))
            chunk = _read(self._stream, CHUNK)
        waiting = decoder.getstate()[0]
        last = waiting.decode("cp1252", "replace") if self.encoding == "utf-8" else decoder.decode(b"", True)
        yield ends.decode(last, final=True)


def find_separator(lines: list[str]) -> str | None:
    """Return the mark that parts most lines into the same number of cells; None where none does."""
    best, best_share = None, 0.0
    for mark in SEPARATORS:
        counts = Counter(len(cells(line, mark)) for line in lines)
        counts.pop(1, None)
        if not counts:
            continue
        share = max(counts.values()) / len(lines)
        if share > best_share + 0.05:
            best, best_share = mark, share
    return best


def cells(line: str, separator: str) -> list[str]:
    """Return the trimmed cells of a line; quoted ones may hold the separator. A line that cannot be parted is one."""
    if '"' not in line:
        return [one.strip() for one in line.split(separator)]
    try:
        return [one.strip() for one in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:
        return [line]


def _read(stream: BinaryIO, count: int) -> bytes:
    try:
        return stream.read(count)
    except (OSError, ValueError) as fault:
        raise BadInput("The file could not be read.", "Copy it to this machine and try again.") from fault


def _checked(line: str, number: int) -> str:
    if len(line) > LONGEST_LINE:
        raise BadInput(f"Line {number} is over {LONGEST_LINE} characters long: that is no table of days.")
    return line


def _find_encoding(head: bytes) -> str:
    if not head:
        raise BadInput("The file is empty.", "Choose the one that the station wrote.")
    for mark, what, cure in WHOLE_FILES:
        if head.startswith(mark):
            raise BadInput(f"{what} and no table as text.", cure)
    start = head[:400].lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    if start.startswith((b"<!doctype", b"<html", b"<?xml")):
        raise BadInput("The file is a web page or XML and no table as text.", "Save the station's table as CSV.")
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    zeros = head[:4000].count(0)
    if zeros:
        odd, even = head[1:4000:2].count(0), head[:4000:2].count(0)
        if odd > 0.3 * len(head[1:4000:2]) and not even:
            return "utf-16-le"
        if even > 0.3 * len(head[:4000:2]) and not odd:
            return "utf-16-be"
        raise BadInput("The file holds no text.", "Save the station's table as CSV.")
    return "utf-8"
