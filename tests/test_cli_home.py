"""Serving over https from the command line: what cannot be served is one sentence, and phones lose nothing by it."""

from __future__ import annotations

import json
import socket
from pathlib import Path

import pytest
from cli_kit import refused, run

FIRST = ("--port", "0", "--no-announce")


@pytest.fixture
def log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert run(capsys, "init", "--data", tmp_path / "log")[0] == 0
    return tmp_path / "log"


@pytest.mark.parametrize("name", ["", "my hut", "hut-", "hut.example", "h" * 64, "localhost", "x" * 100_000])
def test_name_that_is_none_is_told(capsys: pytest.CaptureFixture[str], log: Path, name: str) -> None:
    assert "letters a to z" in refused(capsys, "--name", name, *FIRST, "--data", log)
    assert not (log / "home.json").exists()
    assert not (log / "tls").exists()


@pytest.mark.parametrize("port", ["65536", "-1", "setup", "²"])
def test_setup_port_that_is_none_is_told(capsys: pytest.CaptureFixture[str], log: Path, port: str) -> None:
    assert "whole number from 0 to 65535" in refused(capsys, "--setup-port", port, *FIRST, "--data", log)


def test_setup_page_needs_a_port_of_its_own(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    said = refused(capsys, "--host", "127.0.0.1", "--port", port, "--setup-port", port, "--data", log)
    assert "port of its own" in said


def test_setup_port_in_use_is_told_when_it_was_asked_for(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        port = held.getsockname()[1]
        assert str(port) in refused(capsys, "--host", "127.0.0.1", *FIRST, "--setup-port", port, "--data", log)


def test_damaged_name_of_the_home_is_told_and_kept(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    (log / "home.json").write_text("{", encoding="utf-8")
    for words in ((), ("--name", "hut"), ("pair-code",)):
        said = refused(capsys, *words, "--data", log)
        assert "name of this home" in said
        assert "Traceback" not in said
    assert (log / "home.json").read_text(encoding="utf-8") == "{"


def test_damaged_authority_is_told_and_kept(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    (log / "tls").mkdir()
    (log / "tls" / "authority.pem").write_bytes(bytes(range(256)))
    assert "authority" in refused(capsys, "--host", "127.0.0.1", *FIRST, "--data", log)
    assert (log / "tls" / "authority.pem").read_bytes() == bytes(range(256))


def test_refused_start_leaves_the_address_of_the_home_as_it_was(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    before = json.dumps({"name": "hut", "port": 8420, "former": []})
    (log / "home.json").write_text(before, encoding="utf-8")
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        words = ("--host", "127.0.0.1", "--port", held.getsockname()[1], "--name", "barn", "--data", log)
        assert "in use" in refused(capsys, *words)
    assert (log / "home.json").read_text(encoding="utf-8") == before
