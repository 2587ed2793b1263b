"""What a change is: its one written form, its name's hash, older forms brought up, and what keeps one from applying.

A change ("op") is a small immutable fact; FIELDS lists what it holds. A change with a fault is kept and shown with the
reason, never dropped: `find_fault` gives that reason. A type or field that is not known here is no fault: a newer
phone may know it.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Any

from field.core.area import read_area
from field.core.dates import read_date, read_instant, read_zone
from field.core.errors import BadInput
from field.core.records import DELETED, RECORD_TYPES
from field.core.units import WHOLE_LIMIT
from field.sync.hlc import STAMP, find_stamp

FIELDS = ("dev", "seq", "hlc", "wall", "tz", "rec", "type", "set", "base", "v")
VERSION = 1
RULES = 2  # one more whenever `find_fault` or the journal judges otherwise without a change of the tables below
UNREAD = "unread"  # a change that could not be kept as it came holds its text under this name
MOST_DEPTH = 60  # lists in lists; the deepest thing meant, the area of several parts, has 5
MOST_TYPE = 60

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", re.ASCII)
SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
NOT_TEXT = re.compile("[\0\ud800-\udfff]")
TZ = re.compile(r"[+-]([01][0-9]|2[0-3]):[0-5][0-9]", re.ASCII)
INSTANT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,6})?Z", re.ASCII)

# The words that a text field may hold: those that core/records.py lists beside it.
WORDS: Mapping[tuple[str, str], tuple[str, ...]] = MappingProxyType(
    {
        ("landholder", "role"): ("owner", "occupier", "agent"),
        ("holding", "role"): ("owner", "occupier", "agent"),
        ("leave", "by_role"): ("owner", "occupier", "agent"),
        ("leave", "form"): ("signed", "spoken", "asked"),
        ("consent", "kind"): (
            "protected_area", "tree_order", "felling_licence", "monument", "services", "plant_health", "other",
        ),
        ("consent", "state"): ("held", "needed", "not_needed", "unknown"),
        ("signing", "role"): ("owner", "occupier", "agent"),
        ("ground_check", "answer"): ("yes", "no"),
        ("tree", "origin"): ("lifted", "client"),
        ("tree", "ended_as"): ("lost", "parted", "left_standing"),
        ("fix", "source"): ("web-geolocation", "exif", "track", "hand"),
        ("lift", "roots_kept"): ("most", "half", "few"),
        ("photo", "taken_at_from"): ("gps", "offset", "zone", "phone"),
        ("photo", "placed_by"): ("fix_at_capture", "exif", "track", "hand"),
        ("photo", "shows"): ("hole",),
        ("task_state", "state"): ("done", "skipped"),
        ("weather_day", "how"): ("typed", "station"),
    }
)  # fmt: skip
# Lists of texts by the comments of core/records.py: what reads them relies on it.
TEXT_LISTS = frozenset({("leave", "species"), ("leave", "conditions"), ("leave", "methods")})
# The only numbers that may lie below zero: a height against the sea.
MAY_BE_NEGATIVE = frozenset({"height_m", "lat", "lon", "direction_deg", "tmin_c", "tmax_c", "shift_days"})
HEIGHTS_NEVER_NEGATIVE = frozenset({"box", "tree"})  # theirs is the height of a thing
# Between these the planning can reckon with days and heights; beyond lies no tree's life and no ground.
YEARS = (1800, 9000)
LIMITS: Mapping[tuple[str, str], tuple[float, float]] = {
    ("site", "height_m"): (-500, 9000),
    ("site", "shift_days"): (-120, 120),
    ("garden", "height_m"): (-500, 9000),
    ("garden", "shift_days"): (-120, 120),
    ("weather_day", "tmin_c"): (-90, 60),
    ("weather_day", "tmax_c"): (-90, 60),
    ("leave", "allowance"): (0, 1_000_000),
}
# Forms take less; beyond these no list, label or paper could show the text at all.
MOST_SIGNS: Mapping[tuple[str, str], int] = {
    ("tree", "tag"): 200,
    ("site", "name"): 1000,
    ("garden", "name"): 1000,
    ("landholder", "name"): 1000,
}

# Made once: made anew for each change it would cost more than the writing itself.
_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False)

Op = dict[str, Any]
Step = Callable[[Op], Op]
# From form v to v + 1, kept for ever: STEPS[0] brings a change of form 1 to form 2.
STEPS: tuple[Step, ...] = ()


class _FaultError(Exception):
    """Why a change cannot be applied, in one sentence."""


def canonical(value: Any) -> Any:
    """Return a JSON value with whole-valued floats below 2**53 as whole numbers: a phone cannot tell 1.0 from 1."""
    if isinstance(value, str):  # most are; none of them has to be walked further
        return value
    if isinstance(value, float) and value.is_integer() and abs(value) < WHOLE_LIMIT:
        return int(value)
    if isinstance(value, dict):
        return {name: part if isinstance(part, str) else canonical(part) for name, part in value.items()}
    if isinstance(value, list):
        return [canonical(part) for part in value]
    return value


def canonical_bytes(value: Any) -> bytes:
    """Return the one written form of a JSON value: keys sorted, no blanks, UTF-8."""
    return _ENCODER.encode(canonical(value)).encode("utf-8", "surrogatepass")


def op_hash(op: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a change's written form: two changes of one name are the same if these are."""
    return hashlib.sha256(canonical_bytes(op)).hexdigest()


