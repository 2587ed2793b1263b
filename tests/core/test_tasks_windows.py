"""Work in its windows, what a birch is told of them, and events that move them."""

from __future__ import annotations

import pytest
from care_kit import T, a_history, a_tree, a_work, an_event, plan, span

# Work in its windows


def test_first_styling_moves_from_the_second_year_to_the_next_opening_and_says_so() -> None:
    task = plan()["birch:first-styling:0"]
    assert span(task) == ("2028-06-03", "2028-08-01")
    assert task["moved_from"] == "2028-03-09"
    assert "9 March 2028" in task["why"]
    assert "moves to the opening on 3 June 2028" in task["why"]


def test_work_that_falls_inside_its_window_is_not_moved() -> None:
    task = plan(history=a_history("2026-06-20"), today="2026-06-20")["birch:first-trim:0"]
    assert span(task) == ("2027-06-20", "2027-08-01")
    assert task["moved_from"] is None


@pytest.mark.parametrize(
    ("lifted_on", "want"),
    [
        ("2026-06-02", ("2027-06-03", "2027-08-01")),
        ("2026-06-03", ("2027-06-03", "2027-08-01")),
        ("2026-08-01", ("2027-08-01", "2027-08-01")),
        ("2026-08-02", ("2028-06-03", "2028-08-01")),
    ],
)
def test_both_edges_of_a_window_still_count(lifted_on: str, want: tuple[str, str]) -> None:
    assert span(plan(history=a_history(lifted_on), today=lifted_on)["birch:first-trim:0"]) == want


def test_missed_window_waits_for_the_next_and_says_so() -> None:
    missed = plan(today="2027-08-02")["birch:first-trim:0"]
    assert span(missed) == ("2028-06-03", "2028-08-01")
    assert missed["moved_from"] == "2027-03-09"
    assert "that window has closed" in missed["why"]
    in_time = plan(today="2027-08-01")["birch:first-trim:0"]
    assert span(in_time) == ("2027-06-03", "2027-08-01")


def test_thick_stem_waits_a_year_for_each_inch_before_repotting() -> None:
    # girth 240 mm: 76.4 mm, 3.008 inches: 37 months, 9 April 2029; window 1 to 25 March, so 1 March 2030
    lifts = [{"id": "l1", "lifted_on": "2026-03-09", "girth_mm": 240}]
    thick = plan(history={"lifts": lifts})["birch:first-repot:0"]
    assert (thick["from"], thick["moved_from"]) == ("2030-03-01", "2029-04-09")
    # girth 80 mm: one inch and a hair; the card's 2 years stand: 9 March 2028 lies in the window
    thin = plan(history={"lifts": [{"id": "l1", "lifted_on": "2026-03-09", "girth_mm": 80}]})["birch:first-repot:0"]
    assert (thin["from"], thin["moved_from"]) == ("2028-03-09", None)


def test_repotting_that_was_logged_starts_its_own_care_and_counts_anew() -> None:
    found = plan(history=a_history(works=[a_work("repot", "2028-03-12")]), today="2028-03-12")
    assert "birch:first-repot:0" not in found
    assert span(found["birch:repot-water-in:w-repot-2028-03-12.0"]) == ("2028-03-12", "2028-03-12")
    # 2 years on, inside 1 to 25 March
    assert span(found["birch:repot:w-repot-2028-03-12.0"]) == ("2030-03-12", "2030-03-25")


def test_repotting_that_was_only_ticked_counts_as_done() -> None:
    state = {"id": "x", "task": f"{T}:birch:first-repot:0", "state": "done", "settled_on": "2028-03-12"}
    found = plan(history=a_history(states=[state]), today="2028-04-01")
    assert found["birch:repot:2028-03-12.0"]["from"] == "2030-03-12"
    assert "birch:first-repot:0" in found


@pytest.mark.parametrize("kind", ["hard-prune", "hard_prune", "hard prune", "Hard prune"])
def test_work_is_known_in_each_way_it_is_written(kind: str) -> None:
    assert "birch:first-styling:0" in plan(today="2028-06-10")
    done = a_history(works=[a_work(kind, "2028-06-10")])
    assert "birch:first-styling:0" not in plan(history=done, today="2028-06-10")


def test_wire_is_looked_at_until_it_is_off() -> None:
    wired = a_history(works=[a_work("wire", "2028-06-10")])
    found = plan(history=wired, today="2028-06-12")
    assert found["birch:wire-look-growth:w-wire-2028-06-10.0"]["from"] == "2028-06-17"
    # 6 to 10 weeks
    assert span(found["birch:wire-off:w-wire-2028-06-10.0"]) == ("2028-07-22", "2028-08-19")
    off = a_history(works=[a_work("wire", "2028-06-10"), a_work("unwire", "2028-08-01")])
    assert [step for step in plan(history=off, today="2028-08-02") if "wire-look" in step or "wire-off" in step] == []


