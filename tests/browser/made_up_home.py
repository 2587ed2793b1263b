"""A home made up for a test: it takes every change in, and answers as the test wants it to."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

HELLO = {
    "app": "fellside",
    "epoch": "e1",
    "now": "2027-06-01T10:00:00.000Z",
    "proto": [1],
    "min_proto": 1,
    "version": "1",
}


def as_json(body: Any, status: int = 200) -> tuple[int, dict[str, str], bytes]:
    """Return an answer with a JSON body, as `Line.spoil` gives one."""
    return status, {"Content-Type": "application/json"}, json.dumps(body).encode()


def refusal(status: int, code: str, message: str = "No.", cure: str | None = None) -> tuple[int, dict[str, str], bytes]:
    """Return home's refusal in its one shape."""
    return as_json({"error": {"code": code, "message": message, "cure": cure, "where": None}}, status)


class MadeUpHome:
    """Answers hello, takes every change in, and has nothing of its own; `ways` puts other answers in."""

    def __init__(self) -> None:
        self.have: dict[str, int] = {}
        self.pack: str | None = None
        self.ways: dict[str, Callable[[str, bytes], Any]] = {}

    def answer(self, method: str, path: str, body: bytes) -> Any:
        for start, way in self.ways.items():
            if path.startswith(start):
                return way(method, body)
        if path == "/api/hello":
            return as_json(HELLO)
        if path == "/api/sync":
            return as_json(self.take_in(json.loads(body)))
        return refusal(404, "not-found")

    def take_in(self, request: dict[str, Any]) -> dict[str, Any]:
        for op in request["ops"]:
            self.have[op["dev"]] = op["seq"]
        results = [
            {"dev": op["dev"], "seq": op["seq"], "s": "ok", "why": None, "clock_suspect": False}
            for op in request["ops"]
        ]
        return {
            "epoch": "e1", "now": HELLO["now"], "have": self.have, "results": results, "ops": [], "cursor": 0,
            "more": False, "blobs_missing": [], "pack": self.pack, "backed_up_to": 0,
        }  # fmt: skip
