"""Changes in and out: who is here, the one exchange, what could not be applied, and the pack for the hill."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, Response, current_app, g, request

from field.core.errors import BadInput
from field.services import build_pack, hello, take_in_changes
from field.web.body import read_json

bp = Blueprint("sync", __name__)

PLACE = re.compile(r"[0-9]{1,15}", re.ASCII)
# Named by its content: it never changes. Private, for records are in it.
FOR_EVER = "private, max-age=31536000, immutable"


@bp.get("/api/hello")
def say_hello() -> dict[str, Any]:
    """Say which app, which epoch and what time is here."""
    return hello.say_hello(datetime.now(UTC), current_app.config["HOME"])


@bp.post("/api/sync")
def sync() -> dict[str, Any]:
    """Take in what the phone brings; give it what it lacks."""
    return {**take_in_changes.take_in(read_json(any_sign=True), g.device, datetime.now(UTC), g.role), "role": g.role}


@bp.get("/api/held")
def held() -> dict[str, Any]:
    """List the changes that could not be applied, with the reason of each; `after` asks on where there are more."""
    return take_in_changes.list_held(_read_after(request.args.get("after", "0")))


def _read_after(text: str) -> int:
    if not PLACE.fullmatch(text):
        raise BadInput("The place to ask on after is a whole number.", None, "after", code="bad-request")
    return int(text)


@bp.get("/api/pack/<name>")
def pack(name: str) -> Response:
    """Send the pack of one hash."""
    answer = Response(build_pack.read_pack(name), content_type="application/json")
    answer.headers["Cache-Control"] = FOR_EVER
    return answer
