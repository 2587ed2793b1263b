"""Who gets what: every route for nobody, a phone shut out, one that may record, a full one, and the owner."""

from __future__ import annotations

from typing import Any

import pytest
from argon2 import PasswordHasher
from builders import OTHER_PHONE, PHONE
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from field.services import owner, pair

GOOD = "wet boots by the stove"
LENT = "77777777-7777-4777-8777-777777777777"
SHUT_OUT = "88888888-8888-4888-8888-888888888888"
STRANGER = "99999999-9999-4999-8999-999999999999"  # never paired: what the owner does to it is allowed, and not found
SHA = "0" * 64

# What each may do: open to anyone; record: any phone of the house; full; owner.
ROUTES = {
    ("GET", "/api/hello"): "open",
    ("POST", "/api/pair"): "open",
    ("GET", "/api/me"): "record",
    ("GET", "/api/devices"): "record",
    ("POST", "/api/own-token"): "record",
    ("POST", "/api/sync"): "record",
    ("GET", f"/api/pack/{SHA}"): "record",
    ("GET", f"/api/blob/{SHA}"): "record",
    ("PATCH", f"/api/blob/{SHA}"): "record",
    ("GET", f"/api/blob/{SHA}/preview"): "record",
    ("PUT", f"/api/blob/{SHA}/preview"): "record",
    ("POST", "/api/kept-twice"): "record",
    ("GET", "/api/held"): "full",
    ("GET", "/api/house"): "full",
    ("POST", f"/api/copy/{SHA}"): "full",
    ("POST", "/api/intake/read"): "full",
    ("POST", "/api/intake/save"): "full",
    ("POST", "/api/intake/undo"): "full",
    ("GET", f"/api/paper/leave/{STRANGER}.pdf"): "full",
    ("POST", f"/api/paper/leave/{STRANGER}.pdf"): "full",
    ("POST", "/api/sign-in"): "full",
    ("POST", "/api/sign-out"): "full",
    ("POST", "/api/passphrase"): "owner",
    ("GET", "/api/cards"): "record",
    ("GET", "/api/cards/birch"): "record",
    ("POST", "/api/cards/birch/judge"): "full",
    ("POST", "/api/cards/birch/copy"): "full",
    ("GET", f"/api/weather/{STRANGER}"): "record",
    ("POST", f"/api/weather/{STRANGER}/look"): "full",
    ("POST", f"/api/weather/{STRANGER}/keep"): "full",
    ("POST", "/api/weather/take-back"): "full",
    ("GET", "/api/calendar"): "full",
    ("GET", "/api/calendar.ics"): "full",
    ("GET", "/api/rounds.pdf"): "full",
    ("POST", "/api/calendar"): "owner",
    ("DELETE", "/api/calendar"): "owner",
    ("GET", f"/api/forget/{STRANGER}"): "owner",
    ("POST", f"/api/forget/{STRANGER}"): "owner",
    ("POST", "/api/pair-code"): "owner",
    ("POST", f"/api/devices/{STRANGER}/revoke"): "owner",
    ("POST", f"/api/devices/{STRANGER}/role"): "owner",
    ("POST", f"/api/devices/{STRANGER}/name"): "owner",
}
BODIES: dict[str, Any] = {
    "/api/calendar": {"alarm": "none"},
    "/api/passphrase": {"passphrase": "another good one", "old": "wrong words"},
    f"/api/devices/{STRANGER}/role": {"role": "full"},
    f"/api/devices/{STRANGER}/name": {"name": "x"},
}
MAY = {
    "nobody": {"open"},
    "shut out": {"open"},
    "record": {"open", "record"},
    "full": {"open", "record", "full"},
    "owner": {"open", "record", "full", "owner"},
}
REFUSALS = {401: {"unpaired", "shut-out"}, 403: {"record-only", "owner-only", "other-page"}}


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(owner, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@pytest.fixture
def tokens(app: Flask) -> dict[str, str]:
    """The tokens of the phones of a house with a passphrase."""
    with app.app_context():
        made = {
            name: pair.pair(pair.make_code(role=role)["code"], device, name)["token"]
            for name, device, role in (
                ("full", PHONE, "full"), ("owner", OTHER_PHONE, "full"),
                ("record", LENT, "record"), ("shut out", SHUT_OUT, "full"),
            )
        }  # fmt: skip
        pair.revoke(SHUT_OUT)
        owner.set_passphrase(GOOD)
    return made


class Caller:
    """One browser: its token, its cookies, and what it says of the page that asks."""

    def __init__(self, app: Flask, token: str | None) -> None:
        self.client: FlaskClient = app.test_client()
        self.token = token

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> TestResponse:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.token is not None:
            named.setdefault("Authorization", f"Bearer {self.token}")
        return self.client.open(path, method=method, json={} if body is None else body, headers=named)

    def sign_in(self, passphrase: str = GOOD, **headers: str) -> TestResponse:
        return self.ask("POST", "/api/sign-in", {"passphrase": passphrase}, **headers)


def code_of(answer: TestResponse) -> str | None:
    told = answer.get_json(silent=True)
    return told["error"]["code"] if isinstance(told, dict) and "error" in told else None


def is_refused(answer: TestResponse) -> bool:
    """Whether an answer keeps somebody out; a wrong body or a name that is not here is let in, and then refused."""
    return code_of(answer) in REFUSALS.get(answer.status_code, set())


def test_the_table_holds_every_route(app: Flask) -> None:
    adapter = app.url_map.bind("localhost")
    listed = {(method, adapter.match(path, method, return_rule=True)[0].rule) for method, path in ROUTES}
    real = {
        (method, rule.rule)
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }
    assert listed == real


def test_each_gets_what_it_may_and_nothing_else(app: Flask, tokens: dict[str, str]) -> None:
    for who, may in MAY.items():
        caller = Caller(app, tokens.get(who))
        if who == "owner":
            assert caller.sign_in().status_code == 200
        for (method, path), wants in ROUTES.items():
            if path in ("/api/sign-out", "/api/passphrase") and who == "owner":
                continue  # each ends the sign-in that the others want: tests of their own
            answer = caller.ask(method, path, BODIES.get(path))
            assert is_refused(answer) == (wants not in may), (who, method, path, answer.status_code, answer.text[:200])
            assert answer.status_code < 500, (who, method, path)


def test_without_a_passphrase_every_phone_that_may_do_everything_is_the_owner(
    app: Flask, paired_client: FlaskClient
) -> None:
    for (method, path), wants in ROUTES.items():
        if wants == "owner" and path != "/api/passphrase":
            answer = paired_client.open(path, method=method, json=BODIES.get(path, {}))
            assert not is_refused(answer), (path, answer.text)


def test_an_owners_act_wants_token_and_cookie_of_one_phone(app: Flask, tokens: dict[str, str]) -> None:
    caller = Caller(app, tokens["owner"])
    assert caller.sign_in().status_code == 200
    assert caller.ask("POST", "/api/pair-code").status_code == 200
    without_cookie = Caller(app, tokens["owner"])
    assert code_of(without_cookie.ask("POST", "/api/pair-code")) == "owner-only"
    caller.token = None
    assert code_of(caller.ask("POST", "/api/pair-code")) == "unpaired"
    caller.token = tokens["full"]
    assert code_of(caller.ask("POST", "/api/pair-code")) == "owner-only"
    caller.token = tokens["record"]
    assert code_of(caller.ask("POST", "/api/pair-code")) == "record-only"


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "http://localhost:8443"},
        {"Origin": "null"},
        {"Origin": "http://[broken"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site", "Origin": "http://localhost"},
        {"Sec_Fetch_Site": "none"},
    ],
)
def test_a_page_of_another_site_gets_nothing_done(app: Flask, tokens: dict[str, str], headers: dict[str, str]) -> None:
    caller = Caller(app, tokens["owner"])
    assert code_of(caller.sign_in(**headers)) == "other-page"
    asked = {"passphrase": GOOD, "device": STRANGER, "name": "x"}
    assert code_of(Caller(app, None).ask("POST", "/api/pair", asked, **headers)) == "other-page"
    assert caller.sign_in().status_code == 200
    for path in ("/api/pair-code", f"/api/devices/{PHONE}/revoke", "/api/passphrase", "/api/sign-out"):
        assert code_of(caller.ask("POST", path, **headers)) == "other-page", path
    assert caller.ask("POST", "/api/pair-code").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://localhost"},
        {"Sec_Fetch_Site": "same-origin", "Origin": "https://log.example"},
        {"Origin": "https://log.example:8443", "X_Forwarded_Host": "log.example:8443"},
    ],
)
def test_our_own_page_is_known_also_behind_a_proxy(app: Flask, tokens: dict[str, str], headers: dict[str, str]) -> None:
    caller = Caller(app, tokens["owner"])
    assert caller.sign_in(**headers).status_code == 200
    assert caller.ask("POST", "/api/pair-code", **headers).status_code == 200


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(app: Flask, tokens: dict[str, str]) -> None:
    caller = Caller(app, tokens["owner"])
    plain = caller.sign_in().headers["Set-Cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/api"} <= set(plain.split("; "))
    assert "Secure" not in plain
    assert "Secure" in caller.sign_in(X_Forwarded_Proto="https").headers["Set-Cookie"].split("; ")
    app.config["HOME"] = {"address": "https://fellside.local:8420", "certificate_until": "2027-12-01T00:00:00Z"}
    assert "Secure" in caller.sign_in().headers["Set-Cookie"].split("; ")


