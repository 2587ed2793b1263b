"""What a signature covers, and what changed since, by the phone as by home: the same cases."""

from __future__ import annotations

import json
from pathlib import Path

from phone_kit import call
from playwright.sync_api import Page

from field.core import signing

VECTORS = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "signing.json").read_text(encoding="utf-8"))


def test_phone_writes_what_is_hashed_as_by_hand(blank: Page) -> None:
    cases = VECTORS["content"]["cases"]
    assert [call(blank, "core/signing", "contentText", case["input"]) for case in cases] == [
        case["text"] for case in cases
    ]


def test_phone_and_home_name_the_same_changed_terms(blank: Page) -> None:
    script = """async (cases) => {
      const { changedTerms } = await import('/static/js/core/signing.js');
      return cases.map(({ letter, leave, site }) => changedTerms(letter, leave, site));
    }"""
    cases = VECTORS["changed"]["cases"]
    assert blank.evaluate(script, cases) == [case["expect"] for case in cases]


def test_phone_and_home_list_the_same_fields_and_terms(blank: Page) -> None:
    script = """async () => {
      const { CONTENT, TERMS } = await import('/static/js/core/signing.js');
      return [CONTENT, TERMS];
    }"""
    got = blank.evaluate(script)
    assert got == [list(signing.CONTENT), list(signing.TERMS)]


def test_phone_counts_versions_as_home_does(blank: Page) -> None:
    lists = [[], [1], [2, 1], [3, 3], [None, "7", -2]]
    got = [call(blank, "core/signing", "nextVersion", [{"version": v} for v in one]) for one in lists]
    assert got == [1, 2, 3, 4, 1]
