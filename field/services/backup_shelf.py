"""Which backups of the day lie in a folder, and until when they hold what is in the log today."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

from field.core.rotation import find_last_day

DATED = re.compile(r"fellside-(\d{4}-\d{2}-\d{2})\.zip", re.ASCII)


def list_dated(folder: Path) -> dict[dt.date, Path]:
    """Return the backups of the day in a folder by their dates."""
    there: dict[dt.date, Path] = {}
    for path in folder.iterdir():
        named = DATED.fullmatch(path.name)
        if named is not None:
            try:
                there[dt.date.fromisoformat(named[1])] = path
            except ValueError:
                continue  # no such day: not one of ours
    return there


def tell_shelf(folder: Path | None, now: dt.datetime) -> dict[str, Any]:
    """Return until when backups hold what goes from the log now.

    Args:
        folder: where backups go by themselves; None: nowhere.
        now: aware.
    Returns: {"by_itself": whether the server makes them, "there": how many, None when the folder cannot be looked into,
        "gone_on": the day on which the last of those is let go if one is made each day, None when not known}.
    """
    if folder is None:
        return {"by_itself": False, "there": 0, "gone_on": None}
    try:
        dates = list(list_dated(folder))
    except FileNotFoundError:  # none was made yet; or its disk is not plugged in
        return {"by_itself": True, "there": 0 if folder.parent.is_dir() else None, "gone_on": None}
    except OSError:
        return {"by_itself": True, "there": None, "gone_on": None}
    last = find_last_day(dates, now.astimezone().date())
    return {"by_itself": True, "there": len(dates), "gone_on": None if last is None else last.isoformat()}
