"""A phone whose store was copied: the copy is told of, gets a token of its own, and either is shut out alone."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, a_change, a_request, a_site, an_id
from flask import Flask

from field.core.errors import FellsideError
from field.services import pair
from field.services.take_in_changes import take_in

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
COPY = OTHER_PHONE
OWN = "c" * 43


@pytest.fixture
def token(store: Flask) -> str:
    """A phone, and its copy that has synced once under a name of its own."""
    told = pair.pair(pair.make_code(now=NOW)["code"], PHONE, "Anna's phone", NOW)
    take_in(a_request(device=COPY), PHONE, NOW)
    return told["token"]


def listed() -> dict[str, dict[str, Any]]:
    return {one["device"]: one for one in pair.list_devices(NOW)}


def refusal(device: object, token: object, shown: str = PHONE) -> str:
    with pytest.raises(FellsideError) as refused:
        pair.take_own_token(device, token, shown)
    return refused.value.code


def test_home_lists_a_copy_beside_what_it_is_a_copy_of(token: str) -> None:
    rows = listed()
    assert (rows[COPY]["copy_of"], rows[COPY]["own_token"], rows[COPY]["name"]) == (PHONE, False, "Anna's phone")
    assert (rows[PHONE]["copy_of"], rows[PHONE]["own_token"]) == (None, True)


def test_a_copy_gets_its_own_token_and_a_lost_answer_costs_nothing(token: str) -> None:
    for _ in range(2):
        assert pair.take_own_token(COPY, OWN, PHONE) == {"device": COPY}
    assert pair.find_paired(OWN) == (COPY, "full")
    assert pair.find_paired(token) == (PHONE, "full")


@pytest.mark.parametrize("shut", [PHONE, COPY])
def test_shutting_out_one_of_the_two_leaves_the_other_in(token: str, shut: str) -> None:
    pair.take_own_token(COPY, OWN, PHONE)
    pair.revoke(shut, NOW)
    let_in = {device for device, shown in ((PHONE, token), (COPY, OWN)) if pair.find_paired(shown) is not None}
    assert let_in == {PHONE, COPY} - {shut}


def test_a_copy_that_was_shut_out_before_it_had_its_own_token_gets_none_and_syncs_no_more(token: str) -> None:
    pair.revoke(COPY, NOW)
    assert refusal(COPY, OWN) == "shut-out"
    with pytest.raises(FellsideError) as refused:
        take_in(a_request(a_change(a_site(), type="site", dev=COPY), device=COPY), PHONE, NOW)
    assert refused.value.code == "shut-out"
    assert take_in(a_request(device=PHONE), PHONE, NOW)["have"] == {}


@pytest.mark.parametrize("wrong", [None, 5, "", "short", "c" * 42 + "=", "c" * 44, "c" * 42 + "\n"])
def test_what_is_no_token_is_refused(token: str, wrong: object) -> None:
    assert refusal(COPY, wrong) == "bad-request"
    assert not listed()[COPY]["own_token"]


def test_nobody_gives_a_token_to_a_phone_that_is_not_its_copy(token: str) -> None:
    third = an_id()
    pair.pair(pair.make_code(now=NOW)["code"], third, "Bert's phone", NOW)
    assert refusal(third, OWN) == "no-device"
    assert refusal(COPY, OWN, third) == "no-device"
    assert refusal(an_id(), OWN) == "no-device"
    assert refusal(PHONE, OWN) == "no-device"


def test_a_copy_of_the_copy_cannot_take_its_token_away(token: str) -> None:
    pair.take_own_token(COPY, OWN, PHONE)
    assert refusal(COPY, "d" * 43) == "token-taken"
    assert pair.find_paired(OWN) == (COPY, "full")


def test_no_two_phones_get_one_token(token: str) -> None:
    assert refusal(COPY, token) == "token-taken"


def test_a_copy_that_may_only_record_still_sees_what_was_written_before_it_was_copied(store: Flask) -> None:
    pair.pair(pair.make_code(now=NOW, role="record")["code"], PHONE, "Lent", NOW)
    site = an_id()
    take_in(a_request(a_change(a_site(note="by the ford"), rec=site, type="site")), PHONE, NOW, "record")
    take_in(a_request(device=COPY), PHONE, NOW, "record")
    pair.take_own_token(COPY, OWN, PHONE)
    told = [
        entry["op"] for own in (COPY, an_id()) for entry in take_in(a_request(device=own), own, NOW, "record")["ops"]
    ]
    assert [op["set"].get("note") for op in told] == ["by the ford", None]
