"""What was overwritten, cleared or removed names a person as much as what stands: it goes with them too."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from flask import Flask

from field.services import forget, keep_blob
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.take_in_changes import take_in

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
SITE, HOLDER, HOLDING, LEAVE, PAPER, VISIT = (an_id() for _ in range(6))
NAME, OLD_NAME, OLD_NUMBER = "Isla Garrow", "Isla Penwith", "01632 960 777"
SCAN = b"%PDF-1.4 signed by Isla Garrow"
SHA = hashlib.sha256(SCAN).hexdigest()


class Writer:
    """One phone whose every change has seen all that it wrote before."""

    def __init__(self) -> None:
        self.ops: list[dict[str, Any]] = []

    def write(self, record_type: str, rec: str, **fields: Any) -> None:
        seen: dict[str, list[str]] = {name: [] for name in fields}
        for op in self.ops:
            for name in fields:
                if op["rec"] == rec and name in op["set"]:
                    seen[name] = [op["hlc"]]
        if fields.get("deleted"):
            seen["deleted"] = [op["hlc"] for op in self.ops if op["rec"] == rec]
        self.ops.append(a_change(fields, type=record_type, rec=rec, seq=len(self.ops) + 1, base=seen))


def sync(device: str, *ops: Any) -> dict[str, Any]:
    return take_in({"proto": 1, "device": device, "epoch": None, "cursor": 0, "ops": list(ops)}, device, NOW)


@pytest.fixture
def home(store: Flask) -> Flask:
    keep_blob.keep_bytes(SCAN)
    phone = Writer()
    phone.write("site", SITE, name="Gledhope")
    phone.write("landholder", HOLDER, name=OLD_NAME, phone=OLD_NUMBER, role="owner")
    phone.write("landholder", HOLDER, name=NAME)
    phone.write("landholder", HOLDER, phone=None)
    phone.write("holding", HOLDING, site=SITE, landholder=HOLDER, note=f"ask at {NAME}'s door")
    phone.write("holding", HOLDING, deleted=True)
    phone.write("leave", LEAVE, site=SITE, landholder=HOLDER, signed_by=NAME)
    phone.write("paper", PAPER, leave=LEAVE, sha256=SHA, file_name="garrow.pdf")
    phone.write("paper", PAPER, deleted=True)
    phone.write("visit", VISIT, site=SITE, note=f"met {OLD_NAME}")
    phone.write("visit", VISIT, note="met nobody")
    sync(PHONE, *phone.ops)
    return store


def traces() -> list[str]:
    said = json.dumps(sync(OTHER_PHONE))
    return [secret for secret in (NAME, OLD_NAME, OLD_NUMBER, "garrow.pdf") if secret in said]


def test_what_was_cleared_overwritten_and_removed_goes_as_well(home: Flask) -> None:
    assert len(traces()) == 4
    found = forget.plan(HOLDER, NOW)["found"]
    assert [(one["id"], one["field"], one["text"]) for one in found] == [(VISIT, "note", f"met {OLD_NAME}")]
    forget.forget(HOLDER, [], [[VISIT, "note"]], NOW)
    assert traces() == []
    assert not keep_blob.is_here(SHA)
    assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_a_landholder_who_was_removed_before_can_still_be_forgotten(home: Flask) -> None:
    seen = [entry["op"]["hlc"] for entry in sync(OTHER_PHONE)["ops"] if entry["op"]["rec"] == HOLDER]
    gone = a_change({"deleted": True}, type="landholder", rec=HOLDER, dev=OTHER_PHONE, seq=1, base={"deleted": seen})
    assert [result["s"] for result in sync(OTHER_PHONE, gone)["results"]] == ["ok"]
    forget.forget(HOLDER, [], [[VISIT, "note"]], NOW)
    assert traces() == []
