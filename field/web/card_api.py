"""Species cards as their pages show them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, request

from field.services import tell_card

bp = Blueprint("card", __name__)


@bp.get("/api/cards")
def kinds() -> dict[str, Any]:
    """List every kind that there is a card for, or one that stands in."""
    return tell_card.tell_kinds()


@bp.get("/api/cards/<kind>")
def card(kind: str) -> dict[str, Any]:
    """Tell one card at the place of a site, or of the climate it is written for."""
    today = datetime.now(UTC).astimezone().date()
    return tell_card.tell_card(kind, request.args.get("site") or None, today)
