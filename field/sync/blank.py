"""A change with some of its values left out: what it was is still known by its name, stamp and fields.

A blanked change holds None where a value stood, and says beside its frame which fields those are and why:
"blanked": {"fields": [...], "why": "withheld"}. Merging needs nothing for it. Two copies of one change are the same if
they are equal once what either leaves out is left out of both. Twin: static/js/core/blank.js.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from field.sync.change import canonical_bytes

BLANKED = "blanked"
WITHHELD = "withheld"  # home has the whole of it, and does not tell it to this phone
FORGOTTEN = "forgotten"  # a person was forgotten: nobody has the whole of it any more

Op = Mapping[str, Any]


def blank(op: Op, fields: Iterable[str], why: str) -> dict[str, Any]:
    """Return a change with the values of some fields left out, beside those that are left out of it already.

    Args:
        op: a change; one that sets nothing that can be read comes back as its bare name.
        fields: those that it does not set are passed over.
        why: WITHHELD or FORGOTTEN.
    """
    set_ = op.get("set")
    if not isinstance(set_, dict):
        return {"dev": op["dev"], "seq": op["seq"], BLANKED: {"fields": [], "why": why}}
    gone = sorted({*blanked_fields(op), *(name for name in fields if name in set_)})
    values = {name: None if name in gone else value for name, value in set_.items()}
    return {**op, "set": values, BLANKED: {"fields": gone, "why": why}}


def forget(op: Op, blanks: Mapping[str, frozenset[str]]) -> Op:
    """Return a change without what was forgotten; the same change again makes the same one, whoever brings it.

    Args:
        op: a change.
        blanks: what was forgotten, of `read_blanks`.
    """
    set_, rec = op.get("set"), op.get("rec")
    if not isinstance(set_, dict) or not isinstance(rec, str):
        return op
    gone = {name for name in blanks.get(rec, ()) if set_.get(name) is not None}
    if not gone:
        return op
    return blank(op, gone, WITHHELD if is_withheld(op) else FORGOTTEN)


def read_blanks(told: Iterable[object]) -> dict[str, frozenset[str]]:
    """Return which fields of which records were forgotten, out of the "blanks" of forgetting records.

    What is not in its form is passed over: {record id: [fields]}.
    """
    found: dict[str, frozenset[str]] = {}
    for blanks in told:
        for rec, fields in blanks.items() if isinstance(blanks, dict) else ():
            if isinstance(rec, str) and isinstance(fields, list):
                named = frozenset(name for name in fields if isinstance(name, str))
                found[rec] = found.get(rec, frozenset()) | named
    return found


def blanked_fields(op: Op) -> frozenset[str]:
    """Return the fields that a change does not tell."""
    told = op.get(BLANKED)
    fields = told.get("fields") if isinstance(told, dict) else None
    return frozenset(name for name in fields if isinstance(name, str)) if isinstance(fields, list) else frozenset()


def is_withheld(op: object) -> bool:
    """Whether a change is a copy that home gave with something left out: it must never be taken for the change."""
    told = op.get(BLANKED) if isinstance(op, dict) else None
    return isinstance(told, dict) and told.get("why") == WITHHELD


def same_change(one: Op, other: Op) -> bool:
    """Whether two copies of one name are the same change, as far as both tell it."""
    if BLANKED not in one and BLANKED not in other:
        return canonical_bytes(one) == canonical_bytes(other)
    if "set" not in one or "set" not in other:
        return (one.get("dev"), one.get("seq")) == (other.get("dev"), other.get("seq"))
    gone = blanked_fields(one) | blanked_fields(other)
    return canonical_bytes(_bare(one, gone)) == canonical_bytes(_bare(other, gone))


def _bare(op: Op, gone: frozenset[str]) -> dict[str, Any]:
    return {name: value for name, value in blank(op, gone, "").items() if name != BLANKED}