# What a birch is told, and when


def test_birch_in_early_spring_is_told_that_it_bleeds_and_when_it_no_longer_does() -> None:
    task = plan(today="2027-02-10")["birch:no-cuts-yet:2027"]
    assert span(task) == ("2027-01-29", "2027-05-14")
    assert "bleeds if cut in early spring" in task["text"]
    assert "first flush has hardened" in task["text"]
    assert "torn root" in task["why"]


def test_birch_with_hardened_flush_is_told_that_cuts_are_safe_and_how_large() -> None:
    task = plan(today="2027-06-03")["birch:cuts-open:2027"]
    assert span(task) == ("2027-06-03", "2027-07-01")
    assert "20 mm (30 mm on a strong branch)" in task["text"]
    assert "avoid heavy chops" in task["text"]
    assert "Niemistö" in task["why"]


def test_birch_before_late_summer_is_told_of_the_hard_close_and_the_limb() -> None:
    task = plan(today="2027-07-15")["birch:last-cut:2027"]
    assert span(task) == ("2027-07-11", "2027-08-01")
    assert "1 August 2027" in task["text"]
    assert "gives up the limb" in task["why"]
    assert "contradict" in task["why"]


def test_hard_close_is_not_told_when_it_is_past() -> None:
    assert "birch:last-cut:2027" in plan(today="2027-08-01")
    assert "birch:last-cut:2027" not in plan(today="2027-08-02")


def test_birch_is_told_of_suckers_thick_roots_thirst_and_several_branches() -> None:
    found = plan(today="2027-06-10")
    assert "suckers at the base" in found["birch:suckers:2027"]["text"]
    assert "Keep several" in found["birch:branches:2027"]["text"]
    assert "side root" in found["birch:first-repot:0"]["text"]
    assert "thirsty" in found["birch:first-repot:0"]["text"]
    assert "several primary branches" in found["birch:first-styling:0"]["text"]


@pytest.mark.parametrize("kind", ["birch", "hawthorn", "oak"])
def test_no_task_is_a_bare_no(kind: str) -> None:
    for task in plan(a_tree(species=kind), today="2027-02-10").values():
        assert len(task["why"].split(" Source: ")[0]) >= 25, task["id"]
        assert "Source: " in task["why"]


# Observed events


def test_hardened_flush_noted_later_moves_what_hangs_on_it_and_keeps_the_ids() -> None:
    before = plan(today="2027-06-01")
    after = plan(history=a_history(events=[an_event("flush_hardened", "2027-06-09")]), today="2027-06-01")
    assert before["birch:cuts-open:2027"]["from"] == "2027-06-03"
    assert after["birch:cuts-open:2027"]["from"] == "2027-06-23"
    assert after["birch:branches:2027"]["from"] == "2027-06-23"
    assert "seen on 9 June 2027" in after["birch:first-trim:0"]["why"]


def test_first_frost_noted_early_brings_the_shelter_forward() -> None:
    found = plan(history=a_history(events=[an_event("frost", "2026-10-02")]), today="2026-10-02")
    assert span(found["birch:frost-first-winter:2026"]) == ("2026-09-18", "2026-10-02")


def test_frost_in_spring_is_no_first_frost_of_autumn() -> None:
    found = plan(history=a_history(events=[an_event("frost", "2026-04-20")]), today="2026-04-20")
    assert span(found["birch:frost-first-winter:2026"]) == ("2026-10-06", "2026-10-20")


def test_frost_of_the_garden_counts_for_its_site_and_not_for_another() -> None:
    here = an_event("frost", "2026-10-02", tree=None, site="s")
    there = an_event("frost", "2026-10-02", tree=None, site="elsewhere")
    early = ("2026-09-18", "2026-10-02")
    assert span(plan(history=a_history(events=[here]))["birch:frost-first-winter:2026"]) == early
    assert span(plan(history=a_history(events=[there]))["birch:frost-first-winter:2026"]) != early


@pytest.mark.parametrize(
    ("event", "on", "step"),
    [
        ("bud_break", "2026-04-20", "bud-break-watch"),
        ("flush_hardened", "2026-05-28", "flush-note"),
        ("leaf_fall", "2026-10-25", "leaf-fall"),
    ],
)
def test_noted_event_is_not_asked_for_again_that_year(event: str, on: str, step: str) -> None:
    assert f"birch:{step}:2026" in plan(today=on)
    found = plan(history=a_history(events=[an_event(event, on)]), today=on)
    assert f"birch:{step}:2026" not in found
