"""What a change is, and what keeps one from being applied."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from builders import SQUARE, a_change, an_id

from field.core.records import RECORD_TYPES
from field.sync.change import (
    MOST_DEPTH,
    TEXT_LISTS,
    UNREAD,
    VERSION,
    WORDS,
    canonical_bytes,
    find_fault,
    find_name,
    keepable,
    op_hash,
    upgrade,
)

INF = float("inf")


def test_the_written_form_has_sorted_names_no_blanks_and_no_escapes() -> None:
    assert canonical_bytes({"b": "é", "a": [1.5, True, None]}) == '{"a":[1.5,true,null],"b":"é"}'.encode()


def test_a_whole_number_is_written_alike_whether_it_came_as_1_or_1_0() -> None:
    assert canonical_bytes({"x": [1.0, -3.0, 0.0, -0.0]}) == b'{"x":[1,-3,0,0]}'


def test_beyond_2_to_53_a_float_stays_a_float() -> None:
    assert canonical_bytes(float(2**53)) == b"9007199254740992.0"
    assert canonical_bytes(float(2**53 - 1)) == b"9007199254740991"


def test_the_hash_is_that_of_the_written_form() -> None:
    # printf '{"a":1,"b":"x"}' | sha256sum
    assert op_hash({"b": "x", "a": 1.0}) == "ecf9e98ec0641e23113ff3ce8bdc78d0ddd249886517fd4a7f68cc83d4e65667"


def test_the_name_is_device_and_number() -> None:
    op = a_change(seq=7)
    assert find_name(op) == (op["dev"], 7)


@pytest.mark.parametrize(
    "others",
    [
        {"dev": "phone"},
        {"dev": "11111111-1111-4111-8111-11111111111A"},
        {"dev": None},
        {"dev": "11111111-1111-4111-8111-111111111111\n"},
        {"seq": 0},
        {"seq": -1},
        {"seq": "1"},
        {"seq": True},
        {"seq": 1.5},
        {"seq": 2**53},
        {"seq": None},
    ],
)
def test_without_a_device_or_number_there_is_no_name(others: dict[str, Any]) -> None:
    assert find_name({**a_change(), **others}) is None


@pytest.mark.parametrize("op", [None, [], "op", 3, {}])
def test_what_is_no_change_at_all_has_no_name(op: object) -> None:
    assert find_name(op) is None


def test_a_good_change_is_kept_as_it_came() -> None:
    op = a_change({"girth_mm": 240, "lean": {"deg": [1, 2.5]}})
    assert keepable(op) == op


def nested(depth: int) -> Any:
    value: Any = 1
    for _ in range(depth):
        value = [value]
    return value


@pytest.mark.parametrize("value", [INF, -INF, float("nan"), [INF], {"a": INF}, nested(MOST_DEPTH), nested(900)])
def test_what_cannot_be_written_as_json_everywhere_is_kept_as_its_text_and_held(value: object) -> None:
    op = a_change({"lean": value})
    kept = keepable(op)
    assert (kept["dev"], kept["seq"]) == (op["dev"], op["seq"])
    assert '"lean"' in kept[UNREAD]
    json.dumps(kept, allow_nan=False)
    assert find_fault(kept) == "It holds something that cannot be written down as it is."


def test_a_change_is_brought_up_step_by_step() -> None:
    steps = (
        lambda op: {**op, "set": {"girth_mm": op["set"]["girth_cm"] * 10}},
        lambda op: {**op, "base": {}},
    )
    op = a_change({"girth_cm": 24})
    newest = upgrade(op, steps)
    assert newest == {**op, "set": {"girth_mm": 240}, "base": {}, "v": 3}
    assert upgrade({**op, "v": 2}, steps)["set"] == {"girth_cm": 24}
    assert upgrade({**op, "v": 3}, steps) == {**op, "v": 3}
    assert op["v"] == 1


@pytest.mark.parametrize(("record_type", "set_"), [("tool", {"name": "mattock"}), ("tree", {"lean_deg": "4\0"})])
def test_an_unknown_type_or_field_is_no_fault(record_type: str, set_: dict[str, Any]) -> None:
    assert find_fault(a_change(set_, type=record_type)) is None


@pytest.mark.parametrize("record_type", RECORD_TYPES)
def test_every_field_may_be_not_known(record_type: str) -> None:
    assert find_fault(a_change(dict.fromkeys(RECORD_TYPES[record_type]), type=record_type)) is None


FAR = 2**53
HASH = "0" * 64
# (type, field, values that are taken, values that are held)
VALUES: list[tuple[str, str, list[Any], list[Any]]] = [
    ("tree", "tag", ["", "B 1", "é\U0001f332"], [1, True, ["x"], {"a": 1}, "a\0b", "half \ud83c"]),
    ("tree", "girth_mm", [0, 1, FAR - 1], [-1, FAR, 1.5, "240", True, [1], INF, 1e308]),
    ("site", "height_m", [-500, 0, 310.5, 9000], [-501, 9000.5, INF, float("nan"), "310", True, 2**64]),
    ("tree", "height_mm", [0, 1800], [-1]),
    ("tree", "tag", ["H1", "x" * 200], ["x" * 201]),
    ("site", "name", ["Kettle Brae", "x" * 1000], ["x" * 1001]),
    ("leave", "allowance", [0, 1_000_000], [1_000_001, -1]),
    ("leave", "ends_on", ["2026-10-03", "9000-12-31"], ["9001-01-01"]),
    ("fix", "height_m", [-3.5, 12000], ["1", INF]),
    ("fix", "accuracy_m", [0, 3.5], [-0.1, INF, "3"]),
    ("fix", "lat", [-90, 90, 0, 55.4], [91, -90.0001, "55", INF, True]),
    ("fix", "lon", [-180, 180, -3.4], [180.5, -181, "x"]),
    ("site", "protected", [True, False], [1, 0, "yes", []]),
    (
        "tree",
        "marked_on",
        ["2026-10-03", "2024-02-29", "1800-01-01", "9000-12-31"],
        ["2026-02-29", "2026-13-01", "03.10.2026", "2026-10-03T00:00:00Z", 20261003, "", "1799-12-31", "9001-01-01"],
    ),
    (
        "fix",
        "fixed_at",
        ["2027-03-01T09:00:00Z", "2027-03-01T09:00:00.5Z", "2027-03-01T09:00:00.123456Z"],
        ["2027-03-01T09:00:00", "2027-03-01T09:00:00+00:00", "2027-03-01T25:00:00Z", "2027-02-30T09:00:00Z", 1, ""],
    ),
    ("photo", "sha256", [HASH], [HASH[:-1], HASH.replace("0", "G"), HASH.replace("0", "A"), 0]),
    ("tree", "site", ["0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"], ["site", "0B0E7C6E-2F3A-4D55-9D0C-6F7F1A2B3C4D", 3]),
    ("site", "zone", ["Europe/London", "UTC", "America/Argentina/Ushuaia"], ["Europe/Nowhere", "../etc/passwd", 1, ""]),
    ("site", "boundary", [SQUARE], [{"type": "Point", "coordinates": [0, 0]}, [], "x", {"type": "a\0", "b": 1}]),
    ("box", "mix", [{"grit": 50}, [], "any", 3], [{"gr\0it": 1}, ["\ud800"], [FAR], {"a": [{"b": -FAR}]}]),
    ("landholder", "role", ["owner", "occupier", "agent"], ["Owner", "landlord", ""]),
    ("leave", "form", ["signed", "spoken"], ["written"]),
    ("leave", "species", [[], ["birch"]], ["birch", {"birch": 1}, [1]]),
    ("leave", "conditions", [["close the gates"]], ["close the gates", [None]]),
    ("consent", "state", ["held", "needed", "not_needed", "unknown"], ["maybe"]),
    ("consent", "kind", ["protected_area", "services"], ["planning"]),
    ("tree", "origin", ["lifted", "client"], ["bought"]),
    ("tree", "ended_as", ["lost", "parted", "left_standing"], ["dead"]),
    ("lift", "roots_kept", ["most", "half", "few"], ["all"]),
    ("photo", "placed_by", ["fix_at_capture", "exif", "track", "hand"], ["guess"]),
    ("photo", "taken_at_from", ["gps", "offset", "zone", "phone"], ["guess"]),
    ("fix", "source", ["web-geolocation", "exif", "track", "hand"], ["guess"]),
    ("weather_day", "how", ["typed", "station"], ["guessed"]),
    ("weather_day", "tmin_c", [-12.5, 0, 60], [-90.5, 61, "mild"]),
    ("site", "shift_days", [-30, 0, 120], [-121, 2.5, "late"]),
    ("task_state", "state", ["done", "skipped"], ["open"]),
]
TAKEN = [(t, f, v) for t, f, taken, _ in VALUES for v in taken]
HELD = [(t, f, v) for t, f, _, held in VALUES for v in held]


@pytest.mark.parametrize(("record_type", "field", "value"), TAKEN)
def test_a_value_of_its_kind_is_taken(record_type: str, field: str, value: object) -> None:
    assert find_fault(a_change({field: value}, type=record_type)) is None


@pytest.mark.parametrize(("record_type", "field", "value"), HELD)
def test_a_value_of_another_kind_is_held_with_a_sentence(record_type: str, field: str, value: object) -> None:
    why = find_fault(a_change({field: value}, type=record_type))
    assert why is not None
    assert f"“{field}”" in why
    assert why.endswith(".")
    why.encode()
    assert "\0" not in why


@pytest.mark.parametrize("value", [1, "true", None, 0])
def test_a_removal_that_is_not_clear_is_held(value: object) -> None:
    assert find_fault(a_change({"deleted": value})) == "It does not say clearly whether the record is removed."


@pytest.mark.parametrize(
    "others",
    [
        {"v": 0},
        {"v": VERSION + 1},
        {"v": None},
        {"v": True},
        {"v": "1"},
        {"hlc": None},
        {"hlc": "x"},
        {"hlc": "0199c2f4a1b0-0003-22222222-2222-4222-8222-222222222222"},
        {"rec": None},
        {"rec": "tree 1"},
        {"rec": "\0"},
        {"type": None},
        {"type": ""},
        {"type": "t\0"},
        {"type": "t" * 61},
        {"set": None},
        {"set": {}},
        {"set": []},
        {"base": None},
        {"base": []},
        {"base": {"tag": None}},
        {"base": {"tag": ["yesterday"]}},
        {"base": {"tag": [3]}},
        {"wall": "yesterday"},
        {"wall": 3},
        {"tz": "BST"},
        {"tz": "+24:00"},
    ],
)
def test_a_frame_that_is_wrong_is_held(others: dict[str, Any]) -> None:
    why = find_fault({**a_change(), **others})
    assert why is not None
    assert why.endswith(".")


@pytest.mark.parametrize("missing", ["hlc", "rec", "type", "set", "base", "v"])
def test_a_frame_with_a_missing_part_is_held(missing: str) -> None:
    op = a_change()
    del op[missing]
    assert find_fault(op) is not None


@pytest.mark.parametrize("missing", ["wall", "tz"])
def test_when_and_where_it_was_written_may_be_missing(missing: str) -> None:
    op = a_change()
    del op[missing]
    assert find_fault(op) is None


def test_extra_parts_are_no_fault() -> None:
    assert find_fault(a_change(rec=an_id(), mood="cold")) is None


def test_the_words_checked_are_those_that_the_record_types_list() -> None:
    text = (Path(__file__).parent.parent.parent / "field" / "core" / "records.py").read_text(encoding="utf-8")
    for (record_type, field), words in WORDS.items():
        assert RECORD_TYPES[record_type][field] == "text"
        block = text[text.index(f'"{record_type}": {{') :]
        line = re.search(rf'"{field}": "text",?(.*)', block)
        assert line is not None
        for word in words:
            assert re.search(rf"\b{re.escape(word)}\b", line[1]), f"{record_type}.{field}: {word}"


def test_the_lists_of_texts_are_fields_that_there_are() -> None:
    assert {RECORD_TYPES[record_type][field] for record_type, field in TEXT_LISTS} == {"json"}
