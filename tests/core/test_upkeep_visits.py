"""What a visit owes: terms to be looked at, a report, and what has to be told to a landholder."""

from __future__ import annotations

from typing import Any

import pytest
from upkeep_kit import TERMS, Log, kind_of, span


@pytest.fixture
def log() -> Log:
    return Log()


def test_terms_not_ticked_with_any_lift_and_holes_not_filled_are_one_task_by_the_next_day(log: Log) -> None:
    leave = log.leave(conditions=["keep dogs away", "close the gates"])
    ticked = ["keep dogs away", "close the gates"]
    for tag in ("B2", "B3"):
        log.lift(leave, "2026-12-10", tag=tag, kept_conditions=ticked)
    log.lift(leave, "2026-12-10", tag="B1", kept_conditions=["close the gates"])
    log.lift(leave, "2026-12-10", tag="B4", kept_conditions=ticked, hole_filled=None)
    task = log.one("2026-12-11", "terms")
    assert span(task) == ("2026-12-10", "2026-12-11", "2027-03-10")
    assert task["text"] == (
        "Not noted as done for Ms Invented at Gledhope on 10 December 2026: “keep dogs away” with B1; the hole of B4 "
        "filled. Put right what was not done, then note it with its tree."
    )
    assert {log.tag_of(tree) for tree in task["trees"]} == {"B1", "B4"}


