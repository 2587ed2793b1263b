"""Bodies on a real connection: what is refused early is still answered, and a connection goes on after it."""

from __future__ import annotations

import gzip
import http.client
import json
from collections.abc import Iterator

import home_server as server
import pytest

MIB = 1024 * 1024
DEVICE = "33333333-3333-4333-8333-333333333333"
QUESTION = json.dumps({"proto": 1, "device": DEVICE, "epoch": None, "cursor": 0, "have": {}, "ops": []}).encode()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, str]]:
    """The port of a real server, and the token of a phone paired with it."""
    with server.RunningServer(tmp_path_factory.mktemp("bodies") / "data") as home:
        asked = {"code": home.pair_code(), "device": DEVICE, "name": "Phone"}
        yield home.port, home.post("/api/pair", asked)["token"]


@pytest.fixture
def connection(running: tuple[int, str]) -> Iterator[http.client.HTTPConnection]:
    made = http.client.HTTPConnection("127.0.0.1", running[0], timeout=30)
    yield made
    made.close()


@pytest.fixture
def token(running: tuple[int, str]) -> dict[str, str]:
    return {"Authorization": f"Bearer {running[1]}"}


def ask(connection, method: str, path: str, body: bytes | None, headers: dict[str, str]) -> tuple[int, bytes]:
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    return answer.status, answer.read()


def padded(size: int) -> bytes:
    """Return the question, made longer by something that says nothing."""
    head = QUESTION[:-1] + b', "pad": "'
    return head + b"x" * (size - len(head) - 2) + b'"}'


@pytest.mark.parametrize(("size", "status"), [(MIB, 200), (MIB + 1, 413), (8 * MIB, 413)])
def test_largest_body_is_taken_and_one_byte_more_is_answered(connection, token, size: int, status: int) -> None:
    body = padded(size)
    assert len(body) == size
    assert ask(connection, "POST", "/api/sync", body, token)[0] == status
    assert ask(connection, "GET", "/api/hello", None, {})[0] == 200


@pytest.mark.parametrize("size", [0, 256 * 1024, 8 * MIB])
@pytest.mark.parametrize(("method", "path"), [("POST", "/api/sync"), ("PATCH", "/api/blob/" + "0" * 64)])
def test_unpaired_phone_that_sends_much_is_answered(connection, method: str, path: str, size: int) -> None:
    status, said = ask(connection, method, path, b"x" * size, {})
    assert status == 401
    assert json.loads(said)["error"]["code"] == "unpaired"
    assert ask(connection, "GET", "/api/hello", None, {})[0] == 200


def test_body_in_chunks_is_read(connection, token) -> None:
    connection.request("POST", "/api/sync", iter([QUESTION[:20], QUESTION[20:]]), token, encode_chunked=True)
    answer = connection.getresponse()
    assert (answer.status, json.loads(answer.read())["more"]) == (200, False)


@pytest.mark.parametrize(("size", "status"), [(MIB, 200), (MIB + 1, 413)])
def test_chunks_have_the_same_limit(connection, token, size: int, status: int) -> None:
    body = padded(size)
    pieces = [body[at : at + 100_000] for at in range(0, size, 100_000)]
    connection.request("POST", "/api/sync", iter(pieces), token, encode_chunked=True)
    answer = connection.getresponse()
    answer.read()
    assert answer.status == status


def test_packed_body_and_packed_answer(connection, token) -> None:
    headers = {**token, "Content-Encoding": "gzip", "Accept-Encoding": "gzip"}
    assert ask(connection, "POST", "/api/sync", gzip.compress(QUESTION), headers)[0] == 200


def test_head_has_no_body(connection, token) -> None:
    assert ask(connection, "HEAD", "/api/blob/" + "0" * 64, None, token) == (404, b"")
