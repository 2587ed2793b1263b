"""A card as its page shows it: a year of dates with reasons and sources, at the place of a site."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from builders import SQUARE
from flask import Flask

from field.core.card import WORKS
from field.core.errors import NotFound
from field.core.species import load_cards
from field.core.windows import dated_windows
from field.services.tell_card import tell_card, tell_kinds
from field.services.write_changes import write_changes

TODAY = dt.date(2027, 3, 1)
SITE = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
EDIT = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4e"


@pytest.fixture
def database_url() -> None:
    """SQLite alone: what is told hangs on records, not on what they lie in."""


def windows_of(told: dict[str, Any], work: str) -> list[dict[str, Any]]:
    return next(one["windows"] for one in told["works"] if one["work"] == work)


def test_every_kind_is_listed_and_told_with_all_works_reasons_and_sources(store: Flask) -> None:
    kinds = [one["kind"] for one in tell_kinds()["kinds"]]
    assert sorted(kinds) == sorted(load_cards())
    assert kinds[-1] == "default" or "default" in kinds[-4:]
    for kind in kinds:
        told = tell_card(kind, None, TODAY)
        assert [one["work"] for one in told["works"]] == list(WORKS)
        for one in told["works"]:
            assert bool(one["windows"]) != bool(one["none"]), (kind, one["work"])
            for window in one["windows"]:
                assert window["why_opens"]
                assert window["why_closes"]
                assert window["source"]
                assert window["closes"] >= "2027-01-01"
                assert window["opens"] <= "2027-12-31"
        assert all(one["source"] for one in told["traits"])


def test_the_dates_are_those_of_the_site_that_is_chosen(store: Flask) -> None:
    write_changes([("site", SITE, {"name": "High", "boundary": SQUARE, "height_m": 420})])
    told = tell_card("birch", SITE, TODAY)
    lat = 55.4  # the middle of the square, near enough: the law moves by whole days
    expected = dated_windows(load_cards()["birch"], "lift", lat, 420, "2027-01-01", 364)
    assert (
        abs(
            (
                dt.date.fromisoformat(windows_of(told, "lift")[0]["opens"])
                - dt.date.fromisoformat(str(expected[0]["opens"]))
            ).days
        )
        <= 1
    )
    assert windows_of(told, "lift") != windows_of(tell_card("birch", None, TODAY), "lift")
    assert "420 m" in told["climate"]


def test_ones_own_edit_is_told_and_marked(store: Flask) -> None:
    edit = {"edit": {"traits": {"shade_weeks": {"value": 9, "why": "the garden is windy"}}}}
    write_changes([("species_card", EDIT, {"kind": "birch", "card": edit})])
    told = tell_card("birch", None, TODAY)
    assert told["own"]
    assert next(one["value"] for one in told["traits"] if one["name"] == "shade_weeks") == 9
    assert [one["kind"] for one in tell_kinds()["kinds"] if one["own"]] == ["birch"]


def test_what_is_not_here_is_said_so(store: Flask) -> None:
    with pytest.raises(NotFound):
        tell_card("triffid", None, TODAY)
    with pytest.raises(NotFound):
        tell_card("birch", SITE, TODAY)
