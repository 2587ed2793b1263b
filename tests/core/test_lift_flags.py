"""What is said of a lift beside its leave: each edge at, below and above it."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from builders import a_leave

from field.core.lift_flags import lift_flags

L = {"id": "leave", **a_leave(site="site")}  # 1 November 2026 to 31 March 2027, five trees


def codes(flags: dict[str, list[dict[str, str]]]) -> dict[str, list[str]]:
    return {lift: [flag["code"] for flag in some] for lift, some in flags.items()}


def a_lift(rec: str, on: str | None = "2026-12-10", at: str | None = None, **more: Any) -> dict[str, Any]:
    return {"id": rec, "tree": f"tree of {rec}", "leave": "leave", "lifted_on": on, "lifted_at": at, **more}


def test_a_lift_within_its_leave_has_no_flag() -> None:
    assert lift_flags([a_lift("a")], [L]) == {}


@pytest.mark.parametrize("leave", [None, "unknown"])
def test_a_lift_that_names_no_leave_is_told(leave: str | None) -> None:
    assert lift_flags([a_lift("a", leave=leave)], [L]) == {
        "a": [{"code": "no-leave", "text": "No leave is named for this lift."}]
    }


def test_a_leave_that_was_taken_away_is_none() -> None:
    assert codes(lift_flags([a_lift("a")], [{**L, "deleted": True}])) == {"a": ["no-leave"]}


def test_the_latest_by_day_then_instant_then_id_are_over_the_number_in_any_order() -> None:
    lifts = [
        a_lift("d", None),  # of no known day: counts as the latest
        a_lift("b", "2026-12-10", "2026-12-10T13:00:00.000Z"),
        a_lift("c", "2026-12-10", "2026-12-10T13:00:00.000Z"),
        a_lift("z", "2026-12-09", "2026-12-10T14:00:00.000Z"),
        a_lift("a", "2026-12-10", "2026-12-10T13:00:01.000Z"),
    ]
    for some in itertools.permutations(lifts):
        flags = lift_flags(some, [{**L, "allowance": 2}])
        assert codes(flags) == {"c": ["over-number"], "a": ["over-number"], "d": ["over-number"]}
        assert flags["c"][0]["text"] == "Over the number agreed: tree 3 under a leave for 2."
        assert flags["d"][0]["text"] == "Over the number agreed: tree 5 under a leave for 2."


@pytest.mark.parametrize(("allowance", "over"), [(None, 0), (3, 0), (2, 1), (0, 3)])
def test_as_many_as_agreed_are_not_over(allowance: int | None, over: int) -> None:
    assert len(lift_flags([a_lift(n) for n in "abc"], [{**L, "allowance": allowance}])) == over


def test_a_lift_taken_back_does_not_count() -> None:
    assert lift_flags([a_lift("a"), a_lift("b", deleted=True)], [{**L, "allowance": 1}]) == {}


@pytest.mark.parametrize(
    ("terms", "expected"),
    [
        ({"withdrawn_on": "2026-12-11"}, []),
        ({"withdrawn_on": "2026-12-10"}, ["after-withdrawal"]),  # its very day
        ({"withdrawn_on": "2026-12-09"}, ["after-withdrawal"]),
        ({"ends_on": "2026-12-10"}, []),  # the last day counts
        ({"ends_on": "2026-12-09"}, ["after-end"]),
        ({"ends_on": None}, []),
        ({"starts_on": "2026-12-10"}, []),  # the first day counts
        ({"starts_on": "2026-12-11"}, ["before-begin"]),
        ({"withdrawn_on": "2026-12-01", "ends_on": "2026-12-05"}, ["after-withdrawal", "after-end"]),
    ],
)
def test_both_days_of_a_leave_count_and_a_withdrawal_from_its_very_day(
    terms: dict[str, Any], expected: list[str]
) -> None:
    assert codes(lift_flags([a_lift("a")], [{**L, **terms}])).get("a", []) == expected


@pytest.mark.parametrize(
    ("kinds", "kind", "expected"),
    [
        (None, "larch", []),
        (["birch"], "larch", ["kinds"]),
        (["Birch", " LARCH "], "larch", []),  # no letter case, no blanks around
        (["birch"], None, []),  # nobody noted it
        ([], "larch", ["kinds"]),  # a list with nothing on it
    ],
)
def test_a_kind_that_is_not_named_is_told(kinds: list[str] | None, kind: str | None, expected: list[str]) -> None:
    tree = {"id": "tree of a", "species": kind}
    assert codes(lift_flags([a_lift("a")], [{**L, "species": kinds}], [tree])).get("a", []) == expected


@pytest.mark.parametrize(
    ("at_lift", "at_mark", "expected"),
    [(450, None, []), (451, None, ["girth"]), (450, 600, []), (None, 451, ["girth"]), (None, None, [])],
)
def test_the_girth_taken_at_the_lift_counts_before_that_of_the_mark(
    at_lift: int | None, at_mark: int | None, expected: list[str]
) -> None:
    flags = lift_flags(
        [a_lift("a", girth_mm=at_lift)], [{**L, "max_girth_mm": 450}], [{"id": "tree of a", "girth_mm": at_mark}]
    )
    assert codes(flags).get("a", []) == expected
    if expected:
        assert flags["a"][0]["text"] == "Thicker than agreed: 45.1 cm round, the leave allows 45 cm."
