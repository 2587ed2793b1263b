"""The verb that moves the log from SQLite into PostgreSQL, or back."""

from __future__ import annotations

from datetime import UTC, datetime

from field.core.errors import BadInput
from field.services import tell
from field.services.progress import show_progress, stop_between_files
from field.verbs.call import DONE, SOME_REFUSED, Args, find_log, say

TO_FILE = "sqlite"


def run_move(args: Args) -> int:
    """Move the log into another store, or open one again that was moved; 1 when a photo of the log is not there."""
    from field.services.move import find_place, move, undo
    from field.web.app import find_database, find_named_photos

    data = find_log(args)
    source = find_place(find_database(), data, find_named_photos())
    if args.undo:
        if args.to is not None:
            raise BadInput("--undo stands alone: it opens the store that the settings name.", "Leave the place out.")
        say(args, undo(data, source), tell.tell_undone)
        return DONE
    if args.to is None:
        raise BadInput("It is not said where to move the log.", "Name a PostgreSQL address, or sqlite.")
    target = find_place(None if args.to == TO_FILE else args.to, data, find_named_photos())
    left = "The log is where it was; the same call again begins anew."
    with stop_between_files() as check, show_progress("carried over", left, check, "entries") as told:
        document = move(data, source, target, datetime.now(UTC), told)
    say(args, document, tell.tell_moved)
    return DONE if document["ok"] else SOME_REFUSED
