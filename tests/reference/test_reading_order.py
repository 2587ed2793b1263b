"""The order of letters on a line against cases of UAX 9, revision 50; the library below it is python-bidi."""

from __future__ import annotations

import random

from bidi import get_display

from field.papers.reading_order import plain_text, visual_order

# Latin, Hebrew, Arabic, digits of both kinds, marks, signs that join numbers, brackets, and signs between words.
LETTERS = "ab 12\u05d0\u05d1\u0633\u0639\u0663\u0664,.-+%/'\u05b0\u064b:\u20ac\u00a0()"
CAR, THE = "\u05d0\u05d1\u05d2", "\u05d3\u05d4\u05d5"  # capitals of the annex's notation are Hebrew letters here


def shown(text: str) -> str:
    return "".join(part if rightwards else part[::-1] for part, rightwards in visual_order(text))


def test_the_stretches_of_a_line_make_the_line_as_it_is_shown() -> None:
    rng = random.Random(9)
    leftward = 0
    for _ in range(5_000):
        text = plain_text("".join(rng.choice(LETTERS) for _ in range(rng.randrange(1, 14))))
        assert shown(text) == get_display(text, base_dir="L"), ascii(text)
        leftward += any(not rightwards for _, rightwards in visual_order(text))
    assert leftward > 3_000


def test_numbers_in_hebrew_stand_as_in_the_annex() -> None:
    # 3.3.5, rules N1 and I1
    assert visual_order(f"{CAR} 123 {THE}") == [(THE, False), (" 123 ", True), (CAR, False)]
    assert visual_order(f"abc {CAR} def") == [("abc ", True), (CAR, False), (" def", True)]
    assert visual_order(f"abc {CAR} {THE} def") == [("abc ", True), (f"{CAR} {THE}", False), (" def", True)]


def test_brackets_turn_with_the_letters_they_belong_to() -> None:
    # 3.1.3 and 3.3.5, rule N0: a pair takes the direction of what stands before it
    assert visual_order(f"{CAR} ({THE})") == [(f"{CAR} ({THE})", False)]
    assert visual_order(f"abc ({CAR}) def") == [("abc (", True), (CAR, False), (") def", True)]


def test_marks_stay_with_their_letter() -> None:
    assert visual_order("a \u05d0\u05b0\u05d1") == [("a ", True), ("\u05d0\u05b0\u05d1", False)]


def test_signs_that_steer_or_control_are_taken_out() -> None:
    assert plain_text("a\u202eb\x00\tc\ud800e\u0301") == "ab c\u00e9"