def test_signing_out_and_being_shut_out_end_it(app: Flask, tokens: dict[str, str]) -> None:
    caller, other = Caller(app, tokens["owner"]), Caller(app, tokens["full"])
    caller.sign_in()
    assert caller.ask("GET", "/api/me").get_json() == {
        "device": OTHER_PHONE, "role": "full", "passphrase_set": True, "signed_in": True,
    }  # fmt: skip
    cookie = caller.client.get_cookie("fellside_owner", path="/api")
    assert cookie is not None
    caller.ask("POST", "/api/sign-out")
    assert caller.client.get_cookie("fellside_owner", path="/api") is None
    caller.client.set_cookie("fellside_owner", cookie.value, path="/api")
    assert code_of(caller.ask("POST", "/api/pair-code")) == "owner-only"
    caller.sign_in()
    other.sign_in()
    assert other.ask("POST", f"/api/devices/{OTHER_PHONE}/revoke").status_code == 200
    assert code_of(caller.ask("POST", "/api/pair-code")) == "shut-out"


def test_the_passphrase_is_changed_by_the_owner_who_knows_it(app: Flask, tokens: dict[str, str]) -> None:
    caller, other = Caller(app, tokens["owner"]), Caller(app, tokens["full"])
    wanted = {"passphrase": "another good one", "old": GOOD}
    assert code_of(caller.ask("POST", "/api/passphrase", wanted)) == "owner-only"
    caller.sign_in()
    other.sign_in()
    assert code_of(caller.ask("POST", "/api/passphrase", {**wanted, "old": "wrong words"})) == "passphrase-wrong"
    assert code_of(caller.ask("POST", "/api/passphrase", {"passphrase": "another good one"})) == "bad-request"
    assert caller.ask("POST", "/api/passphrase", wanted).status_code == 200
    assert caller.ask("POST", "/api/pair-code").status_code == 200
    assert code_of(other.ask("POST", "/api/pair-code")) == "owner-only"


