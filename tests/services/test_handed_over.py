"""After an old backup a phone that may only record comes first: what others wrote waits for them, and is not lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import OTHER_PHONE, PHONE, a_change, an_id
from copy_kit import write_copy
from flask import Flask
from forget_kit import NOW, states, sync

from field.core.who_sees import HANDED_OVER, MAY_ONLY_RECORD
from field.services.backup import back_up
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.restore import restore
from field.services.take_copy import take_copy
from field.services.take_in_changes import list_held
from field.store import db, queries

SITE, TREE = an_id(), an_id()
WRITTEN = [
    a_change({"name": "Gledhope"}, type="site", rec=SITE, seq=1),
    a_change({"tag": "K1", "site": SITE}, rec=TREE, seq=2),
    a_change({"height_m": 310}, type="site", rec=SITE, seq=3),
]


def hand_over() -> dict:
    """Bring what another phone wrote, as one that may only record."""
    return sync(OTHER_PHONE, *WRITTEN, role="record")


def test_what_it_may_not_write_waits_and_home_asks_on_for_it(store: Flask) -> None:
    answer = hand_over()
    assert [(one["s"], one["why"]) for one in answer["results"]] == [
        ("held", HANDED_OVER), ("ok", None), ("held", HANDED_OVER),
    ]  # fmt: skip
    assert answer["have"].get(PHONE, 0) == 0
    assert queries.list_records("site") == []


def test_the_phone_that_wrote_it_brings_it_by_right_and_every_phone_reads_anew(store: Flask) -> None:
    before = hand_over()
    assert states(hand_over()) == ["dup"] * 3
    answer = sync(PHONE, *WRITTEN)
    assert [(one["s"], one["why"]) for one in answer["results"]] == [("dup", None)] * 3
    assert answer["have"][PHONE] == 3
    assert (queries.get_record("site", SITE)["name"], queries.get_record("site", SITE)["height_m"]) == ("Gledhope", 310)
    assert list_held() == {"held": []}
    again = sync(OTHER_PHONE, role="record", epoch=before["epoch"], cursor=before["cursor"])
    assert [entry["held"] for entry in again["ops"]] == [None] * 3
    assert (rebuild()["ok"], check()["ok"]) == (True, True)


def test_a_copy_of_that_phone_frees_it_as_well(store: Flask, tmp_path: Path) -> None:
    hand_over()
    take_copy(write_copy(tmp_path / "copy.zip", WRITTEN), NOW, anyway=True)
    assert queries.get_record("site", SITE)["name"] == "Gledhope"


def test_what_has_a_fault_of_its_own_is_held_for_that(store: Flask) -> None:
    bad = a_change({"name": 5}, type="site", rec=SITE, seq=1)
    sync(OTHER_PHONE, bad, role="record")
    answer = sync(PHONE, bad)
    assert [(one["s"], one["why"]) for one in answer["results"]] == [("dup", "“name” is not text.")]
    assert answer["have"][PHONE] == 1


def test_its_own_that_it_may_not_write_stays_held_whoever_brings_it(store: Flask) -> None:
    own = a_change({"name": "Gledhope"}, type="site", rec=SITE, dev=OTHER_PHONE, seq=1)
    assert sync(OTHER_PHONE, own, role="record")["have"][OTHER_PHONE] == 1
    assert [one["why"] for one in sync(PHONE, own)["results"]] == [MAY_ONLY_RECORD]
    assert queries.list_records("site") == []


@pytest.mark.parametrize("dev", [PHONE, OTHER_PHONE])
def test_what_a_phone_may_not_write_is_no_more_its_to_write_after_a_restore(tmp_path: Path, dev: str) -> None:
    file, data = tmp_path / "backup.zip", tmp_path / "data"
    with db.alone(None, data):
        sync(OTHER_PHONE, a_change({"name": "Gledhope"}, type="site", rec=SITE, dev=dev, seq=1), role="record")
        back_up(file, NOW)
    restore(file, data, None, NOW)
    with db.alone(None, data):
        assert queries.list_records("site") == []
        assert [one["why"] for one in list_held()["held"]] == [HANDED_OVER if dev == PHONE else MAY_ONLY_RECORD]
        assert rebuild()["ok"] is True
