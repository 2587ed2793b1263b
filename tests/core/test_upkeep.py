"""What leaves and consents ask of whoever keeps them up, as dated tasks; days counted on a calendar by hand."""

from __future__ import annotations

from typing import Any

import pytest
from builders import an_id
from upkeep_kit import HOLDER, SITE, Log, kind_of, span

from field.core.signing import terms_of
from field.core.tasks import task_record_id


@pytest.fixture
def log() -> Log:
    return Log()


def test_a_good_leave_with_nothing_lifted_asks_for_nothing(log: Log) -> None:
    log.leave()
    assert log.open("2026-12-24") == []


def test_a_task_is_a_site_s_and_names_site_and_landholder_without_their_number(log: Log) -> None:
    leave = log.leave()
    task = log.one("2027-03-20", "ending")
    assert task["id"] == f"site:{SITE}:ending:{leave}:2027"
    assert task["rec"] == task_record_id(task["id"])
    assert (task["tree"], task["site"], task["work"], task["moved_from"]) == (None, SITE, "leave", None)
    assert task["text"] == (
        "The leave of Ms Invented for Gledhope ends on 31 March 2027. Ask for another term, or finish there by then."
    )
    assert "common practice" in task["why"]
    assert "0404" not in task["text"] + task["why"]


# The end of a leave


@pytest.mark.parametrize(
    ("today", "is_due"),
    [("2027-02-28", False), ("2027-03-01", True), ("2027-03-31", True), ("2027-04-01", False)],
)
def test_an_ending_leave_is_due_from_30_days_before_to_its_last_day(log: Log, today: str, is_due: bool) -> None:
    log.leave()
    assert bool(log.find(today, "ending")) is is_due


def test_an_end_is_not_asked_about_where_it_is_renewed(log: Log) -> None:
    old = log.leave()
    log.leave(renews=old, starts_on="2027-04-01", ends_on="2028-03-31")
    assert log.find("2027-03-20", "ending") == []


@pytest.mark.parametrize(
    "renewal",
    [
        {"withdrawn_on": "2027-03-10"},
        {"ends_on": "2027-03-31"},  # no longer than the old one
        {"deleted": True},
    ],
)
def test_a_renewal_that_does_not_go_on_changes_nothing(log: Log, renewal: dict[str, Any]) -> None:
    old = log.leave()
    log.leave(renews=old, starts_on="2027-03-01", **{"ends_on": "2028-03-31", **renewal})
    assert [task["id"].split(":")[3] for task in log.find("2027-03-20", "ending")].count(old) == 1


@pytest.mark.parametrize(
    ("other", "goes_on"),
    [
        ({"ends_on": None}, True),
        ({"ends_on": "2027-09-30", "starts_on": "2027-04-01"}, True),  # the very next day
        ({"ends_on": "2027-09-30", "starts_on": "2027-04-02"}, False),  # a day between
        ({"ends_on": None, "landholder": None}, False),
        ({"ends_on": None, "species": ["birch"]}, False),  # narrower
        ({"ends_on": None, "area": {"type": "Polygon", "coordinates": []}}, False),
    ],
)
def test_another_leave_as_wide_of_the_same_landholder_goes_on(log: Log, other: dict[str, Any], goes_on: bool) -> None:
    old = log.leave()
    log.leave()
    log.leaves[-1].update(other)
    asked = [task for task in log.find("2027-03-20", "ending") if old in task["id"]]
    assert bool(asked) is not goes_on


def test_an_end_moved_into_the_next_year_is_asked_about_again(log: Log) -> None:
    leave = log.leave()
    ticked = [{"task": f"site:{SITE}:ending:{leave}:2027", "state": "done"}]
    assert log.open("2027-03-20", ticked) == []
    log.leaves[0]["ends_on"] = "2027-03-28"  # mended by three days: the same end
    assert log.open("2027-03-20", ticked) == []
    log.leaves[0]["ends_on"] = "2028-03-31"
    assert [kind_of(task) for task in log.open("2028-03-20", ticked)] == ["ending"]


