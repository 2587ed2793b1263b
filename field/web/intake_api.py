"""Intake at the desk: files that were sent up before are read, looked over, and kept with their trees."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, request

from field.services import take_in_files
from field.web.body import MIB, read_json

bp = Blueprint("intake", __name__)

MOST_BODY = 4 * MIB  # the most files of one call, each with its tree, site and place


@bp.post("/api/intake/read")
def read() -> dict[str, Any]:
    """Say where each photo was taken, which trees are near, and what is here already; nothing is kept by this."""
    return take_in_files.read(_body())


@bp.post("/api/intake/save")
def save() -> dict[str, Any]:
    """Keep photos and tracks as a person has placed them."""
    return take_in_files.save(_body())


@bp.post("/api/intake/undo")
def undo() -> dict[str, Any]:
    """Take one intake back as one act."""
    return take_in_files.undo(_body())


def _body() -> dict[str, Any]:
    # The app's own limit is that of a sync; one byte more than the bound, so that `read_bounded` is the one to refuse.
    request.max_content_length = MOST_BODY + 1
    return read_json(MOST_BODY)
