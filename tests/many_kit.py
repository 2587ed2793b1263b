"""What tests of several servers share: real servers on one PostgreSQL database, and clients that speak to them."""

from __future__ import annotations

import hashlib
import http.client
import json
from pathlib import Path
from typing import Any

from builders import WALL_MS, an_id
from home_server import HOST, RunningServer

from field.services import pair
from field.store import db
from field.sync.hlc import Clock, write_stamp


class SharingServer(RunningServer):
    """A server with a data folder of its own, on a database and a folder of photos that others have too."""

    def __init__(self, data: Path, address: str, photos: Path, *words: str) -> None:
        super().__init__(data, ("--plain", *words))
        self.settings = {"FELLSIDE_DATABASE": address, "FELLSIDE_PHOTOS": str(photos)}

    def environment(self) -> dict[str, str]:
        return {**super().environment(), **self.settings}


class Client:
    """A paired phone that asks a server, over one connection for each question: so that any process may answer."""

    def __init__(self, port: int, device: str, token: str) -> None:
        self.port, self.device, self._token = port, device, token

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, dict[str, str], bytes]:
        link = http.client.HTTPConnection(HOST, self.port, timeout=60)
        try:
            link.request(method, path, body, {"Authorization": f"Bearer {self._token}", **headers})
            answer = link.getresponse()
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
        finally:
            link.close()

    def post(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        status, _, answer = self.ask("POST", path, json.dumps(body).encode(), **{"Content-Type": "application/json"})
        assert status == 200, (status, answer[:500])
        return dict(json.loads(answer))

    def send(self, data: bytes, begin: int, end: int, name: str | None = None) -> tuple[int, dict[str, str], bytes]:
        """Send a piece of a file; return how that was answered."""
        sha256 = name or hashlib.sha256(data).hexdigest()
        headers = {"Upload-Offset": str(begin), "Upload-Length": str(len(data))}
        headers["Content-Type"] = "application/partial-upload"
        return self.ask("PATCH", f"/api/blob/{sha256}", data[begin:end], **headers)


def pair_phones(address: str | None, data: Path, photos: Path | None, how_many: int) -> list[tuple[str, str]]:
    """Pair phones with a database; return device and token of each."""
    with db.alone(address, data, photos):
        names = [an_id() for _ in range(how_many)]
        return [(name, pair.pair(pair.make_code()["code"], name, f"Phone {name[:4]}")["token"]) for name in names]


def a_tag(device: str, seq: int, rec: str) -> dict[str, Any]:
    """Return a change that gives a tree its tag."""
    return {
        "dev": device,
        "seq": seq,
        "hlc": write_stamp(Clock(WALL_MS, seq), device),
        "wall": "2027-03-01T09:00:00.000Z",
        "tz": "+00:00",
        "rec": rec,
        "type": "tree",
        "set": {"tag": f"T{seq}"},
        "base": {"tag": []},
        "v": 1,
    }
