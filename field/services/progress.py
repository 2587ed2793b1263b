"""Tells how far a long work on many files is, and lets a person stop it between two of them."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LINE_EVERY = 500  # files, where progress is no bar because nobody is at a terminal


class Stopped(Exception):
    """A person stopped a long work; the sentence says what is left of it."""


@contextmanager
def show_progress(
    done: str, left: str, check: Callable[[], None] = lambda: None, what: str = "files"
) -> Iterator[Callable[[int, int], None]]:
    """Give what tells on standard error how far a work on many files is: a bar on a terminal, else a line now and then.

    Args:
        done: what is done with each file, in a word.
        left: a sentence on what is left when a person stops it.
        check: called before each file; raises KeyboardInterrupt to stop there.
        what: what is counted.
    """
    width = 30
    on_terminal = sys.stderr.isatty()
    so_far = ""

    def tell_on(count: int, of: int) -> None:
        nonlocal so_far
        so_far = f"{count} of {of} {what} {done}"
        if on_terminal and of:
            bar = "#" * (width * count // of)
            print(f"\r[{bar:<{width}}] {so_far}", end="", file=sys.stderr, flush=True)
        elif count and count % LINE_EVERY == 0:
            print(so_far, file=sys.stderr, flush=True)
        check()

    try:
        yield tell_on
    except KeyboardInterrupt:
        raise Stopped(f"stopped with {so_far or 'no file ' + done}. {left}") from None
    finally:
        if on_terminal:
            print("\r" + " " * (width + 40) + "\r", end="", file=sys.stderr, flush=True)


@contextmanager
def stop_between_files() -> Iterator[Callable[[], None]]:
    """Let Ctrl-C wait for what is being written, and give what stops before the next file when it was pressed.

    Without it the stop could come just after the records were written, and the sentence would be false.
    """
    pressed = False

    def note(*_: object) -> None:
        nonlocal pressed
        pressed = True

    def check() -> None:
        if pressed:
            raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, note)
    try:
        yield check
    finally:
        signal.signal(signal.SIGINT, before)
