"""What the verbs share: how a call ends, the data folder it means, the store opened on it, and what is printed."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any

from field.core.errors import BadInput

DONE = 0
SOME_REFUSED = 1
WRONG_CALL = 2
STOPPED = 130  # the shell's own convention: 128 + SIGINT

Args = argparse.Namespace
Lines = Callable[[Mapping[str, Any]], Iterable[str]]


def find_log(args: Args, *, must_exist: bool = True) -> Path:
    """Return the data folder of a call; refuse one that is not there, or that is somebody's other folder."""
    from field.services.restore import finish
    from field.store import db
    from field.web.app import find_data_dir, find_database

    data = find_data_dir(args.data)
    if "\0" in str(data):
        raise BadInput("No folder can have that name.", "--data names another.")
    finish(data.resolve())
    if must_exist and find_database() is None:
        if not data.is_dir():
            raise BadInput(f"There is no data folder {data}.", "'fellside init' makes one; --data names another.")
        if not db.holds_log(data):
            raise BadInput(f"The folder {data} holds other things and no log.", "--data names another.")
    return data


@contextmanager
def open_store(args: Args, *, must_exist: bool = True) -> Iterator[Path]:
    """Open the store of the data folder; a mistyped folder is said so, not made."""
    from field.store import db
    from field.web.app import create_app

    data = find_log(args, must_exist=must_exist)
    app = create_app(data)
    try:
        with app.app_context():
            yield data
    except Exception as fault:
        trouble = db.find_trouble(fault)
        if trouble is None:
            raise
        raise trouble from None
    finally:
        db.close(app)


def local_today() -> date:
    """Return the day it is here."""
    return datetime.now().astimezone().date()


def say(args: Args, document: Mapping[str, Any], lines: Lines) -> None:
    """Print a document: as JSON where the call asks for it, else as lines for a person."""
    if args.json:
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    else:
        for line in lines(document):
            print(line)


def one_line(text: str) -> str:
    """Return a sentence without what would break its line: a file's name may hold anything."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def reason(fault: OSError) -> str:
    """Return why the system refused, in its own words."""
    return (fault.strerror or "the disk refused").lower()