def test_too_many_wrong_ones_say_when_to_come_back(app: Flask, tokens: dict[str, str]) -> None:
    for _ in range(10):
        assert code_of(Caller(app, tokens["owner"]).sign_in("wrong words")) == "passphrase-wrong"
    locked = Caller(app, tokens["owner"]).sign_in()
    assert (locked.status_code, code_of(locked)) == (429, "too-many-tries")
    assert 0 < int(locked.headers["Retry-After"]) <= 600


def test_who_tries_wrong_ones_keeps_nobody_else_out(app: Flask, tokens: dict[str, str]) -> None:
    desk = {"passphrase": GOOD, "device": STRANGER, "name": "Desk"}
    stranger = Caller(app, None)
    for _ in range(10):
        assert code_of(Caller(app, tokens["full"]).sign_in("wrong words")) == "passphrase-wrong"
        wrong = stranger.ask("POST", "/api/pair", {**desk, "passphrase": "wrong words"})
        assert code_of(wrong) == "passphrase-wrong"
    assert Caller(app, tokens["full"]).sign_in().status_code == 429
    assert stranger.ask("POST", "/api/pair", desk).status_code == 429
    assert Caller(app, tokens["owner"]).sign_in().status_code == 200
    stranger.client.environ_base["REMOTE_ADDR"] = "192.0.2.77"
    assert stranger.ask("POST", "/api/pair", desk).status_code == 200


def test_a_desk_is_paired_by_the_passphrase_in_place_of_a_code(app: Flask, tokens: dict[str, str]) -> None:
    desk = Caller(app, None)
    told = desk.ask("POST", "/api/pair", {"passphrase": GOOD, "device": STRANGER, "name": "Desk"}).get_json()
    assert told["role"] == "full"
    desk.token = told["token"]
    assert desk.ask("POST", "/api/pair-code", {"role": "record"}).get_json()["role"] == "record"


def test_one_that_may_only_record_is_told_names_and_no_more(app: Flask, tokens: dict[str, str]) -> None:
    caller = Caller(app, tokens["record"])
    told = caller.ask("GET", "/api/devices").get_json()["devices"]
    assert {tuple(one) for one in told} == {("device", "name")}
    assert caller.ask("GET", "/api/me").get_json() == {"device": LENT, "role": "record"}


def test_a_role_that_is_changed_holds_at_the_next_call(app: Flask, tokens: dict[str, str]) -> None:
    caller, lent = Caller(app, tokens["owner"]), Caller(app, tokens["record"])
    caller.sign_in()
    assert code_of(lent.ask("GET", "/api/house")) == "record-only"
    assert caller.ask("POST", f"/api/devices/{LENT}/role", {"role": "full"}).status_code == 200
    assert lent.ask("GET", "/api/house").status_code == 200
    last = [PHONE, LENT]
    for device in last:
        assert caller.ask("POST", f"/api/devices/{device}/role", {"role": "record"}).status_code == 200
    own = f"/api/devices/{OTHER_PHONE}/role"
    assert code_of(caller.ask("POST", own, {"role": "record"})) == "last-full"
    assert caller.ask("POST", own, {"role": "record", "anyway": "yes"}).status_code == 400
    assert caller.ask("POST", own, {"role": "record", "anyway": True}).status_code == 200
