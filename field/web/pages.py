"""The shell, what a phone needs to install it, and the worker: open to anyone, for no record is in them."""

from __future__ import annotations

import json
from pathlib import Path

from flask import Blueprint, Response, current_app

from field.web.assets import answer_text, list_assets, shell_text, worker_text

bp = Blueprint("pages", __name__)

# The light theme's paper: static/css/tokens.css says the same, and a test holds them together.
PAPER = "#f4eedf"

MANIFEST = {
    "name": "Fellside",
    "short_name": "Fellside",
    "description": "The field log of lifted trees.",
    "id": "/",
    "start_url": "/",
    "scope": "/",
    "display": "standalone",
    "lang": "en-GB",
    "background_color": PAPER,
    "theme_color": PAPER,
    "icons": [
        {"src": "/static/img/icon-192.png", "sizes": "192x192", "type": "image/png", "purpose": "any"},
        {"src": "/static/img/icon-512.png", "sizes": "512x512", "type": "image/png", "purpose": "any"},
        {"src": "/static/img/icon-maskable-512.png", "sizes": "512x512", "type": "image/png", "purpose": "maskable"},
    ],
}


def _manifest_text() -> str:
    return json.dumps(MANIFEST, indent=1)


@bp.get("/")
def shell() -> Response:
    """Send the one page; the screens open inside it."""
    return answer_text(shell_text(), "text/html; charset=utf-8")


@bp.get("/manifest.webmanifest")
def manifest() -> Response:
    """Send what the phone needs to know to install the app (W3C appmanifest)."""
    return answer_text(_manifest_text(), "application/manifest+json")


@bp.get("/sw.js")
def worker() -> Response:
    """Send the worker; its bytes change whenever any file of the app does, which is how a phone learns of it."""
    return answer_text(worker_text(*_shell_parts()), "text/javascript; charset=utf-8")


def current_version() -> str:
    """Return the version of the app that a phone gets here now."""
    return list_assets(*_shell_parts())[1]


def _shell_parts() -> tuple[Path, dict[str, str]]:
    return Path(str(current_app.static_folder)), {"/": shell_text(), "/manifest.webmanifest": _manifest_text()}


@bp.get("/robots.txt")
def robots() -> Response:
    """Ask search engines to stay away: where good trees stand is worth stealing."""
    return answer_text("User-agent: *\nDisallow: /\n", "text/plain; charset=utf-8")
