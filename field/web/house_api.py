"""The house as its page shows it: how what is kept is backed up."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app

from field.services import house

bp = Blueprint("house", __name__)


@bp.get("/api/house")
def tell_house() -> dict[str, Any]:
    """Say when the last good backup was made, where it is, and what is wrong with it if something is."""
    return house.tell_house(current_app.config["BACKUPS_DIR"], datetime.now(UTC))
