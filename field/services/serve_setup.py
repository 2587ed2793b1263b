"""Serves the setup page on plain http, from a thread of its own: few at a time, and nobody for long."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from socketserver import TCPServer, ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

AT_ONCE = 16
LONGEST_S = 10  # a phone that connects and then says nothing


class _Handler(WSGIRequestHandler):
    timeout = LONGEST_S

    def address_string(self) -> str:
        return str(self.client_address[0])  # looking up names could take long, and would ask others

    def log_message(self, *_: object) -> None:
        """Keep no list of who looked."""


class _Server(ThreadingMixIn, WSGIServer):
    daemon_threads = True
    request_queue_size = 2 * AT_ONCE
    block_on_close = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self._room = threading.BoundedSemaphore(AT_ONCE)
        super().__init__(*args, **kwargs)

    def server_bind(self) -> None:
        # The one above asks the network what this machine is called, which may take seconds and is used nowhere.
        TCPServer.server_bind(self)
        self.server_name, self.server_port = "setup", int(self.socket.getsockname()[1])
        self.setup_environ()

    def process_request(self, request: Any, client_address: Any) -> None:
        if self._room.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._room.release()

    def handle_error(self, *_: object) -> None:
        """A phone that went away in the middle is no trouble of ours."""


class _Server6(_Server):
    address_family = socket.AF_INET6


@contextmanager
def serving_setup(app: Callable[..., Any], host: str, port: int) -> Iterator[int]:
    """Serve a WSGI app for the block; yields the port.

    Args:
        app: answers small questions at once.
        host, port: where to listen; 0 for any free port.
    Raises: OSError when the port cannot be had.
    """
    kind = _Server6 if ":" in host else _Server
    server = make_server(host, port, app, server_class=kind, handler_class=_Handler)
    thread = threading.Thread(target=server.serve_forever, name="setup-page", daemon=True)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
