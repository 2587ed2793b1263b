"""Words in letters that no font here has: in a PDF a line to write on stands in their place, never a row of marks.

A page in HTML keeps them as they are: browsers have fonts of their own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from field.core.leave_letter import BLANK
from field.papers.letters import Document
from field.papers.typeset import shapeless

NARROW = "_" * 8  # in a table, where a whole line has no room
NOT_SHOWN = "(in letters that this file cannot show)"  # above a signature no line is left to be filled in
UNTOUCHED = ("kind", "title", "author", "sha256")


def missing_letters(document: Document) -> str:
    """Return the letters of a document that no font here has, each once."""
    return shapeless(" ".join(_texts(document)))


def printable(document: Document) -> Document:
    """Return a document without the letters that no font here has.

    Returns: the same one where it has none. A fact or a name that has nothing else is left as "", which is drawn as a
        line to write on.
    """
    missing = missing_letters(document)
    if not missing:
        return document
    letters = f"[{re.escape(missing)}]"
    # A name of several words is one line to write on.
    words = re.compile(rf"{letters}+(?:[\s·・,-]*{letters}+)*")
    made: Document = _without(document, words, NOT_SHOWN if document["kind"] == "signed" else BLANK)
    return made


def _without(value: Any, words: re.Pattern[str], instead: str) -> Any:
    if isinstance(value, str):
        return words.sub(instead, value)
    if isinstance(value, Mapping):
        signed = instead == NOT_SHOWN
        if value.get("kind") == "table" and not signed:
            instead = NARROW
        made = {name: one if name in UNTOUCHED else _without(one, words, instead) for name, one in value.items()}
        if not signed and value.get("kind") == "facts":
            made["rows"] = [[name, "" if one == BLANK else one] for name, one in made["rows"]]
        if not signed and value.get("kind") == "signatures":
            made["parties"] = [{**one, "name": "" if one["name"] == BLANK else one["name"]} for one in made["parties"]]
        return made
    return [_without(one, words, instead) for one in value] if isinstance(value, (list, tuple)) else value


def _texts(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, Mapping):
        return [text for one in value.values() for text in _texts(one)]
    return [text for one in value for text in _texts(one)] if isinstance(value, (list, tuple)) else []
