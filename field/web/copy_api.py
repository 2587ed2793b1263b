"""A phone's copy comes home as a file; and which photos a phone may let go, because they are kept twice here."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint

from field.core.errors import BadInput
from field.services import keep_blob, take_copy
from field.web.body import read_json

bp = Blueprint("copy", __name__)

ASKED_LIMIT = 64 * 1024  # bytes; that many names of files in one question


@bp.post("/api/copy/<sha256>")
def take(sha256: str) -> dict[str, Any]:
    """Take in a copy that was sent up before, as any file."""
    anyway = read_json(ASKED_LIMIT).get("anyway", False)
    if not isinstance(anyway, bool):
        raise BadInput("It is not said clearly whether to take it in anyway.", None, "anyway", code="bad-request")
    return take_copy.take_sent(sha256, datetime.now(UTC), anyway=anyway)


@bp.post("/api/kept-twice")
def kept_twice() -> dict[str, Any]:
    """Tell which of some photos are here and in a good backup too."""
    asked = read_json(ASKED_LIMIT).get("sha256")
    if not isinstance(asked, list) or not all(isinstance(one, str) for one in asked):
        raise BadInput("It is not said which photos are meant.", None, "sha256", code="bad-request")
    return {"kept_twice": keep_blob.list_kept_twice(asked)}
