"""The cases of May I? that both sides are held to: tests/vectors/leave.json and leave_more.json."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

VECTORS = Path(__file__).resolve().parent / "vectors"
FIRST = json.loads((VECTORS / "leave.json").read_text(encoding="utf-8"))
MORE = json.loads((VECTORS / "leave_more.json").read_text(encoding="utf-8"))
GONE = "(gone)"


def changed(base: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    """Return a case with some of its facts replaced, each by its dotted path."""
    case = copy.deepcopy(dict(base))
    for path, value in change.items():
        *way, last = path.split(".")
        spot: Any = case
        for step in way:
            spot = spot[int(step)] if isinstance(spot, list) else spot[step]
        if value == GONE:
            del spot[last]
        else:
            spot[last] = value
    return case


# Name, input, what is expected.
ALL = [(case["name"], case["input"], case["expect"]) for case in FIRST["cases"]]
ALL += [(case["name"], changed(MORE["base"], case["change"]), case["expect"]) for case in MORE["cases"]]
BAD = [changed(MORE["base"], bad["change"]) for bad in MORE["bad"]]
