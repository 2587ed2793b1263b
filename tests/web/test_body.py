"""A body is read with a bound, unpacked with a bound, and is JSON or refused; answers are packed where taken."""

from __future__ import annotations

import gzip
import json
import zlib

import pytest
from flask import Flask, jsonify

from field.core.errors import BadInput, FellsideError, TooLarge
from field.web import body, errors

LIMIT = 4096


@pytest.fixture
def small():
    """An app of one route that says back what it read."""
    app = Flask("small")
    errors.init_app(app)
    app.after_request(body.pack_answer)

    @app.post("/api/echo")
    def echo():
        return jsonify(body.read_json(LIMIT))

    return app.test_client()


def test_plain_json_is_read(small) -> None:
    assert small.post("/api/echo", data=b'{"a": 0.0}').get_json() == {"a": 0.0}


def test_packed_json_is_read(small) -> None:
    packed = gzip.compress('{"a": "Ærø"}'.encode())
    answer = small.post("/api/echo", data=packed, headers={"Content-Encoding": "gzip"})
    assert answer.get_json() == {"a": "Ærø"}


def json_of(size: int) -> bytes:
    """Return a JSON object of exactly so many bytes."""
    return b'{"a":"' + b"x" * (size - 8) + b'"}'


@pytest.mark.parametrize(("size", "status"), [(LIMIT, 200), (LIMIT + 1, 413)])
@pytest.mark.parametrize("packed", [False, True])
def test_limit_is_on_the_unpacked_size(small, size: int, status: int, packed: bool) -> None:
    data = json_of(size)
    headers = {"Content-Encoding": "gzip"} if packed else {}
    answer = small.post("/api/echo", data=gzip.compress(data) if packed else data, headers=headers)
    assert answer.status_code == status


def test_a_bomb_is_stopped_at_the_limit() -> None:
    bomb = gzip.compress(b"x" * 50_000_000)
    assert len(bomb) < 100_000
    with pytest.raises(TooLarge):
        body.unpack(bomb, LIMIT)


@pytest.mark.parametrize(
    "packed",
    [
        b"",
        b"no gzip at all",
        gzip.compress(b"{}")[:-1],
        gzip.compress(b"{}")[:12],
        gzip.compress(b"{}") + b"more",
        zlib.compress(b"{}"),
    ],
    ids=["empty", "other bytes", "without its last byte", "half", "more after it", "zlib"],
)
def test_damaged_packing_is_refused(packed: bytes) -> None:
    with pytest.raises(BadInput):
        body.unpack(packed, LIMIT)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"nonsense",
        b"[1, 2]",
        b"null",
        b'"text"',
        b'{"a": NaN}',
        b'{"a": -Infinity}',
        b'{"a": ',
        b'{"a": "\xff"}',
        '{"a": 1}'.encode("utf-16"),
        rb'{"a": "\ud83d"}',
        rb'{"\udc00": 1}',
        b'{"a": ' + b"9" * 4000 + b"}x",
        b"[" * 2000,
    ],
)
def test_what_is_no_json_object_is_refused(small, data: bytes) -> None:
    answer = small.post("/api/echo", data=data)
    assert answer.status_code == 400
    assert answer.get_json()["error"]["code"] == "bad-request"


def test_half_a_pair_is_taken_where_it_is_asked_for() -> None:
    app = Flask("small")
    with app.test_request_context(data=rb'{"note": "\ud83d"}', method="POST"):
        assert body.read_json(LIMIT, any_sign=True) == {"note": "\ud83d"}


def test_unknown_packing_is_refused(small) -> None:
    answer = small.post("/api/echo", data=b"{}", headers={"Content-Encoding": "br"})
    assert answer.status_code == 415
    assert set(answer.get_json()["error"]) == {"code", "message", "cure", "where"}


@pytest.mark.parametrize(
    ("size", "taken", "packed"),
    [(2000, "gzip", True), (2000, "gzip;q=0", False), (2000, "", False), (500, "gzip", False)],
)
def test_answer_is_packed_where_it_helps_and_is_taken(small, size: int, taken: str, packed: bool) -> None:
    data = json_of(size)
    answer = small.post("/api/echo", data=data, headers={"Accept-Encoding": taken})
    assert (answer.headers.get("Content-Encoding") == "gzip") == packed
    assert answer.vary.to_header() == "Accept-Encoding"
    got = gzip.decompress(answer.data) if packed else answer.data
    assert json.loads(got) == json.loads(data)
    assert int(answer.headers["Content-Length"]) == len(answer.data)


class Lost(FellsideError):
    """An error of a kind that the map has not heard of."""


def test_an_unknown_kind_of_error_is_the_callers() -> None:
    assert errors.status_of(Lost("odd", "Odd.")) == 400


def test_a_narrower_code_keeps_the_status_of_its_kind() -> None:
    assert errors.status_of(BadInput("No.", code="bad-request")) == 400
    assert errors.status_of(TooLarge("Big.")) == 413


def test_every_kind_of_error_has_its_status() -> None:
    kinds = [kind for kind in BadInput.__mro__[1].__subclasses__() if not kind.__name__.startswith("_")]
    assert kinds
    assert [kind for kind in kinds if kind not in errors.STATUS_OF_KIND] == []


def test_a_fault_of_our_own_tells_nothing_of_the_inside() -> None:
    app = Flask("faulty")
    errors.init_app(app)

    @app.get("/api/fault")
    def fault():
        raise RuntimeError("SELECT secret FROM journal")

    answer = app.test_client().get("/api/fault")
    assert answer.status_code == 500
    assert answer.get_json()["error"]["code"] == "server-fault"
    assert "secret" not in answer.text
    assert "RuntimeError" not in answer.text
