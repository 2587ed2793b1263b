"""Checks what is kept: every photo's hash, every change's, and that the tables are what the journal makes."""

from __future__ import annotations

from typing import Any

from field.store import db, journal, photos, projection, queries


def check() -> dict[str, Any]:
    """Read everything that is kept and say what is not as it was taken in; changes nothing.

    Returns: {"ok", "photos": photos and files read, "photos_bad": [hashes that do not fit], "photos_missing": [hashes
        that records speak of, or that were here, and are gone], "changes": changes read, "changes_bad": [{"pos", "dev",
        "seq", "why"}], "tables_same": bool}. "ok" is whether nothing is bad and the tables are the same; a photo that
        is still on its way from a phone is told as missing and is no fault of what is kept here.
    """
    with db.snapshot() as session:
        read = photos.verify_all(session, db.data_dir())
        changes_bad = list(journal.find_bad_rows(session))
        # A row that cannot be read cannot be merged: then the tables cannot be said to be the same.
        same = not changes_bad and not projection.list_differences(
            projection.rows_standing(session), projection.rows_made(session)
        )
        return {
            "ok": not read.bad and not read.gone and not changes_bad and same,
            "photos": read.count,
            "photos_bad": read.bad,
            "photos_missing": sorted({*read.gone, *queries.list_missing_blobs(session)}),
            "changes": journal.end(session),
            "changes_bad": changes_bad,
            "tables_same": same,
        }
