"""The plain port beside the server: it answers at once whoever else hangs on, and is gone when it is closed."""

from __future__ import annotations

import socket
import urllib.request

import pytest

from field.services import serve_setup

HOST = "127.0.0.1"


def say_hi(_environ, start_response):
    start_response("200 OK", [("Content-Type", "text/plain"), ("Server", "Fellside")])
    return [b"hi"]


def get(port: int) -> bytes:
    with urllib.request.urlopen(f"http://{HOST}:{port}/", timeout=5) as answer:
        return answer.read()


def test_silent_sockets_keep_nobody_waiting() -> None:
    with serve_setup.serving_setup(say_hi, HOST, 0) as port:
        silent = [socket.create_connection((HOST, port)) for _ in range(serve_setup.AT_ONCE - 4)]
        try:
            assert get(port) == b"hi"
        finally:
            for one in silent:
                one.close()


def test_more_than_it_serves_at_once_are_turned_away_and_it_recovers() -> None:
    with serve_setup.serving_setup(say_hi, HOST, 0) as port:
        silent = [socket.create_connection((HOST, port)) for _ in range(serve_setup.AT_ONCE)]
        with socket.create_connection((HOST, port), timeout=5) as late:
            assert late.recv(1) == b""
        for one in silent:
            one.sendall(b"GET / HTTP/1.0\r\n\r\n")
            assert one.recv(4096).startswith(b"HTTP/1.0 200")
            one.close()


def test_nonsense_ends_its_own_connection_only(capfd: pytest.CaptureFixture[str]) -> None:
    with serve_setup.serving_setup(say_hi, HOST, 0) as port:
        for said in (b"\r\n\r\n", b"\xff\xfe\x00\r\n\r\n", b"G" * 70_000, b"GET / HTTP/9\r\n\r\n"):
            with socket.create_connection((HOST, port)) as strange:
                strange.sendall(said)
                strange.shutdown(socket.SHUT_WR)
                while strange.recv(65536):
                    pass
            assert get(port) == b"hi"
    assert capfd.readouterr() == ("", "")


def test_it_is_served_on_the_newer_kind_of_address_too() -> None:
    with serve_setup.serving_setup(say_hi, "::1", 0) as port, socket.create_connection(("::1", port)) as line:
        line.sendall(b"GET / HTTP/1.0\r\n\r\n")
        assert line.recv(4096).startswith(b"HTTP/1.0 200")


def test_port_is_free_again_afterwards() -> None:
    with serve_setup.serving_setup(say_hi, HOST, 0) as port:
        assert get(port) == b"hi"
    with socket.socket() as asking:
        assert asking.connect_ex((HOST, port)) != 0
    with serve_setup.serving_setup(say_hi, HOST, port):
        assert get(port) == b"hi"


def test_port_in_use_is_refused() -> None:
    with (
        serve_setup.serving_setup(say_hi, HOST, 0) as port,
        pytest.raises(OSError, match="in use"),
        serve_setup.serving_setup(say_hi, HOST, port),
    ):
        pass
