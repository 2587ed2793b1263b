"""A Chromium that can be killed as an empty battery would, and opened again on the same profile."""

from __future__ import annotations

import os
import signal
import subprocess
from pathlib import Path

from home_server import wait_for
from playwright.sync_api import Page, Playwright


class KillableBrowser:
    """A Chromium in a process group of its own, on a profile that outlives it."""

    def __init__(self, driver: Playwright, path: str, args: list[str], profile: Path) -> None:
        self.driver = driver
        self.call = [
            path,
            *args,
            "--headless=new",
            "--remote-debugging-port=0",
            f"--user-data-dir={profile}",
            "about:blank",
        ]
        self.port_file = profile / "DevToolsActivePort"
        self.process: subprocess.Popen[bytes] | None = None

    def open(self, url: str) -> Page:
        """Start it and open a page."""
        self.port_file.unlink(missing_ok=True)
        self.process = subprocess.Popen(
            self.call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        said = wait_for(self._port, "the browser does not say where it listens")
        browser = self.driver.chromium.connect_over_cdp(f"http://127.0.0.1:{said}")
        page = browser.contexts[0].new_page()
        page.goto(url)
        return page

    def _port(self) -> str | None:
        text = self.port_file.read_text() if self.port_file.exists() else ""
        return text.splitlines()[0] if text.count("\n") >= 1 else None

    def kill(self) -> None:
        """Kill every process of it at once, as an empty battery would."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(30)
        self.process = None
