"""Guessing a code is slow for whoever does it: from ever new addresses, and after the server was started anew."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from builders import an_id
from flask.testing import FlaskClient

from field.services import pair
from field.store import db
from field.web.app import create_app


def guess(client: FlaskClient, code: str, address: str = "192.0.2.1") -> int:
    asked: dict[str, Any] = {"code": code, "device": an_id(), "name": "Phone"}
    return client.post("/api/pair", json=asked, environ_base={"REMOTE_ADDR": address}).status_code


def test_wrong_tries_count_on_after_the_server_was_started_anew(data_dir: Path, database_url: str | None) -> None:
    first = create_app(data_dir, database_url or "")
    with first.app_context():
        good = pair.make_code()["code"]
    assert {guess(first.test_client(), "WRONGCDE") for _ in range(10)} == {403}
    assert guess(first.test_client(), good) == 429
    db.close(first)
    again = create_app(data_dir, database_url or "")
    assert guess(again.test_client(), good) == 429
    assert guess(again.test_client(), good, "192.0.2.2") == 200
    db.close(again)


def test_ever_new_addresses_guess_no_faster_than_fifty_in_ten_minutes(client: FlaskClient) -> None:
    told = [guess(client, "WRONGCDE", f"198.51.{n // 200}.{n % 200}") for n in range(60)]
    assert told == [403] * 50 + [429] * 10


def test_of_one_network_of_many_addresses_all_count_as_one(client: FlaskClient) -> None:
    # RFC 4291, 2.5.4: the last 64 bits of an address of IPv6 name the interface, and a machine chooses its own
    told = [guess(client, "WRONGCDE", f"2001:db8:1:2::{n:x}") for n in range(12)]
    assert told == [403] * 10 + [429] * 2
