"""One request over a line that fails as lines do: lost, cut at any byte on the way there or back, delivered twice."""

from __future__ import annotations

import json
import socket
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from schedule import Chance

WAIT_S = 60
PORTAL = b"<!doctype html><html><title>Sign in to this network</title></html>"
# What can befall a request, and how often of all that goes wrong.
FAULTS = {
    "lost": 3,
    "cut request": 5,
    "lost answer": 6,
    "cut answer": 5,
    "twice": 4,
    "once more, late": 2,
    "sign-in page": 1,
    "other's JSON": 1,
}


class NoAnswer(Exception):
    """Nothing came back that is a whole answer."""


class Died(NoAnswer):
    """The other end closed the line before it had answered: it is dead, or it should be."""


@dataclass(frozen=True)
class Answer:
    """One whole answer."""

    status: int
    headers: Mapping[str, str]  # names in lower case
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def is_json(self) -> bool:
        return self.headers.get("content-type", "").startswith("application/json")


Hear = Callable[[str, str, bytes, Answer], None]


class Line:
    """From phones to the home at one port.

    Args:
        port: of the home.
        hear: told of every whole answer that the home gave, whether or not it arrived: what it said, holds.
    """

    def __init__(self, port: int, hear: Hear) -> None:
        self.port = port
        self.hear = hear
        self.late: tuple[str, str, bytes, bytes] | None = None
        self.died = False  # the home broke a line: it is to be looked after

    def ask(self, method: str, path: str, headers: Mapping[str, str], body: bytes, chance: Chance | None) -> Answer:
        """Send one request and return its answer.

        Args:
            chance: decides what goes wrong and where; None: nothing does.
        Raises: NoAnswer.
        """
        told = {**headers, "Host": f"127.0.0.1:{self.port}", "Content-Length": str(len(body)), "Connection": "close"}
        head = "".join(f"{name}: {value}\r\n" for name, value in told.items())
        request = f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + body
        fault = None if chance is None else _fault(chance)
        if fault == "lost":
            raise NoAnswer(fault)
        if fault == "sign-in page":
            return Answer(200, {"content-type": "text/html"}, PORTAL)
        if fault == "other's JSON":
            return Answer(200, {"content-type": "application/json"}, b'{"ok":true}')
        if fault == "cut request":
            assert chance is not None
            # Half of the cuts fall into the body: a head is long, and most of it says nothing.
            start = len(request) - len(body) if body and chance.random() < 0.5 else 0
            self._send(request[: chance.randrange(start, len(request))])
            raise NoAnswer(fault)
        answer = self._whole(method, path, body, request)
        if fault == "twice":
            answer = self._whole(method, path, body, request)
        if self.late is not None:
            late, self.late = self.late, None
            self._whole(*late)
        if fault == "once more, late":
            self.late = (method, path, body, request)
        if fault == "lost answer":
            raise NoAnswer(fault)
        if fault == "cut answer" and answer.body:
            assert chance is not None
            raise CutAnswer(answer, chance.randrange(len(answer.body)))
        return answer

    def _send(self, data: bytes) -> None:
        """Send a part of a request, and hang up; return when the home has seen the end of it."""
        try:
            with socket.create_connection(("127.0.0.1", self.port), WAIT_S) as line:
                line.sendall(data)
                line.shutdown(socket.SHUT_WR)
                while line.recv(65536):
                    pass
        except OSError:
            return

    def plainly(self, method: str, path: str, body: bytes) -> Answer | None:
        """Ask without any fault; None when the home died over it."""
        head = f"{method} {path} HTTP/1.1\r\nContent-Length: {len(body)}\r\nContent-Type: application/json\r\n\r\n"
        try:
            return self._whole(method, path, body, head.encode() + body)
        except Died:
            return None

    def _whole(self, method: str, path: str, body: bytes, request: bytes) -> Answer:
        data = b""
        try:
            with socket.create_connection(("127.0.0.1", self.port), WAIT_S) as line:
                line.sendall(request)
                while piece := line.recv(65536):
                    data += piece
        except TimeoutError:
            raise
        except OSError:
            data = b""
        answer = read_answer(data, method)
        if answer is None:
            self.died = True
            raise Died(path)
        self.hear(method, path, body, answer)
        return answer


def _fault(chance: Chance) -> str:
    if chance.favours and chance.random() < 0.7:
        return chance.favours
    return chance.choices(list(FAULTS), list(FAULTS.values()))[0]


class CutAnswer(NoAnswer):
    """The first bytes of an answer came, and no more."""

    def __init__(self, answer: Answer, size: int) -> None:
        super().__init__(f"cut answer at {size}")
        self.answer, self.size = answer, size


def read_answer(data: bytes, method: str) -> Answer | None:
    """Return the answer that some bytes are; None when they are no whole one."""
    if b"\r\n\r\n" not in data:
        return None
    head, body = data.split(b"\r\n\r\n", 1)
    first, *lines = head.decode("latin-1").split("\r\n")
    headers = {name.strip().lower(): value.strip() for name, _, value in (line.partition(":") for line in lines)}
    if method != "HEAD" and len(body) != int(headers.get("content-length", 0)):
        return None
    return Answer(int(first.split(" ")[1]), headers, body)
