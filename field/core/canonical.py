"""One text for one JSON value, the same in every language: the JSON Canonicalization Scheme, RFC 8785.

For what is hashed on one machine and checked on another. The phone has it as `canonicalText` of
static/js/core/merge.js, whose numbers and texts are those of its language, as the scheme wants them.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any


def canonical_text(value: Any) -> str:
    """Return the one written form of a JSON value.

    Args:
        value: of dicts, lists, texts, finite numbers, True, False and None; whole numbers below 2**53.
    Raises: ValueError for a number that JSON has no words for.
    Source: RFC 8785 (2020), 3.2; its own examples in tests/reference/test_canonical.py.
    """
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _number_text(value)
    if isinstance(value, dict):
        # By their 16-bit units: sorted as characters, those beyond the first plane would stand elsewhere.
        names = sorted(value, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{canonical_text(name)}:{canonical_text(value[name])}" for name in names) + "}"
    return "[" + ",".join(map(canonical_text, value)) + "]"


def _number_text(number: float) -> str:
    """Return a number as ECMAScript writes it (ECMA-262, Number::toString): RFC 8785, 3.2.2.3."""
    if number == 0:
        return "0"  # also where it is below by nothing
    sign, figures, exponent = Decimal(repr(number)).as_tuple()
    if not isinstance(exponent, int):
        raise ValueError("JSON has no words for this number.")
    digits = "".join(map(str, figures)).rstrip("0")
    point = len(figures) + exponent  # the decimal point stands after so many digits
    minus = "-" if sign else ""
    if len(digits) <= point <= 21:
        return f"{minus}{digits}{'0' * (point - len(digits))}"
    if 0 < point <= 21:
        return f"{minus}{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"{minus}0.{'0' * -point}{digits}"
    fraction = f".{digits[1:]}" if len(digits) > 1 else ""
    return f"{minus}{digits[0]}{fraction}e{point - 1:+d}"
