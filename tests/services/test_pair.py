"""Pairing: codes, tokens, wrong tries, shutting out."""

from __future__ import annotations

import datetime as dt
import threading
from functools import partial

import pytest
from builders import OTHER_PHONE, PHONE, an_id
from flask import Flask
from sqlalchemy import select

from field.core.errors import BadInput, FellsideError, NotAllowed, NotFound, NotPaired, TooManyTries
from field.services import pair
from field.services.take_in_changes import current_epoch
from field.store import db, devices
from field.store.tables import DeviceRow, PairingCodeRow

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
SECOND = dt.timedelta(seconds=1)


def a_code(now: dt.datetime = NOW) -> str:
    return pair.make_code(now=now)["code"]


def refusal(code: object, now: dt.datetime = NOW, device: object = PHONE, name: object = "Phone") -> FellsideError:
    with pytest.raises(FellsideError) as refused:
        pair.pair(code, device, name, now)
    return refused.value


def test_a_good_code_gives_a_token_that_says_who(store: Flask) -> None:
    got = pair.pair(a_code(), PHONE, "  Anna's   phone ", NOW)
    assert pair.who(got["token"]) == PHONE
    assert pair.find_device(got["token"]) == PHONE
    assert {name: got[name] for name in ("device", "epoch", "now", "role")} == {
        "device": PHONE,
        "epoch": current_epoch(),
        "now": "2027-03-01T09:00:00.000Z",
        "role": "full",
    }
    assert pair.list_devices() == [
        {
            "device": PHONE,
            "name": "Anna's phone",
            "role": "full",
            "paired_at": "2027-03-01T09:00:00.000Z",
            "last_seen_at": "2027-03-01T09:00:00.000Z",
            "revoked": False,
            "signed_in": False,
            "copy_of": None,
            "own_token": True,
            "app": None,
        }
    ]


def test_a_code_has_eight_characters_that_cannot_be_mistaken(store: Flask) -> None:
    codes = {a_code() for _ in range(20)}
    assert len(codes) == 20
    assert all(len(code) == 8 for code in codes)
    assert not set("".join(codes)) & set("0O1IL5S2Z8B")


def test_a_code_is_good_for_ten_minutes(store: Flask) -> None:
    assert pair.make_code(now=NOW)["good_until"] == "2027-03-01T09:10:00.000Z"
    assert pair.pair(a_code(), PHONE, "Phone", NOW + 10 * MINUTE)["device"] == PHONE
    late = refusal(a_code(), NOW + 10 * MINUTE + SECOND)
    assert (type(late), late.code) == (NotAllowed, "pair-code")


def test_a_code_is_good_once(store: Flask) -> None:
    code = a_code()
    pair.pair(code, PHONE, "Phone", NOW)
    assert refusal(code, device=OTHER_PHONE).code == "pair-code"
    assert len(pair.list_devices()) == 1


def test_a_code_refused_for_another_reason_is_not_used_up(store: Flask) -> None:
    code = a_code()
    with pytest.raises(BadInput, match="belongs to this server"):
        pair.pair(code, devices.own_device(db.db.session()), "Phone", NOW)
    assert pair.pair(code, PHONE, "Phone", NOW)["device"] == PHONE


def test_the_demos_code_is_good_again_and_again(store: Flask) -> None:
    code = pair.make_code(reusable=True, now=NOW)["code"]
    for day in range(3):
        assert pair.pair(code, an_id(), "Phone", NOW + dt.timedelta(days=day))["token"]
    a_code(NOW + dt.timedelta(days=4))
    assert pair.pair(code, an_id(), "Phone", NOW + dt.timedelta(days=4))["token"]


def test_a_code_may_be_typed_with_blanks_hyphens_and_in_small_letters(store: Flask) -> None:
    code = a_code()
    typed = f" {code[:4].lower()}-{code[4:6].lower()} {code[6:]} "
    assert pair.pair(typed, PHONE, "Phone", NOW)["device"] == PHONE


@pytest.mark.parametrize("code", ["", "WRONG", "\0", "\ud800", "x" * 10_000])
def test_a_wrong_code_is_refused(store: Flask, code: str) -> None:
    a_code()
    assert refusal(code).code == "pair-code"
    assert pair.list_devices() == []


