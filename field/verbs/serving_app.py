"""The app as a server runs it, with what it does by itself beside answering: a backup a day, and tidying up."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from field.verbs.call import Args


def choose_backups(args: Args, data: Path) -> str:
    """Return the folder for a backup a day, as the call or the setting says it; "" for none.

    Raises: BadInput for one that would be lost with the data folder.
    """
    from field.services.backup_daily import check_folder
    from field.web.app import find_backups, find_photos

    folder = find_backups(args.backups)
    if folder is None:
        return ""
    for kept in (data, find_photos()):
        if kept is not None:
            check_folder(folder, kept)
    return str(folder)


def make_serving_app(data: Path, database: str | None, home: Mapping[str, str] | None, backups: str) -> Any:
    """Return the Flask app for a server's worker process, and begin what it does by itself.

    Args:
        data, database, home: see `create_app`.
        backups: as `choose_backups` returns it.
    """
    from field.services import backup_daily, forget, tidy_up
    from field.store import db
    from field.web.app import create_app

    app = create_app(data, database, home, backups)
    with app.app_context():
        # Held until the process ends, and let go by the database then.
        app.extensions["fellside-serving"] = mark = db.serving()
        mark.__enter__()
        forget.finish()  # what a server that was killed did not come to
    tidy_up.start(app.app_context)
    if backups:
        backup_daily.start(app.app_context, Path(backups))
    return app
