"""Makes the tables again from the journal, and says whether they are the same as before."""

from __future__ import annotations

from typing import Any

from field.store import db, journal, projection

MOST_TOLD = 100  # differences listed one by one


def rebuild() -> dict[str, Any]:
    """Empty the record tables, make them again from the journal, and compare them row by row.

    Returns: {"ok": whether they are the same as before, "changes": changes in the journal, "records": rows made,
        "differences": [{"type", "id", "fields"}]}, the first MOST_TOLD of them. The newly made tables stay.
    """
    with db.writing() as session:
        before = list(projection.rows_standing(session))
        projection.remake(session)
        after = list(projection.rows_standing(session))
        differences = projection.list_differences(before, after)
        return {
            "ok": not differences,
            "changes": journal.end(session),
            "records": len(after),
            "differences": differences[:MOST_TOLD],
        }
