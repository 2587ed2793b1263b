"""What home tells of itself: taken only when it is what is meant, and what follows from it."""

from __future__ import annotations

from typing import Any

import pytest
from phone_kit import call
from playwright.sync_api import Page

TOLD = {"address": "https://hut.local:8420", "certificate_until": "2027-05-03T10:00:00.000Z"}
UNTIL_MS = 1_809_338_400_000  # date -u -d 2027-05-03T10:00:00Z +%s


def read(page: Page, said: Any) -> Any:
    return call(page, "core/home_told", "readHomeTold", said)


def test_what_home_tells_is_taken_as_it_is(blank: Page) -> None:
    assert read(blank, {**TOLD, "later": 1}) == TOLD


@pytest.mark.parametrize(
    "said",
    [
        None, 7, "x", {}, {**TOLD, "address": None}, {**TOLD, "address": "hut"}, {**TOLD, "certificate_until": "soon"},
        {**TOLD, "address": "http://hut.local"}, {**TOLD, "address": "javascript:alert(1)"},
        {**TOLD, "address": "https://hut.local/path"}, {**TOLD, "address": "https://a:b@hut.local"},
    ],
)  # fmt: skip
def test_anything_else_counts_as_nothing_told(blank: Page, said: Any) -> None:
    assert read(blank, said) is None


@pytest.mark.parametrize(
    ("origin", "other"),
    [
        ("https://hut.local:8420", None),
        ("https://hut.local", {"address": TOLD["address"], "can_go": True}),
        ("https://192.168.1.20:8420", {"address": TOLD["address"], "can_go": True}),
        ("https://localhost:8420", {"address": TOLD["address"], "can_go": False}),
        ("https://127.0.0.1:8420", {"address": TOLD["address"], "can_go": False}),
    ],
)
def test_phone_goes_to_the_told_address_but_the_machine_of_the_server_does_not(blank: Page, origin, other) -> None:
    assert call(blank, "core/home_told", "otherAddress", TOLD, origin) == other
    assert call(blank, "core/home_told", "otherAddress", None, origin) is None


def test_certificate_has_ended_from_its_very_instant(blank: Page) -> None:
    def words(now_ms: int) -> str | None:
        return call(blank, "core/home_told", "endedWords", TOLD, now_ms)

    assert words(UNTIL_MS - 1) is None
    assert "ended on 3 May 2027" in (words(UNTIL_MS) or "")
    assert call(blank, "core/home_told", "endedWords", None, UNTIL_MS) is None
