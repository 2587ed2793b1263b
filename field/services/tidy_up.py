"""Lets go by itself of what was left half done: beginnings of files, and small pictures whose photos never came."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager

from field.services import open_parts, small_ahead

LOOK_EVERY_S = 3600.0  # a laptop sleeps through any set hour


def start(app_context: Callable[[], AbstractContextManager[object]]) -> None:
    """Tidy up now and every hour, in a thread beside the serving."""
    tick = threading.Event()

    def run() -> None:
        while True:
            try:
                with app_context():
                    now = dt.datetime.now(dt.UTC)
                    open_parts.drop_left(now)
                    small_ahead.drop_left(now)
            except Exception:  # a folder that is not there at this moment; what is left is left for an hour longer
                logging.getLogger("fellside").exception("what was left half done could not be removed")
            tick.wait(LOOK_EVERY_S)

    threading.Thread(target=run, name="tidy-up", daemon=True).start()
