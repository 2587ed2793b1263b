"""What phones of each protocol sent, word for word as it came off the line: taken in the same way for ever.

The bodies were caught between the app's own scripts of that time and a home, once. They are never made anew: a phone
that was in a drawer for years sends just this.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from field.services import pair
from field.services.rebuild import rebuild
from field.store import queries
from field.sync.protocol import PROTOS

GOLDEN = Path(__file__).resolve().parent.parent / "vectors" / "golden"
# A changed file would be a phone that never was. One more protocol is one more folder; none ever goes.
KEPT = {
    "proto-1/ask.json": "36114475fff5ef12a8ca73267f072cabe518401b129c226b8e8e8a2659c04537",
    "proto-1/bring.json": "839ad4a39c5d864df9e54b34b164d3e425c2f83c4f0e5aa61cd708462ce5d34a",
    "proto-1/change.json": "b18295d5b5e96aba164603b99b73a6f205d79d64b36296b12b37dbd3e060af28",
    "proto-1/other-phone.json": "99e3a71288abde79a0f34014f6eb7cbf4a8f1544025d28779ee5ab9dcd78b1f6",
    "proto-1/pair.json": "23063acb69b8e460ac974af09a734d0fa3d6b1f718c5ca25c3ed8f584555244b",
    "proto-1/settle.json": "ca3ca315fd41810986033f11adb8b11b4f487458c6f23d88f17184bc586a79d5",
}
# What such a phone reads of an answer; more may come beside it, none of this may go.
ANSWER = {"epoch": str, "now": str, "have": dict, "results": list, "ops": list, "cursor": int, "more": bool,
          "blobs_missing": list, "backed_up_to": int}  # fmt: skip
RESULT = {"dev", "seq", "s", "why", "clock_suspect"}
ENTRY = {"op", "clock_suspect", "held"}


def body(name: str, proto: int) -> dict[str, Any]:
    return json.loads((GOLDEN / f"proto-{proto}" / f"{name}.json").read_text(encoding="utf-8"))


def test_no_golden_body_was_changed_or_taken_away() -> None:
    found = {
        path.relative_to(GOLDEN).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in GOLDEN.glob("*/*.json")
    }
    assert found == KEPT


def test_every_protocol_that_is_spoken_has_its_bodies() -> None:
    assert {f"proto-{proto}" for proto in PROTOS} <= {path.name for path in GOLDEN.iterdir()}


class Phone:
    """A phone of a protocol, that sends its bodies with its own token."""

    def __init__(self, client: FlaskClient, proto: int, code: str) -> None:
        self.client = client
        self.proto = proto
        paired = client.post("/api/pair", json={**body("pair", proto), "code": code})
        assert paired.status_code == 200, paired.text
        self.headers = {"Authorization": f"Bearer {paired.json['token']}"}

    def send(self, name: str) -> dict[str, Any]:
        said = self.client.post("/api/sync", json=body(name, self.proto), headers=self.headers)
        assert said.status_code == 200, said.text
        return said.json


@pytest.fixture(params=PROTOS)
def phone(request: pytest.FixtureRequest, app: Flask) -> Phone:
    with app.app_context():
        code = pair.make_code()["code"]
    return Phone(app.test_client(), request.param, code)


def test_each_body_is_taken_whole_and_answered_in_the_form_such_a_phone_reads(phone: Phone) -> None:
    for name in ("ask", "bring", "other-phone", "change", "settle"):
        said = phone.send(name)
        for part, kind in ANSWER.items():
            assert isinstance(said[part], kind), part
        assert {result["s"] for result in said["results"]} <= {"ok"}, said["results"]
        assert all(set(result) >= RESULT for result in said["results"])
        assert all(set(entry) >= ENTRY for entry in said["ops"])
        for dev, seq in ((op["dev"], op["seq"]) for op in body(name, phone.proto)["ops"]):
            assert said["have"][dev] >= seq


def test_what_they_say_stands_in_the_tables(phone: Phone, app: Flask) -> None:
    for name in ("bring", "other-phone", "change"):
        phone.send(name)
    with app.app_context():
        brought = {op["type"]: op for op in body("bring", phone.proto)["ops"]}
        for record_type, op in brought.items():
            record = queries.get_record(record_type, op["rec"])
            assert record is not None, record_type
            for name, value in op["set"].items():
                changed_later = {("task_state", "state"), ("tree", "girth_mm")}
                if (record_type, name) not in changed_later:
                    assert record[name] == value, (record_type, name)
        # Two phones gave a girth without having seen each other: 250 mm on this one, 260 mm on the other.
        [conflict] = queries.list_conflicts()
        assert sorted(one["value"] for one in conflict["conflicts"]["girth_mm"]) == [250, 260]
    phone.send("settle")
    with app.app_context():
        assert queries.list_conflicts() == []
        assert queries.get_record("tree", brought["tree"]["rec"])["girth_mm"] == 260
        assert rebuild()["ok"] is True


def test_sent_once_more_it_is_known_already(phone: Phone) -> None:
    phone.send("bring")
    assert {result["s"] for result in phone.send("bring")["results"]} == {"dup"}
