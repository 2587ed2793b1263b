"""The calendar of what is due: its private address, made and ended by the owner, and the file."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, Response, current_app, request

from field.services import calendar_feed
from field.web import auth
from field.web.body import read_json

bp = Blueprint("calendar", __name__)

FILE_NAME = "fellside-due.ics"
FRESH_S = 900  # calendar programs ask again by themselves


@bp.get("/api/calendar")
def tell() -> dict[str, Any]:
    """Say whether there is a private address, and what was chosen for it."""
    return calendar_feed.tell_link()


@bp.post("/api/calendar")
def make() -> dict[str, Any]:
    """Make the private address anew; it is told this once."""
    body = read_json()
    auth.needs_owner()
    secret = calendar_feed.make_link(body.get("alarm"), body.get("names"), datetime.now(UTC))
    home = current_app.config["HOME"]
    base = request.host_url if home is None else home["address"]
    return {**calendar_feed.tell_link(), "url": f"{base.rstrip('/')}/calendar/{secret}.ics"}


@bp.delete("/api/calendar")
def end() -> dict[str, Any]:
    """Let the private address be good no longer."""
    auth.needs_owner()
    calendar_feed.end_link()
    return calendar_feed.tell_link()


@bp.get("/api/calendar.ics")
def take_along() -> Response:
    """Give the calendar as a file."""
    again, names = (request.args.get(name) == "1" for name in ("again", "names"))
    data = calendar_feed.make_file(request.args.get("alarm", "none"), datetime.now(UTC), again=again, names=names)
    return _file(data, f'attachment; filename="{FILE_NAME}"')


@bp.get("/calendar/<secret>.ics")
def feed(secret: str) -> Response:
    """Give the calendar to whoever has the private address."""
    answer = _file(calendar_feed.read_by_link(secret, datetime.now(UTC)), f'inline; filename="{FILE_NAME}"')
    answer.headers["Cache-Control"] = f"private, max-age={FRESH_S}"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer


def _file(data: bytes, disposition: str) -> Response:
    answer = Response(data, content_type=calendar_feed.MEDIA_TYPE)
    answer.headers["Content-Disposition"] = disposition
    return answer
