"""Texts of a length that nobody means take time in proportion to that length, not to its square."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from typing import Any

import pytest

from field.core import dates, gridref, leave_letter
from field.core.errors import FellsideError
from field.core.leave import plain_kind
from field.readers.gpx import read_track

SIGNS = 1_000_000
SOON_S = 5  # of CPU; each takes some tenths of a second, and by the square of the length it would be an hour

NASTY = {
    "blanks inside": "a" + " " * SIGNS + "a",
    "blanks alone": " " * SIGNS,
    "commas inside": "a" + ", " * (SIGNS // 2) + "a",
    "full stops inside": "a" + "." * SIGNS + "a",
    "figures": "1" * SIGNS,
    "figures and commas": "1," * (SIGNS // 2),
    "accents out of order": "a" + "\u0301\u0323" * (SIGNS // 2),
    "marks that turn the direction": "\u202e" * SIGNS,
    "blanks that are none": "a" + "\ufeff " * (SIGNS // 2) + "a",
    "a label and no figure": "LAT" + " " * SIGNS,
    "names with strokes": "A/" * (SIGNS // 2),
    "line ends": "\r\n" * (SIGNS // 2),
}
READERS: dict[str, Callable[[str], Any]] = {
    "kind": plain_kind,
    "position": gridref.read_position,
    "date": lambda text: dates.read_date(text, "day", "on"),
    "instant": lambda text: dates.read_instant(text, "moment", "at"),
    "zone": dates.read_zone,
    "letter": lambda text: leave_letter.leave_letter(
        {"landholder": {"name": text, "address": text}, "leave": {"conditions": [text], "species": [text]}}
    ),
    "track": lambda text: read_track(io.BytesIO(f"<gpx><trk><name>{text}</name></trk></gpx>".encode())),
}


@pytest.mark.parametrize("what", NASTY)
@pytest.mark.parametrize("reader", READERS)
def test_a_text_of_a_million_signs_is_read_or_refused_soon(reader: str, what: str) -> None:
    began = time.process_time()
    said = ""
    try:
        READERS[reader](NASTY[what])
    except FellsideError as refused:
        said = refused.message
    assert time.process_time() - began < SOON_S
    assert len(said) < 1000  # the sentence does not repeat all of what it refuses
