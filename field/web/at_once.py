"""How many may be sending to this server at once, so that whoever asks something always finds it free.

What is sent holds one of the server's threads until it is wholly here: for two minutes when the phone died meanwhile.
Those who are not paired, the phones, and what is only heard out after a refusal have a share each; the rest answers.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from field.core.errors import Busy, TooManyTries

# Of the 16 threads of a server (`serve.BLOCKING_THREADS`); what is left answers.
MOST_PHONES = 9
MOST_OF_ONE = 4  # a phone sends two photos at a time and what was written; one more may be of before its line broke
MOST_STRANGERS = 2
MOST_HEARD_OUT = 2
STRANGER_WAITS_S = 60
PHONE_WAITS_S = 15

_guard = threading.Lock()
_phones: Counter[str] = Counter()
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
    with _guard:
        if _phones[device] >= MOST_OF_ONE or _phones.total() >= MOST_PHONES:
            raise Busy(
                "Home is taking in as much as it can at this moment.",
                "It is tried again; nothing is lost.",
                retry_after_s=PHONE_WAITS_S,
            )
        _phones[device] += 1
    try:
        yield
    finally:
        with _guard:
            _phones[device] -= 1
            if not _phones[device]:
                del _phones[device]


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