def test_each_tree_that_lacks_a_term_is_named_with_it(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10", tag="K1", kept_conditions=["fill the holes"])
    log.lift(leave, "2026-12-10", tag="K2", kept_conditions=None, hole_filled=False)
    log.lift(leave, "2026-12-10", tag="K10", hole_filled=None)
    assert (
        "“close the gates” with K1 and K2; “fill the holes” with K2; the holes of K2 and K10 filled."
        in log.one("2026-12-11", "terms")["text"]
    )


def test_terms_alone_are_let_go_after_four_weeks_and_holes_after_a_quarter(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10", kept_conditions=[])
    assert log.one("2027-01-07", "terms")
    assert log.find("2027-01-08", "terms") == []
    log.lifts[0]["hole_filled"] = None
    assert log.one("2027-03-10", "terms")
    assert log.find("2027-03-11", "terms") == []


def test_what_was_put_right_afterwards_is_due_no_more(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10", kept_conditions=["fill the holes"], hole_filled=None)
    assert log.one("2026-12-11", "terms")
    log.lifts[0].update(kept_conditions=TERMS, hole_filled=True)
    assert log.find("2026-12-11", "terms") == []


def test_a_lift_over_the_number_has_the_terms_of_its_leave_to_keep(log: Log) -> None:
    leave = log.leave(allowance=1)
    log.lift(leave, "2026-12-10", tag="B3", lifted_at="2026-12-10T10:00:00.000Z")
    said_no = {"answer": "no", "leave": None, "keep": []}
    log.lift(
        leave, "2026-12-10", tag="B4", lifted_at="2026-12-10T11:00:00.000Z", answer={"verdict": said_no, "keep": TERMS},
        kept_conditions=["close the gates"],
    )  # fmt: skip
    assert "“fill the holes” with B4" in log.one("2026-12-11", "terms")["text"]


def test_settled_it_comes_back_with_another_phone_s_lift_of_the_day_and_not_with_what_is_put_right(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10", kept_conditions=[], hole_filled=None)
    settled = [{"task": log.one("2026-12-11", "terms")["id"], "state": "done"}]
    log.lifts[0]["hole_filled"] = True
    assert [task for task in log.open("2026-12-11", settled) if kind_of(task) == "terms"] == []
    log.lift(leave, "2026-12-10", tag="K2")
    assert [kind_of(task) for task in log.open("2026-12-11", settled) if kind_of(task) == "terms"] == ["terms"]


@pytest.mark.parametrize(
    ("terms", "is_over"),
    [({}, False), ({"withdrawn_on": "2026-12-12"}, False), ({"withdrawn_on": "2026-12-11"}, True),
     ({"withdrawn_on": "2026-11-01"}, True), ({"ends_on": "2026-12-10"}, True)],
)  # fmt: skip
def test_a_leave_that_is_over_still_wants_its_terms_kept_but_no_way_back_unasked(
    log: Log, terms: dict[str, Any], is_over: bool
) -> None:
    log.lift(log.leave(**terms), "2026-12-10", hole_filled=None)
    assert ("ask before you go back" in log.one("2026-12-11", "terms")["text"]) is is_over


def test_each_day_of_lifting_has_its_own_conditions(log: Log) -> None:
    leave = log.leave()
    for day in ("2026-12-10", "2026-12-12"):
        log.lift(leave, day, kept_conditions=[])
    found = log.find("2026-12-12", "terms")
    assert [task["id"].rpartition(":")[2] for task in found] == ["2026-12-10-1", "2026-12-12-1"]


def test_conditions_are_those_of_the_day_not_those_written_later(log: Log) -> None:
    leave = log.leave()
    verdict = {"leave": leave, "keep": ["close the gates"]}
    log.lift(leave, "2026-12-10", kept_conditions=["close the gates"], answer={"verdict": verdict})
    log.leaves[0]["conditions"] = ["no dogs"]
    assert log.find("2026-12-11", "terms") == []


def test_a_visit_is_to_be_reported_within_14_days(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10", tag="K1")
    log.lift(leave, "2026-12-10", tag="K2")
    task = log.one("2026-12-10", "report")
    assert span(task) == ("2026-12-10", "2026-12-24", "2027-03-24")
    assert task["text"] == "Tell Ms Invented what was taken from Gledhope on 10 December 2026: 2 trees (K1 and K2)."


def test_a_lift_that_comes_home_after_the_report_is_to_be_reported_too(log: Log) -> None:
    leave = log.leave()
    log.lift(leave, "2026-12-10")
    told = [{"task": log.one("2026-12-11", "report")["id"], "state": "done"}]
    log.lift(leave, "2026-12-10", tag="K2")
    assert [kind_of(task) for task in log.open("2026-12-11", told)] == ["report"]


def test_old_visits_are_not_dug_up(log: Log) -> None:
    leave = log.leave(starts_on="2020-01-01")
    log.lift(leave, "2021-02-10", kept_conditions=None)
    assert log.open("2026-12-24") == []


# Outside of the leave


@pytest.mark.parametrize(
    ("terms", "lift", "what", "words"),
    [
        ({"withdrawn_on": "2026-12-10"}, {}, "after-withdrawal", "the leave was withdrawn on 10 December 2026"),
        ({"ends_on": "2026-12-09"}, {}, "after-end", "the leave had ended on 9 December 2026"),
        ({"starts_on": "2026-12-11"}, {}, "before-begin", "the leave began only on 11 December 2026"),
        ({"species": ["Birch "]}, {"species": "larch"}, "kinds", "the leave does not name the kind"),
        ({"max_girth_mm": 450}, {"girth_mm": 451}, "girth", "over the girth agreed"),
    ],
)
def test_a_lift_outside_of_the_leave_is_to_be_told_at_once_and_stays(
    log: Log, terms: dict[str, Any], lift: dict[str, Any], what: str, words: str
) -> None:
    log.lift(log.leave(**terms), "2026-12-10", **lift)
    task = log.one("2027-11-01", what)
    assert span(task) == ("2026-12-10", "2026-12-10", None)
    assert task["text"] == f"Tell Ms Invented of tree K1, lifted at Gledhope on 10 December 2026: {words}."


def test_a_withdrawn_leave_asks_for_nothing_but_what_is_to_be_told(log: Log) -> None:
    leave = log.leave(form="spoken", withdrawn_on="2026-12-10", allowance=2)
    log.mark()
    log.lift(leave, "2026-12-09", kept_conditions=None)
    assert log.open("2027-03-20") == []
    log.lift(leave, "2026-12-10", kept_conditions=None)
    assert [kind_of(task) for task in log.open("2027-03-20")] == ["after-withdrawal"]


def test_a_withdrawal_that_lies_ahead_still_wants_what_a_visit_owes(log: Log) -> None:
    log.lift(log.leave(withdrawn_on="2027-01-15"), "2026-12-10")
    assert [kind_of(task) for task in log.open("2026-12-11")] == ["report"]


def test_the_next_lift_after_a_withdrawal_is_told_as_well(log: Log) -> None:
    leave = log.leave(withdrawn_on="2026-12-10")
    log.lift(leave, "2026-12-10")
    told = [{"task": log.one("2026-12-11", "after-withdrawal")["id"], "state": "done"}]
    assert log.open("2026-12-11", told) == []
    log.lift(leave, "2026-12-10", tag="K2")  # the other phone's, of the same afternoon
    assert [kind_of(task) for task in log.open("2026-12-11", told)] == ["after-withdrawal"]
