"""The weather of a place: its seasons, and a station's file looked at, kept and taken back."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from flask import Blueprint, request

from field.core.errors import BadInput
from field.services import weather_file
from field.services.weather_season import tell_season, today_at
from field.web.body import MIB, read_bounded, read_json

bp = Blueprint("weather", __name__)

MOST_FILE = 32 * MIB  # two years of readings every five minutes, with all that a station tells beside them
MOST_ANSWERS = 10_000  # characters
YEAR = re.compile(r"[0-9]{4}", re.ASCII)
TYPED = ("keep", "file")


@bp.get("/api/weather/<uuid:place>")
def season(place: UUID) -> dict[str, Any]:
    """Tell the seasons of a garden or site side by side."""
    return tell_season(str(place), datetime.now(UTC))


@bp.post("/api/weather/<uuid:place>/look")
def look(place: UUID) -> dict[str, Any]:
    """Read a station's file and say what keeping it would do; nothing is written."""
    today = today_at(weather_file.need_place(str(place)), datetime.now(UTC))
    asked = _asked()
    return weather_file.look(str(place), _file(), today, **asked)


@bp.post("/api/weather/<uuid:place>/keep")
def keep(place: UUID) -> dict[str, Any]:
    """Read a station's file and keep its days."""
    now = datetime.now(UTC)
    today = today_at(weather_file.need_place(str(place)), now)
    asked = _asked()
    return weather_file.keep(str(place), _file(), now, today, **asked)


@bp.post("/api/weather/take-back")
def take_back() -> dict[str, Any]:
    """Take one reading of a file back."""
    batch = read_json().get("batch")
    if not isinstance(batch, str):
        raise BadInput("A file to take back is told by the name of its reading.", None, "batch", code="bad-request")
    return weather_file.take_back(batch)


def _file() -> bytes:
    request.max_content_length = MOST_FILE + 1  # `read_bounded` is the one to refuse
    return read_bounded(MOST_FILE)


def _asked() -> dict[str, Any]:
    """Return what the address says beside the file: the answers, the first year, and whether typed days stand."""
    since, typed, text = (
        request.args.get(name, usual) for name, usual in (("since", ""), ("typed", "keep"), ("answers", ""))
    )
    if since and YEAR.fullmatch(since) is None:
        raise BadInput("The first year is not written as a year.", "Write four digits, as 2024.", "since")
    if typed not in TYPED:
        raise BadInput("What is to stand where the file differs is not told.", f"Say {' or '.join(TYPED)}.", "typed")
    return {"answers": _answers(text), "since": int(since) if since else None, "keep_typed": typed == "keep"}


def _answers(text: str) -> dict[str, Any]:
    if not text:
        return {}
    try:
        got = json.loads(text) if len(text) <= MOST_ANSWERS else None
    except (ValueError, RecursionError):
        got = None
    if not isinstance(got, dict):
        raise BadInput("What was said of the file's columns cannot be read.", "Answer the questions again.", "answers")
    return got
