"""The real server on a real socket: what is broken, slow or endless there holds nobody else up."""

from __future__ import annotations

import hashlib
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
LINES = Path("/proc/net/tcp")


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


def test_strangers_who_never_end_what_they_send_keep_no_phone_waiting(home: RunningServer) -> None:
    with ExitStack() as held:
        for _ in range(150):
            die_while_sending(home, held, b"POST /api/pair HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{")
        assert is_served(home)
        assert b" 429 " in say(home, lines_of_pairing())
    assert is_served(home)
    until = time.monotonic() + SOON_S  # those who hung up are noticed one by one
    while b" 429 " in (heard := say(home, lines_of_pairing())):
        assert time.monotonic() < until, heard
    assert b" 400 " in heard


def test_strangers_who_go_on_after_they_were_refused_keep_nobody_from_being_let_in(home: RunningServer) -> None:
    with ExitStack() as held:
        for _ in range(150):
            die_while_sending(home, held, b"POST /api/sync HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n")
        assert is_served(home)
        assert b" 400 " in say(home, lines_of_pairing())


def pair_phone(home: RunningServer) -> str:
    asked = {"code": home.pair_code(), "device": str(uuid.uuid4()), "name": "Phone"}
    return str(home.post("/api/pair", asked)["token"])


def first_bytes(sha256: str, token: str, head: str = "PATCH /api/blob/") -> bytes:
    """Return a piece of a file as it stands on the line when its phone dies after the first byte."""
    return (
        f"{head}{sha256} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {token}\r\nConnection: close\r\n"
        "Content-Type: application/partial-upload\r\nUpload-Offset: 0\r\nUpload-Length: 100000\r\n"
        "Content-Length: 100000\r\n\r\nx"
    ).encode()


def die_while_sending(home: RunningServer, held: ExitStack, words: bytes) -> socket.socket:
    line = held.enter_context(socket.create_connection((HOST, home.port), timeout=SOON_S))
    line.sendall(words)
    return line


def test_phones_that_died_while_they_sent_keep_no_other_waiting(home: RunningServer) -> None:
    tokens = [pair_phone(home) for _ in range(8)]
    with ExitStack() as held:
        for n in range(40):  # more than the server has threads
            die_while_sending(home, held, first_bytes(f"{n:064x}", tokens[n % len(tokens)]))
        assert is_served(home)
        refused = say(home, first_bytes("ab" * 32, tokens[0]))
        assert b" 503 " in refused.split(b"\r\n", 1)[0]
        assert b"retry-after: 15" in refused.lower()
        assert b'"code":"busy"' in refused.replace(b" ", b"")
    assert is_served(home)
    until = time.monotonic() + SOON_S  # those who hung up are noticed one by one
    while b" 503 " in (heard := say(home, first_bytes("ab" * 32, tokens[0]) + b"y" * 99_999)):
        assert time.monotonic() < until, heard
    assert b" 422 " in heard


def test_one_phone_that_died_again_and_again_leaves_room_for_the_next(home: RunningServer) -> None:
    dead, other = pair_phone(home), pair_phone(home)
    with ExitStack() as held:
        for n in range(20):
            die_while_sending(home, held, first_bytes(f"{n:064x}", dead))
        assert is_served(home)
        assert b" 422 " in say(home, first_bytes("cd" * 32, other) + b"y" * 99_999)


def test_a_phone_that_died_in_the_middle_of_a_photo_comes_back_with_the_same_one(home: RunningServer) -> None:
    token = pair_phone(home)
    whole = b"x" * 100_000
    sha256 = hashlib.sha256(whole).hexdigest()
    with ExitStack() as held:
        die_while_sending(home, held, first_bytes(sha256, token))
        die_while_sending(home, held, first_bytes(sha256, token))
        assert b" 204 " in say(home, first_bytes(sha256, token) + whole[1:])
        assert b"upload-complete: ?1" in say(home, asking(sha256, token)).lower()


def test_phones_that_died_while_they_fetched_keep_no_other_waiting(home: RunningServer) -> None:
    whole = bytes(12_000_000)  # more than the system takes on its way
    sha256 = hashlib.sha256(whole).hexdigest()
    place = home.data / "blobs" / sha256[:2] / sha256
    place.parent.mkdir(exist_ok=True)
    place.write_bytes(whole)
    tokens = [pair_phone(home) for _ in range(8)]
    assert b"upload-complete: ?1" in say(home, asking(sha256, tokens[0])).lower()
    with ExitStack() as held:
        for n in range(40):
            die_while_sending(home, held, asking(sha256, tokens[n % len(tokens)], "GET"))
        assert is_served(home)
        assert b" 503 " in say(home, asking(sha256, tokens[0], "GET"))
        small = say(home, first_bytes("12" * 32, tokens[0]) + b"y" * 99_999)
        assert b" 422 " in small  # what is sent comes in all the same
    until = time.monotonic() + SOON_S  # those who hung up are noticed one by one
    while b" 503 " in (heard := say(home, asking(sha256, tokens[0], "GET"))):
        assert time.monotonic() < until, heard
    assert len(heard) > len(whole)


def asking(sha256: str, token: str, method: str = "HEAD") -> bytes:
    return (
        f"{method} /api/blob/{sha256} HTTP/1.1\r\nHost: x\r\nConnection: close\r\nAuthorization: Bearer {token}\r\n\r\n"
    ).encode()


def test_the_system_asks_whether_a_quiet_phone_is_still_there(home: RunningServer) -> None:
    with ExitStack() as held:
        line = die_while_sending(home, held, first_bytes("ef" * 32, pair_phone(home)))
        here, there = (f"0100007F:{end[1]:04X}" for end in (line.getpeername(), line.getsockname()))
        rows = [row.split() for row in LINES.read_text(encoding="ascii").splitlines()]
        timers = [row[5].split(":") for row in rows if row[1:3] == [here, there]]
        # proc(5): a timer of kind 02 is that of keepalive, and its time is told in hundredths of a second
        assert [kind for kind, _ in timers] == ["02"]
        assert 0 < int(timers[0][1], 16) <= 6000


def lines_of_pairing() -> bytes:
    return b"POST /api/pair HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 2\r\n\r\n{}"


def test_it_kept_running_all_the_while(home: RunningServer) -> None:
    assert home.process is not None
    assert home.process.poll() is None
    assert "Traceback" not in home.said()
    assert Path(home.data).is_dir()
