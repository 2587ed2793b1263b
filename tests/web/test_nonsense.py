"""Every route, given nonsense, answers one sentence in the one shape, and nothing is changed."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest

SHA = "0" * 64
DEVICE = "99999999-9999-4999-8999-999999999999"  # never paired
JSON_ROUTES = (
    "/api/pair",
    "/api/sync",
    "/api/sign-in",
    "/api/passphrase",
    "/api/intake/read",
    "/api/intake/save",
    "/api/intake/undo",
    "/api/kept-twice",
    "/api/own-token",
)
ROUTES = {
    "/api/hello": ("GET",),
    "/api/pair": ("POST",),
    "/api/pair-code": ("POST",),
    "/api/devices": ("GET",),
    f"/api/devices/{DEVICE}/revoke": ("POST",),
    f"/api/devices/{DEVICE}/role": ("POST",),
    f"/api/devices/{DEVICE}/name": ("POST",),
    "/api/me": ("GET",),
    "/api/own-token": ("POST",),
    "/api/sign-in": ("POST",),
    "/api/sign-out": ("POST",),
    "/api/passphrase": ("POST",),
    "/api/sync": ("POST",),
    f"/api/blob/{SHA}": ("GET", "PATCH"),
    f"/api/blob/{SHA}/preview": ("GET", "PUT"),
    f"/api/pack/{SHA}": ("GET",),
    "/api/held": ("GET",),
    "/api/house": ("GET",),
    "/api/cards": ("GET",),
    "/api/cards/birch": ("GET",),
    "/api/cards/birch/judge": ("POST",),
    "/api/cards/birch/copy": ("POST",),
    f"/api/weather/{DEVICE}": ("GET",),
    f"/api/weather/{DEVICE}/look": ("POST",),
    f"/api/weather/{DEVICE}/keep": ("POST",),
    "/api/weather/take-back": ("POST",),
    "/api/calendar": ("GET", "POST", "DELETE"),
    "/api/calendar.ics": ("GET",),
    "/api/rounds.html": ("GET",),
    f"/api/copy/{SHA}": ("POST",),
    "/api/kept-twice": ("POST",),
    f"/api/forget/{DEVICE}": ("GET", "POST"),
    "/api/intake/read": ("POST",),
    "/api/intake/save": ("POST",),
    "/api/intake/undo": ("POST",),
    f"/api/paper/leave/{DEVICE}.pdf": ("GET", "POST"),
}
OPEN = {"/api/hello", "/api/pair"}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE", "PROPFIND")
BODIES = {
    "empty": b"",
    "text": b"nonsense",
    "cut JSON": b'{"proto": 1, "ops": [',
    "list": b"[]",
    "null": b"null",
    "number": b"1",
    "NaN": b'{"proto": NaN}',
    "no UTF-8": b'{"proto": "\xff\xfe"}',
    "half a pair": rb'{"name": "\ud83d", "proto": 1, "device": "x", "code": "x"}',
    "deep": b'{"ops": ' + b"[" * 200_000 + b"]" * 200_000 + b"}",
    "long number": b'{"proto": ' + b"9" * 10_000 + b"}",
    "empty object": b"{}",
    "wrong types": b'{"proto":"1","device":5,"epoch":[],"cursor":{},"have":[],"ops":{},"want":"all","code":1,"name":2,'
    b'"files":5,"photos":{},"tracks":"","clock_offset_s":"x","zone":7}',
    "more wrong types": b'{"proto":1,"device":"x","code":null,"name":null,"files":[1,null,[],{}],"photos":[0],'
    b'"tracks":[{}],"clock_offset_s":true,"zone":"Nowhere/Land"}',
    "numbers past all use": b'{"proto":1e400,"device":"x","cursor":-1,"want":1e30,"files":[],"clock_offset_s":1e300}',
}


def one_shape(answer) -> dict[str, str | None]:
    """Return the error of an answer, having looked at its shape."""
    assert answer.mimetype == "application/json"
    body = json.loads(gzip.decompress(answer.data) if answer.headers.get("Content-Encoding") else answer.data)
    assert set(body) == {"error"}
    assert set(body["error"]) == {"code", "message", "cure", "where"}
    message = body["error"]["message"]
    assert message.endswith(".")
    for inside in ("Traceback", "sqlite", "sqlalchemy", "psycopg", "SELECT ", "INSERT ", "werkzeug", "/site-packages"):
        assert inside not in answer.text
    return body["error"]


@pytest.fixture
def state(app):
    """Return what tells whether anything was changed: rows of every table but the one that counts tries, and files."""

    def read() -> tuple[dict[str, int], list[str]]:
        from sqlalchemy import inspect, text

        from field.store import db

        with app.app_context(), db.db.engine.connect() as connection:
            names = sorted(set(inspect(connection).get_table_names()) - {"wrong_try"})
            rows = {name: connection.execute(text(f'SELECT count(*) FROM "{name}"')).scalar_one() for name in names}
            folder = db.data_dir()
        files = sorted(
            str(path.relative_to(folder))
            for path in Path(folder).rglob("*")
            if path.is_file() and "sqlite" not in path.name
        )
        return rows, files

    return read


def test_list_of_routes_is_whole(app) -> None:
    by_rule = {}
    for address, methods in ROUTES.items():
        adapter = app.url_map.bind("localhost")
        for method in methods:
            rule, _ = adapter.match(address, method, return_rule=True)
            by_rule.setdefault(rule.rule, set()).add(method)
    real = {}
    for rule in app.url_map.iter_rules():
        if rule.rule.startswith("/api/"):
            real.setdefault(rule.rule, set()).update(rule.methods - {"HEAD", "OPTIONS"})
    assert by_rule == real


@pytest.mark.parametrize("token", [None, "Bearer", "Bearer ", "Bearer wrong", "Basic eDp5", "Bearer \xff\xfe"])
def test_unpaired_learns_only_that(client, state, token: str | None) -> None:
    before = state()
    headers = {} if token is None else {"Authorization": token}
    for address in (*sorted(set(ROUTES) - OPEN), "/api/nothing", "/api/", "/api"):
        for method in METHODS:
            for body in (b"", b"nonsense", b"{}", b"x" * 1_100_000):
                answer = client.open(address, method=method, data=body, headers=headers)
                assert answer.status_code == 401, (method, address)
                assert one_shape(answer)["code"] == "unpaired"
                assert answer.headers["WWW-Authenticate"] == "Bearer"
    assert state() == before


@pytest.mark.parametrize("address", JSON_ROUTES)
def test_nonsense_is_refused_and_changes_nothing(paired_client, state, address: str) -> None:
    before = state()
    for name, body in BODIES.items():
        for data, headers in ((body, {}), (gzip.compress(body), {"Content-Encoding": "gzip"})):
            answer = paired_client.post(address, data=data, headers=headers)
            assert answer.status_code in (400, 413), (name, answer.text)
            one_shape(answer)
            assert state() == before, name


@pytest.mark.parametrize("address", JSON_ROUTES)
def test_a_huge_body_is_refused(paired_client, state, address: str) -> None:
    before = state()
    most = 4 if address.startswith("/api/intake/") else 1  # MiB; a season's photos are told of in one call
    for body, headers in (
        (b'{"a": "' + b"x" * (most * 1_048_576 + 50_000) + b'"}', {}),
        (gzip.compress(b'{"a": "' + b"x" * 30_000_000 + b'"}'), {"Content-Encoding": "gzip"}),
    ):
        answer = paired_client.post(address, data=body, headers=headers)
        assert answer.status_code == 413
        assert one_shape(answer)["code"] == "too-large"
    assert state() == before


def test_a_wrong_method_is_refused_and_the_right_one_told(paired_client, state) -> None:
    before = state()
    for address, methods in ROUTES.items():
        for method in set(METHODS) - set(methods):
            answer = paired_client.open(address, method=method, data=b"{}")
            assert answer.status_code == 405, (method, address)
            assert one_shape(answer)["code"] == "wrong-method"
            assert set(methods) <= set(answer.headers["Allow"].split(", "))
    assert state() == before


def test_an_unknown_address_is_refused(paired_client) -> None:
    for address in ("/api/nothing", "/api/", "/api", "/api/sync/", "/api/blob/", "/api/blob/a/b/c"):
        for method in METHODS:
            answer = paired_client.open(address, method=method)
            assert answer.status_code == 404, (method, address)
            assert one_shape(answer)["code"] == "not-found"


BAD_NAMES = ["x", "0" * 63, "0" * 65, "G" * 64, "A" * 64, "..", "%2e%2e%2fepoch", "0" * 62 + "%00", "é" * 32]


@pytest.mark.parametrize("form", ["/api/blob/{}", "/api/blob/{}/preview", "/api/pack/{}"])
def test_a_name_that_is_no_hash_is_refused(paired_client, state, form: str) -> None:
    before = state()
    for name in BAD_NAMES:
        answer = paired_client.get(form.format(name))
        assert answer.status_code in (400, 404), name
        one_shape(answer)
    assert state() == before


def test_nothing_is_taken_in_under_a_name_that_is_no_hash(paired_client, state) -> None:
    before = state()
    headers = {"Upload-Offset": "0", "Upload-Length": "1", "Content-Type": "application/partial-upload"}
    for name in BAD_NAMES:
        answer = paired_client.patch(f"/api/blob/{name}", data=b"x", headers=headers)
        assert answer.status_code in (400, 404), name
        one_shape(answer)
        assert paired_client.head(f"/api/blob/{name}").status_code in (400, 404)
    assert state() == before


@pytest.mark.parametrize("form", ["/api/blob/{}", "/api/blob/{}/preview", "/api/pack/{}"])
def test_a_hash_that_is_not_here_is_told(paired_client, form: str) -> None:
    answer = paired_client.get(form.format(SHA))
    assert answer.status_code == 404
    one_shape(answer)


def test_an_unknown_pack_has_its_own_code(paired_client) -> None:
    assert one_shape(paired_client.get(f"/api/pack/{SHA}"))["code"] == "no-pack"


def test_an_unknown_device_cannot_be_shut_out(paired_client, state) -> None:
    before = state()
    for device in (DEVICE, "x", "%00", "'; DROP TABLE journal; --"):
        answer = paired_client.post(f"/api/devices/{device}/revoke", json={})
        assert answer.status_code == 404, device
        one_shape(answer)
    assert state() == before