@pytest.mark.parametrize(
    ("today", "marked", "is_due"),
    [
        ("2027-03-31", 2, False),
        ("2027-04-01", 2, True),
        ("2027-04-28", 2, True),  # 28 days after
        ("2027-04-29", 2, False),
        ("2027-04-01", 0, False),
    ],
)
def test_after_the_end_it_is_to_be_asked_anew_only_where_marked_trees_stand(
    log: Log, today: str, marked: int, is_due: bool
) -> None:
    log.leave()
    log.mark(marked)
    assert bool(log.find(today, "ask-anew")) is is_due


def test_nothing_is_asked_anew_where_another_leave_is_in_force_or_to_come(log: Log) -> None:
    log.leave()
    log.mark()
    log.leave(landholder=None, starts_on="2027-05-01", ends_on="2027-06-30")
    assert log.find("2027-04-10", "ask-anew") == []


# In writing


@pytest.mark.parametrize(
    ("given_on", "expected"),
    [(None, ("2026-11-01", "2026-11-15", "2027-03-31")), ("2026-10-20", ("2026-10-20", "2026-11-03", "2027-03-31"))],
)
def test_a_spoken_leave_wants_writing_within_14_days_of_being_given_or_begun(
    log: Log, given_on: str | None, expected: tuple[str, str, str]
) -> None:
    log.leave(form="spoken", given_on=given_on)
    assert span(log.one("2026-12-24", "writing")) == expected


def test_writing_is_asked_for_until_signed_or_ended(log: Log) -> None:
    log.leave(form="spoken")
    assert log.find("2027-03-31", "writing")
    assert log.find("2027-04-01", "writing") == []
    log.leaves[0]["form"] = "signed"
    assert log.find("2027-03-31", "writing") == []


def test_a_leave_changed_after_it_was_signed_wants_signing_again_each_time(log: Log) -> None:
    leave = log.leave(form="spoken")
    log.signings.append({"id": an_id(), "leave": leave, "version": 1})
    first = log.one("2026-12-24", "sign-again")
    assert first["id"].endswith(f"{leave}:1")
    assert log.find("2026-12-24", "writing") == []
    log.signings.append({"id": an_id(), "leave": leave, "version": 2})
    again = log.open("2026-12-24", [{"task": first["id"], "state": "done"}])
    assert [task["id"].rpartition(":")[2] for task in again] == ["2"]
    assert "version 2 was signed" in again[0]["text"]


def test_a_leave_that_stands_as_signed_but_has_other_terms_wants_signing_again(log: Log) -> None:
    leave = log.leave()
    terms = terms_of(log.leaves[0], log.sites[0])
    log.signings.append({"id": an_id(), "leave": leave, "version": 1, "letter": {"terms": terms}})
    assert log.find("2026-12-24", "sign-again") == []
    log.leaves[0]["allowance"] = 9  # written by another phone, that did not know it was signed
    assert log.find("2026-12-24", "sign-again")
    now = terms_of(log.leaves[0], log.sites[0])
    log.signings.append({"id": an_id(), "leave": leave, "version": 1, "letter": {"terms": now}})  # signed there as well
    assert log.find("2026-12-24", "sign-again") == []


# The number


@pytest.mark.parametrize(
    ("agreed", "lifted", "words"),
    [
        (5, 0, None),
        (5, 3, None),  # two of five: more than a fifth
        (5, 4, "1 tree is left of the 5"),
        (10, 7, None),
        (10, 8, "2 trees are left of the 10"),  # a fifth
        (4, 2, None),  # two left of fewer than five
        (2, 1, "1 tree is left of the 2"),
        (1, 0, None),
        (3, 3, "All 3 trees agreed with Ms Invented for Gledhope are lifted"),
        (1, 1, "The one tree agreed with Ms Invented for Gledhope is lifted"),
        (None, 9, None),
    ],
)
def test_a_number_nearly_used_up_is_told(log: Log, agreed: int | None, lifted: int, words: str | None) -> None:
    leave = log.leave(allowance=agreed)
    log.mark()
    for n in range(lifted):
        log.lift(leave, "2026-12-10", tag=f"K{n}")
    found = log.find("2026-12-24", "number")
    assert [words in task["text"] for task in found] == ([] if words is None else [True])
    assert [span(task) for task in found] == ([] if words is None else [("2026-12-10", "2027-01-09", "2027-01-09")])


