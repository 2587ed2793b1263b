"""A home served over https: by its own name, stopped cleanly, renamed and renewed without a phone losing it."""

from __future__ import annotations

import datetime as dt
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from home_server import HOST, port_is_open, wait_for
from secure_home import SecureHome

from field.services import home_ca, home_files

pytestmark = pytest.mark.browser  # real processes, watched and killed

HERE = Path(__file__).resolve().parent
DAY = dt.timedelta(days=1)


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecureHome]:
    with SecureHome(tmp_path_factory.mktemp("standing") / "data") as running:
        yield running


@pytest.fixture
def home(tmp_path: Path) -> Iterator[SecureHome]:
    with SecureHome(tmp_path / "data") as running:
        yield running


def setup_page(home: SecureHome) -> str:
    def ask() -> str:
        try:
            with urllib.request.urlopen(home.setup_url, timeout=5) as answer:
                return answer.read().decode()
        except OSError:
            return ""

    return wait_for(ask, "no setup page")


def test_home_is_served_under_its_own_name_and_says_how_a_phone_gets_there(standing: SecureHome) -> None:
    home = standing
    told = home.hello()["home"]
    assert told["address"] == home.url
    until = dt.datetime.fromisoformat(told["certificate_until"])
    assert until == home.shown().not_valid_after_utc
    said = home.said()
    assert f"Fellside is at {home.url}/" in said
    assert re.search(rf"Set up a phone, once for each: http://\S+:{home.setup_port}/\n", said)
    figures = "".join(re.findall(r"^  ((?:[0-9A-F]{4} ?){4})$", said, flags=re.MULTILINE)).replace(" ", "")
    assert figures == home_ca.fingerprint(home.ca).replace(" ", "")
    assert re.search(r"with the code [0-9A-Y]{8}\n", said)
    page = setup_page(home)
    assert "".join(re.findall(r"<span>([0-9A-F]{4})</span>", page)) == figures
    assert f'href="{home.url}/"' in page
    assert home.pair_code() not in page


def test_older_tls_goes_down_to_1_2_and_silent_sockets_keep_nobody_waiting(standing: SecureHome) -> None:
    home = standing
    silent = [socket.create_connection((HOST, home.port)) for _ in range(12)]
    old = home.trusting()
    old.maximum_version = ssl.TLSVersion.TLSv1_2
    with (
        socket.create_connection((HOST, home.port), timeout=8) as line,
        old.wrap_socket(line, server_hostname="hut.local") as wrapped,
    ):
        assert wrapped.version() == "TLSv1.2"
    for one in silent:
        one.close()


@pytest.mark.parametrize("how", ["stopped", "its parent killed"])
def test_both_ports_are_free_afterwards(home: SecureHome, how: str) -> None:
    setup_page(home)
    if how == "stopped":
        assert home.stop() == 0
    else:
        home.kill_parent_only()
    for port in (home.port, home.setup_port):
        wait_for(lambda port=port: not port_is_open(port), f"{port} is still served", longest_s=10)
    assert "Traceback" not in home.said()


def test_home_that_is_renamed_is_still_found_under_its_old_name_with_the_same_authority(home: SecureHome) -> None:
    ca, epoch = home.ca, home.hello()["epoch"]
    home.stop()
    home.verb = ("--name", "barn", *home.verb[2:])
    home.start()
    told = home.hello()
    assert (home.ca, told["epoch"]) == (ca, epoch)
    assert told["home"]["address"] == f"https://barn.local:{home.port}"
    assert f"It was at {home.url} before" in home.said()
    assert {"barn.local", "hut.local"} <= home_ca.told_names(home.shown())[0]


def test_certificate_and_addresses_are_renewed_while_it_serves(tmp_path: Path) -> None:
    home = SecureHome(tmp_path / "data")
    home.data.mkdir()
    addresses = home.data / "addresses.txt"
    addresses.write_text("192.168.1.20\n", encoding="utf-8")
    line = [sys.executable, str(HERE / "renewing_home.py"), str(home.data), str(home.port), str(home.setup_port)]
    environment = {**home.environment(), "PYTHONPATH": str(HERE.parent.parent)}
    with home.log.open("ab") as log:
        process = home.process = subprocess.Popen(
            line, stdout=log, stderr=subprocess.STDOUT, start_new_session=True, env=environment
        )
    try:
        wait_for(home._answers, "no answer")
        ca = home.ca

        def shown() -> set[IPv4Address]:
            try:
                return home_ca.told_names(home.shown())[1]
            except OSError:
                return set()

        # The machine gets another address: the certificate has to hold it too.
        addresses.write_text("192.168.1.21\n", encoding="utf-8")
        wait_for(lambda: IPv4Address("192.168.1.21") in shown(), f"not renewed: {home.said()}")
        # The certificate comes to its last days.
        file = home.data / home_files.FOLDER / home_files.LEAF_FILE
        authority = home_ca.read_pem(file.with_name(home_files.CA_FILE).read_bytes())
        now = dt.datetime.now(dt.UTC)
        late = home_ca.make_leaf(now - 370 * DAY, authority, ["hut.local", "localhost"], [IPv4Address("192.168.1.21")])
        file.write_bytes(home_ca.to_pem(late, authority.certificate))

        def is_new() -> bool:
            held = home_ca.read_pem(file.read_bytes()).certificate
            try:
                return held.not_valid_after_utc > now + 300 * DAY and home.shown() == held
            except OSError:
                return False

        wait_for(is_new, f"not renewed: {home.said()}")
        assert home.ca == ca
        assert process.poll() is None  # it is the same server, on the same port
        assert home.hello()["app"] == "fellside"
        # An address that the authority may not vouch for: the server goes on, and what stands beside it is told anew.
        before = home.shown()
        addresses.write_text("203.0.113.7\n", encoding="utf-8")  # RFC 5737
        wait_for(lambda: f"http://203.0.113.7:{home.setup_port}/" in setup_page(home), "the setup page is not told")
        assert home.shown() == before
        assert "did not hold 192.168.1.21" in home.said()
        os.kill(process.pid, signal.SIGTERM)
        assert process.wait(30) == 0
        home.process = None
        assert "Traceback" not in home.said()
    finally:
        if home.process is not None:
            home.kill()
