"""The letter by which a landholder gives leave: its words, as plain JSON that is shown, printed and signed.

A letter that was signed is kept as this document, word for word. So it is made of texts only, in one way, here and on
the phone (static/js/core/leave_letter.js). What is not known is left open as a line to write on, never made up.

What such a letter says of withdrawal, damage and other consents is common practice, no source; it is no legal advice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from uuid import NAMESPACE_URL, uuid5

from field.core.dates import find_date, show_date
from field.core.errors import BadInput

# One log has one keeper: every phone writes the same record, whichever was first.
COLLECTOR_ID = str(uuid5(NAMESPACE_URL, "fellside:collector"))
VERSION = 1
BLANK = "_" * 24  # a line to write on within a sentence; a fact that is left open is ""

ROLES = {"owner": "owner", "occupier": "occupier", "agent": "agent for the owner"}
TOOLS = {"hand_tools": "hand tools", "machine": "a digging machine"}
LINE_ENDS = re.compile(r"[\r\n]+")
BLANKS = re.compile(r"[ \t]+")
# What stands before the last run is asked first: else each sign of a long run inside would be begun with.
EDGES = re.compile(r"^[ \t,]+|(?<![ \t,])[ \t,]+$")
FULL_STOPS = re.compile(r"(?<![ \t.])[ \t.]+$")

IN_ANY_CASE = (
    "The landholder may withdraw this leave at any time, by word of mouth or in writing. From that day on nothing more "
    "is dug out.",
    "Local law and the consents of other authorities stand above this letter. The collector sees to them before any "
    "digging.",
    "Before digging with a machine, or deeper than 30 cm, the collector finds out where cables and pipes lie.",
    "The collector fills every hole on the same day, and leaves gates, fences, walls and drains as they were.",
    "The collector answers for damage that they do to the ground and to what is on it.",
    "Trees dug out within these terms are the collector’s to keep and to grow on.",
    "Where a line was left empty, nothing was agreed on that point.",
)


def leave_letter(facts: Mapping[str, object]) -> dict[str, object]:
    """Return the letter of a leave as a document of plain texts.

    Args:
        facts: {"collector": fields or None, "landholder": fields or None, "role": owner, occupier or agent,
            "by_right": text, "site": {"name", "grid_ref": of the middle of the ground, "area_ha"},
            "leave": fields of the record, "kinds": {kind: name}, "made_on": 'YYYY-MM-DD', "signed_before_on": the day
            on which this leave was last signed}. Each may be missing; what is of another kind than it should be counts
            as missing.
    Returns: {"v": 1, "kind": "leave", "title", "blocks": [{"kind": "facts", "rows": [[name, value], ...]} |
        {"kind": "para", "text"} | {"kind": "heading", "text"} | {"kind": "terms", "items": [...]}]}. A value "" stands
        for a line to write on, BLANK for one within a sentence.
    """
    leave, site = _set(facts.get("leave")), _set(facts.get("site"))
    collector, landholder = _set(facts.get("collector")), _set(facts.get("landholder"))
    role = ROLES.get(_line(facts.get("role")) or _line(leave.get("by_role")), "")
    by_right = _line(facts.get("by_right")) or _line(leave.get("by_right"))
    name = _line(site.get("name"))
    rows = [
        ["Landholder", _line(landholder.get("name"))],
        ["Their address", _line(landholder.get("address"))],
        ["Collector", _line(collector.get("name"))],
        ["Collector’s address", _line(collector.get("address"))],
        ["Collector’s telephone", _line(collector.get("phone"))],
        ["Site", name],
        ["Grid reference of its middle", _line(site.get("grid_ref"))],
        ["Size", _hectares(site.get("area_ha"))],
        ["Written on", _day(facts.get("made_on"))],
    ]
    opening = (
        f"I, {rows[0][1] or BLANK}, {role or BLANK} of the ground named above, give {rows[2][1] or BLANK} leave to dig "
        "out living trees there and to take them away, to be grown on, on the terms below."
    )
    right = (
        f"I may give this leave by this right: {_full_stop(by_right)}"
        if by_right
        else "I am the owner of this ground and may give this leave."
        if role == "owner"
        else f"I may give this leave by this right: {BLANK}."
    )
    past: list[dict[str, object]] = [{"kind": "para", "text": text} for text in _history(facts, leave)]
    blocks: list[dict[str, object]] = [
        {"kind": "facts", "rows": rows},
        {"kind": "para", "text": opening},
        {"kind": "para", "text": right},
        *past,
        {"kind": "heading", "text": "What is agreed"},
        {"kind": "terms", "items": _agreed(leave, _set(facts.get("kinds")))},
    ]
    conditions = [_sentence(text) for text in _lines(leave.get("conditions"))]
    if conditions:
        blocks += [{"kind": "heading", "text": "Conditions to keep"}, {"kind": "terms", "items": conditions}]
    blocks += [{"kind": "heading", "text": "What holds in any case"}, {"kind": "terms", "items": list(IN_ANY_CASE)}]
    title = f"Leave to lift trees: {name}" if name else "Leave to lift trees"
    return {"v": VERSION, "kind": "leave", "title": title, "blocks": blocks}


def _history(facts: Mapping[str, object], leave: Mapping[str, object]) -> list[str]:
    told = []
    given, withdrawn = _day(leave.get("given_on")), _day(leave.get("withdrawn_on"))
    signed = _day(facts.get("signed_before_on"))
    if signed:
        told.append(f"This letter takes the place of the one signed on {signed}.")
    elif leave.get("form") == "spoken":
        told.append(f"This letter puts in writing what was said on {given or BLANK}.")
    if _line(leave.get("renews")):
        told.append("It follows an earlier leave for this ground; that one stays as it was.")
    if withdrawn:
        told.append(f"This leave was withdrawn on {withdrawn}.")
    return told


def _agreed(leave: Mapping[str, object], names: Mapping[str, object]) -> list[str]:
    ground = "the whole site" if leave.get("area") is None else "only the area marked on the sketch"
    first, last = _day(leave.get("starts_on")), _day(leave.get("ends_on"))
    girth, number = _cm(leave.get("max_girth_mm")), _whole(leave.get("allowance"))
    species = leave.get("species")
    kinds = "any kind of tree" if species is None else _join([_kind(kind, names) for kind in _lines(species)])
    return [
        f"Ground: {ground}.",
        f"Time: from {first or BLANK} to {last or BLANK}; both days count.",
        f"Kinds: {kinds or BLANK}.",
        f"Number: no more than {number or BLANK} {'tree' if number == '1' else 'trees'} in all.",
        f"Girth: no more than {girth or BLANK} around the trunk, just above the roots.",
        f"Methods: {_methods(leave.get('methods'))}.",
    ]


def _methods(methods: object) -> str:
    if not isinstance(methods, (list, tuple)):
        return BLANK
    tools = [word for name, word in TOOLS.items() if name in methods]
    not_agreed = [] if "machine" in methods else ["no digging machine"]
    if "vehicle" not in methods:
        not_agreed.append("no vehicle on the ground")
    said = [_join(tools)] if tools else []
    if "vehicle" in methods:
        said.append("a vehicle may be brought onto the ground")
    return "; ".join([*said, *([_join(not_agreed)] if not_agreed else [])])


def _kind(kind: str, names: Mapping[str, object]) -> str:
    return _line(names.get(kind)) or kind.replace("-", " ").replace("_", " ")


def _set(value: object) -> Mapping[str, object]:
    return value if isinstance(value, Mapping) else {}


def _line(value: object) -> str:
    """Return a text as one line, its own lines joined by commas; "" for anything else."""
    if not isinstance(value, str):
        return ""
    parts = (EDGES.sub("", BLANKS.sub(" ", part)) for part in LINE_ENDS.split(value))
    return ", ".join(part for part in parts if part)


def _lines(value: object) -> list[str]:
    return [line for one in value if (line := _line(one))] if isinstance(value, (list, tuple)) else []


def _day(value: object) -> str:
    try:
        day = find_date(value, "The day", "")
    except BadInput:
        return ""
    return "" if day is None else show_date(day)


def _whole(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value < 2**53:
        return ""
    return str(int(value)) if value == int(value) else ""


def _cm(value: object) -> str:
    """Return whole millimetres as '45 cm' or '45.5 cm'."""
    mm = _whole(value)
    if not mm:
        return ""
    cm, rest = divmod(int(mm), 10)
    return f"{cm}.{rest} cm" if rest else f"{cm} cm"


def _hectares(value: object) -> str:
    """Return an area in words: '1.84 hectares'; below a hundredth as 'less than 0.01 hectares'."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value < 1e9:
        return ""
    hundredths = int(value * 100 + 0.5)  # by whole numbers: the two languages round halves differently
    if hundredths == 0:
        return "less than 0.01 hectares"
    return f"{hundredths // 100}.{hundredths % 100:02d} hectares"


def _join(words: Sequence[str]) -> str:
    return "".join(words) if len(words) < 2 else f"{', '.join(words[:-1])} and {words[-1]}"


def _sentence(text: str) -> str:
    # Only a to z is made large: for other letters the two languages need not agree.
    return _full_stop(text[0].upper() + text[1:] if "a" <= text[0] <= "z" else text)


def _full_stop(text: str) -> str:
    return FULL_STOPS.sub("", text) + "."
