"""A person is forgotten: nothing names them any more, whatever comes later; what may have to stay is asked about."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, WALL_MS, a_change, an_id
from flask import Flask
from forget_kit import sealed

from field.core.errors import BadInput, NotAllowed, NotFound
from field.services import forget, keep_blob
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.take_in_changes import take_in
from field.store import db, queries

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
SITE, HOLDER, OTHER, LEAVE, TREE, SIGNING, PAPER, VISIT, LIFT = (an_id() for _ in range(9))
NAME, PHONE_NO, MAIL, ADDRESS = "Morag Tennant", "01632 960 001", "morag@example.org", "Byre Cottage"
SECRETS = (NAME, PHONE_NO, MAIL, ADDRESS)
SCAN = b"%PDF-1.4 a paper signed by Morag Tennant"
SHA = hashlib.sha256(SCAN).hexdigest()


def the_log() -> list[dict[str, Any]]:
    person = {"name": NAME, "phone": PHONE_NO, "email": MAIL, "address": ADDRESS, "role": "owner"}
    leave = {"site": SITE, "landholder": HOLDER, "form": "signed", "signed_by": NAME, "allowance": 3}
    letter = {"leave": LEAVE, "letter": {"to": [NAME, ADDRESS]}, "name": NAME, "signed_on": "2027-02-01"}
    return [
        a_change({"name": "Kettle Brae"}, type="site", rec=SITE, seq=1),
        a_change(person, type="landholder", rec=HOLDER, seq=2),
        a_change({"name": "the estate"}, type="landholder", rec=OTHER, seq=3),
        a_change(leave, type="leave", rec=LEAVE, seq=4),
        a_change(letter, type="signing", rec=SIGNING, seq=5),
        a_change({"leave": LEAVE, "sha256": SHA, "file_name": f"{NAME}.pdf"}, type="paper", rec=PAPER, seq=6),
        a_change({"site": SITE, "note": f"tea with {NAME.upper()}"}, type="visit", rec=VISIT, seq=7),
        a_change({"tag": "K1", "site": SITE}, rec=TREE, seq=8),
        a_change({"tree": TREE, "leave": LEAVE, "answer": {"leave": NAME}}, type="lift", rec=LIFT, seq=9),
        a_change({"phone": "01632 960 002"}, type="landholder", rec=HOLDER, seq=10),
    ]


def sync(device: str, *ops: Any, place: dict[str, Any] | None = None) -> dict[str, Any]:
    at = place or {"epoch": None, "cursor": 0}
    request = {"proto": 1, "device": device, "epoch": at["epoch"], "cursor": at["cursor"], "ops": list(ops)}
    return take_in(request, device, NOW)


@pytest.fixture
def home(store: Flask) -> Flask:
    keep_blob.keep_bytes(SCAN)
    sync(PHONE, *the_log())
    return store


def everything_said() -> str:
    return json.dumps(sync(OTHER_PHONE))


def test_what_names_them_is_told_before_anything_is_done(home: Flask) -> None:
    plan = forget.plan(HOLDER, NOW)
    assert plan["name"] == NAME
    assert {one["type"]: set(one["fields"]) for one in plan["certain"]} == {
        "landholder": {"name", "phone", "email", "address"}, "leave": {"signed_by"},
    }  # fmt: skip
    assert {one["type"] for one in plan["asked"]} == {"signing", "paper", "lift"}
    [found] = plan["found"]
    assert (found["id"], found["field"], found["text"]) == (VISIT, "note", f"tea with {NAME.upper()}")
    assert NAME in everything_said()


def test_nothing_names_them_any_more_and_the_leave_stands(home: Flask) -> None:
    done = forget.forget(HOLDER, [], [[VISIT, "note"]], NOW)
    said = everything_said()
    assert [secret for secret in (*SECRETS, NAME.upper(), "960 002") if secret in said] == []
    assert (done["records"], done["files"]) == (6, 1)
    leave = queries.get_record("leave", LEAVE)
    assert (leave["landholder"], leave["allowance"], leave["signed_by"]) == (HOLDER, 3, None)
    assert queries.get_record("landholder", HOLDER)["role"] == "owner"
    assert queries.get_record("landholder", OTHER)["name"] == "the estate"
    [told] = queries.list_records("forgetting")
    assert (told["about"], told["forgotten_on"]) == (HOLDER, NOW.astimezone().date().isoformat())
    assert not keep_blob.is_here(SHA)
    assert rebuild()["ok"] is True
    assert check()["ok"] is True


def test_what_is_to_be_kept_is_kept(home: Flask) -> None:
    forget.forget(HOLDER, [SIGNING, PAPER], [], NOW)
    assert queries.get_record("signing", SIGNING)["name"] == NAME
    assert keep_blob.is_here(SHA)
    assert queries.get_record("visit", VISIT)["note"] == f"tea with {NAME.upper()}"
    assert queries.get_record("lift", LIFT)["answer"] is None
    [told] = queries.list_records("forgetting")
    assert told["keeps"] == sorted([SIGNING, PAPER])


def test_a_phone_that_sends_the_old_words_again_brings_nothing_back(home: Flask) -> None:
    forget.forget(HOLDER, [], [], NOW)
    assert {result["s"] for result in sync(PHONE, *the_log())["results"]} == {"dup"}
    late = a_change({"phone": PHONE_NO}, type="landholder", rec=HOLDER, dev=OTHER_PHONE, seq=1)
    assert [result["s"] for result in sync(OTHER_PHONE, late)["results"]] == ["ok"]
    assert [secret for secret in SECRETS if secret in everything_said()] == []


def test_a_file_that_went_is_not_taken_in_again(home: Flask) -> None:
    forget.forget(HOLDER, [], [], NOW)
    with pytest.raises(NotAllowed):
        keep_blob.append(SHA, 0, len(SCAN), io.BytesIO(SCAN))
    keep_blob.keep_bytes(SCAN)
    assert not keep_blob.is_here(SHA)


def test_a_file_that_others_speak_of_too_stays(home: Flask) -> None:
    sync(PHONE, a_change({"sha256": SHA}, type="photo", seq=11))
    forget.forget(HOLDER, [], [], NOW)
    assert keep_blob.is_here(SHA)


def test_no_trace_is_left_in_the_files_of_the_log(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with db.alone(None, data):
        keep_blob.keep_bytes(SCAN)
        sync(PHONE, *the_log())
        forget.forget(HOLDER, [], [[VISIT, "note"]], NOW)
    kept = {path: path.read_bytes() for path in data.rglob("*") if path.is_file()}
    for secret in (*SECRETS, NAME.upper()):
        assert [path.name for path, content in kept.items() if secret.encode() in content] == []


@pytest.mark.parametrize(("keep", "also"), [(None, []), ([1], []), ([], None), ([], [["a"]]), ([], [["a", 1]])])
def test_what_is_no_answer_is_refused_and_nothing_goes(home: Flask, keep: Any, also: Any) -> None:
    with pytest.raises(BadInput):
        forget.forget(HOLDER, keep, also, NOW)
    assert queries.get_record("landholder", HOLDER)["name"] == NAME


def test_one_who_is_not_here_is_said(home: Flask) -> None:
    with pytest.raises(NotFound):
        forget.plan(an_id(), NOW)


def test_a_forgetting_in_a_wrong_form_blanks_nothing_and_stops_nothing(home: Flask) -> None:
    odd = [{"blanks": 5}, {"blanks": {HOLDER: "name"}}, {"blanks": {HOLDER: [1, None]}}, {"files": "x"}]
    ops = [sealed(a_change(one, type="forgetting", dev=OTHER_PHONE, seq=seq)) for seq, one in enumerate(odd, 1)]
    assert {result["s"] for result in sync(OTHER_PHONE, *ops)["results"]} == {"ok"}
    assert queries.get_record("landholder", HOLDER)["name"] == NAME
    forget.clear_up()
