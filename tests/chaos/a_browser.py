"""A browser for schedules that run outside of pytest."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from find_chromium import find_chromium, quiet_args
from playwright.sync_api import Browser, sync_playwright


@contextmanager
def launched() -> Iterator[Browser]:
    """Give a quiet browser."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=find_chromium(), args=quiet_args())
        yield browser
        browser.close()
