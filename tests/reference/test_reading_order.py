"""The order of letters on a line against another program's, python-bidi 0.6 (in Rust), and against cases of UAX 9."""

from __future__ import annotations

import random

from bidi import get_display

from field.papers.reading_order import levels_of, plain_text, visual_order

# Latin, Hebrew, Arabic, digits of both kinds, marks, signs that join numbers and signs that stand between words. No
# brackets: rule N0, which turns pairs of them, is not followed here.
LETTERS = "ab 12\u05d0\u05d1\u0633\u0639\u0663\u0664,.-+%/'\u05b0\u064b:\u20ac\u00a0"


def shown(text: str) -> str:
    return "".join(text[place] for place in visual_order(levels_of(text)))


def test_order_is_that_of_another_program_on_made_lines() -> None:
    rng = random.Random(9)
    compared = 0
    for _ in range(20_000):
        text = plain_text("".join(rng.choice(LETTERS) for _ in range(rng.randrange(1, 14)))).strip()
        if not text:
            continue
        compared += 1
        assert shown(text) == get_display(text, base_dir="L"), ascii(text)
    assert compared > 15_000


def test_numbers_in_hebrew_stand_as_in_the_annex() -> None:
    # UAX 9, revision 50, 3.3.5, rules N1 and I1; capitals of the annex's notation are Hebrew letters here.
    car, the = "\u05d0\u05d1\u05d2", "\u05d3\u05d4\u05d5"
    assert shown(f"{car} 123 {the}") == f"{the[::-1]} 123 {car[::-1]}"
    assert shown(f"abc {car} def") == f"abc {car[::-1]} def"
