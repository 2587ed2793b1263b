"""Stages of a tree and the dates that its care counts from."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest

from field.core.care import add_months, count_digs, latest_lift, lift_day, stage
from field.core.species import load_cards

CARDS = load_cards()
BIRCH = CARDS["birch"]  # first styling after 2 years
TREE = {"id": "t", "species": "birch"}


CASES = json.loads((Path(__file__).parent.parent / "vectors" / "stage.json").read_text(encoding="utf-8"))["cases"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_stage_is_that_of_the_cases_shared_with_the_phone(case: dict[str, Any]) -> None:
    assert stage(case["tree"], case["lifts"], case["today"], BIRCH) == case["expect"]


def a_lift(lifted_on: str | None = "2024-03-09", **more: object) -> dict[str, object]:
    return {"id": "l", "tree": "t", "lifted_on": lifted_on, **more}


@pytest.mark.parametrize(
    ("today", "want"),
    [
        ("2024-03-08", "lifted"),  # a phone's clock may run behind
        ("2024-03-09", "lifted"),
        ("2024-03-22", "lifted"),  # day 13
        ("2024-03-23", "settling"),  # day 14
        ("2025-03-08", "settling"),
        ("2025-03-09", "gaining"),
        ("2026-03-08", "gaining"),
        ("2026-03-09", "working"),
    ],
)
def test_stage_changes_on_the_day_the_rule_says(today: str, want: str) -> None:
    assert stage(TREE, [a_lift()], today, BIRCH) == want


def test_stage_takes_the_shipped_card_of_the_kind_when_none_is_given() -> None:
    # the oak card asks for 3 years, the default card for 4
    assert stage({"species": "oak"}, [a_lift()], "2027-03-08") == "gaining"
    assert stage({"species": "oak"}, [a_lift()], "2027-03-09") == "working"
    assert stage({"species": "monkey puzzle"}, [a_lift()], "2028-03-08") == "gaining"
    assert stage({"species": "monkey puzzle"}, [a_lift()], "2028-03-09") == "working"


def test_tree_without_a_lift_is_marked() -> None:
    assert stage(TREE, [], "2026-01-01") == "marked"


def test_tree_whose_only_lift_was_deleted_is_marked_again() -> None:
    assert stage(TREE, [a_lift(deleted=True)], "2026-01-01") == "marked"


def test_client_tree_is_working_without_a_lift() -> None:
    assert stage({**TREE, "origin": "client"}, [], "2026-01-01") == "working"


@pytest.mark.parametrize("end", ["lost", "parted", "left_standing"])
def test_end_counts_from_its_own_day(end: str) -> None:
    ended = {**TREE, "ended_as": end, "ended_on": "2024-04-10"}
    assert stage(ended, [a_lift()], "2024-04-09", BIRCH) == "settling"
    assert stage(ended, [a_lift()], "2024-04-10", BIRCH) == end


def test_end_without_a_day_counts_at_once() -> None:
    assert stage({**TREE, "ended_as": "lost"}, [a_lift()], "2024-03-10") == "lost"


def test_lift_without_a_day_is_lifted_and_nothing_more_is_guessed() -> None:
    assert stage(TREE, [a_lift(None)], "2030-01-01") == "lifted"


def test_lift_day_falls_back_on_the_instant() -> None:
    assert lift_day({"lifted_on": None, "lifted_at": "2024-03-09T11:02:03.004Z"}) == dt.date(2024, 3, 9)
    assert lift_day({"lifted_on": "2024-03-10", "lifted_at": "2024-03-09T23:30:00Z"}) == dt.date(2024, 3, 10)


@pytest.mark.parametrize("lift", [None, {}, {"lifted_on": "soon"}, {"lifted_on": "0001-01-01"}])
def test_lift_day_that_cannot_be_used_is_not_known(lift: dict[str, object] | None) -> None:
    assert lift_day(lift) is None


def test_latest_lift_counts_in_any_order() -> None:
    lifts = [a_lift("2024-03-09"), a_lift("2025-03-01", id="m"), a_lift("2026-01-01", id="n", deleted=True)]
    assert (latest_lift(lifts) or {})["id"] == "m"
    assert (latest_lift(reversed(lifts)) or {})["id"] == "m"


def test_dated_lift_stands_before_an_undated_one() -> None:
    assert (latest_lift([a_lift(None, id="z"), a_lift()]) or {})["id"] == "l"


@pytest.mark.parametrize(
    ("second", "digs"),
    [("2023-03-09", 1), ("2023-03-12", 1), ("2024-03-07", 1), ("2024-03-08", 2), ("2026-03-09", 2)],
)
def test_lifts_within_a_year_are_one_dig_told_twice(second: str, digs: int) -> None:
    # 364 days after 9 March 2023 is 7 March 2024
    assert count_digs([a_lift("2023-03-09"), a_lift(second, id="m")]) == digs


@pytest.mark.parametrize(
    ("day", "months", "want"),
    [
        ("2024-03-09", 12, "2025-03-09"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2026-08-31", 6, "2027-02-28"),
        ("2026-12-15", 1, "2027-01-15"),
        ("2026-12-15", 0, "2026-12-15"),
    ],
)
def test_months_are_added_on_the_calendar(day: str, months: int, want: str) -> None:
    assert add_months(dt.date.fromisoformat(day), months) == dt.date.fromisoformat(want)
