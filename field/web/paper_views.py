"""Papers: letters and reports made from the log, as a PDF or as a page that prints."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from flask import Blueprint, Response, current_app, request

from field.core.errors import BadInput
from field.services import make_paper, make_round_sheet
from field.web.body import read_json

bp = Blueprint("papers", __name__)

STYLE = "css/letter.css"
MOST_WORDS = 64 * 1024  # bytes of what a person adds in their own words


@bp.route("/api/paper/<kind>/<uuid:leave>.<form>", methods=["GET", "POST"])
def paper(kind: str, leave: UUID, form: str) -> Response:
    """Make one paper of a leave; what is sent along are the person's own words, and is not kept."""
    asked: dict[str, Any] = request.args.to_dict()
    asked["words"] = read_json(MOST_WORDS).get("words") if request.method == "POST" else None
    question = make_paper.read_question(kind, str(leave), form, asked)
    return _file(make_paper.make_paper(question, _today(), _style()))


@bp.get("/api/rounds.<form>")
def rounds(form: str) -> Response:
    """Make the round sheet for the bench."""
    question = make_round_sheet.read_sheet_question(form, request.args)
    return _file(make_round_sheet.make_round_sheet(question, _today(), _style()))


def _file(made: make_paper.Paper) -> Response:
    answer = Response(made.data, content_type=made.media_type)
    answer.headers["Content-Disposition"] = f'attachment; filename="{made.file_name}"'
    answer.headers["Cache-Control"] = "no-store"
    if made.trouble:
        answer.headers["Paper-Trouble"] = json.dumps(made.trouble)  # headers take plain letters only
    return answer


def _today() -> date:
    """Return the day at the asking phone, which may be another than the server's."""
    told = request.args.get("on")
    try:
        return date.fromisoformat(told) if told else datetime.now(UTC).date()
    except ValueError:
        raise BadInput(
            "The day on the paper is no date.", "Give year, month and day, as in 2027-02-14.", "on"
        ) from None


def _style() -> str:
    return (Path(str(current_app.static_folder)) / STYLE).read_text(encoding="utf-8")
