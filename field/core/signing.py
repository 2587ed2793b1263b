"""A letter signed on the glass: what its hash covers, whether it still stands as it was signed, what changed since.

A signing is written once and never again. The letter in it is that of core/leave_letter.py with the terms it was made
from beside its words, as `terms`: so that a leave changed later is told from one that is not, even where a newer
version words its letters otherwise. Twin: static/js/core/signing.js, held to this by tests/vectors/signing.json.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

from field.core.canonical import canonical_text

# What a signature covers: every field of a signing but the hash itself. Never changed once a letter was signed by it.
CONTENT = (
    "leave", "version", "letter", "strokes", "name", "role", "place", "lat", "lon", "accuracy_m", "signed_at",
    "signed_on", "zone", "paper",
)  # fmt: skip
# What a landholder agrees to by signing. Note, telephone, withdrawal, entitlement and papers stay free.
TERMS = (
    "landholder", "area", "starts_on", "ends_on", "species", "max_girth_mm", "allowance", "methods", "conditions",
)  # fmt: skip
# Lists that mean the same in any order; conditions are numbered on the paper, and are not among them.
IN_ANY_ORDER = frozenset({"species", "methods"})
Fields = Mapping[str, Any]


def content_sha256(signing: Fields) -> str:
    """Return the SHA-256, in hex, of what was signed: its CONTENT fields in canonical form (RFC 8785, UTF-8).

    Args:
        signing: fields of the record as they were written; a field that is not there counts as None.
    """
    content = {name: signing.get(name) for name in CONTENT}
    return hashlib.sha256(canonical_text(content).encode("utf-8", "surrogatepass")).hexdigest()


def find_signed(written: Iterable[Fields]) -> Fields | None:
    """Return what was signed, out of all that was ever written to one signing; None when nothing of it fits its hash.

    Args:
        written: the fields that each change of the record set, the oldest first.
    """
    for fields in written:
        if fields.get("content_sha256") is not None and content_sha256(fields) == fields["content_sha256"]:
            return fields
    return None


def is_intact(fields: Fields, written: Iterable[Fields]) -> bool:
    """Whether a signing stands as it was signed: by its own hash, and by the first that fits in its history.

    A later change that brings a fitting hash of its own is an alteration too.
    """
    signed = find_signed(written)
    return signed is not None and content_sha256(fields) == fields.get("content_sha256") == signed["content_sha256"]


def terms_of(leave: Fields, site: Fields) -> dict[str, Any]:
    """Return the terms of a leave as they are signed: an empty list is as good as none.

    Args:
        leave, site: fields of the records.
    Returns: a value for each of TERMS, and "boundary", the site's own, where the leave is for the whole of it.
    """
    terms = {name: leave.get(name) or None if isinstance(leave.get(name), list) else leave.get(name) for name in TERMS}
    return {**terms, "boundary": site.get("boundary") if terms["area"] is None else None}


def changed_terms(letter: object, leave: Fields, site: Fields) -> list[str]:
    """Return which terms are not as in a letter, in the order of TERMS; a boundary moved since is told as "area".

    Args:
        letter: of a signing.
        leave, site: fields of the records as they are now.
    Returns: [] also for a letter that holds no terms: then nobody can tell.
    """
    signed = letter.get("terms") if isinstance(letter, Mapping) else None
    if not isinstance(signed, Mapping):
        return []
    now = terms_of(leave, site)

    def text(name: str, value: object) -> list[str]:
        parts = value if name in IN_ANY_ORDER and isinstance(value, list) else [value]
        return sorted(canonical_text(part) for part in parts)

    def differs(name: str) -> bool:
        return text(name, signed.get(name)) != text(name, now[name])

    return [name for name in TERMS if differs(name) or (name == "area" and differs("boundary"))]


def next_version(signings: Iterable[Fields]) -> int:
    """Return the version of the next letter of a leave: one above the highest there is.

    Args:
        signings: fields of those of this leave.
    """
    versions = [one.get("version") for one in signings]
    return 1 + max((v for v in versions if isinstance(v, int) and not isinstance(v, bool) and v > 0), default=0)
