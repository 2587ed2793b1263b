"""The real server on a real socket: what is broken, slow or endless there holds nobody else up."""

from __future__ import annotations

import socket
import time
import uuid
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from home_server import HOST, RunningServer

ROUGH = {
    "no HTTP": b"\x16\x03\x01\x02\x00\x01\x00" + b"\xff" * 500,
    "no such version": b"GET / HTTP/9.9\r\n\r\n",
    "half a line": b"GET /api/hel",
    "huge header": b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * 2_000_000 + b"\r\n\r\n",
    "ten thousand headers": b"GET / HTTP/1.1\r\nHost: x\r\n" + b"A: b\r\n" * 10_000 + b"\r\n",
    "long address": b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
    "no host": b"GET /api/hello HTTP/1.1\r\n\r\n",
    "two lengths": b"POST /api/pair HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\nContent-Length: 9\r\n\r\n{}",
    "both ways": b"PUT / HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    "wrong piece": b"POST /api/pair HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nZZ\r\n{}\r\n",
    "endless piece": b"POST /api/pair HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n{}",
    "negative length": b"POST /api/pair HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n{}",
    "line in a header": b"GET / HTTP/1.1\r\nHost: x\r\nX: a\rb\nc: d\r\n\r\n",
    "NUL": b"GET /\0 HTTP/1.1\r\nHost: x\0\r\n\r\n",
    "whole address of another": b"GET http://elsewhere.example/api/house HTTP/1.1\r\nHost: elsewhere.example\r\n\r\n",
    "star": b"OPTIONS * HTTP/1.1\r\nHost: x\r\n\r\n",
    "tunnel": b"CONNECT elsewhere.example:443 HTTP/1.1\r\nHost: x\r\n\r\n",
    "upgrade": b"GET /api/hello HTTP/1.1\r\nHost: x\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\r\n",
    "http2": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + b"\0\0\0\x04\0\0\0\0\0",
    "up the folders": b"GET /static/../../../../etc/passwd HTTP/1.1\r\nHost: x\r\n\r\n",
    "a hundred at once": b"GET /api/hello HTTP/1.1\r\nHost: x\r\n\r\n" * 100,
}
SOON_S = 5


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningServer]:
    with RunningServer(tmp_path_factory.mktemp("rough") / "data") as running:
        yield running


def say(home: RunningServer, words: bytes) -> bytes:
    """Return what the server answers to some bytes, until it says no more for a while."""
    with socket.create_connection((HOST, home.port), timeout=SOON_S) as line:
        line.settimeout(0.4)
        heard = b""
        try:
            line.sendall(words)
            while piece := line.recv(65536):
                heard += piece
        except OSError:
            pass  # it hung up, or waits for more
    return heard


def is_served(home: RunningServer) -> bool:
    """Tell whether a phone gets its answer soon."""
    began = time.monotonic()
    return bool(home.hello()["epoch"]) and time.monotonic() - began < SOON_S


@pytest.mark.parametrize("name", ROUGH)
def test_what_is_no_good_request_is_no_fault_and_the_next_phone_is_served(home: RunningServer, name: str) -> None:
    heard = say(home, ROUGH[name])
    lines = [line for line in heard.split(b"\r\n") if line.startswith(b"HTTP/")]
    assert not [line for line in lines if line.split(b" ", 2)[1] >= b"500"], heard[:500]
    assert b"root:" not in heard
    assert b"Traceback" not in heard
    assert is_served(home)


def test_a_hundred_slow_ones_keep_no_phone_waiting(home: RunningServer) -> None:
    heads = (
        b"GET /api/hello HTTP/1.1\r\nHost: x\r\n",  # never ended
        b"G",
        b"",
    )
    with ExitStack() as held:
        for n in range(100):
            line = held.enter_context(socket.create_connection((HOST, home.port), timeout=SOON_S))
            line.sendall(heads[n % len(heads)])
        assert is_served(home)
    assert is_served(home)


@pytest.mark.parametrize(
    "head",
    [
        b"POST /api/pair HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{",
        b"POST /api/sync HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n",
    ],
    ids=["to be let in", "without being let in"],
)
def test_strangers_who_never_end_what_they_send_keep_no_phone_waiting(home: RunningServer, head: bytes) -> None:
    with ExitStack() as held:
        lines = [held.enter_context(socket.create_connection((HOST, home.port), timeout=SOON_S)) for _ in range(150)]
        for line in lines:
            line.sendall(head)
        assert is_served(home)
        assert b" 429 " in say(home, lines_of_pairing())
    assert is_served(home)
    until = time.monotonic() + SOON_S  # those who hung up are noticed one by one
    while b" 429 " in (heard := say(home, lines_of_pairing())):
        assert time.monotonic() < until, heard
    assert b" 400 " in heard


def test_a_dozen_phones_that_died_while_they_sent_keep_no_other_waiting(home: RunningServer) -> None:
    asked = {"code": home.pair_code(), "device": str(uuid.uuid4()), "name": "Phone"}
    token = home.post("/api/pair", asked)["token"]
    with ExitStack() as held:
        for n in range(12):
            line = held.enter_context(socket.create_connection((HOST, home.port), timeout=SOON_S))
            line.sendall(
                f"PATCH /api/blob/{n:064x} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {token}\r\n"
                "Content-Type: application/partial-upload\r\nUpload-Offset: 0\r\nUpload-Length: 100000\r\n"
                "Content-Length: 100000\r\n\r\nx".encode()
            )
        assert is_served(home)
    assert is_served(home)


def lines_of_pairing() -> bytes:
    return b"POST /api/pair HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 2\r\n\r\n{}"


def test_it_kept_running_all_the_while(home: RunningServer) -> None:
    assert home.process is not None
    assert home.process.poll() is None
    assert "Traceback" not in home.said()
    assert Path(home.data).is_dir()
