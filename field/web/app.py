"""Make the Flask app: settings, store, routes, and the headers that every answer carries."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from flask import Flask, Response, request

from field.store import db
from field.web import (
    assets,
    auth,
    calendar_api,
    card_api,
    copy_api,
    errors,
    forget_api,
    house_api,
    intake_api,
    pages,
    paper_views,
    sync_api,
    upload_api,
    weather_api,
    who_api,
)
from field.web.body import MIB, pack_answer, whole_if_small

USUAL_DATA = "fellside-data"

CONTENT_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' blob: data:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
# No Strict-Transport-Security: with a home's own certificate it would take every way back when that one breaks.
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Permissions-Policy": "camera=(self), geolocation=(self), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "none",
}


def find_data_dir(data_dir: str | os.PathLike[str] | None = None) -> Path:
    """Return the folder that everything is kept in: the one given, else FELLSIDE_DATA, else ./fellside-data."""
    return Path(data_dir or os.environ.get("FELLSIDE_DATA") or USUAL_DATA).expanduser().absolute()


def find_database(database_url: str | None = None) -> str | None:
    """Return the address of the database, None for SQLite in the data folder.

    Args:
        database_url: an SQLAlchemy address; "" for SQLite whatever the settings say; None for FELLSIDE_DATABASE.
    """
    return (os.environ.get("FELLSIDE_DATABASE") if database_url is None else database_url) or None


def find_photos(database_url: str | None = None) -> Path | None:
    """Return the folder of photos that all servers of a database share, None for the data folder.

    Args:
        database_url: see `find_database`; with "" for SQLite whatever the settings say there is none.
    """
    return find_named_photos() if database_url != "" else None


def find_named_photos() -> Path | None:
    """Return what FELLSIDE_PHOTOS names, None for nothing."""
    named = os.environ.get("FELLSIDE_PHOTOS")
    return Path(named).expanduser().absolute() if named else None


def find_backups(backups_dir: str | os.PathLike[str] | None = None) -> Path | None:
    """Return the folder that backups go to by themselves, None for none.

    Args:
        backups_dir: a folder; "" for none whatever the settings say; None for FELLSIDE_BACKUPS.
    """
    named = os.environ.get("FELLSIDE_BACKUPS") if backups_dir is None else backups_dir
    return Path(named).expanduser().absolute() if named else None


def create_app(
    data_dir: str | os.PathLike[str] | None = None,
    database_url: str | None = None,
    home: Mapping[str, str] | None = None,
    backups_dir: str | os.PathLike[str] | None = None,
) -> Flask:
    """Return the app on a data folder, its tables brought up to this version.

    Args:
        data_dir: see `find_data_dir`; made if it is not there.
        database_url: see `find_database`.
        home: {"address", "certificate_until"}: the one address phones are to open, and the instant its certificate
            ends; None where that is not known here, as behind a proxy.
        backups_dir: see `find_backups`; the app only tells of them, whoever serves it makes them.
    Raises: StoreTrouble when the folder or the database cannot be used.
    """
    app = Flask(
        "field",
        static_folder=str(assets.find_folder("static")),
        template_folder=str(assets.find_folder("templates")),
    )
    app.config["MAX_CONTENT_LENGTH"] = MIB + 1  # `read_bounded` refuses the one more; see `upload_api.piece`
    app.config["HOME"] = home
    app.config["BACKUPS_DIR"] = find_backups(backups_dir)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    db.init_app(app, find_database(database_url), find_data_dir(data_dir), find_photos(database_url))
    errors.init_app(app)
    auth.init_app(app)
    views = (
        pages, assets, who_api, sync_api, house_api, upload_api, copy_api, intake_api, paper_views, forget_api,
        calendar_api, card_api, weather_api,
    )  # fmt: skip
    for module in views:
        app.register_blueprint(module.bp)
    app.after_request(_finish)
    return app


def _finish(answer: Response) -> Response:
    for name, value in HEADERS.items():
        answer.headers.setdefault(name, value)
    whole_if_small(answer)
    if request.path.startswith("/api/"):
        answer.headers.setdefault("Cache-Control", "no-store")
        return pack_answer(answer)
    return answer
