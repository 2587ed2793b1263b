"""How often a secret may be tried: ten wrong ones in ten minutes, whoever tries, then a rest."""

from __future__ import annotations

import datetime as dt

from field.core.errors import TooManyTries
from field.store import db, devices

MOST = 10
WITHIN = dt.timedelta(minutes=10)

KINDS = {
    "code": ("Too many wrong codes were tried.", "then make a new code"),
    "passphrase": ("Too many wrong passphrases were tried.", "then try again"),
}


def begin_try(session: db.Session, kind: str, now: dt.datetime) -> int:
    """Note a try as wrong before it is looked at, so that any number at once are no more than ten.

    Args:
        kind: code or passphrase.
    Returns: the number by which `devices.drop_try` takes it back when it was right.
    Raises: TooManyTries, also for one that would be right; its `retry_after_s` says when to come back.
    """
    # A clock that was set back leaves tries in days to come: those must not shut everybody out until then.
    span = (now - WITHIN, now + WITHIN)
    devices.forget_tries(session, *span, kind)
    tries = devices.list_tries(session, *span, kind)
    if len(tries) >= MOST:
        wait_s = max(1, round((tries[MOST - 1] + WITHIN - now).total_seconds()))
        minutes = -(-wait_s // 60)
        message, cure = KINDS[kind]
        wait = "a minute" if minutes == 1 else f"{minutes} minutes"
        raise TooManyTries(message, f"Wait {wait}, {cure}.", retry_after_s=wait_s)
    return devices.note_try(session, now, kind)
