"""Only this home has a person forgotten, for its owner: no phone forges a forgetting, changes one or takes one back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, a_change, an_id
from copy_kit import write_copy
from flask import Flask
from forget_kit import NOW, sealed, states, sync
from sqlalchemy import delete, select

from field.core.forgetting import MORE_THAN_MAY_GO, NOT_DECIDED_HERE
from field.services import forget, keep_blob, take_copy
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.take_in_changes import list_held
from field.store import anew, db, forgotten, journal, queries
from field.store.tables import JournalRow, MetaRow

SITE, HOLDER, LEAVE, TREE = (an_id() for _ in range(4))
NAME = "Ewan Moffat"
BLANKS = {HOLDER: ["name", "phone"], SITE: ["name"]}
FORGED = a_change({"about": HOLDER, "blanks": BLANKS, "files": []}, type="forgetting", dev=OTHER_PHONE)


def the_log() -> list[dict[str, Any]]:
    return [
        a_change({"name": "Gledhope", "height_m": 310}, type="site", rec=SITE, seq=1),
        a_change({"name": NAME, "phone": "01632 960 003", "role": "owner"}, type="landholder", rec=HOLDER, seq=2),
        a_change({"site": SITE, "landholder": HOLDER, "allowance": 3}, type="leave", rec=LEAVE, seq=3),
    ]


@pytest.fixture
def home(store: Flask) -> Flask:
    sync(PHONE, *the_log())
    return store


def the_forgetting() -> dict[str, Any]:
    [op] = [entry["op"] for entry in sync(PHONE)["ops"] if entry["op"]["type"] == "forgetting"]
    return op


def stands_whole() -> bool:
    records = (queries.get_record("landholder", HOLDER), queries.get_record("site", SITE))
    return [record["name"] for record in records] == [NAME, "Gledhope"]


@pytest.mark.parametrize("seal", [None, "", "0" * 64, 5, ["a"], "ä" * 64], ids=repr)
def test_a_phone_that_may_do_everything_forges_none(home: Flask, seal: Any) -> None:
    answer = sync(OTHER_PHONE, FORGED if seal is None else {**FORGED, "seal": seal})
    assert [(result["s"], result["why"]) for result in answer["results"]] == [("held", NOT_DECIDED_HERE)]
    assert stands_whole()
    assert queries.list_records("forgetting") == []
    assert [one["why"] for one in list_held()["held"]] == [NOT_DECIDED_HERE]
    assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_a_seal_is_good_for_its_own_words_only(home: Flask) -> None:
    told = sealed(FORGED)
    others = [{**FORGED["set"], "blanks": {HOLDER: ["name"]}}, {**FORGED["set"], "deleted": True}]
    forged = [{**told, "set": set_, "seq": seq} for seq, set_ in enumerate(others, 2)]
    forged.append({**told, "rec": an_id(), "seq": 4})
    stamped = [{**op, "hlc": f"{op['hlc'][:13]}{op['seq']:04x}{op['hlc'][17:]}"} for op in forged]
    assert {result["why"] for result in sync(OTHER_PHONE, *stamped)["results"]} == {NOT_DECIDED_HERE}
    assert stands_whole()


def test_no_phone_lifts_what_was_forgotten(home: Flask) -> None:
    forget.forget(HOLDER, [], [], NOW)
    op = the_forgetting()
    seen = {"blanks": [op["hlc"]], "deleted": [op["hlc"]]}
    lifts = [
        a_change(set_, type="forgetting", rec=op["rec"], dev=OTHER_PHONE, seq=seq, base=seen)
        for seq, set_ in enumerate([{"blanks": {}}, {"blanks": None}, {"deleted": True}, {"files": []}], 1)
    ]
    assert set(states(sync(OTHER_PHONE, *lifts))) == {"held"}
    words = a_change({"phone": "01632 960 003"}, type="landholder", rec=HOLDER, dev=OTHER_PHONE, seq=5)
    assert states(sync(OTHER_PHONE, words)) == ["ok"]
    assert queries.get_record("landholder", HOLDER)["phone"] is None
    [told] = queries.list_records("forgetting")
    assert told["blanks"] == op["set"]["blanks"]


def test_what_is_sealed_blanks_names_and_never_terms_or_places(home: Flask) -> None:
    for seq, field in enumerate(("ends_on", "allowance", "boundary", "blanks", "lat"), 1):
        set_ = {"about": HOLDER, "blanks": {LEAVE: [field]}}
        answer = sync(OTHER_PHONE, sealed(a_change(set_, type="forgetting", dev=OTHER_PHONE, seq=seq)))
        assert [(result["s"], result["why"]) for result in answer["results"]] == [("held", MORE_THAN_MAY_GO)]
    assert queries.get_record("leave", LEAVE)["allowance"] == 3


def test_a_landholder_called_like_a_field_does_not_lift_the_forgetting_of_another(home: Flask) -> None:
    sync(PHONE, a_change({"name": "address"}, type="landholder", rec=TREE, seq=4))
    forget.forget(HOLDER, [], [], NOW)
    assert forget.plan(TREE, NOW)["found"] == []


@pytest.mark.parametrize("role", ["full", "record"])
def test_a_phone_of_either_kind_hands_a_sealed_one_back(home: Flask, role: str) -> None:
    told = sealed(FORGED)
    assert states(sync(OTHER_PHONE, told, role=role)) == ["ok"]
    assert states(sync(PHONE, told)) == ["dup"]
    assert NAME not in json.dumps(sync(PHONE)["ops"])
    assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_one_that_had_to_be_written_anew_under_another_name_is_known(home: Flask) -> None:
    told = sealed(FORGED)
    with db.writing() as session:
        arrival = journal.append(session, anew.issue_anew(session, [told], {}, NOW), NOW)
    assert [result.state for result in arrival.results] == ["ok"]


def test_a_phone_that_only_records_is_told_the_seal_that_it_may_have_to_hand_back(home: Flask) -> None:
    forget.forget(HOLDER, [], [], NOW)
    [told] = [one["op"] for one in sync(OTHER_PHONE, role="record")["ops"] if one["op"]["type"] == "forgetting"]
    assert told == the_forgetting()


def test_one_that_was_taken_in_before_there_were_seals_goes_on(data_dir: Path) -> None:
    with db.alone(None, data_dir):
        sync(PHONE, *the_log())
        forget.forget(HOLDER, [], [], NOW)
        op = {name: value for name, value in the_forgetting().items() if name != "seal"}
        with db.writing() as session:  # as the version before this one left it
            row = session.scalars(select(JournalRow).where(JournalRow.type == "forgetting")).one()
            row.op, row.hash = journal.ENCODER.encode(op), journal.op_hash(op)
            session.execute(delete(MetaRow).where(MetaRow.key.in_(("forgetting_seals", journal.JUDGED_BY))))
    with db.alone(None, data_dir):
        assert list_held() == {"held": []}
        assert states(sync(OTHER_PHONE, op)) == ["dup"]
        assert queries.list_records("forgetting")[0]["about"] == HOLDER
        assert states(sync(OTHER_PHONE, {**FORGED, "seq": 2})) == ["held"]


def test_a_copy_that_brings_one_has_its_files_gone_at_once(home: Flask, tmp_path: Path) -> None:
    sha256 = keep_blob.keep_bytes(b"signed by Ewan Moffat")
    sync(PHONE, a_change({"leave": LEAVE, "sha256": sha256}, type="paper", rec=TREE, seq=4))
    set_ = {"about": HOLDER, "blanks": {TREE: ["sha256"]}, "files": [sha256]}
    told = sealed(a_change(set_, type="forgetting", dev=OTHER_PHONE))
    assert take_copy.take_copy(write_copy(tmp_path / "copy.zip", [told]), NOW, anyway=True)["ok"] is True
    assert not keep_blob.is_here(sha256)
    assert forgotten.find_to_clear(db.db.session()) is None


def test_a_fresh_home_says_of_a_phones_copy_what_it_did_not_decide(home: Flask, tmp_path: Path) -> None:
    """Its key went with the lost home: what the phone has blanked stays so, and the owner has it done once more."""
    forget.forget(HOLDER, [], [], NOW)
    file = write_copy(tmp_path / "copy.zip", [entry["op"] for entry in sync(OTHER_PHONE)["ops"]])
    with db.alone(None, tmp_path / "fresh"):
        told = take_copy.take_copy(file, NOW)
        assert (told["ok"], [one["why"] for one in told["changes_held"]]) == (True, [NOT_DECIDED_HERE])
        assert NAME not in json.dumps(sync(OTHER_PHONE)["ops"])
        forget.forget(HOLDER, [], [], NOW)
        late = a_change({"phone": "01632 960 003"}, type="landholder", rec=HOLDER, dev=OTHER_PHONE, seq=1)
        assert states(sync(OTHER_PHONE, late)) == ["ok"]
        assert queries.get_record("landholder", HOLDER)["phone"] is None
