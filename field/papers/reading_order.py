"""In which order letters stand on a line that runs from left to right and holds words that run from right to left.

A name in Arabic or Hebrew inside an English letter. The order is python-bidi's (UAX 9); here it is cut into stretches
that a font can join.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator

STEERING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
LEFTWARDS = ("R", "AL")
RIGHTWARDS = ("L", "EN", "AN")
PAIRS = {")": "(", "]": "[", "}": "{", "(": ")", "[": "]", "{": "}"}


def plain_text(text: str) -> str:
    """Return a text in composed letters (NFC), without marks that steer its direction and without control signs."""
    kept = (" " if one in "\t\n\r\v\f\x85\u2028\u2029" else one for one in text if one not in STEERING)
    return unicodedata.normalize("NFC", "".join(one for one in kept if unicodedata.category(one) not in ("Cc", "Cs")))


def visual_order(text: str) -> list[tuple[str, bool]]:
    """Return the stretches of a line from left to right, each in the order it is read: its text, and if rightwards.

    Args:
        text: without steering marks; its base direction is left to right.
    """
    kinds = [unicodedata.bidirectional(one) for one in text]
    if not any(kind in ("R", "AL", "AN") for kind in kinds):
        return [(text, True)] if text else []
    from bidi import get_display  # here: most papers hold no such letter

    shown = str(get_display(text, base_dir="L"))
    found: list[tuple[str, bool]] = []
    at = 0
    for start, end in _leftward(shown):
        if start > at:
            found.append((shown[at:start], True))
        found.append((shown[start:end][::-1], False))
        at = end
    return [*found, (shown[at:], True)] if at < len(shown) else found


def _leftward(shown: str) -> Iterator[tuple[int, int]]:
    """Yield where letters that run to the left begin and end in a shown line, with marks and signs between them."""
    kinds = [unicodedata.bidirectional(one) for one in shown]
    at = 0
    while at < len(kinds):
        if kinds[at] not in LEFTWARDS:
            at += 1
            continue
        start, end = at, at + 1
        for place in range(at + 1, len(kinds)):
            if kinds[place] in RIGHTWARDS:
                break
            if kinds[place] in LEFTWARDS:
                end = place + 1
        while start > 0 and kinds[start - 1] == "NSM":  # a shown mark stands left of what it belongs to
            start -= 1
        # A bracket whose other half lies inside belongs to these letters: the font turns both of them.
        if start > 0 and PAIRS.get(shown[start - 1], "none") in shown[start:end]:
            start -= 1
        if end < len(shown) and PAIRS.get(shown[end], "none") in shown[start:end]:
            end += 1
        yield start, end
        at = end
