from __future__ import annotations

import datetime as dt

from builders import PHONE, a_change, a_request

from field.services.take_in_changes import take_in
from field.store import queries

NOW = dt.datetime(2027, 3, 1, 9, 0, 5, tzinfo=dt.UTC)


def test_smoke(store):
    op = a_change({"tag": "B1", "girth_mm": 240})
    got = take_in(a_request(op), PHONE, NOW)
    assert got["results"][0]["s"] == "ok"
    assert queries.list_records("tree")[0]["tag"] == "B1"
    assert take_in(a_request(op), PHONE, NOW)["results"][0]["s"] == "dup"
