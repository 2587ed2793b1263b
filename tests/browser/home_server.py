"""A real server process for a test: its own port and data folder, stopped, killed and started again at will.

Usage:  with RunningServer(tmp_path / "data") as server: ... server.url ... server.kill() ... server.start()
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import delete

from field.services import pair
from field.store import db, epoch
from field.store.tables import METADATA

ROOT = Path(__file__).resolve().parent.parent.parent
HOST = "127.0.0.1"
LONGEST_S = 60


def wait_for(fact: Callable[[], object], what: str, longest_s: float = LONGEST_S) -> Any:
    """Return the first true answer of `fact`; fail with `what` when none came in time."""
    pause = threading.Event()
    until = time.monotonic() + longest_s
    while time.monotonic() < until:
        got = fact()
        if got:
            return got
        pause.wait(0.05)
    raise AssertionError(f"waited {longest_s} s in vain: {what}")


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as held:
        held.bind((HOST, 0))
        return int(held.getsockname()[1])


def port_is_open(port: int) -> bool:
    """Tell whether anybody takes a connection on a port of this machine."""
    with socket.socket() as asking:
        asking.settimeout(1)
        return asking.connect_ex((HOST, port)) == 0


class RunningServer:
    """A server in a process group of its own; what it prints goes to `log`.

    Args:
        data: its data folder; made by the server.
        verb: ("--plain",) serves the folder on http, ("demo",) serves the invented scenario from it.
        checkout: folder with app.py; another than ours for tests that change the app's files.
    """

    def __init__(self, data: Path, verb: tuple[str, ...] = ("--plain",), checkout: Path = ROOT) -> None:
        self.data = data
        self.verb = verb
        self.checkout = checkout
        self.port = free_port()
        self.url = f"http://{HOST}:{self.port}"
        self.log = data.with_name(data.name + ".log")
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> RunningServer:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self.process is not None:
            self.kill()

    def call(self, *words: str) -> list[str]:
        """Return the command line of a verb on this data folder."""
        return [sys.executable, str(self.checkout / "app.py"), *words, "--data", str(self.data)]

    def start(self) -> None:
        """Start on the same port and data, and return once it answers."""
        assert self.process is None, "it runs already"
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*self.call(*self.verb), "--port", str(self.port)],
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                env=self.environment(),
                cwd=self.data.parent,
            )
        wait_for(self._answers, f"no answer from the server; it said:\n{self.said()}")

    def environment(self) -> dict[str, str]:
        return {name: value for name, value in os.environ.items() if not name.startswith("FELLSIDE_")}

    def said(self) -> str:
        return self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else ""

    def _answers(self) -> bool:
        assert self.process is not None
        assert self.process.poll() is None, f"the server ended; it said:\n{self.said()}"
        try:
            return bool(self.hello()["epoch"])
        except OSError:
            return False

    def hello(self) -> dict[str, Any]:
        with urllib.request.urlopen(f"{self.url}/api/hello", timeout=10) as answer:
            return json.load(answer)

    def stop(self) -> int:
        """Ask it to stop, as a service manager does; return its exit status once the port is free."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        status = self.process.wait(LONGEST_S)
        self.process = None
        self._wait_until_silent()
        return status

    def kill(self) -> None:
        """Kill the whole group at once, as a power cut would; return once the port is free."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(LONGEST_S)
        self.process = None
        self._wait_until_silent()

    def kill_parent_only(self) -> None:
        """Kill the process that was started, and not the worker it started; return at once."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(LONGEST_S)
        self.process = None

    def _wait_until_silent(self) -> None:
        wait_for(lambda: not port_is_open(self.port), "the port is still served")

    def empty(self) -> None:
        """Have it know nothing and nobody, as a home newly set up: another life of its store. Started if need be."""
        if self.process is None:
            self.start()
        self.__dict__.pop("seed_token", None)  # hill_kit.seed's
        with db.alone(None, self.data):
            with db.writing() as session:
                for table in METADATA.sorted_tables:
                    session.execute(delete(table))
                standing = epoch.renew(session)
            epoch.write_file(self.data, standing)
        for folder in db.FOLDERS:
            for kept in (self.data / folder).rglob("*"):
                if kept.is_file():
                    kept.unlink()

    def pair_code(self) -> str:
        """Return a fresh code to pair a phone, made beside the running server, as the verb `pair-code` makes it."""
        with db.alone(None, self.data):
            return pair.make_code()["code"]

    def post(self, path: str, body: dict[str, Any], token: str | None = None) -> dict[str, Any]:
        """Return the answer to a JSON question; HTTP errors are raised."""
        headers = {"Content-Type": "application/json"}
        if token is not None:
            headers["Authorization"] = f"Bearer {token}"
        question = urllib.request.Request(self.url + path, json.dumps(body).encode(), headers, method="POST")
        with urllib.request.urlopen(question, timeout=30) as answer:
            return json.load(answer)
