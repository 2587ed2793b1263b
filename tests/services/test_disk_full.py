"""Home's disk is full: the phone is told so, nothing is half taken in, and with room again the same batch goes in."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from builders import PHONE, WALL_MS, a_change
from flask import Flask
from sqlalchemy import event

from field.services import pair
from field.store import db
from field.web.app import create_app

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
NOTE = "n" * 20_000  # five pages of the database each


class Disk:
    """How much of it SQLite may use: it says "database or disk is full" itself, as it does on a real one."""

    def __init__(self, app: Flask) -> None:
        with app.app_context():
            self.engine = db.db.engine
            self.used = int(db.db.session.connection().exec_driver_sql("PRAGMA page_count").scalar_one())
            db.db.session.rollback()
        self.pages: int | None = None
        event.listen(self.engine, "begin", self._limit)

    def _limit(self, connection: Any) -> None:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {self.pages or 1_073_741_823}")

    def leave(self, pages: int | None) -> None:
        """Leave room for so many more pages; None for all there are."""
        self.pages = None if pages is None else self.used + pages


@pytest.fixture
def app(tmp_path: Path) -> Any:
    made = create_app(tmp_path / "data", "")
    made.testing = True
    made.config["PROPAGATE_EXCEPTIONS"] = False
    yield made
    db.close(made)


def test_a_batch_that_finds_no_room_is_refused_whole_and_goes_in_later(app: Flask) -> None:
    client = app.test_client()
    with app.app_context():
        token = pair.pair(pair.make_code()["code"], PHONE, "phone")["token"]
    disk = Disk(app)
    headers = {"Authorization": f"Bearer {token}"}
    ops = [a_change({"note": f"{seq} {NOTE}"}, seq=seq) for seq in range(1, 21)]
    body = {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": ops, "want": 500}

    disk.leave(40)  # some of the batch would fit
    refused = client.post("/api/sync", json=body, headers=headers)
    assert refused.status_code == 507
    assert refused.json["error"]["code"] == "disk-full"
    assert "nothing was changed" in refused.json["error"]["message"]

    disk.leave(None)
    asked = client.post("/api/sync", json={**body, "ops": []}, headers=headers).json
    assert (asked["ops"], asked["have"].get(PHONE, 0)) == ([], 0)
    taken = client.post("/api/sync", json=body, headers=headers).json
    assert [result["s"] for result in taken["results"]] == ["ok"] * len(ops)
    assert taken["have"][PHONE] == len(ops)