@pytest.mark.parametrize(
    ("code", "device", "name"),
    [(None, PHONE, "x"), (3, PHONE, "x"), ("A", "phone", "x"), ("A", None, "x"), ("A", PHONE, None), ("A", PHONE, 3)]
    + [("A", PHONE, name) for name in ("", "   ", "\0", "a\x1bb")],
)
def test_what_is_no_pairing_is_refused_and_counts_as_no_try(
    store: Flask, code: object, device: object, name: object
) -> None:
    for _ in range(12):
        assert refusal(code, device=device, name=name).code == "bad-request"


def test_after_ten_wrong_tries_even_a_good_code_waits(store: Flask) -> None:
    code = a_code()
    for number in range(10):
        assert refusal("WRONG", NOW + number * SECOND).code == "pair-code"
    assert type(refusal(code, NOW + 10 * SECOND)) is TooManyTries
    assert type(refusal("WRONG", NOW + 10 * SECOND)) is TooManyTries


def test_nine_wrong_tries_are_forgiven(store: Flask) -> None:
    code = a_code()
    for _ in range(9):
        refusal("WRONG")
    assert pair.pair(code, PHONE, "Phone", NOW)["device"] == PHONE


def test_wrong_tries_are_forgotten_after_ten_minutes(store: Flask) -> None:
    for _ in range(10):
        refusal("WRONG")
    later = NOW + 10 * MINUTE
    code = a_code(later)
    assert type(refusal(code, later - SECOND)) is TooManyTries
    assert pair.pair(code, PHONE, "Phone", later)["device"] == PHONE


def test_neither_token_nor_code_is_kept_as_it_is(store: Flask) -> None:
    code = a_code()
    kept = db.db.session.scalars(select(PairingCodeRow.code_hash)).all()
    token = pair.pair(a_code(), PHONE, "Phone", NOW)["token"]
    (row,) = db.db.session.scalars(select(DeviceRow)).all()
    assert code not in kept
    assert row.token_hash is not None
    assert token not in row.token_hash
    assert len(row.token_hash) == 64
    # 32 bytes are 256 bits, 43 signs of base64 without filling.
    assert len(token) == 43


@pytest.mark.parametrize("token", ["", "wrong", "\ud800", "x" * 5000])
def test_an_unknown_token_is_nobody(store: Flask, token: str) -> None:
    pair.pair(a_code(), PHONE, "Phone", NOW)
    assert pair.find_device(token) is None
    with pytest.raises(NotPaired):
        pair.who(token)


def test_a_phone_shut_out_is_nobody_until_it_is_paired_anew(store: Flask) -> None:
    first = pair.pair(a_code(), PHONE, "Phone", NOW)["token"]
    other = pair.pair(a_code(), OTHER_PHONE, "Other", NOW)["token"]
    pair.revoke(PHONE, NOW)
    pair.revoke(PHONE, NOW)
    assert (pair.find_device(first), pair.find_device(other)) == (None, OTHER_PHONE)
    assert {one["device"]: one["revoked"] for one in pair.list_devices()} == {PHONE: True, OTHER_PHONE: False}
    second = pair.pair(a_code(), PHONE, "Phone", NOW)["token"]
    assert (pair.find_device(first), pair.find_device(second)) == (None, PHONE)
    assert len(pair.list_devices()) == 2


def test_pairing_again_ends_the_old_token(store: Flask) -> None:
    first = pair.pair(a_code(), PHONE, "Phone", NOW)["token"]
    second = pair.pair(a_code(), PHONE, "Phone", NOW)["token"]
    assert (pair.find_device(first), pair.find_device(second)) == (None, PHONE)


def test_a_phone_that_never_was_cannot_be_shut_out(store: Flask) -> None:
    with pytest.raises(NotFound):
        pair.revoke(PHONE, NOW)


# --- what a phone may do -------------------------------------------------------------------------------------------


def test_a_code_carries_what_the_phone_may_do(store: Flask) -> None:
    code = pair.make_code(now=NOW, role="record")["code"]
    told = pair.pair(code, PHONE, "Phone", NOW)
    assert told["role"] == "record"
    assert pair.find_paired(told["token"]) == (PHONE, "record")
    again = pair.pair(a_code(), PHONE, "Phone", NOW)
    assert pair.find_paired(again["token"]) == (PHONE, "full")


@pytest.mark.parametrize("role", [None, "", "FULL", "owner", 1, ["full"], {}])
def test_a_role_that_is_none_is_refused(store: Flask, role: object) -> None:
    with pytest.raises(BadInput):
        pair.make_code(now=NOW, role=role)
    pair.pair(a_code(), PHONE, "Phone", NOW)
    with pytest.raises(BadInput):
        pair.set_role(PHONE, role)


