"""Forgetting a person: what would go, and doing it. For the owner alone."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from flask import Blueprint, current_app

from field.services import forget
from field.web import auth
from field.web.body import read_json

bp = Blueprint("forget", __name__)


@bp.get("/api/forget/<uuid:landholder>")
def what_would_go(landholder: UUID) -> dict[str, Any]:
    """Say what names a landholder in the log."""
    auth.needs_owner()
    return forget.plan(str(landholder), datetime.now(UTC), current_app.config["BACKUPS_DIR"])


@bp.post("/api/forget/<uuid:landholder>")
def do_forget(landholder: UUID) -> dict[str, Any]:
    """Blank it, for good."""
    body = read_json()
    auth.needs_owner()
    now, backups = datetime.now(UTC), current_app.config["BACKUPS_DIR"]
    return forget.forget(str(landholder), body.get("keep"), body.get("also"), now, backups)
