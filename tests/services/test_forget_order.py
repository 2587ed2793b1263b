"""Home ends alike whatever comes first: the words, what is left of them, or that the person was forgotten."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from flask import Flask
from forget_kit import sealed

from field.core.errors import Conflict
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.take_in_changes import take_in
from field.store import queries
from field.sync.blank import forget, read_blanks

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
HOLDER, SITE = an_id(), an_id()
NAME = "Isla Garrow"
WHOLE = [
    a_change({"name": NAME, "role": "owner"}, type="landholder", rec=HOLDER, seq=1),
    a_change({"name": "Gledhope"}, type="site", rec=SITE, seq=2),
    a_change({"name": f"{NAME} of Gledhope"}, type="landholder", rec=HOLDER, seq=3),
]
BLANKS = {HOLDER: ["name", "phone"]}
LEFT = [dict(forget(op, read_blanks([BLANKS]))) for op in WHOLE]
TOLD = a_change({"about": HOLDER, "blanks": BLANKS, "files": []}, type="forgetting", dev=OTHER_PHONE)
ORDERS = {
    "words, then forgotten": [WHOLE, [TOLD]],
    "forgotten, then words": [[TOLD], WHOLE],
    "in one batch": [[*WHOLE, TOLD]],
    "words, forgotten, words again": [WHOLE, [TOLD], WHOLE],
    "what is left, forgotten, words": [LEFT, [TOLD], WHOLE],
    "words, what is left, forgotten": [WHOLE, LEFT, [TOLD]],
    "what is left, words, forgotten": [LEFT, WHOLE, [TOLD]],
}


def sync(*ops: Any) -> dict[str, Any]:
    return take_in({"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "ops": list(ops)}, PHONE, NOW)


@pytest.mark.parametrize("order", ORDERS.values(), ids=ORDERS)
def test_home_keeps_the_same_and_no_phone_is_taken_for_a_copy(store: Flask, order: list[list[dict[str, Any]]]) -> None:
    told = [[sealed(op) if op is TOLD else op for op in batch] for batch in order]
    results = [result["s"] for batch in told for result in sync(*batch)["results"]]
    assert set(results) <= {"ok", "dup"}
    kept = {(op["dev"], op["seq"]): op for op in (entry["op"] for entry in sync()["ops"])}
    assert [kept[op["dev"], op["seq"]] for op in LEFT] == LEFT
    assert NAME not in json.dumps(list(kept.values()))
    assert queries.get_record("landholder", HOLDER)["role"] == "owner"
    assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_one_who_may_not_say_so_has_nobody_forgotten(store: Flask) -> None:
    sync(*WHOLE)
    request = {"proto": 1, "device": OTHER_PHONE, "epoch": None, "cursor": 0, "ops": [TOLD]}
    assert [result["s"] for result in take_in(request, OTHER_PHONE, NOW, "record")["results"]] == ["held"]
    assert queries.get_record("landholder", HOLDER)["name"] == f"{NAME} of Gledhope"


def test_what_is_not_taken_in_has_nobody_forgotten(store: Flask) -> None:
    sync(*WHOLE, a_change({"name": "x"}, type="site", rec=TOLD["rec"], seq=4))
    told = sealed(TOLD)
    assert [result["s"] for result in sync(told)["results"]] == ["held"]
    taken = {**told, "dev": PHONE, "seq": 2}
    with pytest.raises(Conflict):
        sync(taken)
    assert queries.get_record("landholder", HOLDER)["name"] == f"{NAME} of Gledhope"
    assert (rebuild()["ok"], check()["ok"]) == (True, True)
