"""The times of a GPX track: reading one, and finding those that a receiver's clock got wrong."""

from __future__ import annotations

import math
import re
from datetime import datetime

from field.core.match_track import rise
from field.readers.track import EPOCH, Track
from field.readers.trouble import trouble

FIRST_TIME = datetime(1990, 1, 1, tzinfo=EPOCH.tzinfo).timestamp()  # a receiver that knows no date says 1980 or 1970
ROLLOVER_S = 1024 * 7 * 86400.0  # the week number of the old signal has 10 bits
ROLLOVER_SLACK_S = 3 * 86400.0

WHOLE_SECONDS = {f"{second:02d}Z": float(second) for second in range(60)}

_LEAP = re.compile(r"(.{10}T\d\d:\d\d):60(\.\d+)?(.*)", re.ASCII)
_MIDNIGHT = re.compile(r"(.{10}T)24:00:00(\.0+)?(.*)", re.ASCII)


def read_time(text: str) -> tuple[float, str | None] | None:
    """Return an xsd:dateTime as seconds since 1970, with the code of a remark where it was read in an odd way.

    Without a zone it is UTC, as GPX says. Hour 24 is the next day's midnight, second 60 the next minute. A blank for
    the T, and small letters, are read as RFC 3339 (5.6) has them.
    Returns: None if it is no time.
    """
    remark = None
    try:
        if text[10] in " t" or text[-1] == "z":
            text = f"{text[:10]}T{text[11:].upper()}"
        if text[4] != "-" or text[7] != "-" or text[10] != "T" or text[13] != ":" or not text.isascii():
            return None
        added = 0.0
        if text[17:19] == "60":
            text, added, remark = _LEAP.sub(r"\1:59\2\3", text), 1.0, "time-leap-second"
        elif text[11:13] == "24":
            text, added = _MIDNIGHT.sub(r"\g<1>00:00:00\3", text), 86400.0
        at = datetime.fromisoformat(text)
        if not 1800 <= at.year < 3000:
            return None
        if at.tzinfo is None:
            at, remark = at.replace(tzinfo=EPOCH.tzinfo), "time-no-zone"
        return (at - EPOCH).total_seconds() + added, remark
    except (ValueError, IndexError):
        return None


def judge_times(track: Track) -> None:
    """Find times that cannot be right, keep them from being matched by, and tell of steps back."""
    times = track.times
    track.times_rise = rise(times)
    if track.times_rise and times[0] >= FIRST_TIME and times[-1] - times[0] < ROLLOVER_S - ROLLOVER_SLACK_S:
        return  # as nearly every track: nothing below can be found then
    unsure: set[int] = set()
    early = [i for i, t in enumerate(times) if t < FIRST_TIME]
    if early:
        unsure.update(early)
        track.troubles.append(trouble("clock-not-set", count=len(early), line=track.lines[early[0]]))
    latest = max((t for t in times if t == t), default=math.nan)
    rolled = [i for i, t in enumerate(times) if t >= FIRST_TIME and _rolled(latest - t)]
    if rolled:
        unsure.update(rolled)
        track.troubles.append(trouble("week-rollover", count=len(rolled), line=track.lines[rolled[0]]))
    track.unsure_times = frozenset(unsure)
    back = [i for segment in track.segments() for i in segment[1:] if times[i] < times[i - 1] and i not in unsure]
    if back:
        track.troubles.append(trouble("time-backwards", count=len(back), line=track.lines[back[0]]))


def _rolled(early_s: float) -> bool:
    """Return whether a time lies a whole number of 1024 weeks before the file's last, to some days."""
    if early_s < ROLLOVER_S - ROLLOVER_SLACK_S:
        return False
    turns = round(early_s / ROLLOVER_S)
    return turns >= 1 and abs(early_s - turns * ROLLOVER_S) <= ROLLOVER_SLACK_S
