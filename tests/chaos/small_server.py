"""A small HTTP server for one WSGI app: one request at a time, so that a schedule runs the same each time."""

from __future__ import annotations

import io
import socket
import sys
from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import unquote

MOST_HEAD = 65536


def serve(app: Callable[..., Iterable[bytes]], listening: socket.socket, moment: Callable[[], None]) -> None:
    """Answer requests for ever.

    Args:
        moment: called wherever a kill is to be tried.
    """
    while True:
        line, _ = listening.accept()
        with line:
            try:
                _answer(app, line, moment)
            except ConnectionError:
                continue


class _Body(io.RawIOBase):
    """The body as it comes off the line; shorter than was said where the line broke."""

    def __init__(self, line: socket.socket, begun: bytes, size: int, moment: Callable[[], None]) -> None:
        self._line, self._begun, self._left, self._moment = line, begun[:size], size, moment

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        self._moment()
        most = min(len(buffer), self._left)
        piece = self._begun[:most] if self._begun else self._line.recv(most) if most else b""
        self._begun = self._begun[len(piece) :]
        self._left -= len(piece)
        buffer[: len(piece)] = piece
        return len(piece)


def _answer(app: Callable[..., Iterable[bytes]], line: socket.socket, moment: Callable[[], None]) -> None:
    data = b""
    while b"\r\n\r\n" not in data:
        piece = line.recv(65536)
        if not piece or len(data) > MOST_HEAD:
            return
        data += piece
    head, begun = data.split(b"\r\n\r\n", 1)
    first, *lines = head.decode("latin-1").split("\r\n")
    method, target, _ = first.split(" ")
    path, _, query = target.partition("?")
    environ: dict[str, Any] = {
        "REQUEST_METHOD": method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote(path, "latin-1"),
        "QUERY_STRING": query,
        "SERVER_NAME": "127.0.0.1",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http",
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": False,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    for header in lines:
        name, _, value = header.partition(":")
        key = name.strip().upper().replace("-", "_")
        environ[key if key in ("CONTENT_TYPE", "CONTENT_LENGTH") else f"HTTP_{key}"] = value.strip()
    size = int(environ.get("CONTENT_LENGTH") or 0)
    environ["wsgi.input"] = io.BufferedReader(_Body(line, begun, size, moment), 16384)
    _run(app, environ, line, moment)


def _run(
    app: Callable[..., Iterable[bytes]], environ: dict[str, Any], line: socket.socket, moment: Callable[[], None]
) -> None:
    begun: list[Any] = []

    def start(status: str, headers: list[tuple[str, str]], _fault: Any = None) -> None:
        begun[:] = [status, headers]

    pieces = app(environ, start)
    try:
        body = b"".join(pieces)
    finally:
        close = getattr(pieces, "close", None)
        if close is not None:
            close()
    status, headers = begun
    names = {name.lower() for name, _ in headers}
    if "content-length" not in names and not status.startswith("204"):
        headers.append(("Content-Length", str(len(body))))
    told = "".join(f"{name}: {value}\r\n" for name, value in [*headers, ("Connection", "close")])
    answer = f"HTTP/1.1 {status}\r\n{told}\r\n".encode("latin-1") + body
    moment()
    line.sendall(answer[: len(answer) // 2])
    moment()
    line.sendall(answer[len(answer) // 2 :])
    moment()
