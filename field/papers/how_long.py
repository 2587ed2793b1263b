"""Says when a paper holds more than can be set in a few seconds: a text of a million signs came by some mistake."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

MOST_LETTERS = 400_000  # some 120 pages
LONGEST_WORD = 500  # signs with no blank between them; one that is wider than a line is broken sign by sign


def find_excess(document: Mapping[str, Any]) -> str | None:
    """Return a sentence that says why a document is too long to be set, None when it is not."""
    total = 0
    for text in _texts(document):
        total += len(text)
        if total > MOST_LETTERS:
            return f"This paper would have more than {MOST_LETTERS} letters."
        if len(text) > LONGEST_WORD and max(map(len, text.split()), default=0) > LONGEST_WORD:
            return f"In this paper stands a word of more than {LONGEST_WORD} letters: “{text.strip()[:40]}…”."
    return None


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _texts(one)
