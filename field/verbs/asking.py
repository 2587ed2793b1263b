"""The verbs that answer something: where photos were taken, whether one may dig, where a place is, what is due."""

from __future__ import annotations

import shutil
import sys
from datetime import datetime
from functools import partial
from pathlib import Path

from field.core.errors import BadInput
from field.services import tell
from field.services.case_shape import SEE_EXAMPLE
from field.services.progress import show_progress, stop_between_files
from field.verbs.call import DONE, Args, find_log, local_today, open_store, reason, say


def run_place(args: Args) -> int:
    """Read files, place the photos; keep them only when asked to."""
    from field.services import place_photos

    if args.save:
        find_log(args)  # before thousands of photos are read, not after
    with show_progress("read", "Nothing was written.") as told:
        document, status = place_photos.read_paths(args.paths, args.clock_offset, args.zone, told)
    if args.save:
        copied = "No record was written; the copies made so far stay, and the same call goes on from them."
        with open_store(args), stop_between_files() as check, show_progress("kept", copied, check) as told:
            status = max(status, place_photos.save_document(document, told))
    say(args, place_photos.plain_document(document) if args.json else document, tell.tell_place)
    return status


def run_may_i(args: Args) -> int:
    """Answer the case, or each case, of one file."""
    from field.services import answer_may_i

    name = "standard input" if args.case == "-" else args.case
    try:
        with sys.stdin.buffer if args.case == "-" else Path(args.case).open("rb") as stream:
            asked = answer_may_i.read_case_file(stream, name)
    except FileNotFoundError:
        cure = f"may-i wants a file that holds the case as JSON; {SEE_EXAMPLE}"
        raise BadInput(f"There is no file '{name}'.", cure) from None
    except (OSError, ValueError) as fault:  # ValueError: a name that no file can have
        why = reason(fault) if isinstance(fault, OSError) else "no file can have that name"
        cure = f"may-i wants a file that holds the case as JSON; {SEE_EXAMPLE}"
        raise BadInput(f"{name!r} cannot be read: {why}.", cure) from None
    try:
        document, status = answer_may_i.answer(asked)
    except BadInput as refused:
        at = "" if refused.where in (None, "document") else f'In {name} look at "{refused.where}"; '
        raise BadInput(refused.message, " ".join(filter(None, (refused.cure, at + SEE_EXAMPLE)))) from None
    say(args, document, tell.tell_may_i)
    return status


def run_where(args: Args) -> int:
    """Say where a place is, in every notation, and when the sun rises and sets there."""
    from field.services import where

    now = datetime.now().astimezone()
    say(args, where.where(" ".join(args.place), args.on, args.height, now), tell.tell_where)
    return DONE


def run_due(args: Args) -> int:
    """List the tasks due on a day and some days after it."""
    from field.services import list_due
    from field.services.tell_due import tell_due

    today = local_today()
    on = args.on or today
    with open_store(args):
        document = list_due.list_due(on, args.days)
        names = list_due.name_all()
    # In a file or a pipe one task stays one line, for whoever looks for one in it.
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    say(args, document, partial(tell_due, names=names, on=on, is_today=on == today, width=width, with_why=args.why))
    return DONE
