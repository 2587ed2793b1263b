"""How many may be sending to this server or fetching large files at once, so that who asks always finds it free.

What is sent holds one of the server's threads until it is wholly here, and a large file until it is wholly fetched: for
two minutes when the phone died meanwhile. Those who are not paired, the phones that send, those that fetch, and what is
only heard out after a refusal have a share each; the rest answers.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

from field.core.errors import Busy, TooManyTries
from field.store import db

# Of the 24 threads of a server (`serve.BLOCKING_THREADS`); what is left answers.
MOST_PHONES = 9
MOST_OF_ONE = 4  # a phone sends two photos at a time and what was written; one more may be of before its line broke
MOST_FETCHING = 6
MOST_FETCHING_OF_ONE = 3
MOST_STRANGERS = 2
MOST_HEARD_OUT = 2
STRANGER_WAITS_S = 60
PHONE_WAITS_S = 15


class _Share:
    """So many threads for all phones, and so many of them for one."""

    def __init__(self, most: int, most_of_one: int) -> None:
        self._most, self._most_of_one = most, most_of_one
        self._guard = threading.Lock()
        self._held: Counter[str] = Counter()

    def take(self, device: str) -> None:
        with self._guard:
            if self._held[device] >= self._most_of_one or self._held.total() >= self._most:
                raise Busy(
                    "Home is as busy as it can be at this moment.",
                    "It is tried again; nothing is lost.",
                    retry_after_s=PHONE_WAITS_S,
                )
            self._held[device] += 1

    def give_back(self, device: str) -> None:
        with self._guard:
            self._held[device] -= 1
            if not self._held[device]:
                del self._held[device]


_sending = _Share(MOST_PHONES, MOST_OF_ONE)
_fetching = _Share(MOST_FETCHING, MOST_FETCHING_OF_ONE)
_strangers = threading.BoundedSemaphore(MOST_STRANGERS)
_heard_out = threading.BoundedSemaphore(MOST_HEARD_OUT)


@contextmanager
def sending(device: str | None) -> Iterator[None]:
    """Have one of the threads for what somebody sends, during the block.

    Args:
        device: the phone that sends; None for somebody who is not paired.
    Raises: Busy, or TooManyTries for those who are not paired, when others hold all of their share.
    """
    if device is None:
        if not _strangers.acquire(blocking=False):
            raise TooManyTries(
                "Others are being let in at this moment.", "Try again in a minute.", retry_after_s=STRANGER_WAITS_S
            )
        try:
            yield
        finally:
            _strangers.release()
        return
    _sending.take(device)
    try:
        db.db.session.rollback()  # no reading transaction, and no connection, is held for as long as a phone sends
        yield
    finally:
        _sending.give_back(device)


def fetching(device: str) -> Callable[[], None]:
    """Have one of the threads for large files that are fetched; returns what gives it back.

    Raises: Busy when others hold all of the share, or this phone as much as one may.
    """
    _fetching.take(device)
    db.db.session.rollback()
    return partial(_fetching.give_back, device)


@contextmanager
def hearing_out() -> Iterator[bool]:
    """Say whether there is a thread left to read on what was refused, during the block."""
    if not _heard_out.acquire(blocking=False):
        yield False
        return
    try:
        yield True
    finally:
        _heard_out.release()
