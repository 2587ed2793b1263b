"""What names a landholder in the log: what goes when they are forgotten, what is asked about, what is only found.

Certain is what says who they are and how to reach them. What proves a leave, and what was answered before a lift, is
asked about one by one: the law of the place may want it kept, or gone. Everything else that holds their name in its
text is shown, and goes where the person says so. Common practice, no source; it is no legal advice.

No field but those listed here can be blanked at all: no day or number of a leave, and not where anything stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

Record = Mapping[str, Any]
Kept = Mapping[str, Iterable[Record]]

CERTAIN: Mapping[str, tuple[str, ...]] = {
    "landholder": ("name", "phone", "email", "address", "note"),
    "holding": ("by_right", "note"),
    "leave": ("signed_by", "by_right", "withdrawn_how"),
}
ASKED: Mapping[str, tuple[str, ...]] = {
    "signing": ("letter", "strokes", "name", "place", "paper"),
    "paper": ("sha256", "file_name", "note"),
    "leave": ("paper",),
    "lift": ("answer",),
}
# Where else a person's own words stand, and a name may be found in them.
WORDS: Mapping[str, tuple[str, ...]] = {
    "site": ("name", "note"),
    "collector": ("name", "phone", "email", "address"),
    "landholder": ("name", "phone", "email", "address", "note"),
    "holding": ("by_right", "note"),
    "leave": ("by_right", "withdrawn_how", "conditions", "signed_by", "note"),
    "consent": ("name", "reference", "authority", "phone", "note"),
    "paper": ("file_name", "note"),
    "signing": ("letter", "name", "place"),
    "ground_check": ("told_by", "reference", "note"),
    "tree": ("tag", "condition", "note"),
    "visit": ("note",),
    "lift": ("kept_conditions", "answer", "note"),
    "photo": ("file_name", "note"),
    "track": ("file_name", "name"),
    "event": ("note",),
    "work": ("detail", "note"),
    "garden": ("name", "note"),
    "weather_day": ("note",),
    "task_state": ("note",),
    "species_card": ("name", "card"),
    "box": ("mix", "note"),
}
# No field is ever taken out of these again: a forgetting that named it would be held, and what went would come back.
MAY_GO = frozenset(name for table in (CERTAIN, ASKED, WORDS) for fields in table.values() for name in fields)
FILES = frozenset({("signing", "paper"), ("paper", "sha256"), ("leave", "paper")})
SHORTEST_NAME = 3  # letters; a shorter one would be found in half of all words
MOST_SHOWN = 120  # letters of a text around the name

NOT_DECIDED_HERE = "This home did not have that person forgotten: whoever keeps the log does it here, on their page."
MORE_THAN_MAY_GO = "It would blank more than what names a person."


def plan_forgetting(landholder: str, kept: Kept) -> dict[str, Any] | None:
    """Return what names a landholder; None when there is none of that id.

    Args:
        landholder: id of the record.
        kept: type -> records with "id", removed ones too, and in "was" {field: every value it ever had}: what was
            overwritten or removed still stands in the journal, and has to go as well.
    Returns: {"name", "certain": [{"id", "type", "fields"}], "asked": the same with "on", a date or None,
        "found": [{"id", "type", "field", "text"}]}; fields are those that hold a value, for what is certain perhaps
        none. Sorted by type and id.
    """
    person = next((one for one in kept.get("landholder", ()) if one["id"] == landholder), None)
    if person is None:
        return None
    leaves = {one["id"] for one in kept.get("leave", ()) if one.get("landholder") == landholder}

    def is_theirs(record_type: str, record: Record) -> bool:
        if record_type == "landholder":
            return bool(record["id"] == landholder)
        if record_type == "leave":
            return record["id"] in leaves
        if record_type == "holding":
            return bool(record.get("landholder") == landholder)
        return record.get("leave") in leaves

    certain = _filled(CERTAIN, kept, is_theirs)
    asked = [one for one in _filled(ASKED, kept, is_theirs) if one["fields"]]
    taken = {(one["id"], field) for one in (*certain, *asked) for field in one["fields"]}
    return {
        "name": person.get("name"),
        "certain": [{name: one[name] for name in ("id", "type", "fields")} for one in certain],
        "asked": asked,
        "found": _find(_ever(person, "name"), kept, taken),
    }


def blanks_of(plan: Mapping[str, Any], keep: Iterable[str], also: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Return {record id: [fields]} to blank: what is certain, what was asked and is not kept, what is ticked.

    Fields that hold nothing here as well: a phone that is away may have written there.

    Args:
        plan: of `plan_forgetting`.
        keep: ids of what was asked about.
        also: (id, field) of what was found.
    """
    kept, ticked = set(keep), set(also)
    blanks: dict[str, set[str]] = {}
    for table, some in ((CERTAIN, plan["certain"]), (ASKED, [one for one in plan["asked"] if one["id"] not in kept])):
        for one in some:
            blanks.setdefault(one["id"], set()).update(table[one["type"]])
    for one in plan["found"]:
        if (one["id"], one["field"]) in ticked:
            blanks.setdefault(one["id"], set()).add(one["field"])
    return {rec: sorted(fields) for rec, fields in sorted(blanks.items())}


