"""A browser for schedules that run outside of pytest."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

from find_chromium import LESS, find_chromium
from playwright.sync_api import Browser, sync_playwright

ARGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
    "--disable-gpu",
    LESS,
)


@contextmanager
def launched() -> Iterator[Browser]:
    """Give a quiet browser; with no sandbox only as root."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=find_chromium(), args=[*ARGS, *(["--no-sandbox"] if is_root else [])]
        )
        yield browser
        browser.close()
