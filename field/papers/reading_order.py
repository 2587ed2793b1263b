"""In which order letters stand on a line that runs from left to right and holds words that run from right to left.

A name in Arabic or Hebrew inside an English letter. The Unicode Bidirectional Algorithm (UAX 9) for one paragraph whose
base direction is left to right. Not heeded: its rule for pairs of brackets (N0), and its marks for embedding and
isolating, which `plain_text` takes out.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

STEERING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
STRONG = ("L", "R", "AL")
RIGHTWARDS = ("R", "EN", "AN")  # how N1 sees numbers
NEUTRAL = ("B", "S", "WS", "ON")


def plain_text(text: str) -> str:
    """Return a text in composed letters (NFC), without marks that steer its direction and without control signs."""
    kept = (" " if one in "\t\n\r\v\f\x85\u2028\u2029" else one for one in text if one not in STEERING)
    return unicodedata.normalize("NFC", "".join(one for one in kept if unicodedata.category(one) not in ("Cc", "Cs")))


def levels_of(text: str) -> list[int]:
    """Return the embedding level of each letter of a paragraph: even runs to the right, odd to the left.

    Source: UAX 9, revision 50, rules W1 to W7, N1, N2, I1, at base level 0.
    """
    kinds = [unicodedata.bidirectional(one) or "L" for one in text]
    if not any(kind in ("R", "AL", "AN") for kind in kinds):
        return [0] * len(text)
    _resolve_weak(kinds)
    _resolve_neutral(kinds)
    return [1 if kind == "R" else 2 if kind in ("EN", "AN") else 0 for kind in kinds]


def _resolve_weak(kinds: list[str]) -> None:
    strong = before = "L"
    for at, kind in enumerate(kinds):  # W1 to W3
        if kind in ("NSM", "BN"):
            kinds[at] = before
        elif kind == "EN" and strong == "AL":
            kinds[at] = "AN"
        if kind in STRONG:
            strong = kind
        before = kinds[at]
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]
    for at in range(1, len(kinds) - 1):  # W4
        around = (kinds[at - 1], kinds[at + 1])
        if (kinds[at] in ("ES", "CS") and around == ("EN", "EN")) or (kinds[at] == "CS" and around == ("AN", "AN")):
            kinds[at] = around[0]
    at = 0
    while at < len(kinds):  # W5, W6
        end = at
        while end < len(kinds) and kinds[end] == "ET":
            end += 1
        if end > at:
            beside = "EN" in (kinds[at - 1] if at else "", kinds[end] if end < len(kinds) else "")
            kinds[at:end] = ["EN" if beside else "ON"] * (end - at)
        at = max(end, at + 1)
    strong = "L"
    for at, kind in enumerate(kinds):  # W6, W7
        if kind in ("ES", "CS"):
            kinds[at] = "ON"
        elif kind == "EN" and strong == "L":
            kinds[at] = "L"
        elif kind in ("L", "R"):
            strong = kind


def _resolve_neutral(kinds: list[str]) -> None:
    at = 0
    while at < len(kinds):  # N1, N2
        end = at
        while end < len(kinds) and kinds[end] in NEUTRAL:
            end += 1
        if end > at:
            before = at > 0 and kinds[at - 1] in RIGHTWARDS
            after = end < len(kinds) and kinds[end] in RIGHTWARDS
            kinds[at:end] = ["R" if before and after else "L"] * (end - at)
        at = max(end, at + 1)


def visual_order(levels: Sequence[int]) -> list[int]:
    """Return the places of runs in the order in which they stand from left to right (UAX 9, rule L2)."""
    order = list(range(len(levels)))
    for level in range(max(levels, default=0), 0, -1):
        at = 0
        while at < len(order):
            end = at
            while end < len(order) and levels[order[end]] >= level:
                end += 1
            order[at:end] = reversed(order[at:end])
            at = max(end, at + 1)
    return order
