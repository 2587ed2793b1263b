"""What a signature covers, whether it still stands, and what changed since; hashes are from outside the code."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from field.core.canonical import canonical_text
from field.core.records import RECORD_TYPES
from field.core.signing import CONTENT, changed_terms, content_sha256, find_signed, is_intact, next_version, terms_of

VECTORS = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "signing.json").read_text(encoding="utf-8"))
SIGNED: dict[str, Any] = {
    **VECTORS["content"]["cases"][0]["input"],
    "content_sha256": VECTORS["content"]["cases"][0]["sha256"],
}


def by_name(cases: list[dict[str, Any]]) -> Any:
    return pytest.mark.parametrize("case", cases, ids=lambda case: case["name"])


@by_name(VECTORS["content"]["cases"])
def test_content_is_hashed_as_by_hand(case: dict[str, Any]) -> None:
    assert canonical_text({name: case["input"].get(name) for name in CONTENT}) == case["text"]
    assert content_sha256(case["input"]) == case["sha256"]


@by_name(VECTORS["changed"]["cases"])
def test_changed_terms_case_worked_by_hand(case: dict[str, Any]) -> None:
    assert changed_terms(case["letter"], case["leave"], case["site"]) == case["expect"]


def test_a_signature_covers_every_field_but_its_own_hash() -> None:
    assert {*CONTENT, "content_sha256"} == set(RECORD_TYPES["signing"])


@pytest.mark.parametrize("name", CONTENT)
def test_altering_any_field_makes_another_hash(name: str) -> None:
    other = {**SIGNED, name: "something else"}
    assert content_sha256(other) != SIGNED["content_sha256"]
    assert not is_intact(other, [SIGNED, {name: "something else"}])


def test_a_signing_as_it_was_written_is_intact() -> None:
    assert is_intact(SIGNED, [SIGNED])


def test_a_change_to_a_field_no_signature_covers_leaves_it_intact() -> None:
    assert is_intact({**SIGNED, "seen": True}, [SIGNED, {"seen": True}])


def test_an_alteration_that_brings_its_own_fitting_hash_is_one_too() -> None:
    other = {**SIGNED, "name": "Somebody Else"}
    other["content_sha256"] = content_sha256(other)
    assert not is_intact(other, [SIGNED, other])
    assert find_signed([SIGNED, other]) == SIGNED


def test_a_value_put_back_makes_it_intact_again() -> None:
    assert is_intact(SIGNED, [SIGNED, {"name": "Somebody Else"}, {"name": SIGNED["name"]}])


def test_nothing_that_fits_its_hash_was_never_signed() -> None:
    wrong = {**SIGNED, "content_sha256": "0" * 64}
    assert find_signed([wrong, {}]) is None
    assert not is_intact(wrong, [wrong])
    assert not is_intact({}, [])


def test_terms_just_signed_are_not_changed() -> None:
    leave = {"landholder": "L", "species": [], "allowance": 0, "conditions": ["a"]}
    site = {"boundary": {"type": "Polygon", "coordinates": [[[0, 0], [1.5, 0], [1, 1], [0, 0]]]}}
    assert changed_terms({"terms": terms_of(leave, site)}, leave, site) == []


@pytest.mark.parametrize(
    ("versions", "following"), [([], 1), ([1], 2), ([2, 1], 3), ([3, 3], 4), ([None, "7", True, -2], 1)]
)
def test_the_next_version_is_one_above_the_highest(versions: list[Any], following: int) -> None:
    assert next_version([{"version": version} for version in versions]) == following
