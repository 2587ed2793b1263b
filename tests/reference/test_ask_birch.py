"""Birch in all its moods, line by line: what is answered on a day, and the word it is answered with.

Dates are those of about 52 N, lowland, by the reference table of the trade: bud swell in March, bud break in April, no
cut after 1 August ("common practice, no source", its early half backed by wound closure: Niemistö and others 2019,
Silva Fennica 53:10052 [seen: abstract]). The garden society's contrary advice (autumn to early winter) has to be
shown, not followed. Cuts: 20 mm, 30 mm on a strong branch, from the same study.
"""

from __future__ import annotations

from typing import Any

import ask_cases
import pytest

from field.core.ask_lines import lines_for_pack
from field.core.ask_work import ask_work


def ask(work: str, on: str, **told: Any) -> tuple[str, str, dict[str, Any]]:
    answer = ask_work(ask_cases.question("birch", work, on, **told), lines_for_pack())
    return answer["answer"], " ".join(one["text"] for one in answer["reasons"]), answer


@pytest.mark.parametrize("on", ["2027-01-20", "2027-02-20", "2027-03-20", "2027-04-20", "2027-05-10"])
@pytest.mark.parametrize("work", ["trim", "hard-prune", "suckers"])
def test_before_the_first_flush_has_hardened_birch_bleeds_and_is_not_cut(work: str, on: str) -> None:
    answer, words, _ = ask(work, on)
    assert answer == "not-now"
    assert "bleeds" in words


def test_a_flush_that_hardens_late_keeps_the_knife_away_and_one_seen_early_lets_it_in() -> None:
    # The card waits 14 days after the hardened flush (species table, "common practice, no source").
    assert ask("trim", "2027-06-08")[0] == "now"
    assert ask("trim", "2027-06-08", seen={"flush_hardened": ["2027-05-30"]})[0] == "not-now"
    assert ask("trim", "2027-06-13", seen={"flush_hardened": ["2027-05-30"]})[0] == "now"
    assert ask("trim", "2027-05-24", seen={"flush_hardened": ["2027-05-10"]})[0] == "now"


def test_in_early_summer_birch_may_be_trimmed_and_the_leaf_is_looked_at_before_the_date() -> None:
    answer, words, told = ask("trim", "2027-06-20")
    assert answer == "now"
    assert "look at the tree before the date" in words
    assert told["closes"] == "2027-08-01"
    seen = ask("trim", "2027-06-20", seen={"flush_hardened": ["2027-05-20"]})
    assert seen[0] == "now"
    assert "look at the tree before the date" not in seen[1]


@pytest.mark.parametrize("on", ["2027-08-02", "2027-08-20", "2027-10-01", "2027-12-05"])
@pytest.mark.parametrize("work", ["trim", "hard-prune"])
def test_after_the_late_summer_close_nothing_is_cut_until_next_years_flush(work: str, on: str) -> None:
    answer, words, told = ask(work, on)
    assert answer == "not-now"
    assert told["opens"].startswith("2028-06")
    assert "heal" in words or "close" in words


def test_the_garden_societys_contrary_word_is_shown_with_the_late_close() -> None:
    assert "autumn" in ask("trim", "2027-08-20")[1]


@pytest.mark.parametrize(
    ("cut_mm", "strong", "answer"),
    [
        (20, False, "now"),
        (21, False, "must"),
        (21, True, "now"),
        (30, True, "now"),
        (31, True, "must"),
        (60, None, "must"),
    ],
)
def test_cuts_are_warned_of_above_20_mm_and_on_a_strong_branch_above_30(cut_mm: int, strong: bool, answer: str) -> None:
    got, words, _ = ask("trim", "2027-06-20", cut_mm=cut_mm, strong=strong)
    assert got == answer
    assert (f"{cut_mm} mm" in words) == (answer == "must")


def test_a_heavy_chop_is_only_for_those_who_must_even_in_season() -> None:
    answer, words, _ = ask("hard-prune", "2027-06-20")
    assert answer == "must"
    assert "gives up limbs" in words
    assert "several primary branches" in words


def test_suckers_go_while_they_are_soft_in_their_season() -> None:
    answer, words, _ = ask("suckers", "2027-06-20")
    assert answer == "now"
    assert "soft" in words


def test_repotting_tells_of_thick_roots_thirst_and_wet_roots() -> None:
    answer, words, _ = ask("repot", "2027-03-20", root_mm=25)
    assert answer == "now"
    for told in ("smaller side root", "40 to 50 %", "Keep the roots wet"):
        assert told in words
    assert "smaller side root" not in ask("repot", "2027-03-20", root_mm=5)[1]


def test_repotting_waits_for_its_years_unless_it_must() -> None:
    assert ask("repot", "2027-03-20", repotted_on="2026-03-20")[0] == "must"
    assert ask("repot", "2027-03-20", repotted_on="2025-03-19")[0] == "now"


def test_a_freshly_lifted_birch_keeps_every_leaf_and_its_date_comes_after_the_wait() -> None:
    answer, words, told = ask("trim", "2027-06-20", lifted_on="2027-03-12", stage="settling")
    assert answer == "not-now"
    assert "12 March 2028" in words
    assert told["opens"].startswith("2028-06")


def test_taking_all_leaves_is_only_for_those_who_must() -> None:
    assert ask("defoliate", "2027-06-20", leaf_share=0.4)[0] == "now"
    assert ask("defoliate", "2027-06-20", leaf_share=0.9)[0] == "must"


def test_wire_comes_off_at_any_time_and_goes_on_in_the_hardened_flush() -> None:
    for on in ("2027-01-10", "2027-04-20", "2027-09-30"):
        assert ask("unwire", on)[0] == "now"
    assert "never unwind" in ask("unwire", "2027-04-20")[1]
    assert ask("wire", "2027-06-20")[0] == "now"
    assert ask("wire", "2027-04-20")[0] in ("must", "not-now")


def test_no_answer_is_a_bare_no() -> None:
    for work in ("trim", "hard-prune", "suckers", "wire", "defoliate", "repot"):
        for month in range(1, 13):
            answer, _, told = ask(work, f"2027-{month:02}-15")
            assert all(len(one["text"]) > 40 for one in told["reasons"]), (work, month)
            assert answer == "now" or told["opens"] is not None, (work, month)


def test_a_tree_on_its_ground_is_not_cut_without_leave() -> None:
    answer, words, _ = ask("trim", "2027-06-20", stage="marked")
    assert answer == "no"
    assert "leave" in words
