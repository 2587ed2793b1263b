"""Serve the app on one port from one data folder: one server a folder, a clean stop, and no orphan.

A server may have several processes, and a database several servers, where that database is PostgreSQL.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from granian.constants import Interfaces, SSLProtocols
from granian.log import LogLevels
from granian.net import SocketHolder  # type: ignore[attr-defined]  # what it hands a socket to its workers in
from granian.server import Server

from field.core.errors import BadInput, StoreTrouble
from field.services.serve_socket import BACKLOG, listen
from field.store.engine import read_address as read_database
from field.store.lock import hold as hold_folder

__all__ = [
    "check_processes",
    "end_with_parent",
    "find_free_port",
    "hold_folder",
    "note_address",
    "read_address",
    "serve",
]

ADDRESS_FILE = "address.json"

BLOCKING_THREADS = 24  # SQLite has one writer; but a phone whose radio died holds one: see `web/at_once.py`
PARENT_CHECK_S = 0.5
STOP_WITHIN_S = 10  # a phone that hangs in the middle of an upload must not keep the server from stopping

MakeApp = Callable[[], Any]


def find_free_port(host: str, port: int) -> int:
    """Return the port to serve on, having held it for a moment.

    The server itself would share a port that is in use without a word, and two servers would answer in turn.

    Args:
        host: address or name of this machine to listen on.
        port: 0 for any that is free.
    Raises: BadInput when it is in use, not allowed, or the host is not of this machine.
    """
    try:
        family, kind, proto, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, proto) as held:
            if os.name == "posix":  # elsewhere this option means sharing
                held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            held.bind(address)
            return int(held.getsockname()[1])
    except (OSError, OverflowError, UnicodeError) as fault:  # UnicodeError: a name no host can have
        raise _no_port(fault, host, port) from None


def _no_port(fault: Exception, host: str, port: int) -> BadInput:
    return BadInput(_why_not(fault, host, port), "Choose another with --port or --host.", code="no-port")


def _why_not(fault: Exception, host: str, port: int) -> str:
    if isinstance(fault, socket.gaierror | UnicodeError):
        return f"There is no address {host!r} to serve on."
    number = fault.errno if isinstance(fault, OSError) else None
    if number == errno.EADDRINUSE:
        return f"Port {port} is in use already, perhaps by another Fellside."
    if number == errno.EADDRNOTAVAIL:
        return f"The address {host} is not one of this machine."
    if number in (errno.EACCES, errno.EPERM):
        return f"Port {port} is not allowed here without more rights."
    return f"Port {port} cannot be served on."


def end_with_parent(parent: int) -> None:
    """End this process when its parent is gone, within a second.

    A parent that is killed cannot stop its worker; the worker would go on serving, and hold port and folder. Ending at
    once is safe: whatever was not committed was not answered either.

    Args:
        parent: process id to watch.
    """

    def watch() -> None:
        tick = threading.Event()
        while os.getppid() == parent:
            tick.wait(PARENT_CHECK_S)
        os._exit(1)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def check_processes(processes: int, database_url: str | None, data: Path) -> None:
    """Refuse more than one process where the database is SQLite.

    Raises: BadInput (one-process).
    """
    if processes > 1 and read_database(database_url, data).get_backend_name() != "postgresql":
        raise BadInput(
            "Several processes need PostgreSQL: with SQLite one process serves a folder.",
            "Leave --processes out, or have FELLSIDE_DATABASE name a PostgreSQL database ('fellside move').",
            code="one-process",
        )


def _load_in_worker(make_app: MakeApp, parent: int) -> Any:
    if os.name == "posix":
        end_with_parent(parent)
    return make_app()


class _Server(Server):  # type: ignore[misc, valid-type]  # which class it is depends on the interpreter
    """The server; once its worker runs, it says so. A thread begun before would have been copied into the worker."""

    once_serving: Callable[[], None] | None = None

    def _init_shared_socket(self) -> None:
        """Listen by a socket of ours: granian's own is shared with any other server, and never notices who is gone."""
        if os.name != "posix":
            super()._init_shared_socket()
            return
        try:
            self._sso = listen(self.bind_addr, self.bind_port)
        except OSError as fault:  # another program took the port in this very moment
            raise _no_port(fault, self.bind_addr, self.bind_port) from None
        self._sfd = self._sso.fileno()
        self._ssp, self._shd = None, SocketHolder(self._sfd, False, BACKLOG)  # type: ignore[call-arg]  # its stub is old

    def startup(self, *args: Any) -> None:
        super().startup(*args)
        if self.once_serving is not None:
            self.once_serving()


def serve(
    make_app: MakeApp,
    host: str,
    port: int,
    on_start: Callable[[], None],
    *,
    certificate: Path | None = None,
    processes: int = 1,
    once_serving: Callable[[Callable[[], None]], None] | None = None,
) -> None:
    """Serve until a stop is asked for (Ctrl-C or SIGTERM); returns after a clean stop.

    The caller holds the data folder (`hold_folder`) for as long as this runs.

    Args:
        make_app: makes the WSGI app inside the worker process; must be picklable.
        host, port: where to listen; see `find_free_port`.
        on_start: called once the address is held, before the first request is answered.
        certificate: file with key and chain to serve https with; None: plain http.
        processes: how many answer on that port; see `check_processes`.
        once_serving: called when the worker was started, with what stops the server from any thread.
    Raises: StoreTrouble when the worker ended by itself.
    """
    server = _Server(
        "field",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=processes,
        blocking_threads=BLOCKING_THREADS,
        websockets=False,
        log_level=LogLevels.critical,
        workers_kill_timeout=STOP_WITHIN_S,
        ssl_cert=certificate,
        ssl_key=certificate,
        ssl_protocol_min=SSLProtocols.tls12,
    )
    if once_serving is not None:
        server.once_serving = partial(once_serving, server.signal_handler_interrupt)
    server.on_startup(on_start)
    try:
        server.serve(target_loader=partial(_load_in_worker, make_app, os.getpid()), wrap_loader=False)
    except SystemExit:
        raise StoreTrouble("The server ended by itself.", "Look above for why, and start it again.") from None


def note_address(data: Path, host: str, port: int, address: str | None = None) -> None:
    """Write beside the lock where the server of a data folder listens, for `read_address`.

    Args:
        address: what phones are to open; None: host and port say it all.
    """
    told = {"host": host, "port": port, "address": address}
    (data / ADDRESS_FILE).write_text(json.dumps(told), encoding="utf-8")


def read_address(data: Path) -> tuple[str, int, str | None] | None:
    """Return (host, port, address) of the server that runs on a data folder; None when none runs on it."""
    try:
        with hold_folder(data):
            return None  # nobody holds it: what is written there is of an earlier run
    except StoreTrouble as fault:
        if fault.code != "in-use":
            raise
    try:
        told = json.loads((data / ADDRESS_FILE).read_text(encoding="utf-8"))
        address = told.get("address")
        return str(told["host"]), int(told["port"]), None if address is None else str(address)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None  # a server of an earlier version holds it, and wrote nothing down
