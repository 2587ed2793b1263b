"""What a signature covers, and what changed since, by the phone as by home: the same cases."""

from __future__ import annotations

import json
import random
import struct
from pathlib import Path
from typing import Any

from phone_kit import call
from playwright.sync_api import Page

from field.core import signing
from field.core.canonical import canonical_text

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


def a_number(chance: random.Random) -> float | int:
    """Return a number of any size: whole, short, or of any bits a double can have."""
    (any_bits,) = struct.unpack(">d", chance.randbytes(8))
    usual = [chance.randrange(-(2**53) + 1, 2**53), round(chance.uniform(-180, 180), 7), chance.random() * 1e-5]
    return chance.choice([*usual, any_bits if abs(any_bits) < float("inf") else 0.0])


def a_value(chance: random.Random, depth: int = 3) -> Any:
    signs = 'aZ09 \\"/\n\t\x01\x7f\u2028éłß€क😀\ufb33'

    def text() -> str:
        return "".join(chance.choices(signs, k=chance.randrange(8)))

    kinds = [text, lambda: a_number(chance), lambda: chance.choice([None, True, False])]
    if depth:
        kinds += [
            lambda: [a_value(chance, depth - 1) for _ in range(chance.randrange(4))],
            lambda: {text(): a_value(chance, depth - 1) for _ in range(chance.randrange(5))},
        ]
    return chance.choice(kinds)()


def test_phone_and_home_write_any_value_alike(blank: Page) -> None:
    chance = random.Random(4)
    values = [a_value(chance) for _ in range(2000)]
    script = """async (text) => {
      const { canonicalText } = await import('/static/js/core/merge.js');
      return JSON.parse(text).map(canonicalText);
    }"""
    assert blank.evaluate(script, json.dumps(values)) == [canonical_text(value) for value in values]
