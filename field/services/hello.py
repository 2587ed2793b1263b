"""Says who is here, before anything else is asked: which app, which life of its store, and what time it has."""

from __future__ import annotations

import datetime as dt
from typing import Any

from field import __version__
from field.core.dates import instant_text
from field.services.take_in_changes import current_epoch
from field.sync.protocol import MIN_PROTO, PROTOS


def say_hello(now: dt.datetime) -> dict[str, Any]:
    """Return {"app", "epoch", "now", "proto", "min_proto", "version"}; a login page of some network has no such thing.

    Args:
        now: aware; the server's clock, by which a phone sees how far its own is off.
    """
    return {
        "app": "fellside",
        "epoch": current_epoch(),
        "now": instant_text(now),
        "proto": list(PROTOS),
        "min_proto": MIN_PROTO,
        "version": __version__,
    }
