"""The canonical form against the examples of the standard that defines it."""

from __future__ import annotations

import struct

import pytest

from field.core.canonical import canonical_text

# RFC 8785 (June 2020), Appendix B: bits of a double and its text.
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "text"), NUMBERS)
def test_number_of_the_standard(bits: str, text: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical_text(number) == text


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000"])  # Appendix B: NaN and Infinity are errors
def test_what_json_has_no_words_for_is_refused(bits: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    with pytest.raises(ValueError, match="no words"):
        canonical_text(number)


def test_names_stand_in_the_order_of_the_standard() -> None:
    # RFC 8785, 3.2.3: CR, "1", U+0080, o with diaeresis, euro sign, grinning face, dalet with dagesh.
    order = ["\r", "1", "\x80", "ö", "€", "😀", "\ufb33"]
    written = canonical_text(dict.fromkeys(sorted(order), 0))
    places = [written.index(canonical_text(name)) for name in order]
    assert places == sorted(places)


def test_example_of_the_standard_is_written_as_there() -> None:
    # RFC 8785, 3.2.2 and 3.2.3.
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": '€$\x0f\nA\'B"\\\\"/',
        "literals": [None, True, False],
    }
    assert canonical_text(value) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
