"""Checks what is kept: photos, changes and signed letters by their hashes; and that the journal makes the tables."""

from __future__ import annotations

from typing import Any

from field.core.signing import CONTENT, find_signed, is_intact
from field.store import db, journal, photos, projection, queries


def check() -> dict[str, Any]:
    """Read everything that is kept and say what is not as it was taken in; changes nothing.

    Returns: {"ok", "photos": photos and files read, "photos_bad": [hashes that do not fit], "photos_missing": [hashes
        that records speak of, or that were here, and are gone], "changes": changes read, "changes_bad": [{"pos", "dev",
        "seq", "why"}], "tables_same": bool, "signings": signed letters read, "signings_bad": [{"signing", "leave",
        "version", "name", "why"}]}. "ok" is whether nothing is bad and the tables are the same; a photo that is still
        on its way from a phone is told as missing and is no fault of what is kept here.
    """
    with db.snapshot() as session:
        read = photos.verify_all(session, db.photos_dir())
        changes_bad = list(journal.find_bad_rows(session))
        # A row that cannot be read cannot be merged: then the tables cannot be said to be the same.
        same = not changes_bad and not projection.list_differences(
            projection.rows_standing(session), projection.rows_made(session)
        )
        # Where a row is damaged there may be no history to hold a letter against.
        signings = {} if changes_bad else queries.signing_histories(session)
        signings_bad = [bad for rec, (fields, written) in signings.items() if (bad := _altered(rec, fields, written))]
        return {
            "ok": not read.bad and not read.gone and not changes_bad and same and not signings_bad,
            "photos": read.count,
            "photos_bad": read.bad,
            "photos_missing": sorted({*read.gone, *queries.list_missing_blobs(session)}),
            "changes": journal.end(session),
            "changes_bad": changes_bad,
            "tables_same": same,
            "signings": len(signings),
            "signings_bad": signings_bad,
        }


def _altered(rec: str, fields: dict[str, Any], written: list[dict[str, Any]]) -> dict[str, Any] | None:
    """Return what is to be told of a signed letter that does not stand as it was signed; None of one that does."""
    if is_intact(fields, written):
        return None
    signed = find_signed(written)
    if signed is None:
        why = "Nothing that was written of it fits its own seal: it may not be what was signed."
    else:
        names = [name.replace("_", " ") for name in CONTENT if fields.get(name) != signed.get(name)]
        what = ", ".join(names) or "its seal"
        why = f"It was altered after it was signed ({what}). What was signed is still in the journal."
    told = signed or fields
    return {"signing": rec, **{name: told.get(name) for name in ("leave", "version", "name")}, "why": why}
