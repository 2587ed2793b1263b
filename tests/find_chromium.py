"""Find a Chromium or Chrome for the browser tests, or install one where that is allowed.

Run as a program it prints the path, installing first if it must; the tests only look. They never skip for want of a
browser: without one they fail with the sentence below.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome")
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
)
WHAT_TO_DO = (
    "No Chromium or Chrome was found. Install one (Debian and Ubuntu: 'apt-get install chromium'; elsewhere: "
    "'python -m playwright install chromium', or Chrome itself), or set FELLSIDE_CHROMIUM to its path."
)


class NoBrowser(Exception):
    """No browser is on this machine and none could be installed."""


# What a test browser leaves out. It lets a worker that installs ask for three files at a time, 50 ms apart: 2.5 s for
# every new phone. For each new window it makes ready, in a process of its own, what the address bar may show. And it
# has questions of its own for its maker.
LESS = "--disable-features=" + ",".join(
    (
        "ThrottleInstallingServiceWorker",
        "WebUIOmniboxPopup",
        "WebUIOmniboxFullPopup",
        "WebUIOmniboxAimPopup",
        "OptimizationHints",
        "OptimizationGuideModelDownloading",
        "AutofillServerCommunication",
        "MediaRouter",
        "Translate",
    )
)


def quiet_args() -> list[str]:
    """Return the switches for a quiet test browser: no calls of its own to the outside, no sandbox only as root."""
    args = [
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-quic",
        "--no-first-run",
        "--disable-gpu",
        LESS,
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        args.append("--no-sandbox")
    return args


def _answers(path: str | Path) -> bool:
    """Tell whether a program at this path starts and says that it is a Chromium."""
    try:
        said = subprocess.run([str(path), "--version"], capture_output=True, text=True, timeout=60, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return said.returncode == 0 and "chrom" in said.stdout.lower()


def _from_playwright() -> str | None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        path = p.chromium.executable_path
    return path if path and Path(path).exists() else None


def find_chromium() -> str:
    """Return the path of a browser that is already here.

    Order: FELLSIDE_CHROMIUM, the usual command names, the usual places, Playwright's own download.
    Raises: NoBrowser when there is none, or when FELLSIDE_CHROMIUM names something else.
    """
    named = os.environ.get("FELLSIDE_CHROMIUM")
    if named:
        if _answers(named):
            return named
        raise NoBrowser(f"FELLSIDE_CHROMIUM is {named!r}, but no Chromium starts there.")
    for path in [*filter(None, map(shutil.which, NAMES)), *PLACES]:
        if Path(path).exists() and (sys.platform == "win32" or _answers(path)):
            return path
    own = _from_playwright()
    if own:
        return own
    raise NoBrowser(WHAT_TO_DO)


def install_chromium() -> None:
    """Install a browser: Debian's package where we are root on Debian, else Playwright's own download."""
    root_on_debian = hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None
    if root_on_debian:
        for line in (["apt-get", "update", "-q"], ["apt-get", "install", "-y", "-q", "chromium"]):
            subprocess.run(line, stdout=sys.stderr, check=False)
    else:
        subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"], stdout=sys.stderr, check=False)


def main() -> int:
    try:
        path = find_chromium()
    except NoBrowser:
        install_chromium()
        try:
            path = find_chromium()
        except NoBrowser as none:
            print(none, file=sys.stderr)
            return 1
    print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
