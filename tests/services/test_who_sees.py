"""A phone that may only record: what home tells it, what it may write, and what follows when that changes."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, SQUARE, WALL_MS, a_change, an_id
from flask import Flask

from field.core.errors import NotAllowed, NotFound
from field.core.records import RECORD_TYPES
from field.core.who_sees import MAY_ONLY_RECORD, RECORD, SHOWN, WRITES
from field.services import build_pack, who_sees
from field.services.take_in_changes import list_held, take_in
from field.store import db, journal, queries
from field.sync.blank import same_change

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
OWNER, HELPER = PHONE, OTHER_PHONE
SITE, HOLDER, LEAVE, TREE, LIFT, PHOTO, LENT_TREE = (an_id() for _ in range(7))
SECRETS = (
    "Morag Tennant",
    "01632 960 001",
    "morag@example.org",
    "Byre Cottage",
    "her brother signed",
    "nest in the fork",
)
SHA = "ab" * 32


def written_by_the_owner() -> list[dict[str, Any]]:
    name, phone, email, address, told, note = SECRETS
    said = {"name": name, "phone": phone, "email": email, "address": address, "note": told}
    site = {"name": "Kettle Brae", "zone": "Europe/London", "boundary": SQUARE, "note": told}
    lift = {"tree": TREE, "site": SITE, "leave": LEAVE, "lifted_on": "2027-02-20", "note": note}
    leave = {"site": SITE, "landholder": HOLDER, "form": "signed", "starts_on": "2027-01-01", "allowance": 3,
             "conditions": ["shut the gate"], "signed_by": name, "note": told}  # fmt: skip
    return [
        a_change(site, type="site", rec=SITE, seq=1),
        a_change(said, type="landholder", rec=HOLDER, seq=2),
        a_change(leave, type="leave", rec=LEAVE, seq=3),
        a_change({"tag": "K1", "site": SITE, "species": "birch", "note": note}, rec=TREE, seq=4),
        a_change(lift, type="lift", rec=LIFT, seq=5),
        a_change({"tree": TREE, "sha256": SHA, "note": note}, type="photo", rec=PHOTO, seq=6),
        a_change({"leave": LEAVE, "name": name, "letter": {"facts": [phone, address]}}, type="signing", seq=7),
        a_change({"what": [name, phone]}, type="unheard_of", seq=8),
        a_change({"girth_mm": name}, seq=9),  # held, though the field is one that is told
    ]


def sync(device: str, *ops: Any, role: str = "full", place: dict[str, Any] | None = None) -> dict[str, Any]:
    at = place or {"epoch": None, "cursor": 0}
    request = {"proto": 1, "device": device, "epoch": at["epoch"], "cursor": at["cursor"], "ops": list(ops)}
    return take_in(request, device, NOW, role)


@pytest.fixture
def home(store: Flask) -> Flask:
    sync(OWNER, *written_by_the_owner())
    return store


def test_no_contact_data_and_no_note_of_others_is_told(home: Flask) -> None:
    said = json.dumps(sync(HELPER, role=RECORD))
    assert [secret for secret in SECRETS if secret in said] == []
    assert SHA not in json.dumps(sync(HELPER, role=RECORD)["ops"])


def test_what_the_hill_needs_is_told(home: Flask) -> None:
    told = {
        entry["op"]["rec"]: entry["op"]["set"] for entry in sync(HELPER, role=RECORD)["ops"] if "set" in entry["op"]
    }
    assert (told[SITE]["name"], told[SITE]["boundary"]) == ("Kettle Brae", SQUARE)
    assert (told[LEAVE]["allowance"], told[LEAVE]["conditions"]) == (3, ["shut the gate"])
    assert (told[TREE]["tag"], told[TREE]["species"]) == ("K1", "birch")
    assert (told[LIFT]["leave"], told[LIFT]["lifted_on"]) == (LEAVE, "2027-02-20")


def test_every_change_is_told_in_its_place_so_that_nothing_is_missing(home: Flask) -> None:
    whole, part = sync(OWNER), sync(HELPER, role=RECORD)
    assert part["cursor"] == whole["cursor"]
    assert [entry["pos"] for entry in part["ops"]] == [entry["pos"] for entry in whole["ops"]]
    for one, other in zip(whole["ops"], part["ops"], strict=True):
        assert same_change(one["op"], other["op"])


def test_its_own_work_comes_back_whole(home: Flask) -> None:
    mine = a_change({"tag": "H1", "site": SITE, "note": "mine"}, dev=HELPER, seq=1)
    assert [one["s"] for one in sync(HELPER, mine, role=RECORD)["results"]] == ["ok"]
    assert [entry["op"] for entry in sync(HELPER, role=RECORD)["ops"] if entry["op"]["dev"] == HELPER] == [mine]


@pytest.mark.parametrize("kind", sorted({*RECORD_TYPES, "unheard_of"} - WRITES))
def test_what_it_may_not_write_is_held_with_the_reason_and_stops_nothing(home: Flask, kind: str) -> None:
    ops = [a_change({"note": "x"}, type=kind, dev=HELPER, seq=1), a_change({"tag": "H1"}, dev=HELPER, seq=2)]
    said = sync(HELPER, *ops, role=RECORD)
    assert [(one["s"], one["why"]) for one in said["results"]] == [("held", MAY_ONLY_RECORD), ("ok", None)]
    # Judging anew, as after an update, lets nothing of it in.
    with db.writing() as session:
        journal.judge_anew(session)
    assert MAY_ONLY_RECORD in [one["why"] for one in list_held()["held"]]


def test_what_others_recorded_it_neither_removes_nor_gives_away(home: Flask) -> None:
    ops = [
        a_change({"deleted": True}, rec=TREE, dev=HELPER, seq=1),
        a_change({"tree": an_id()}, type="photo", rec=PHOTO, dev=HELPER, seq=2),
        a_change({"leave": None}, type="lift", rec=LIFT, dev=HELPER, seq=3),
        a_change({"girth_mm": 260}, rec=TREE, dev=HELPER, seq=4),  # measured on the hill
        a_change({"tag": "H1"}, dev=HELPER, rec=LENT_TREE, seq=5),
        a_change({"deleted": True}, dev=HELPER, rec=LENT_TREE, seq=6),
    ]
    said = sync(HELPER, *ops, role=RECORD)
    assert [one["s"] for one in said["results"]] == ["held", "held", "held", "ok", "ok", "ok"]
    assert queries.get_record("photo", PHOTO)["tree"] == TREE


def test_a_copy_with_something_left_out_is_never_taken_for_the_change(home: Flask) -> None:
    part = next(entry["op"] for entry in sync(HELPER, role=RECORD)["ops"] if entry["op"].get("rec") == HOLDER)
    elsewhere = {**part, "dev": an_id(), "seq": 1}
    assert [one["s"] for one in sync(HELPER, elsewhere)["results"]] == ["bad"]
    assert queries.get_record("landholder", HOLDER)["name"] == SECRETS[0]


def test_when_what_it_may_do_changes_it_reads_everything_anew(home: Flask) -> None:
    as_helper = sync(HELPER, role=RECORD)
    assert sync(HELPER, role=RECORD, place=as_helper)["ops"] == []
    as_full = sync(HELPER, place=as_helper)
    assert len(as_full["ops"]) == len(written_by_the_owner())
    assert SECRETS[0] in json.dumps(as_full)
    assert len(sync(HELPER, role=RECORD, place=as_full)["ops"]) == len(written_by_the_owner())


def test_its_pack_names_nobody_and_has_the_terms(home: Flask) -> None:
    pack = build_pack.read_pack(build_pack.current_pack(NOW, RECORD)).decode()
    assert [secret for secret in SECRETS if secret in pack] == []
    [slip] = json.loads(pack)["sites"][SITE]["leaves"]
    assert (slip["allowance"], slip["lifted"], slip["landholder"]) == (3, 1, None)
    assert SECRETS[0] in build_pack.read_pack(build_pack.current_pack(NOW)).decode()


def test_it_fetches_its_own_photos_only(home: Flask) -> None:
    own = "cd" * 32
    sync(HELPER, a_change({"sha256": own}, type="photo", dev=HELPER, seq=1), role=RECORD)
    who_sees.check_blob(own, HELPER, RECORD)
    who_sees.check_blob(SHA, OWNER, "full")
    for sha256 in (SHA, "%", "_" * 64):
        with pytest.raises(NotFound):
            who_sees.check_blob(sha256, HELPER, RECORD)


def test_it_brings_its_own_photos_only(home: Flask) -> None:
    own, unknown = "cd" * 32, "ef" * 32
    sync(HELPER, a_change({"sha256": own}, type="photo", dev=HELPER, seq=1), role=RECORD)
    for sha256 in (own, unknown):  # the words of an unknown one can still be on their way
        who_sees.check_upload(sha256, HELPER, RECORD)
    who_sees.check_upload(SHA, OWNER, "full")
    with pytest.raises(NotAllowed) as refused:
        who_sees.check_upload(SHA, HELPER, RECORD)
    assert refused.value.code == "record-only"


def test_the_table_names_only_fields_that_there_are() -> None:
    assert {kind: fields - set(RECORD_TYPES[kind]) for kind, fields in SHOWN.items()} == dict.fromkeys(
        SHOWN, frozenset()
    )
    assert set(RECORD_TYPES) >= WRITES


def test_it_notes_a_day_of_the_garden_that_others_began_and_puts_it_right(home: Flask) -> None:
    day, other = an_id(), an_id()
    values = {"day_on": "2027-03-01", "tmin_c": -2}
    sync(OWNER, a_change({**values, "note": "Mr Ferrow's sheep"}, type="weather_day", rec=day, dev=OWNER, seq=40))
    told = sync(HELPER, role=RECORD)
    assert [one["op"]["set"]["tmin_c"] for one in told["ops"] if one["op"]["rec"] == day] == [-2]
    assert "Ferrow" not in str(told)
    put_right = a_change({"tmin_c": -3}, type="weather_day", rec=day, dev=HELPER, seq=1)
    own = a_change(values, type="weather_day", rec=other, dev=HELPER, seq=2)
    gone = a_change({"deleted": True}, type="weather_day", rec=day, dev=HELPER, seq=3)
    answer = sync(HELPER, put_right, own, gone, role=RECORD)
    assert [one["s"] for one in answer["results"]] == ["ok", "ok", "held"]
