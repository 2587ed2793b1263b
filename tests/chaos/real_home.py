"""A home as people run it: `app.py --plain` with its own server, killed at any instant of the clock."""

from __future__ import annotations

import os
import signal
import threading
from typing import Any

from home import Home
from home_server import RunningServer
from moments import Kill


class RealHome(Home):
    """As `Home`; nothing of it is forked but what looks at its folder."""

    server: RunningServer | None = None
    killer: threading.Timer | None = None

    def begin(self) -> None:
        self.stop()
        super().begin()
        self.server = RunningServer(self.root / "home" / "data")
        self.line.port = self.server.port

    def close(self) -> None:
        self.stop()
        super().close()

    def start(self) -> None:
        if self.lives or self.server is None:
            return
        self.server.start()
        self.lives = True
        self.compare(self._work("kept"))

    def stop(self) -> None:
        if self.killer is not None:
            self.killer.cancel()
            self.killer.join()
            self.killer = None
        if self.server is not None and self.server.process is not None:
            self.server.kill()
        self.lives, self.armed, self.line.died = False, None, False

    def kill_at(self, moment: Kill, cuts_power: bool) -> None:
        """Have it killed so many milliseconds from now; what a power cut leaves cannot be told of another's process."""
        self.start()
        assert self.server is not None
        assert self.server.process is not None
        self.armed = moment
        after_ms = moment[0] if isinstance(moment, list) else moment
        self.killer = threading.Timer((after_ms or 0) / 1000, os.killpg, (self.server.process.pid, signal.SIGKILL))
        self.killer.start()

    def died(self) -> None:
        assert self.armed is not None, "the home closed a line without an answer, and nothing was to kill it"
        assert self.killer is not None
        self.killer.join()
        self.stop()

    def _control(self, verb: str, **words: Any) -> Any:
        """What a forked home is asked from inside is done beside this one, as the command line does it."""
        return self._work(verb, **words)

    def restore(self, which: int, kill_at: Kill) -> bool:
        """As of any home; the server that is forked to look at what was put back is none of people's."""
        done = super().restore(which, kill_at)
        self._ask("stop")
        self.lives = False
        return done
