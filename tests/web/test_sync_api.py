"""The exchange over HTTP: plain or packed, paired or not, and what a phone may keep of the answers."""

from __future__ import annotations

import gzip
import hashlib
import json
from datetime import datetime

import pytest
from builders import OTHER_PHONE, PHONE, a_change

from field.core.dates import show_date


def question(ops: list[dict] | None = None, **others: object) -> dict[str, object]:
    return {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": ops or [], **others}


def test_hello_is_open_and_says_who_is_here(client) -> None:
    told = client.get("/api/hello").get_json()
    assert set(told) == {"app", "epoch", "now", "proto", "min_proto", "version", "home"}
    assert told["app"] == "fellside"
    assert told["home"] is None  # plain, or behind a proxy: this server does not know its address
    assert told["proto"] == [1]
    assert told["now"].endswith("Z")


def test_a_change_goes_in_and_comes_back(paired_client) -> None:
    op = a_change({"tag": "B1", "girth_mm": 410})
    told = paired_client.post("/api/sync", json=question([op])).get_json()
    assert [result["s"] for result in told["results"]] == ["ok"]
    assert told["have"] == {PHONE: 1}
    assert [row["op"] for row in told["ops"]] == [op]
    assert told["epoch"] == paired_client.get("/api/hello").get_json()["epoch"]


def test_packed_question_and_packed_answer_say_the_same(paired_client) -> None:
    ops = [a_change({"note": "heather and peat " * 20}, seq=seq) for seq in range(1, 21)]
    body = gzip.compress(json.dumps(question(ops)).encode())
    headers = {"Content-Encoding": "gzip", "Accept-Encoding": "gzip"}
    answer = paired_client.post("/api/sync", data=body, headers=headers)
    assert answer.headers["Content-Encoding"] == "gzip"
    told = json.loads(gzip.decompress(answer.data))
    assert [row["op"] for row in told["ops"]] == ops
    plain = paired_client.post("/api/sync", json=question(epoch=told["epoch"])).get_json()
    assert plain["ops"] == told["ops"]


def test_a_sign_that_is_no_text_keeps_no_batch_out(paired_client) -> None:
    bad, good = a_change({"note": "\ud83d"}, seq=1), a_change({"note": "\N{EVERGREEN TREE}"}, seq=2)
    told = paired_client.post("/api/sync", data=json.dumps(question([bad, good])).encode()).get_json()
    assert [result["s"] for result in told["results"]] in (["ok", "ok"], ["held", "ok"])
    assert told["have"] == {PHONE: 2}


def test_a_copied_phone_is_told_so(paired_client) -> None:
    paired_client.post("/api/sync", json=question([a_change({"tag": "one"})]))
    answer = paired_client.post("/api/sync", json=question([a_change({"tag": "two"})]))
    assert answer.status_code == 409
    assert answer.get_json()["error"]["code"] == "device-fork"


def test_a_phone_that_is_too_old_may_bring_and_not_take(paired_client) -> None:
    brought = paired_client.post("/api/sync", json=question([a_change()], proto=0))
    assert (brought.status_code, brought.get_json()["ops"]) == (200, [])
    asked = paired_client.post("/api/sync", json=question(proto=0))
    assert asked.status_code == 426
    assert asked.get_json()["error"]["code"] == "too-old"


def test_held_changes_are_told(paired_client) -> None:
    op = a_change({"girth_mm": "thick"})
    paired_client.post("/api/sync", json=question([op]))
    (held,) = paired_client.get("/api/held").get_json()["held"]
    assert held["op"] == op
    assert held["why"]


def test_pack_is_named_by_its_content_and_may_be_kept(paired_client) -> None:
    paired_client.post("/api/sync", json=question([a_change({"name": "Low Moss"}, type="site")]))
    name = paired_client.post("/api/sync", json=question()).get_json()["pack"]
    answer = paired_client.get(f"/api/pack/{name}")
    assert hashlib.sha256(answer.data).hexdigest() == name
    assert "immutable" in answer.headers["Cache-Control"]
    assert "private" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("address", ["/api/devices", "/api/held", "/api/hello"])
def test_answers_about_records_are_not_kept_by_the_browser(paired_client, address: str) -> None:
    assert paired_client.get(address).headers["Cache-Control"] == "no-store"


# --- pairing -------------------------------------------------------------------------------------------------------


def pair(client, code: object, device: object = OTHER_PHONE, name: object = "Anna's phone"):
    return client.post("/api/pair", json={"code": code, "device": device, "name": name})


def test_a_code_pairs_one_phone_once(paired_client, client) -> None:
    made = paired_client.post("/api/pair-code", json={}).get_json()
    assert made["url"] == f"http://localhost/#/pair/{made['code']}"
    told = pair(client, made["code"]).get_json()
    assert set(told) == {"token", "device", "epoch", "now", "role"}
    assert client.get("/api/devices", headers={"Authorization": f"bearer {told['token']}"}).status_code == 200
    again = pair(client, made["code"])
    assert again.status_code == 403
    assert again.get_json()["error"]["code"] == "pair-code"


def test_guessing_is_slowed_down(client) -> None:
    answers = [pair(client, f"WRONG{n}").status_code for n in range(11)]
    assert answers == [403] * 10 + [429]


def test_a_phone_that_was_shut_out_is_told_so_and_on_which_day(paired_client) -> None:
    (phone,) = paired_client.get("/api/devices").get_json()["devices"]
    known = {"device", "name", "role", "paired_at", "last_seen_at", "revoked", "signed_in"}
    assert set(phone) == known | {"copy_of", "own_token", "app"}
    before = show_date(datetime.now().astimezone().date())
    told = paired_client.post(f"/api/devices/{PHONE}/revoke", json={"anyway": True}).get_json()
    assert [one["revoked"] for one in told["devices"]] == [True]
    answer = paired_client.post("/api/sync", json=question([a_change()]))
    assert answer.status_code == 401
    error = answer.get_json()["error"]
    assert error["code"] == "shut-out"
    days = {before, show_date(datetime.now().astimezone().date())}  # midnight may fall in between
    assert error["message"] in {f"This phone was shut out at home on {day}." for day in days}
    assert "still on it" in error["cure"]


def test_whoever_shows_another_token_learns_nothing_of_those_shut_out(paired_client, client) -> None:
    paired_client.post(f"/api/devices/{PHONE}/revoke", json={"anyway": True})
    told = [
        client.get("/api/me", headers=headers).get_json()["error"]
        for headers in ({}, {"Authorization": "Bearer x"}, {"Authorization": f"Bearer {PHONE}"})
    ]
    assert {one["code"] for one in told} == {"unpaired"}
    assert len({str(one) for one in told}) == 1


def test_home_lists_which_version_of_the_app_each_phone_runs(paired_client) -> None:
    now = paired_client.get("/sw.js").text.split('const VERSION = "')[1].split('"')[0]
    listed = paired_client.get("/api/devices").get_json()
    assert (listed["app"], listed["devices"][0]["app"]) == (now, None)
    for told, kept in ((now, now), ("older.1", "older.1"), ("", "older.1"), (7, "older.1"), ("<b>", "older.1")):
        assert paired_client.post("/api/sync", json={**question([]), "app": told}).status_code == 200
        assert paired_client.get("/api/devices").get_json()["devices"][0]["app"] == kept


def test_a_code_comes_with_the_address_the_asking_page_was_opened_under(paired_client) -> None:
    told = {"Origin": "https://log.example:8443", "Sec-Fetch-Site": "same-origin"}  # as a browser does behind a proxy
    made = paired_client.post("/api/pair-code", json={}, headers=told).get_json()
    assert made["url"] == f"https://log.example:8443/#/pair/{made['code']}"
    assert made["qr"].startswith("<svg")
    odd = paired_client.post("/api/pair-code", json={}, headers={**told, "Origin": "null"}).get_json()
    assert odd["url"] == f"http://localhost/#/pair/{odd['code']}"


@pytest.mark.parametrize("after", ["", "-1", "x", "1.5", "9" * 16])
def test_a_place_to_ask_on_after_is_a_whole_number(paired_client, after: str) -> None:
    answer = paired_client.get("/api/held", query_string={"after": after})
    assert (answer.status_code, answer.get_json()["error"]["where"]) == (400, "after")