def test_a_number_used_up_where_nothing_is_marked_is_no_matter(log: Log) -> None:
    log.lift(log.leave(allowance=1), "2026-12-10")
    assert log.find("2026-12-24", "number") == []


def test_number_and_end_are_asked_about_once(log: Log) -> None:
    leave = log.leave(allowance=2)
    log.lift(leave, "2027-03-02")
    assert log.find("2027-03-03", "number") == []
    assert log.one("2027-03-03", "ending")


def test_one_over_the_number_is_to_be_told_at_once_and_stays(log: Log) -> None:
    leave = log.leave(allowance=1)
    log.lift(leave, "2026-12-10", lifted_at="2026-12-10T13:00:00.000Z")
    log.lift(leave, "2026-12-10", tag="K2", lifted_at="2026-12-10T13:05:00.000Z")
    task = log.one("2027-09-01", "over")
    assert span(task) == ("2026-12-10", "2026-12-10", None)
    assert task["text"] == (
        "Tell Ms Invented of 1 tree over the number agreed for Gledhope: 2 lifted where 1 was agreed."
    )


def test_told_of_one_over_it_is_told_again_of_the_next(log: Log) -> None:
    leave = log.leave(allowance=1)
    log.lift(leave, "2026-12-10")
    log.lift(leave, "2026-12-10")
    told = [{"task": log.one("2026-12-11", "over")["id"], "state": "done"}]
    assert [task for task in log.open("2026-12-11", told) if kind_of(task) == "over"] == []
    log.lift(leave, "2026-12-10")
    (again,) = [task for task in log.open("2026-12-11", told) if kind_of(task) == "over"]
    assert "of 2 trees over the number" in again["text"]


# Other consents


@pytest.mark.parametrize(
    ("today", "is_due"),
    [("2027-01-29", False), ("2027-01-30", True), ("2027-03-31", True), ("2027-04-01", False)],
)
def test_a_consent_running_out_is_due_from_60_days_before(log: Log, today: str, is_due: bool) -> None:
    log.consent(until="2027-03-31", reference="TO/9", authority="the council")
    found = log.find(today, "consent-ending")
    assert [task["text"] for task in found] == (
        ["The consent for Gledhope (tree order, TO/9) runs out on 31 March 2027. Ask the council about a new one."]
        if is_due
        else []
    )


@pytest.mark.parametrize("until", [None, "2027-09-30"])
def test_a_consent_is_not_asked_for_where_a_longer_one_of_its_kind_is_held(log: Log, until: str | None) -> None:
    log.consent(until="2027-03-31")
    log.consent(until=until)
    assert log.find("2027-03-20", "consent-ending") == []
    log.consents[1]["kind"] = "monument"
    assert log.find("2027-03-20", "consent-ending")


def test_a_consent_that_runs_out_again_a_year_later_is_asked_about_again(log: Log) -> None:
    log.consent(until="2027-03-31")
    ticked = [{"task": log.one("2027-03-20", "consent-ending")["id"], "state": "done"}]
    log.consents[0]["until"] = "2028-03-31"
    assert [kind_of(task) for task in log.open("2028-03-20", ticked)] == ["consent-ending"]


@pytest.mark.parametrize(
    ("terms", "is_wanted"),
    [
        (None, False),
        ({}, True),
        ({"ends_on": "2026-12-23"}, False),
        ({"withdrawn_on": "2026-12-23"}, False),
        ({"starts_on": "2027-02-22"}, True),  # 60 days ahead
        ({"starts_on": "2027-02-23"}, False),
    ],
)
@pytest.mark.parametrize("held_once", [False, True])
def test_a_consent_not_held_matters_where_a_leave_is_in_force_or_soon_to_be(
    log: Log, terms: dict[str, Any] | None, is_wanted: bool, held_once: bool
) -> None:
    if terms is not None:
        log.leave(**terms)
    log.consent(**({"until": "2026-12-01"} if held_once else {"state": "needed"}))
    found = log.find("2026-12-24", "consent-expired" if held_once else "consent-needed")
    assert bool(found) is is_wanted