def kept_hash(op: Mapping[str, Any]) -> str:
    """Return `op_hash` of a change as `keepable` returns it: it is not brought into that form once more."""
    return hashlib.sha256(_ENCODER.encode(op).encode("utf-8", "surrogatepass")).hexdigest()


def find_name(op: object) -> tuple[str, int] | None:
    """Return the name of a change, (device, number); None when it has none by which it could be kept."""
    if not isinstance(op, dict):
        return None
    dev, seq = op.get("dev"), op.get("seq")
    if isinstance(seq, float) and seq.is_integer():
        seq = int(seq)
    if not isinstance(dev, str) or UUID.fullmatch(dev) is None:
        return None
    if isinstance(seq, bool) or not isinstance(seq, int) or not 1 <= seq < WHOLE_LIMIT:
        return None
    return dev, seq


def keepable(op: Mapping[str, Any]) -> Op:
    """Return a named change in a form that can be written, stored and passed on.

    A change that is nested too deep, or holds a number that JSON has no words for, comes back as its name with its
    text beside it under UNREAD: `find_fault` holds it.
    """
    if _depth_within(op, MOST_DEPTH):
        plain: Op = canonical(op)
        if _all_finite(plain):
            return plain
    dev, seq = find_name(op) or ("", 0)
    return {"dev": dev, "seq": seq, UNREAD: json.dumps(op)}


def upgrade(op: Mapping[str, Any], steps: Sequence[Step] = STEPS) -> Op:
    """Return a change in the newest form, brought there step by step.

    Args:
        op: of any form up to the newest.
        steps: steps[i] brings form i + 1 to form i + 2 and returns a new change.
    """
    newest = dict(op)
    for step in steps[newest["v"] - 1 :]:
        version = newest["v"]
        newest = {**step(newest), "v": version + 1}
    return newest


def rules_name() -> str:
    """Return a name for the rules of `find_fault` as they stand: another one where a change may be judged otherwise."""
    kinds = {record_type: dict(fields) for record_type, fields in RECORD_TYPES.items()}
    tables = (VERSION, kinds, dict(WORDS), sorted(TEXT_LISTS), YEARS, dict(LIMITS), dict(MOST_SIGNS), RULES)
    return hashlib.sha256(repr(tables).encode()).hexdigest()


def find_fault(op: Mapping[str, Any]) -> str | None:
    """Return why a named change cannot be applied, one sentence; None when it can.

    Args:
        op: as `keepable` returns it.
    """
    try:
        _check_frame(op)
        kinds = RECORD_TYPES.get(op["type"], {})
        for name, value in op["set"].items():
            if name == DELETED:
                _need(isinstance(value, bool), "It does not say clearly whether the record is removed.")
            elif name in kinds and value is not None:
                _check_value(op["type"], name, kinds[name], value)
    except _FaultError as fault:
        return str(fault)
    return None


def _need(good: bool, sentence: str) -> None:
    if not good:
        raise _FaultError(sentence)


def _check_frame(op: Mapping[str, Any]) -> None:
    _need(UNREAD not in op, "It holds something that cannot be written down as it is.")
    version: Any = op.get("v")
    _need(_is_whole(version) and version >= 1, "It does not say which form it has.")
    _need(version <= VERSION, "It was written by a newer version of Fellside; update this one.")
    stamp = find_stamp(op.get("hlc"))
    _need(stamp is not None and stamp.dev == op["dev"], "Its stamp cannot be read.")
    _need(_matches(UUID, op.get("rec")), "It does not say which record it belongs to.")
    record_type = op.get("type")
    _need(
        isinstance(record_type, str) and 0 < len(record_type) <= MOST_TYPE and _is_text(record_type),
        "It does not say what it is about.",
    )
    _need(isinstance(op.get("set"), dict) and bool(op["set"]), "It changes nothing.")
    base = op.get("base")
    _need(
        isinstance(base, dict)
        and all(isinstance(stamps, list) and all(_matches(STAMP, one) for one in stamps) for stamps in base.values()),
        "It does not say what it replaces.",
    )
    wall, tz = op.get("wall"), op.get("tz")
    if wall is not None:
        _check_instant("The time it was written", wall)
    _need(tz is None or _matches(TZ, tz), "The zone it was written in cannot be read.")


