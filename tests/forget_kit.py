"""What tests of forgetting share: a forgetting as this home seals it, and what is said to a phone."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from builders import WALL_MS

from field.services.take_in_changes import take_in
from field.store import db, forgotten

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)


def sealed(op: dict[str, Any]) -> dict[str, Any]:
    """Return a forgetting as the open store would have written it for the owner."""
    return {**op, "seal": forgotten.read_seals(db.db.session()).make(op)}


def sync(device: str, *ops: Any, role: str = "full", cursor: int = 0, epoch: str | None = None) -> dict[str, Any]:
    """Exchange as a phone would; return the answer as it goes over the line."""
    request = {"proto": 1, "device": device, "epoch": epoch, "cursor": cursor, "ops": list(ops)}
    answer: dict[str, Any] = json.loads(json.dumps(take_in(request, device, NOW, role)))
    return answer


def states(answer: dict[str, Any]) -> list[str]:
    """Return what became of each change that was brought."""
    return [result["s"] for result in answer["results"]]
