"""Trees and gardens, and where each tree stands; for the core and for its twin on the phone."""

from __future__ import annotations

from typing import Any

_A: dict[str, Any] = {"id": "a", "is_main": None}
_B: dict[str, Any] = {"id": "b", "is_main": True}
_C: dict[str, Any] = {"id": "c", "is_main": True}
_WILD: dict[str, Any] = {"site": "hill"}

# tree, whether it is lifted, gardens, where it stands
CASES: list[tuple[dict[str, Any], bool, list[dict[str, Any]], str | None]] = [
    (_WILD, False, [], "hill"),
    (_WILD, False, [_A], "hill"),
    (_WILD, True, [], "hill"),
    (_WILD, True, [_A], "a"),
    (_WILD, True, [_A, _B], "b"),
    (_WILD, True, [_A, {"id": "d"}], "hill"),  # nobody said which
    (_WILD, True, [_C, _A, _B], "b"),  # two phones each made one the main garden
    ({"site": "hill", "origin": "client"}, False, [_A], "a"),
    ({"site": None, "origin": "client"}, False, [], None),
    ({"site": "hill", "stands_at": "a"}, True, [_A, _B], "a"),
    ({"site": "hill", "stands_at": "a"}, False, [_A, _B], "a"),
    ({"site": "hill", "stands_at": "gone"}, True, [_B], "b"),
    ({"site": "hill", "stands_at": "gone"}, False, [_B], "hill"),
    ({}, True, [], None),
]
