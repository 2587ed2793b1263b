"""The owner's passphrase and sign-ins: how long they hold, what ends them, how often one may try."""

from __future__ import annotations

import datetime as dt
import threading
import unicodedata

import pytest
from argon2 import PasswordHasher
from builders import OTHER_PHONE, PHONE
from flask import Flask
from sqlalchemy import select

from field.core.errors import FellsideError, TooManyTries
from field.services import owner, pair
from field.store import db, sign_ins
from field.store.tables import SignInRow

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
SECOND, MINUTE, HOUR = dt.timedelta(seconds=1), dt.timedelta(minutes=1), dt.timedelta(hours=1)
GOOD = "wet boots by the stove"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash with little work: how much is right stands in a test of its own."""
    monkeypatch.setattr(owner, "HASHER", CHEAP)


@pytest.fixture
def home(store: Flask) -> Flask:
    """A home with a passphrase and two phones that may do everything."""
    owner.set_passphrase(GOOD)
    for device in (PHONE, OTHER_PHONE):
        pair.pair(pair.make_code(now=NOW)["code"], device, "Phone", NOW)
    return store


def refusal(passphrase: object, now: dt.datetime = NOW, device: str = PHONE) -> FellsideError:
    with pytest.raises(FellsideError) as refused:
        owner.sign_in(passphrase, device, now)
    return refused.value


def test_hashing_takes_the_work_of_rfc_9106(monkeypatch: pytest.MonkeyPatch) -> None:
    # RFC 9106, section 4, second recommended option: Argon2id, 3 passes, 4 lanes, 64 MiB, 128-bit salt, 256-bit tag.
    monkeypatch.undo()
    hasher = owner.HASHER
    assert hasher.type.name == "ID"
    assert (hasher.time_cost, hasher.parallelism, hasher.memory_cost) == (3, 4, 64 * 1024)
    assert (hasher.salt_len, hasher.hash_len) == (16, 32)


def test_without_a_passphrase_nobody_signs_in(store: Flask) -> None:
    assert not owner.is_set()
    assert refusal(GOOD).code == "no-passphrase"


def test_neither_passphrase_nor_secret_is_kept_as_it_is(home: Flask) -> None:
    secret = owner.sign_in(GOOD, PHONE, NOW)
    assert GOOD not in str(sign_ins.read_passphrase(db.db.session()))
    assert db.db.session.scalars(select(SignInRow.token_hash)).all() != [secret]
    assert len(secret) >= 43  # 256 bits in base64


@pytest.mark.parametrize(
    ("passphrase", "code"),
    [
        *[("nine sign", "too-short"), ("", "too-short"), ("x" * 1025, "too-long"), ("é" * 513, "too-long")],
        *[("aaaaaaaaaaaa", "too-weak"), ("1234567890", "too-weak"), ("Fellside2027!", "too-weak")],
        *[(None, "bad-request"), (["a list that is long"], "bad-request")],
    ],
)
def test_a_passphrase_that_protects_nothing_is_refused(store: Flask, passphrase: object, code: str) -> None:
    with pytest.raises(FellsideError) as refused:
        owner.set_passphrase(passphrase)
    assert refused.value.code == code
    assert not owner.is_set()


@pytest.mark.parametrize("passphrase", ["ten signs!", "ab" * 5 + "cd" * 507, "\ud800 half a pair", "\0 and more"])
def test_any_text_of_ten_signs_to_1024_bytes_is_one(store: Flask, passphrase: str) -> None:
    owner.set_passphrase(passphrase)
    assert owner.check_passphrase(passphrase, NOW)


def test_the_same_letters_from_another_keyboard_are_the_same(home: Flask) -> None:
    owner.set_passphrase(unicodedata.normalize("NFD", "bóg-oak rún lán"))
    assert owner.sign_in(unicodedata.normalize("NFC", "bóg-oak rún lán"), PHONE, NOW)


def test_a_sign_in_is_of_one_phone_only(home: Flask) -> None:
    secret = owner.sign_in(GOOD, PHONE, NOW)
    assert owner.is_signed_in(secret, PHONE, NOW)
    assert not owner.is_signed_in(secret, OTHER_PHONE, NOW)
    assert not owner.is_signed_in(secret + "x", PHONE, NOW)
    assert not owner.is_signed_in(None, PHONE, NOW)
    assert owner.list_signed_in(NOW) == {PHONE}


def test_a_sign_in_ends_after_half_an_hour_unused(home: Flask) -> None:
    secret = owner.sign_in(GOOD, PHONE, NOW)
    assert owner.is_signed_in(secret, PHONE, NOW + 30 * MINUTE - SECOND)
    assert owner.is_signed_in(secret, PHONE, NOW + 60 * MINUTE - 2 * SECOND)
    assert not owner.is_signed_in(secret, PHONE, NOW + 90 * MINUTE)


def test_a_sign_in_that_is_used_ends_after_twelve_hours(home: Flask) -> None:
    secret = owner.sign_in(GOOD, PHONE, NOW)
    for number in range(1, 36):
        assert owner.is_signed_in(secret, PHONE, NOW + number * 20 * MINUTE), number
    assert owner.is_signed_in(secret, PHONE, NOW + 12 * HOUR - SECOND)
    assert not owner.is_signed_in(secret, PHONE, NOW + 12 * HOUR)


def test_a_clock_set_back_ends_a_sign_in(home: Flask) -> None:
    secret = owner.sign_in(GOOD, PHONE, NOW)
    assert owner.is_signed_in(secret, PHONE, NOW - MINUTE)
    assert not owner.is_signed_in(secret, PHONE, NOW - HOUR)


def test_what_ends_a_sign_in(home: Flask) -> None:
    for ends in (
        owner.sign_out,
        lambda secret: owner.change_passphrase(GOOD, GOOD, NOW),
        lambda secret: owner.set_passphrase(GOOD),
        lambda secret: pair.set_role(PHONE, "record"),
        lambda secret: pair.pair(pair.make_code(now=NOW)["code"], PHONE, "Paired anew", NOW),
        lambda secret: pair.revoke(PHONE, NOW),
    ):
        secret = owner.sign_in(GOOD, PHONE, NOW)
        assert owner.is_signed_in(secret, PHONE, NOW)
        ends(secret)
        assert not owner.is_signed_in(secret, PHONE, NOW)
        pair.set_role(PHONE, "full")


def test_nobody_signs_in_on_a_phone_that_may_only_record_or_was_shut_out(home: Flask) -> None:
    pair.set_role(PHONE, "record")
    assert refusal(GOOD).code == "not-allowed"
    pair.revoke(OTHER_PHONE, NOW)
    assert refusal(GOOD, device=OTHER_PHONE).code == "not-allowed"


def test_changing_wants_the_old_one(home: Flask) -> None:
    with pytest.raises(FellsideError) as refused:
        owner.change_passphrase("something else", "another good one", NOW)
    assert refused.value.code == "passphrase-wrong"
    owner.change_passphrase(GOOD, "another good one", NOW)
    assert refusal(GOOD).code == "passphrase-wrong"
    assert owner.sign_in("another good one", PHONE, NOW)


def test_the_first_one_is_set_once(store: Flask) -> None:
    owner.set_first(GOOD)
    with pytest.raises(FellsideError) as refused:
        owner.set_first("another good one")
    assert refused.value.code == "passphrase-set"


def test_after_ten_wrong_ones_even_the_right_one_waits(home: Flask) -> None:
    for number in range(10):
        assert refusal("wrong words", NOW + number * SECOND).code == "passphrase-wrong"
    locked = refusal(GOOD, NOW + 10 * SECOND)
    assert isinstance(locked, TooManyTries)
    assert locked.retry_after_s == 590
    assert isinstance(refusal(GOOD, NOW + 10 * MINUTE - SECOND), TooManyTries)
    assert owner.sign_in(GOOD, PHONE, NOW + 10 * MINUTE)


def test_right_ones_and_wrong_codes_do_not_count_as_wrong_passphrases(home: Flask) -> None:
    for _ in range(12):
        owner.sign_in(GOOD, PHONE, NOW)
    for _ in range(10):
        with pytest.raises(FellsideError):
            pair.pair("WRONG", PHONE, "Phone", NOW)
    assert owner.sign_in(GOOD, PHONE, NOW)


def test_tries_under_a_clock_that_ran_years_ahead_shut_nobody_out_for_years(home: Flask) -> None:
    for _ in range(10):
        refusal("wrong words", NOW + 3650 * 24 * HOUR)
    assert owner.sign_in(GOOD, PHONE, NOW)


def test_a_hash_of_less_work_is_made_anew_at_the_next_sign_in(home: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    before = sign_ins.read_passphrase(db.db.session())
    monkeypatch.setattr(owner, "HASHER", PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    owner.sign_in(GOOD, PHONE, NOW)
    after = sign_ins.read_passphrase(db.db.session())
    assert after != before
    assert "m=16,t=2,p=1" in str(after)
    assert owner.sign_in(GOOD, PHONE, NOW)


def test_a_flood_of_tries_is_ten_and_hashed_one_at_a_time(home: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    at_once, most, hashed = 0, 0, 0
    watch = threading.Lock()

    class Slow:
        def verify(self, stands: str, text: bytes) -> bool:
            nonlocal at_once, most, hashed
            with watch:
                at_once, hashed = at_once + 1, hashed + 1
                most = max(most, at_once)
            try:
                return CHEAP.verify(stands, text)
            finally:
                with watch:
                    at_once -= 1

    monkeypatch.setattr(owner, "HASHER", Slow())
    codes: list[str] = []

    def one() -> None:
        with home.app_context():
            try:
                owner.check_passphrase("wrong words", NOW)
            except FellsideError as refused:
                codes.append(refused.code)

    threads = [threading.Thread(target=one) for _ in range(30)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (hashed, most) == (10, 1)
    assert sorted(codes) == ["passphrase-wrong"] * 10 + ["too-many-tries"] * 20


def test_a_try_that_was_not_looked_at_counts_as_none(home: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(owner, "HASH_WAIT_S", 0.01)
    with owner.HASHING:
        for _ in range(11):
            assert isinstance(refusal(GOOD), TooManyTries)
    assert owner.sign_in(GOOD, PHONE, NOW)


def test_a_desk_is_paired_by_the_passphrase_and_signed_in(home: Flask) -> None:
    told, secret = pair.pair_by_passphrase(GOOD, PHONE, "Desk", NOW)
    assert told["role"] == "full"
    assert pair.find_paired(told["token"]) == (PHONE, "full")
    assert owner.is_signed_in(secret, PHONE, NOW)
    with pytest.raises(FellsideError) as refused:
        pair.pair_by_passphrase("wrong words", PHONE, "Desk", NOW)
    assert refused.value.code == "passphrase-wrong"


def test_an_owner_whose_phone_was_tried_out_gets_in_again_by_the_server_itself(home: Flask) -> None:
    for _ in range(10):
        refusal("wrong words here", NOW)
    assert isinstance(refusal(GOOD, NOW), TooManyTries)
    owner.set_passphrase(GOOD)
    assert owner.sign_in(GOOD, PHONE, NOW)