def test_another_consent_is_told_by_its_own_name(log: Log) -> None:
    log.leave()
    log.consent(kind="other", name="commoners' association", state="needed")
    assert "(commoners' association) is needed and not held" in log.one("2026-12-24", "consent-needed")["text"]


# Whose it is


@pytest.mark.parametrize(
    ("by_role", "giver_is", "told"),
    [
        ("occupier", "occupier", "Tell Ms Invented, and the owner Jan Soller, of 1 tree over the number"),
        ("agent", None, "Tell Ms Invented, and the owner Jan Soller, of 1 tree over the number"),
        (None, "occupier", "Tell Ms Invented, and the owner Jan Soller, of 1 tree over the number"),
        (None, None, "Tell Ms Invented, and the owner Jan Soller, of 1 tree over the number"),
        ("owner", None, "Tell Ms Invented of 1 tree over the number"),
        (None, "owner", "Tell Ms Invented of 1 tree over the number"),
    ],
)
def test_the_owner_is_to_be_told_too_where_another_gave_the_leave(
    log: Log, by_role: str | None, giver_is: str | None, told: str
) -> None:
    owner = an_id()
    log.landholders.append({"id": owner, "name": "Jan Soller"})
    log.holdings.append({"id": an_id(), "site": SITE, "landholder": owner, "role": "owner"})
    if giver_is:
        log.holdings.append({"id": an_id(), "site": SITE, "landholder": HOLDER, "role": giver_is})
    leave = log.leave(allowance=0, by_role=by_role, withdrawn_on="2026-12-10")
    log.lift(leave, "2026-12-10")
    assert log.one("2026-12-11", "over")["text"].startswith(told)
    second = log.one("2026-12-11", "after-withdrawal")["text"]
    assert second.startswith(told.partition(" of ")[0] + " of tree K1")


def test_a_leave_only_asked_for_is_none_and_is_asked_after(log: Log) -> None:
    log.leave(ends_on="2026-12-31", conditions=[])
    old = log.leaves[0]["id"]
    log.leave(form="asked", given_on="2026-12-10", starts_on="2027-01-01", ends_on="2027-12-31", renews=old)
    log.consent(state="needed")
    assert [kind_of(task) for task in log.open("2026-12-23")] == ["consent-needed", "ending"]
    task = log.one("2026-12-24", "answer")
    assert span(task) == ("2026-12-24", "2026-12-24", "2027-12-31")
    assert [kind_of(one) for one in log.open("2027-01-04")] == ["answer"]


def test_a_leave_without_a_name_is_the_only_holder_s_of_the_ground(log: Log) -> None:
    log.leave(landholder=None, form="spoken")
    assert "The leave of the landholder for Gledhope" in log.one("2026-12-24", "writing")["text"]
    log.holdings.append({"id": an_id(), "site": SITE, "landholder": HOLDER})
    assert "The leave of Ms Invented for Gledhope" in log.one("2026-12-24", "writing")["text"]
    log.holdings.append({"id": an_id(), "site": SITE, "landholder": an_id()})
    assert "The leave of the landholder for Gledhope" in log.one("2026-12-24", "writing")["text"]


def test_a_site_taken_away_asks_for_nothing(log: Log) -> None:
    log.leave(form="spoken")
    log.sites[0]["deleted"] = True
    assert log.open("2026-12-24") == []


def test_a_settled_task_is_told_after_it_lapsed_and_an_open_one_is_not(log: Log) -> None:
    leave = log.leave()
    task = f"site:{SITE}:ending:{leave}:2027"
    assert log.plan("2027-06-01") == []
    assert [one["id"] for one in log.plan("2027-06-01", [{"task": task, "state": "done"}])] == [task]
