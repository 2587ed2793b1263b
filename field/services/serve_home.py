"""Serve a home over https: its certificates kept in order, its name told to the network, the setup page beside it.

What is beside the server never stops it: a trouble there is one line. When the certificate has to be renewed while it
serves, the server ends its worker and starts anew on the same port, which takes about a second once a year.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import threading
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from field.core.dates import instant_text
from field.core.errors import FellsideError
from field.services import announce, home_ca, home_files
from field.services.home_name import HomeName, address_at
from field.services.phone_setup import PhoneSetup, describe_setup
from field.services.serve import MakeApp, serve
from field.services.serve_setup import serving_setup

LOOK_EVERY_S = 60.0
LOOPBACK = ipaddress.IPv4Address("127.0.0.1")
EVERYWHERE = ("0.0.0.0", "::", "")

Clock = Callable[[], dt.datetime]
ListAddresses = Callable[[], list[ipaddress.IPv4Address]]


def now_utc() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


@dataclass(frozen=True, slots=True)
class Home:
    """How a home is served."""

    data: Path
    host: str  # where to listen
    name: HomeName
    setup_port: int  # 0: any that is free
    is_announced: bool = True
    processes: int = 1


@dataclass(frozen=True, slots=True)
class Ways:
    """How the app is made and people are told; and what the machine says, which tests put themselves in place of."""

    make_app: Callable[[dict[str, str]], MakeApp]  # from what the app is told of the home; must be picklable
    make_setup_app: Callable[[PhoneSetup], Any]
    on_start: Callable[[PhoneSetup], None]  # called at the first start only
    say: Callable[[str], None]  # a line for whoever reads the terminal or the log
    clock: Clock = now_utc
    list_addresses: ListAddresses = announce.list_addresses
    look_every_s: float = LOOK_EVERY_S


def serve_home(home: Home, ways: Ways) -> None:
    """Serve until a stop is asked for; returns after a clean stop.

    The caller holds the data folder for as long as this runs.

    Raises: StoreTrouble when the certificates cannot be kept (see `home_files`), or the worker ended by itself.
    """
    is_first = True
    while True:
        ips = _addresses(home, ways)
        kept = home_files.keep_certificates(home.data, ways.clock(), home.name.name, home.name.hosts, [*ips, LOOPBACK])
        beside = _Beside(home, ways, ips, kept)
        if kept.why is not None and not kept.is_first:
            ways.say(f"{kept.why} A new one is good until {kept.until:%Y-%m-%d}.")
        told = {"address": home.name.address, "certificate_until": instant_text(kept.until)}
        try:
            serve(
                ways.make_app(told),
                home.host,
                home.name.port,
                lambda first=is_first, setup=beside.setup: ways.on_start(setup) if first else None,  # type: ignore[misc]
                certificate=kept.file,
                processes=home.processes,
                once_serving=beside.start,
            )
        finally:
            beside.stop()
        if not beside.is_due:
            return
        is_first = False


def _addresses(home: Home, ways: Ways) -> list[ipaddress.IPv4Address]:
    """Return the addresses that a phone may reach the server at."""
    if home.host in EVERYWHERE:
        return ways.list_addresses()
    try:
        one = ipaddress.IPv4Address(home.host)
    except ValueError:
        return ways.list_addresses()  # a name, or IPv6: the names of the certificate have to do
    return [] if one == LOOPBACK else [one]


class _Beside:
    """What runs in one thread beside a serving worker: setup page, announcement, and a look at what is due."""

    def __init__(self, home: Home, ways: Ways, ips: list[ipaddress.IPv4Address], kept: home_files.Kept) -> None:
        self._home, self._ways, self._ips, self._kept = home, ways, ips, kept
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None
        self.is_due = False

    @property
    def setup(self) -> PhoneSetup:
        """What the setup page says, with the addresses of this moment."""
        name = self._home.name
        within = next((ip for ip in self._ips if home_ca.is_within(ip)), None)
        reached = str(self._ips[0]) if self._ips else str(LOOPBACK)
        return describe_setup(
            self._kept.ca,
            name.address,
            None if within is None else address_at(str(within), name.port),
            f"http://{reached}:{self._home.setup_port}/",
            f"{self._kept.until:%Y-%m-%d}",
        )

    def start(self, stop_server: Callable[[], None]) -> None:
        self._thread = threading.Thread(target=self._run, args=(stop_server,), name="beside", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._ended.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self, stop_server: Callable[[], None]) -> None:
        while not self._ended.is_set():
            with ExitStack() as stack:
                self._open(stack)
                while not self._ended.wait(self._ways.look_every_s):
                    if self._look():
                        self.is_due = True
                        stop_server()
                        return
                    ips = _addresses(self._home, self._ways)
                    if set(ips) != set(self._ips):
                        self._ips = ips
                        break

    def _open(self, stack: ExitStack) -> None:
        home, say = self._home, self._ways.say
        try:
            app = self._ways.make_setup_app(self.setup)
            stack.enter_context(serving_setup(app, home.host, home.setup_port))
        except OSError:
            say(f"The setup page cannot be shown on port {home.setup_port}. --setup-port names another.")
        if home.is_announced:
            hosts = [host for host in home.name.hosts if host != "localhost"]
            trouble = stack.enter_context(announce.announcing(home.name.name, hosts, home.name.port, self._ips))
            if trouble:
                say(trouble)

    def _look(self) -> bool:
        """Whether the certificates want the server to start anew."""
        ips = [*_addresses(self._home, self._ways), LOOPBACK]
        try:
            return home_files.is_due(self._home.data, self._ways.clock(), self._home.name.hosts, ips) is not None
        except FellsideError as trouble:
            self._ways.say(trouble.message)  # what it serves with is in its memory: it goes on with that
            self._ended.wait(3600)
            return False
