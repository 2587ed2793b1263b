"""The verbs that look after what is kept: the folder made, brought up to date, checked, its tables made again."""

from __future__ import annotations

from field.services import tell
from field.verbs.call import DONE, SOME_REFUSED, Args, open_store, say


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