def find_blanks_fault(blanks: object) -> str | None:
    """Return why a forgetting may not blank what it says, one sentence; None when it may.

    Args:
        blanks: {record id: [fields]}; what is not in that form blanks nothing.
    """
    fields = (
        [name for named in blanks.values() if isinstance(named, list) for name in named]
        if (isinstance(blanks, dict))
        else []
    )
    return MORE_THAN_MAY_GO if any(isinstance(name, str) and name not in MAY_GO for name in fields) else None


def _filled(table: Mapping[str, tuple[str, ...]], kept: Kept, is_theirs: Any) -> list[dict[str, Any]]:
    found = [
        {
            "id": record["id"],
            "type": record_type,
            "fields": [name for name in fields if _ever(record, name)],
            "on": next((record[name] for name in ("signed_on", "added_on", "lifted_on") if record.get(name)), None),
        }
        for record_type, fields in table.items()
        for record in kept.get(record_type, ())
        if is_theirs(record_type, record)
    ]
    return sorted(found, key=lambda one: (one["type"], one["id"]))


def files_of(blanks: Mapping[str, Iterable[str]], kept: Kept) -> list[str]:
    """Return the hashes of the files that go with what is blanked; kept as for `plan_forgetting`."""
    return sorted(
        {
            sha256
            for record_type, field in FILES
            for record in kept.get(record_type, ())
            if field in blanks.get(record["id"], ())
            for sha256 in _ever(record, field)
            if isinstance(sha256, str)
        }
    )


def _ever(record: Record, field: str) -> list[Any]:
    """Return what a field holds and ever held, the present value first; nothing for what was never known."""
    return [value for value in (record.get(field), *record.get("was", {}).get(field, ())) if value is not None]


def _find(names: Iterable[object], kept: Kept, taken: set[tuple[str, str]]) -> list[dict[str, Any]]:
    folded = {str(name).strip().casefold() for name in names}
    wanted = sorted(name for name in folded if len(name) >= SHORTEST_NAME)
    found = [
        {"id": record["id"], "type": record_type, "field": field, "text": hits[0]}
        for record_type, fields in WORDS.items()
        for record in kept.get(record_type, ())
        for field in fields
        if (record["id"], field) not in taken
        for texts in [map(_text, _ever(record, field))]
        for hits in [[_around(text, name) for text in texts for name in wanted if name in text.casefold()]]
        if hits
    ]
    return sorted(found, key=lambda one: (one["type"], one["id"], one["field"]))


def _text(value: object) -> str:
    """Return all texts in a JSON value, one after the other."""
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        return " ".join(filter(None, map(_text, value.values())))
    return " ".join(filter(None, map(_text, value))) if isinstance(value, list) else ""


def _around(text: str, wanted: str) -> str:
    if len(text) <= MOST_SHOWN:
        return text
    start = max(0, text.casefold().find(wanted) - MOST_SHOWN // 3)
    return f"{'… ' if start else ''}{text[start : start + MOST_SHOWN]} …"
