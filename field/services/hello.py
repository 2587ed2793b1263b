"""Says who is here, before anything else is asked: which app, which life of its store, and what time it has."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from field import __version__
from field.core.dates import instant_text
from field.services.take_in_changes import current_epoch
from field.sync.protocol import MIN_PROTO, PROTOS


def say_hello(now: dt.datetime, home: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return {"app", "epoch", "now", "proto", "min_proto", "version", "home"}; no login page of a network has these.

    Args:
        now: aware; the server's clock, by which a phone sees how far its own is off.
        home: {"address", "certificate_until"}: under which address a phone is to keep its log, and how long it is sure
            of getting an answer there; None where the server does not know.
    """
    return {
        "app": "fellside",
        "epoch": current_epoch(),
        "now": instant_text(now),
        "proto": list(PROTOS),
        "min_proto": MIN_PROTO,
        "version": __version__,
        "home": None if home is None else dict(home),
    }
