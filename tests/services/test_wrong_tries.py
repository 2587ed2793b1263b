"""Who may still try a secret: each paired phone by itself, strangers by address, all strangers together."""

from __future__ import annotations

import datetime as dt

import pytest
from builders import OTHER_PHONE, PHONE, an_id
from flask import Flask

from field.core.errors import TooManyTries
from field.services import pair, wrong_tries
from field.store import db, devices

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
SECOND, MINUTE = dt.timedelta(seconds=1), dt.timedelta(minutes=1)


def try_once(caller: str, now: dt.datetime = NOW, kind: str = "passphrase") -> int | None:
    """Try a wrong one; return how long to wait where it was refused, None where it was looked at."""
    try:
        with db.writing() as session:
            wrong_tries.begin_try(session, kind, now, caller)
    except TooManyTries as refused:
        return refused.retry_after_s
    return None


def paired(device: str) -> str:
    pair.pair(pair.make_code(now=NOW)["code"], device, "Phone", NOW)
    return wrong_tries.phone(db.db.session(), device)


def test_each_address_has_ten_and_another_is_not_kept_waiting(store: Flask) -> None:
    here, there = (wrong_tries.stranger_at(address) for address in ("192.0.2.1", "192.0.2.12"))
    assert [try_once(here, NOW + n * SECOND) for n in range(10)] == [None] * 10
    assert try_once(here, NOW + 10 * SECOND) == 590
    assert try_once(there) is None


def test_all_strangers_together_have_fifty_and_a_paired_phone_is_never_kept_waiting_by_them(store: Flask) -> None:
    owner = paired(PHONE)
    for n in range(50):
        assert try_once(wrong_tries.stranger_at(f"198.51.100.{n}"), NOW + n * SECOND) is None
    fresh = wrong_tries.stranger_at("203.0.113.5")
    assert try_once(fresh, NOW + 50 * SECOND) == 550
    assert [try_once(owner, NOW + 50 * SECOND) for _ in range(10)] == [None] * 10
    assert try_once(owner, NOW + 50 * SECOND) == 600
    assert try_once(fresh, NOW + 10 * MINUTE) is None


def test_a_phone_and_its_copies_share_one_count(store: Flask) -> None:
    first = paired(PHONE)
    copy, copy_of_it = OTHER_PHONE, an_id()
    with db.writing() as session:
        devices.note_seen(session, copy, PHONE, NOW)
        devices.note_seen(session, copy_of_it, copy, NOW)
    names = {wrong_tries.phone(db.db.session(), one) for one in (PHONE, copy, copy_of_it)}
    assert names == {first}


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("192.0.2.1", "::ffff:192.0.2.1", True),  # RFC 4291, 2.5.5.2: the same machine, asked over another socket
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),  # RFC 4291, 2.5.4: the last 64 bits are the machine's own
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("192.0.2.1", "192.0.2.2", False),
        (None, "", True),
        (None, "192.0.2.1", False),
    ],
)
def test_strangers_are_told_apart_by_what_they_cannot_choose(one: str | None, other: str | None, is_same: bool) -> None:
    assert (wrong_tries.stranger_at(one) == wrong_tries.stranger_at(other)) is is_same


def test_codes_and_passphrases_are_counted_apart(store: Flask) -> None:
    here = wrong_tries.stranger_at("192.0.2.1")
    assert [try_once(here, kind="code") for _ in range(10)] == [None] * 10
    assert try_once(here, kind="passphrase") is None
