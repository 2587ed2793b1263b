"""The verbs that look after what is kept: the folder made, brought up to date, checked, backed up and put back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, Conflict
from field.services import tell
from field.services.progress import show_progress, stop_between_files
from field.verbs.call import DONE, SOME_REFUSED, Args, find_log, open_store, say


def run_init(args: Args) -> int:
    """Make the data folder and its tables; a second time changes nothing."""
    with open_store(args, must_exist=False) as data:
        say(args, {"ok": True, "data": str(data)}, lambda document: [f"Ready: {document['data']}"])
    return DONE


def run_migrate(args: Args) -> int:
    """Bring the tables of a data folder up to this version."""
    with open_store(args) as data:
        say(args, {"ok": True, "data": str(data)}, lambda document: [f"Up to this version: {document['data']}"])
    return DONE


def run_check(args: Args) -> int:
    """Verify photos and journal; 1 when something is not as it should be."""
    from field.services import check

    with open_store(args):
        document = check.check()
    say(args, document, tell.tell_ok)
    return DONE if document["ok"] else SOME_REFUSED


def run_rebuild(args: Args) -> int:
    """Make the tables again; 1 when they were not the same before."""
    from field.services import rebuild

    with open_store(args):
        document = rebuild.rebuild()
    say(args, document, tell.tell_ok)
    return DONE if document["ok"] else SOME_REFUSED


def run_backup(args: Args) -> int:
    """Write everything that is kept into one file; 1 when something of it is damaged."""
    from field.services import backup

    words = ("written, or read again", "No backup was made.")
    with open_store(args), stop_between_files() as check, show_progress(*words, check) as told:
        document = backup.back_up(Path(args.file), datetime.now(UTC), told)
    say(args, document, tell.tell_backup)
    return DONE if document["ok"] else SOME_REFUSED


def run_take_copy(args: Args) -> int:
    """Take in the copies that phones kept; 1 when something of them could not be used."""
    from field.services import take_copy

    left = "What came in stays; the same call again goes on."
    copies: list[dict[str, Any]] = []
    refused: list[dict[str, Any]] = []
    with open_store(args), stop_between_files() as check, show_progress("verified, or taken in", left, check) as told:
        for name in args.files:
            path = Path(name).expanduser()
            try:
                taken = take_copy.take_copy(path, datetime.now(UTC), anyway=args.anyway, told=told)
                copies.append({"file": name, **taken})
            except (BadInput, Conflict) as refusal:
                if len(args.files) == 1:
                    raise
                refused.append({"file": name, **refusal.as_json()})
    document = {"ok": not refused and all(one["ok"] for one in copies), "copies": copies, "refused": refused}
    say(args, document, tell.tell_copies)
    return DONE if document["ok"] else SOME_REFUSED


def run_restore(args: Args) -> int:
    """Put a backup back; 1 when something of it was damaged and left out."""
    from field.services import restore
    from field.web.app import find_database, find_photos

    data = find_log(args, must_exist=False)
    # A stop waits for what is being done: between the last file and the end it would come too late to be one.
    with stop_between_files() as check, show_progress("read and put back", "Nothing was changed.", check) as told:
        document = restore.restore(
            Path(args.file).expanduser(), data, find_database(), datetime.now(UTC), told, find_photos()
        )
    say(args, document, tell.tell_restore)
    return DONE if document["ok"] else SOME_REFUSED
