"""How often a secret may be tried: ten wrong ones in ten minutes for each who tries, then a rest.

A paired phone has a count of its own, so that no stranger keeps the owner out; phones that are copies of one another
share one, or whoever holds a token could make himself ever new ones. Strangers share one for each address they ask
from, and together no more than fifty: a stranger with a thousand addresses guesses no faster for that, and keeps only
other strangers waiting.
"""

from __future__ import annotations

import datetime as dt
import ipaddress

from field.core.errors import TooManyTries
from field.store import db, devices

MOST = 10
MOST_OF_STRANGERS = 50  # of all addresses together; common practice, no source
WITHIN = dt.timedelta(minutes=10)
PHONE, STRANGER = "phone ", "from "
NOBODY = f"{STRANGER}nowhere."

KINDS = {
    "code": ("Too many wrong codes were tried.", "then make a new code"),
    "passphrase": ("Too many wrong passphrases were tried.", "then try again"),
}


def stranger_at(address: str | None) -> str:
    """Return the name that those count under who ask from an address and show no token.

    Args:
        address: of IP, as the server sees it. Of IPv6 the first half counts: the rest a machine chooses as it likes.
    """
    try:
        ip = ipaddress.ip_address(address or "")
    except ValueError:
        return NOBODY
    if isinstance(ip, ipaddress.IPv6Address):
        ip = ip.ipv4_mapped or ipaddress.ip_network((ip, 64), strict=False).network_address
    return f"{STRANGER}{ip}."  # the stop keeps 10.0.0.1 from counting for 10.0.0.12


def phone(session: db.Session, device: str) -> str:
    """Return the name that a paired phone counts under, together with its copies."""
    return f"{PHONE}{devices.line_of(session, device)[-1]}"


def begin_try(session: db.Session, kind: str, now: dt.datetime, caller: str) -> int:
    """Note a try as wrong before it is looked at, so that any number at once are no more than ten.

    Args:
        kind: code or passphrase.
        caller: who tries, as `stranger_at` or `phone` says it.
    Returns: the number by which `devices.drop_try` takes it back when it was right.
    Raises: TooManyTries, also for one that would be right; its `retry_after_s` says when to come back.
    """
    # A clock that was set back leaves tries in days to come: those must not shut everybody out until then.
    span = (now - WITHIN, now + WITHIN)
    devices.forget_tries(session, *span, kind)
    limits = {caller: MOST} if caller.startswith(PHONE) else {caller: MOST, STRANGER: MOST_OF_STRANGERS}
    wait_s = 0
    for callers, most in limits.items():
        tries = devices.list_tries(session, *span, kind, callers)
        if len(tries) >= most:
            wait_s = max(wait_s, 1, round((tries[most - 1] + WITHIN - now).total_seconds()))
    if wait_s:
        minutes = -(-wait_s // 60)
        message, cure = KINDS[kind]
        wait = "a minute" if minutes == 1 else f"{minutes} minutes"
        raise TooManyTries(message, f"Wait {wait}, {cure}.", retry_after_s=wait_s)
    return devices.note_try(session, now, kind, caller)
