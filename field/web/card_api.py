"""Species cards as their pages show them, and changes of them judged before they are saved."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, request

from field.core.errors import BadInput
from field.services import judge_card, tell_card
from field.web.body import read_json

bp = Blueprint("card", __name__)

YEAR = re.compile(r"[0-9]{4}", re.ASCII)
MOST_YEARS = 2  # before and after this one; beyond them nothing is planned by a card
MOST_LETTERS = 500  # of a name; the rule that judges it knows the true limits


@bp.get("/api/cards")
def kinds() -> dict[str, Any]:
    """List every kind that there is a card for, or one that stands in."""
    return tell_card.tell_kinds()


@bp.get("/api/cards/<kind>")
def card(kind: str) -> dict[str, Any]:
    """Tell one card at the place of a site, or of the climate it is written for."""
    return tell_card.tell_card(kind, request.args.get("site") or None, _year())


@bp.post("/api/cards/<kind>/judge")
def judge(kind: str) -> dict[str, Any]:
    """Say what a change of one part of a card would make of it; nothing is written."""
    return judge_card.judge_edit(kind, read_json().get("card"), request.args.get("site") or None, _year())


@bp.post("/api/cards/<kind>/copy")
def copy(kind: str) -> dict[str, Any]:
    """Say what would make a new kind out of a card; nothing is written."""
    asked = read_json()
    names = [_text(asked, name) for name in ("kind", "name", "latin")]
    return judge_card.judge_copy(kind, *names)


def _text(asked: dict[str, Any], name: str) -> str:
    value = asked.get(name)
    if not isinstance(value, str) or len(value) > MOST_LETTERS:
        raise BadInput("A new kind is told by three names, as text.", None, name, code="bad-request")
    return value


def _year() -> int:
    """Return the year that the address asks for; without a word, this one."""
    this, asked = datetime.now(UTC).astimezone().year, request.args.get("year")
    if not asked:
        return this
    if YEAR.fullmatch(asked) is None or abs(int(asked) - this) > MOST_YEARS:
        raise BadInput(
            "That is no year of this card.", f"Write one from {this - MOST_YEARS} to {this + MOST_YEARS}.", "year"
        )
    return int(asked)
