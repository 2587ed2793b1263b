"""Whatever is asked of any route, by anybody: never a fault, one shape of error, and the headers of every answer."""

from __future__ import annotations

import pytest
import random_requests
from argon2 import PasswordHasher
from builders import PHONE
from flask import Flask

from field.services import owner

SEEDS = 700  # several rounds of all routes and methods; `python tests/fuzz_routes.py 100000` is the long form
# Answered by the framework without a look at the route, or refused to whatever is sent here.
NEVER_LET_IN = {("/api/copy/<sha256>", "POST"), ("/api/sign-in", "POST"), ("/api/pair", "POST")}


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(owner, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


def test_no_request_is_a_fault_of_ours_and_every_refusal_has_the_one_shape(app: Flask) -> None:
    house = random_requests.a_house(app, PHONE)
    client, stranger = app.test_client(), app.test_client()
    for seed in range(SEEDS):
        random_requests.ask(house, client, seed, paired=True)
        random_requests.ask(house, stranger, seed, paired=False)
    every = {
        (rule.rule, method)
        for rule in app.url_map.iter_rules()
        for method in rule.methods or ()
        if not rule.rule.startswith("/api/devices/")  # found by chance only
    }
    assert every - house.let_in - NEVER_LET_IN == set()


def test_what_is_judged_can_fail(app: Flask) -> None:
    @app.get("/api/broken")
    def broken() -> str:
        raise RuntimeError("SELECT secret")

    @app.get("/api/told")
    def told() -> tuple[str, int]:
        return "no shape at all", 400

    house = random_requests.a_house(app, PHONE)
    for path in ("/api/broken", "/api/told"):
        answer = app.test_client().get(path, headers={"Authorization": f"Bearer {house.token}"})
        with pytest.raises((AssertionError, ValueError, KeyError)):
            random_requests.judge(answer, path)
