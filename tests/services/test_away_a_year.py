"""A phone that lay in a drawer for a year hands over what it has, and gets what went on meanwhile."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from flask import Flask
from flask.testing import FlaskClient

from field.services import pair
from field.services.rebuild import rebuild
from field.services.take_in_changes import take_in
from field.store import queries
from field.sync.hlc import Clock, write_stamp

THEN = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
A_YEAR = dt.timedelta(days=365)
BATCH, MEANWHILE, IN_THE_DRAWER = 200, 3_000, 600  # tried by hand with 10,000 and 2,000
VISITS = [an_id() for _ in range(300)]


def edits(dev: str, first: int, number: int, ms: int, **set_: Any) -> list[dict[str, Any]]:
    """Return edits of visits, one after the other, each written in sight of what its own phone wrote before."""
    return [
        a_change(
            {**set_, "note": f"{dev[0]} {seq}"},
            type="visit",
            rec=VISITS[seq % len(VISITS)],
            dev=dev,
            seq=seq,
            ms=ms,
            hlc=write_stamp(Clock(ms + seq, 0), dev),
            base={
                name: [write_stamp(Clock(ms + seq - len(VISITS), 0), dev)] if seq > len(VISITS) else []
                for name in {**set_, "note": ""}
            },
        )
        for seq in range(first, first + number)
    ]


def bring(ops: list[dict[str, Any]], device: str, now: dt.datetime) -> dict[str, Any]:
    """Have home take changes in, a batch at a time, and return its last answer."""
    said: dict[str, Any] = {}
    for start in range(0, len(ops), BATCH):
        request = {
            "proto": 1,
            "device": device,
            "epoch": None,
            "cursor": 0,
            "want": 0,
            "ops": ops[start : start + BATCH],
        }
        said = take_in(request, device, now)
        assert {result["s"] for result in said["results"]} == {"ok"}
    return said


def exchange(client: FlaskClient, token: str, place: dict[str, Any], ops: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Sync as a phone does: ask what home has, send what it lacks, read on until there is no more. Return the news."""
    cursor, epoch, known, waiting = place["cursor"], place["epoch"], [], list(ops)
    first = True
    while True:
        some = [] if first else waiting[:BATCH]
        body = {"proto": 1, "device": PHONE, "epoch": epoch, "cursor": cursor, "have": {}, "ops": some, "want": 500}
        answer = client.post("/api/sync", json=body, headers={"Authorization": f"Bearer {token}"})
        assert answer.status_code == 200, answer.text
        said = answer.json
        assert all(result["s"] == "ok" for result in said["results"])
        cursor, epoch, first = said["cursor"], said["epoch"], False
        known += [entry["op"] for entry in said["ops"]]
        waiting = [op for op in waiting if op["seq"] > said["have"].get(PHONE, 0)]
        if not waiting and not said["more"]:
            return known


@pytest.mark.parametrize("shut_out", [False, True], ids=["as-it-was", "shut-out-and-paired-anew"])
def test_it_hands_over_its_work_and_gets_all_that_went_on(
    app: Flask, client: FlaskClient, token: str, shut_out: bool
) -> None:
    mine = edits(PHONE, 1, IN_THE_DRAWER, WALL_MS)
    with app.app_context():
        known = bring(mine[:3], PHONE, THEN)
        theirs = edits(OTHER_PHONE, 1, MEANWHILE, WALL_MS + 86_400_000, visited_on="2028-02-29")
        bring(theirs, OTHER_PHONE, THEN + A_YEAR)
        if shut_out:
            pair.revoke(PHONE)
            token = pair.pair(pair.make_code()["code"], PHONE, "From the drawer")["token"]
    news = exchange(client, token, {"cursor": 3, "epoch": known["epoch"]}, mine)
    assert {(op["dev"], op["seq"]) for op in news} >= {(op["dev"], op["seq"]) for op in theirs}
    with app.app_context():
        assert rebuild() == {
            "ok": True,
            "changes": IN_THE_DRAWER + MEANWHILE,
            "records": len(VISITS),
            "differences": [],
        }
        # What both wrote without having seen each other is shown twice, and nothing of it is lost.
        visit = queries.get_record("visit", VISITS[0])
        assert visit["visited_on"] == "2028-02-29"
        [shown] = [one["conflicts"] for one in queries.list_conflicts() if one["id"] == VISITS[0]]
        assert sorted(one["value"] for one in shown["note"]) == [f"1 {IN_THE_DRAWER}", f"2 {MEANWHILE}"]