def _check_value(record_type: str, name: str, kind: str, value: Any) -> None:
    called = f"“{name}”"
    if kind in ("text", "json"):
        _need(kind == "json" or isinstance(value, str), f"{called} is not text.")
        _need(_is_storable(value), f"{called} holds characters or numbers that cannot be kept.")
        most = MOST_SIGNS.get((record_type, name))
        _need(most is None or len(value) <= most, f"{called} is longer than {most} characters.")
        words = WORDS.get((record_type, name))
        if words is not None:
            _need(value in words, f"{called} is none of the words known for it: {', '.join(words)}.")
        if (record_type, name) in TEXT_LISTS:
            good = isinstance(value, list) and all(isinstance(text, str) for text in value)
            _need(good, f"{called} is not a list of texts.")
    elif kind in ("int", "real", "lat", "lon"):
        _check_number(record_type, name, kind, value)
    elif kind == "bool":
        _need(isinstance(value, bool), f"{called} is neither yes nor no.")
    elif kind == "instant":
        _check_instant(called, value)
    elif kind == "sha256":
        _need(_matches(SHA256, value), f"{called} is not the name of a photo or file.")
    elif kind == "ref":
        _need(_matches(UUID, value), f"{called} is not the name of a record.")
    else:
        # First: the sentence of a reader may repeat what it was given, and has to be kept too.
        _need(_is_storable(value), f"{called} holds characters or numbers that cannot be kept.")
        _read(_READERS[kind], called, value)


def _check_number(record_type: str, name: str, kind: str, value: Any) -> None:
    called = f"“{name}”"
    _need(isinstance(value, (int, float)) and not isinstance(value, bool), f"{called} is not a number.")
    _need(isinstance(value, int) or math.isfinite(value), f"{called} is not a usable number.")
    if kind == "int":
        _need(_is_whole(value), f"{called} is not a whole number.")
    _need(abs(value) < WHOLE_LIMIT, f"{called} is larger than any such number can be.")
    limit = {"lat": 90, "lon": 180}.get(kind)
    if limit is not None:
        _need(abs(value) <= limit, f"{called}, {value}, is not between -{limit} and {limit} degrees.")
    low, high = LIMITS.get((record_type, name), (value, value))
    _need(low <= value <= high, f"{called}, {value}, is not between {low} and {high}.")
    if name not in MAY_BE_NEGATIVE or (name == "height_m" and record_type in HEIGHTS_NEVER_NEGATIVE):
        _need(value >= 0, f"{called} is negative.")


def _check_instant(called: str, value: object) -> None:
    _need(_matches(INSTANT, value), f"{called} is not written as a moment in UTC.")
    _need(YEARS[0] <= int(str(value)[:4]) <= YEARS[1], f"{called} lies outside the years {YEARS[0]} to {YEARS[1]}.")
    _read(read_instant, called, value)


def _read(reader: Callable[[object, str, str], object], called: str, value: object) -> None:
    try:
        reader(value, called, "set")
    except BadInput as fault:
        raise _FaultError(f"{called}: {fault.message}" if called not in fault.message else fault.message) from None


def _read_day(value: object, called: str, where: str) -> date:
    _need(isinstance(value, str), f"{called} is not written as a date.")
    day = read_date(value, called, where)
    _need(YEARS[0] <= day.year <= YEARS[1], f"{called} lies outside the years {YEARS[0]} to {YEARS[1]}.")
    return day


def _read_area(value: object, _called: str, where: str) -> object:
    return read_area(value, where)


def _read_zone(value: object, _called: str, where: str) -> object:
    return read_zone(value, where)


_READERS: Mapping[str, Callable[[object, str, str], object]] = {
    "date": _read_day,
    "geometry": _read_area,
    "zone": _read_zone,
}


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < WHOLE_LIMIT


def _matches(pattern: re.Pattern[str], value: object) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _is_text(text: str) -> bool:
    """Whether every database can keep a text: no NUL, no half of a surrogate pair."""
    return NOT_TEXT.search(text) is None


def _is_storable(value: object) -> bool:
    if isinstance(value, str):
        return _is_text(value)
    if isinstance(value, dict):
        return all(_is_text(name) and _is_storable(part) for name, part in value.items())
    if isinstance(value, list):
        return all(_is_storable(part) for part in value)
    return not isinstance(value, int) or isinstance(value, bool) or abs(value) < WHOLE_LIMIT


def _depth_within(value: object, most: int) -> bool:
    """Whether a value is nested at most so deep; walks it level by level, for depth is what it is wary of."""
    level: list[object] = [value]
    for _ in range(most):
        level = [
            part
            for one in level
            if isinstance(one, (dict, list))
            for part in (one.values() if isinstance(one, dict) else one)
        ]
        if not level:
            return True
    return False


def _all_finite(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if not isinstance(value, (dict, list)):
        return True
    for part in value.values() if isinstance(value, dict) else value:
        if not isinstance(part, str) and not _all_finite(part):
            return False
    return True
