"""Nobody gets a word of what is kept: every address, as one who is not paired, and all that is open to anyone."""

from __future__ import annotations

import gzip
import json
import re

import pytest
from builders import OTHER_PHONE, PHONE, a_change, a_leave, a_request, a_site, a_tree, an_id
from flask import Flask

from field.services import keep_blob, pair

SECRETS = (
    "Quernstone Rigg", "Aldous Vickerstaff", "07700 900123", "vickerstaff@farm.example", "T-SECRET-9", "55.4017",
    "Lantern phone", "below the sheepfold",
)  # fmt: skip
BODIES = (None, {"device": PHONE, "code": "x", "name": "x"}, {"passphrase": "x" * 12, "device": OTHER_PHONE})
OPEN_PAGES = {"/", "/manifest.webmanifest", "/sw.js", "/robots.txt"}


@pytest.fixture
def kept(app: Flask) -> list[str]:
    """What is in a house that nobody else is to know: words, names of records and files, and of phones."""
    with app.app_context():
        token = pair.pair(pair.make_code()["code"], PHONE, "Lantern phone")["token"]
        code = pair.make_code()["code"]
        file = keep_blob.keep_bytes(b"a picture of it")
    site, holder, leave, tree = (an_id() for _ in range(4))
    records = [
        ("site", site, a_site(name="Quernstone Rigg")),
        (
            "landholder",
            holder,
            {
                "name": "Aldous Vickerstaff",
                "role": "owner",
                "phone": "07700 900123",
                "email": "vickerstaff@farm.example",
            },
        ),
        ("leave", leave, a_leave(site=site, landholder=holder, conditions=["keep below the sheepfold"])),
        ("tree", tree, a_tree(site=site, tag="T-SECRET-9")),
        ("fix", an_id(), {"tree": tree, "lat": 55.4017, "lon": -3.395, "accuracy_m": 5}),
    ]
    ops = [a_change(fields, type=kind, rec=rec, seq=n) for n, (kind, rec, fields) in enumerate(records, 1)]
    headers = {"Authorization": f"Bearer {token}"}
    answer = app.test_client().post("/api/sync", json=a_request(*ops, want=100), headers=headers)
    assert {one["s"] for one in answer.get_json()["results"]} == {"ok"}, answer.text
    mine = app.test_client().post("/api/sync", json=a_request(want=100), headers=headers).text
    for secret in SECRETS:
        assert secret in mine or secret == "Lantern phone", secret
    return [*SECRETS, site, holder, leave, tree, file, PHONE, token, code, code.replace("-", "")]


def every_address(app: Flask, file: str, leave: str, holder: str) -> list[tuple[str, str]]:
    """Return each route's method and an address that fits it, with names of what is here."""
    fitting = {
        "<sha256>": file,
        "<uuid:device>": PHONE,
        "<uuid:leave>": leave,
        "<uuid:landholder>": holder,
        "<uuid:place>": holder,
        "<kind>": "leave",
        "<form>": "html",
        "<path:filename>": "js/main.js",
        "<name>": file,
        "<secret>": file,
        "<version>": "1.9.3",
        "<path:name>": "leaflet.css",
    }
    made = []
    for rule in app.url_map.iter_rules():
        address = re.sub(r"<[^>]+>", lambda found: fitting[found[0]], rule.rule)
        made += [(method, address) for method in sorted(rule.methods or ())]
    return made


def test_no_answer_to_a_stranger_holds_anything_that_is_kept(app: Flask, kept: list[str]) -> None:
    stranger = app.test_client()
    _, holder, leave, _, file = kept[len(SECRETS) : len(SECRETS) + 5]
    opened = set()
    for method, address in every_address(app, file, leave, holder):
        for body in (
            None,
            {"device": PHONE, "code": "x", "name": "x"},
            {"passphrase": "x" * 12, "device": OTHER_PHONE},
        ):
            answer = stranger.open(address, method=method, json=body, buffered=True)
            text = answer.data
            if answer.headers.get("Content-Encoding") == "gzip":
                text = gzip.decompress(text)
            said = text.decode("utf-8", "replace") + str(answer.headers)
            found = [secret for secret in kept if secret in said.replace(address, "")]
            assert found == [], (method, address)
            if answer.status_code < 400 and method != "OPTIONS":  # that one tells which methods there are
                opened.add(address)
    assert {one for one in opened if one.startswith("/api/")} == {"/api/hello"}
    assert {one for one in opened if not one.startswith(("/api/", "/static/", "/vendor/"))} == OPEN_PAGES


def test_every_file_of_the_app_is_free_of_what_is_kept(app: Flask, kept: list[str]) -> None:
    stranger = app.test_client()
    listed = json.loads(stranger.get("/sw.js").text.split("\n", 1)[0].removeprefix("const ASSETS = ").rstrip(";"))
    assert len(listed) > 50
    for address in listed:
        answer = stranger.get(address, buffered=True)
        assert answer.status_code == 200, address
        assert not any(secret.encode() in answer.data for secret in kept), address


def test_hello_tells_what_the_protocol_needs_and_no_more(app: Flask, kept: list[str]) -> None:
    told = app.test_client().get("/api/hello").get_json()
    assert set(told) == {"app", "epoch", "now", "proto", "min_proto", "version", "home"}


@pytest.mark.parametrize(
    "path",
    [
        "/static/../field/web/app.py",
        "/static/..%2f..%2fpyproject.toml",
        "/static/%2e%2e/app.py",
        "/static/%2fetc%2fpasswd",
        "/static/js/..%5c..%5c..%5capp.py",
        "/static/C:%5cWindows%5cwin.ini",
        "/static/%00",
        "/static/js/main.js%00.png",
        "/static/" + "a" * 5000,
        "/static/js",
        "/static/",
        "/vendor/font/..%2f__init__.py",
        "/vendor/leaflet/..%2f..%2f/x",
        "/vendor/leaflet/1.9.3/../__init__.py",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/static/js/\N{FULLWIDTH FULL STOP}\N{FULLWIDTH FULL STOP}/main.js",
    ],
)
def test_no_address_reaches_a_file_beside_those_of_the_app(app: Flask, path: str) -> None:
    answer = app.test_client().get(path, buffered=True, follow_redirects=True)
    assert answer.status_code == 404, path
    assert answer.text.startswith("<!doctype html>")