def test_the_last_phone_that_may_do_everything_goes_only_when_it_is_meant(store: Flask) -> None:
    pair.pair(a_code(), PHONE, "Phone", NOW)
    pair.pair(pair.make_code(now=NOW, role="record")["code"], OTHER_PHONE, "Lent", NOW)
    revoke, lessen = partial(pair.revoke, PHONE, NOW), partial(pair.set_role, PHONE, "record")
    for act in (revoke, lessen):
        with pytest.raises(FellsideError) as refused:
            act(anyway=False)
        assert refused.value.code == "last-full"
    pair.revoke(OTHER_PHONE, NOW, anyway=False)
    pair.revoke(PHONE, NOW, anyway=True)
    assert [one["revoked"] for one in pair.list_devices(NOW)] == [True, True]


def test_a_copy_of_a_phone_may_do_what_that_phone_may(store: Flask) -> None:
    pair.pair(pair.make_code(now=NOW, role="record")["code"], PHONE, "Lent", NOW)
    with db.writing() as session:
        devices.note_seen(session, OTHER_PHONE, PHONE, NOW)
    assert {one["device"]: one["role"] for one in pair.list_devices(NOW)} == {PHONE: "record", OTHER_PHONE: "record"}


def test_a_phone_is_renamed(store: Flask) -> None:
    pair.pair(a_code(), PHONE, "Phone", NOW)
    pair.rename(PHONE, "  Anna's   phone ")
    assert [one["name"] for one in pair.list_devices(NOW)] == ["Anna's phone"]
    for name in ("", "  ", None, "a\x1bb"):
        with pytest.raises(BadInput):
            pair.rename(PHONE, name)
    with pytest.raises(NotFound):
        pair.rename(OTHER_PHONE, "x")


def test_two_phones_called_alike_are_let_in_and_another_name_is_offered(store: Flask) -> None:
    assert "like" not in pair.pair(a_code(), PHONE, "Anna's phone", NOW)
    assert pair.pair(a_code(), OTHER_PHONE, "anna’s  Phone", NOW)["like"] == "anna’s Phone 2"
    assert pair.rename(OTHER_PHONE, "Anna's phone") == "Anna's phone 2"
    assert pair.rename(OTHER_PHONE, "Anna's phone 2") is None
    assert pair.rename(PHONE, "Anna's phone 2") == "Anna's phone 2 2"
    assert "like" not in pair.pair(a_code(), OTHER_PHONE, "Anna's phone", NOW)  # itself, paired anew


def test_the_name_of_a_phone_that_was_shut_out_is_free_again(store: Flask) -> None:
    pair.pair(a_code(), PHONE, "Phone", NOW)
    pair.revoke(PHONE, NOW)
    assert "like" not in pair.pair(a_code(), OTHER_PHONE, "Phone", NOW)


# --- codes under bad luck ------------------------------------------------------------------------------------------


def test_two_codes_at_once_are_both_good(store: Flask) -> None:
    one, two = a_code(), a_code(NOW + SECOND)
    assert pair.pair(two, OTHER_PHONE, "Two", NOW + MINUTE)["device"] == OTHER_PHONE
    assert pair.pair(one, PHONE, "One", NOW + MINUTE)["device"] == PHONE


def test_of_two_phones_with_one_code_one_gets_in(store: Flask) -> None:
    code = a_code()
    phones = [an_id() for _ in range(6)]
    start = threading.Barrier(len(phones))
    got: list[str] = []

    def one(device: str) -> None:
        with store.app_context():
            start.wait()
            try:
                got.append(pair.pair(code, device, "Phone", NOW)["device"])
            except NotAllowed:
                got.append("refused")

    threads = [threading.Thread(target=one, args=(device,)) for device in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got.count("refused") == len(phones) - 1
    assert [row["device"] for row in pair.list_devices(NOW)] == [one for one in got if one != "refused"]


def test_a_clock_set_back_makes_no_code_good_for_longer(store: Flask) -> None:
    code = a_code()
    assert refusal(code, NOW - 5 * MINUTE).code == "pair-code"
    assert refusal(code, NOW).code == "pair-code"
    assert pair.pair(a_code(), PHONE, "Phone", NOW - SECOND)["device"] == PHONE


def test_wrong_codes_under_a_clock_that_ran_ahead_shut_nobody_out(store: Flask) -> None:
    for _ in range(10):
        refusal("WRONG", NOW + 60 * 24 * 60 * MINUTE)
    assert pair.pair(a_code(), PHONE, "Phone", NOW)["device"] == PHONE
