"""The leave letter: what must stand in it, and that a gap is a line to write on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from field.core.leave_letter import BLANK, leave_letter

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
CASES = json.loads((VECTORS / "leave_letter.json").read_text(encoding="utf-8"))["cases"]


def texts_of(letter: dict[str, Any]) -> list[str]:
    """Return every sentence of a letter."""
    return [text for block in letter["blocks"] for text in (*block.get("items", ()), block.get("text")) if text]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_the_letter_says_what_was_agreed_and_leaves_gaps_open(case: dict[str, Any]) -> None:
    letter: Any = leave_letter(case["facts"])
    assert letter["title"] == case["title"]
    assert [text for text in case["says"] if text not in texts_of(letter)] == []
    rows = dict(letter["blocks"][0]["rows"])
    assert {name: rows[name] for name in case["rows"]} == case["rows"]


def test_a_letter_is_made_of_plain_texts_only() -> None:
    letter = leave_letter(CASES[0]["facts"])
    assert json.loads(json.dumps(letter)) == letter
    assert {block["kind"] for block in letter["blocks"]} == {"facts", "para", "heading", "terms"}  # type: ignore[attr-defined]


def test_withdrawal_and_what_stands_above_the_letter_are_in_every_one() -> None:
    said = " ".join(texts_of(leave_letter({})))
    assert "may withdraw this leave at any time" in said
    assert "Local law and the consents of other authorities stand above this letter." in said
    assert "fills every hole" in said


def test_conditions_have_a_list_of_their_own_and_none_makes_no_empty_heading() -> None:
    def headings(letter: Any) -> list[str]:
        return [block["text"] for block in letter["blocks"] if block["kind"] == "heading"]

    assert "Conditions to keep" in headings(leave_letter({"leave": {"conditions": ["close the gates"]}}))
    assert "Conditions to keep" not in headings(leave_letter({"leave": {"conditions": []}}))


def test_only_an_owner_may_give_leave_without_naming_a_right() -> None:
    assert f"I may give this leave by this right: {BLANK}." in texts_of(leave_letter({"role": "occupier"}))
    assert f"I may give this leave by this right: {BLANK}." not in texts_of(leave_letter({"role": "owner"}))


def test_a_letter_that_replaces_a_signed_one_does_not_put_in_writing_what_was_said() -> None:
    leave = {"form": "spoken", "given_on": "2026-11-20"}
    first, second = (
        " ".join(texts_of(leave_letter({"leave": leave, **more}))) for more in ({}, {"signed_before_on": "2026-11-26"})
    )
    assert "puts in writing what was said on 20 November 2026" in first
    assert "puts in writing" not in second
    assert "takes the place of the one signed on 26 November 2026" in second
