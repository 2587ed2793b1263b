"""Turn what the metadata library reports for a tag into a number or a text, or say why it is none.

The library gives whole numbers, fractions, one-element tuples of floats, text, bytes or lists of byte values, as the
file claims; a fraction with denominator zero is kept by it as a broken fraction that raises only when used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

Tags = Mapping[str, Any]  # name of a tag -> the library's value object


class ZeroDenominator(Exception):
    """A fraction is divided by zero."""


class NoNumber(Exception):
    """What stands where a number should is none, or there are too few or too many."""


def read_numbers(tags: Tags, name: str, count: int) -> tuple[float, ...] | None:
    """Return the numbers of a tag; None if the tag is not there.

    Args:
        count: how many there must be.
    Raises: ZeroDenominator; NoNumber for text, another count, or a number that is not finite.
    """
    tag = tags.get(name)
    if tag is None:
        return None
    values = tag.values
    if isinstance(values, str | bytes) or len(values) != count:
        raise NoNumber
    return tuple(_number(value) for value in values)


def _number(value: object) -> float:
    if isinstance(value, tuple) and len(value) == 1:
        value = value[0]
    if isinstance(value, Fraction):
        if value.denominator == 0:
            raise ZeroDenominator
        return value.numerator / value.denominator
    if isinstance(value, int | float) and math.isfinite(value):
        return float(value)
    raise NoNumber


def read_text(tags: Tags, name: str) -> str | None:
    """Return the text of a tag without the blanks and NULs around it; '' if it is blank, None if it is not there."""
    tag = tags.get(name)
    if tag is None:
        return None
    values = tag.values
    if isinstance(values, list):
        if not all(isinstance(value, int) and 0 <= value < 256 for value in values):
            return ""
        values = bytes(values)
    if isinstance(values, bytes):
        # Text that is not UTF-8: each byte becomes one sign, so that the sentence can show what stood there.
        values = values.decode("latin-1")
    text: str = values
    return text.split("\0", 1)[0].strip()
