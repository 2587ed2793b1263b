"""The care plan's tasks: dates worked out by hand, and what must hold whatever the history."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.card import EVENT_WORDS, TASK_WORKS
from field.core.species import load_cards
from field.core.tasks import due, plan_tasks, task_record_id

CARDS = load_cards()
REFERENCE = {"lat": 52.0, "height_m": 0.0}
T = "0d7b6c1e-8a43-4f0b-9a55-3d0f1f0a1b2c"

Task = dict[str, Any]


def a_tree(**more: object) -> dict[str, object]:
    return {"id": T, "species": "birch", "site": "s", "origin": "lifted", **more}


def a_history(lifted_on: str | None = "2026-03-09", **more: list[dict[str, object]]) -> dict[str, Any]:
    lifts: list[dict[str, object]] = [{"id": "l1", "tree": T, "lifted_on": lifted_on, "roots_kept": "half"}]
    return {"lifts": lifts, "events": [], "works": [], "boxes": [], **more}


def an_event(kind: str, on: str, **more: object) -> dict[str, object]:
    return {"id": f"e-{kind}-{on}", "tree": T, "kind": kind, "happened_on": on, **more}


def a_work(kind: str, on: str, **more: object) -> dict[str, object]:
    return {"id": f"w-{kind}-{on}", "tree": T, "kind": kind, "done_on": on, **more}


def plan(
    tree: dict[str, object] | None = None,
    history: dict[str, Any] | None = None,
    today: str = "2026-03-09",
    place: dict[str, float] | None = REFERENCE,
) -> dict[str, Task]:
    """Return the planned tasks by what follows the tree in their id."""
    found = plan_tasks(tree or a_tree(), history or a_history(), CARDS, today, place)
    by_id = {str(task["id"]).removeprefix(f"{T}:"): task for task in found}
    assert len(by_id) == len(found)
    return by_id


def span(task: Task) -> tuple[str, str]:
    return task["from"], task["by"]


# The evening of the lift and the first weeks


def test_evening_of_the_lift_has_water_shade_wind_label_and_clean_tools() -> None:
    found = plan()
    on_the_day = {step for step, task in found.items() if task["from"] == "2026-03-09"}
    assert {
        f"birch:{step}:0" for step in ("roots-wet", "water-in", "shade", "wind-shelter", "label", "clean-tools")
    } <= (on_the_day)


def test_tree_tells_its_site_kind_of_work_and_record() -> None:
    task = plan()["birch:water-in:0"]
    assert set(task) == {"id", "rec", "tree", "site", "work", "from", "by", "text", "why", "moved_from"}
    assert (task["tree"], task["site"], task["work"], task["moved_from"]) == (T, "s", "water", None)
    assert task["rec"] == str(uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:task:{T}:birch:water-in:0"))


def test_water_is_looked_at_daily_for_a_fortnight_and_then_weekly() -> None:
    found = plan()
    daily = [task["from"] for step, task in found.items() if step.startswith("birch:water-daily:")]
    assert daily == [f"2026-03-{day}" for day in range(10, 24)]
    weekly = [task["from"] for step, task in found.items() if step.startswith("birch:water-weekly:")]
    # from the 15th day (24 March) every 7 days; planned for 60 days ahead: 8 May
    assert weekly == ["2026-03-24", "2026-03-31", "2026-04-07", "2026-04-14", "2026-04-21", "2026-04-28", "2026-05-05"]


def test_water_is_told_as_a_range_and_never_as_an_order() -> None:
    for step in ("water-daily:0", "water-weekly:0"):
        text = plan()[f"birch:{step}"]["text"]
        assert "anything from" in text or "anywhere from" in text


def test_lapsed_checks_do_not_pile_up() -> None:
    found = plan(today="2026-04-01")
    assert [step for step in found if "water-daily" in step] == []
    weekly = [task["from"] for step, task in found.items() if "water-weekly" in step]
    assert weekly[0] == "2026-03-31"


@pytest.mark.parametrize(("today", "shown"), [("2026-05-09", True), ("2026-05-10", False)])
def test_evening_task_is_shown_overdue_for_sixty_days(today: str, shown: bool) -> None:
    # due by 10 March, and 60 days
    assert ("birch:label:0" in plan(today=today)) is shown


def test_lapsed_task_that_was_settled_stays_in_sight() -> None:
    state = {"id": "x", "task": f"{T}:birch:label:0", "state": "done", "settled_on": "2026-03-10"}
    assert "birch:label:0" in plan(history=a_history(states=[state]), today="2026-12-01")


def test_no_feed_before_the_first_flush_has_hardened() -> None:
    found = plan()
    assert "first flush has hardened" in found["birch:no-feed:0"]["text"]
    # flush hardened 20 May and 14 days
    assert found["birch:first-feed:2026"]["from"] == "2026-06-03"


def test_frost_shelter_tells_the_first_years_line_and_later_the_other() -> None:
    found = plan()
    # first frost 20 October on the card, ready a fortnight before
    assert span(found["birch:frost-first-winter:2026"]) == ("2026-10-06", "2026-10-20")
    assert "-5 °C" in found["birch:frost-first-winter:2026"]["text"]
    later = plan(today="2027-09-01")
    assert "birch:frost-first-winter:2027" not in later
    assert "-10 °C" in later["birch:frost-later:2027"]["text"]


@pytest.mark.parametrize(
    ("lifted_on", "cold"),
    [("2026-04-15", True), ("2026-04-16", False), ("2026-10-19", False), ("2026-10-20", True), ("2026-12-31", True)],
)
def test_lift_in_the_cold_months_asks_for_shelter_at_once(lifted_on: str, cold: bool) -> None:
    assert ("birch:frost-now:0" in plan(history=a_history(lifted_on), today=lifted_on)) is cold


@pytest.mark.parametrize(
    ("lifted_on", "outside"),
    [("2026-02-21", True), ("2026-02-22", False), ("2026-03-22", False), ("2026-03-23", True)],
)
def test_lift_outside_its_window_asks_for_more_care(lifted_on: str, outside: bool) -> None:
    assert ("birch:off-season:0" in plan(history=a_history(lifted_on), today=lifted_on)) is outside


def test_few_roots_ask_for_closer_shade() -> None:
    few = {"lifts": [{"id": "l1", "lifted_on": "2026-03-09", "roots_kept": "few"}]}
    assert "birch:few-roots:0" in plan(history=few)
    assert "birch:few-roots:0" not in plan()


def test_misting_is_for_kinds_that_want_it() -> None:
    assert "birch:mist:0" in plan()
    assert "hawthorn:mist:0" not in plan(a_tree(species="hawthorn"))


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


# Kinds, places, ends


def test_kind_without_a_card_says_that_the_default_stands_in() -> None:
    task = plan(a_tree(species="scots-pine"))["scots-pine:water-in:0"]
    assert "no card for Scots pine yet" in task["why"]


def test_untold_kind_says_so() -> None:
    task = plan(a_tree(species=None))["default:water-in:0"]
    assert "kind of this tree is not told" in task["why"]


def test_kind_with_a_card_says_nothing_of_the_default() -> None:
    assert "default card" not in plan()["birch:water-in:0"]["why"]


def test_place_moves_the_dates_and_no_place_says_so() -> None:
    # 53 N: 4 days later
    assert plan(place={"lat": 53.0, "height_m": 0.0})["birch:first-styling:0"]["from"] == "2028-06-07"
    unplaced = plan(place=None)["birch:first-styling:0"]
    assert unplaced["from"] == "2028-06-03"
    assert "place is not known" in unplaced["why"]


def test_site_with_an_impossible_height_still_gets_its_plan_and_says_so() -> None:
    task = plan(place={"lat": 53.0, "height_m": 99999.0})["birch:first-styling:0"]
    assert task["from"] == "2028-06-03"
    assert "not on the earth" in task["why"]


@pytest.mark.parametrize("end", ["lost", "parted", "left_standing"])
def test_ended_tree_has_no_tasks(end: str) -> None:
    assert plan(a_tree(ended_as=end, ended_on="2026-03-20"), today="2026-03-20") == {}
    assert plan(a_tree(ended_as=end, ended_on="2026-03-20"), today="2026-03-19") != {}


def test_deleted_tree_has_no_tasks() -> None:
    assert plan(a_tree(deleted=True)) == {}


def test_marked_tree_is_told_its_lift_window_and_nothing_else() -> None:
    found = plan(history={"lifts": []}, today="2026-01-10")
    assert set(found) == {"birch:lift-window:2026"}
    assert span(found["birch:lift-window:2026"]) == ("2026-02-22", "2026-03-22")
    assert "May I?" in found["birch:lift-window:2026"]["text"]


def test_marked_hawthorn_keeps_both_its_seasons_apart() -> None:
    found = plan(a_tree(species="hawthorn"), {"lifts": []}, today="2026-01-10")
    assert found["hawthorn:lift-window:2026"]["from"] == "2026-01-04"
    assert found["hawthorn:lift-window:2026.1"]["from"] == "2026-10-15"


def test_client_tree_has_seasonal_tasks_but_none_of_the_first_year() -> None:
    found = plan(a_tree(origin="client"), {"lifts": []}, today="2026-06-05")
    assert "birch:cuts-open:2026" in found
    assert "birch:frost-later:2026" in found
    assert [step for step in found if "first" in step or "water" in step or "lift-window" in step] == []


def test_lift_without_a_day_asks_for_the_day_and_guesses_none() -> None:
    found = plan(history=a_history(None))
    assert "birch:day-of-lift:0" in found
    assert "birch:water-in:0" not in found


# Lifts told twice, mended, deleted


def test_of_two_lifts_the_latest_counts() -> None:
    history = a_history()
    history["lifts"] = [{"id": "a", "lifted_on": "2026-03-09"}, {"id": "b", "lifted_on": "2026-03-12"}]
    assert plan(history=history, today="2026-03-12")["birch:water-in:0"]["from"] == "2026-03-12"


def test_deleted_lift_counts_for_nothing() -> None:
    history = a_history()
    history["lifts"].append({"id": "b", "lifted_on": "2026-03-20", "deleted": True})
    assert plan(history=history) == plan()


def test_mended_date_of_a_lift_keeps_every_id_of_its_first_days() -> None:
    before = {step for step in plan() if step.endswith(":0")}
    after = {step for step in plan(history=a_history("2026-03-11"), today="2026-03-09") if step.endswith(":0")}
    assert before == after


def test_second_dig_years_later_has_tasks_of_its_own() -> None:
    history = a_history()
    history["lifts"].append({"id": "b", "lifted_on": "2029-03-12"})
    found = plan(history=history, today="2029-03-12")
    assert "birch:water-in:2.0" in found
    assert "birch:water-in:0" not in found


def test_lift_of_another_tree_counts_for_nothing() -> None:
    history = a_history()
    history["lifts"].append({"id": "b", "tree": "another", "lifted_on": "2026-03-20"})
    assert plan(history=history) == plan()


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


# Properties


def a_random_history(seed: int) -> dict[str, Any]:
    """Return an invented history: the same seed, the same history."""
    pick = random.Random(seed)

    def day() -> str:
        return (dt.date(2024, 1, 1) + dt.timedelta(days=pick.randrange(1300))).isoformat()

    return {
        "lifts": [
            {"id": f"l{n}", "lifted_on": day(), "deleted": pick.random() < 0.2} for n in range(pick.randrange(4))
        ],
        "events": [
            {"id": f"e{n}", "tree": T, "kind": pick.choice(list(EVENT_WORDS)), "happened_on": day()}
            for n in range(pick.randrange(8))
        ],
        "works": [
            {"id": f"w{n}", "kind": pick.choice(["repot", "wire", "unwire", "trim", "hard-prune"]), "done_on": day()}
            for n in range(pick.randrange(5))
        ],
        "boxes": [{"id": f"b{n}", "boxed_on": day()} for n in range(pick.randrange(3))],
    }


TODAYS = st.dates(dt.date(2024, 1, 1), dt.date(2029, 1, 1))
KINDS = st.sampled_from(["birch", "hawthorn", "default", "oak", None])
PLACES = st.sampled_from([None, REFERENCE, {"lat": 55.4, "height_m": 320.0}, {"lat": -43.0, "height_m": 50.0}])


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, kind=KINDS, place=PLACES)
def test_plan_is_the_same_whatever_the_order_of_the_history(
    seed: int, today: dt.date, kind: str | None, place: dict[str, float] | None
) -> None:
    history = a_random_history(seed)
    shuffled = {name: random.Random(seed + 1).sample(records, len(records)) for name, records in history.items()}
    tree = a_tree(species=kind)
    assert plan_tasks(tree, history, CARDS, today, place) == plan_tasks(tree, shuffled, CARDS, today, place)


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, kind=KINDS, place=PLACES)
def test_every_task_is_whole_and_ids_are_unique(
    seed: int, today: dt.date, kind: str | None, place: dict[str, float] | None
) -> None:
    found = plan_tasks(a_tree(species=kind), a_random_history(seed), CARDS, today, place)
    assert len({task["id"] for task in found}) == len(found)
    for task in found:
        assert str(task["from"]) <= str(task["by"]), task["id"]
        assert task["moved_from"] is None or str(task["moved_from"]) < str(task["from"])
        assert str(task["id"]).startswith(f"{T}:{kind or 'default'}:")
        assert task["rec"] == task_record_id(str(task["id"]))
        assert task["work"] in TASK_WORKS
        assert "{" not in f"{task['text']}{task['why']}"


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), today=TODAYS, event=st.sampled_from(list(EVENT_WORDS)), days=st.integers(0, 400))
def test_settled_tasks_keep_their_ids_when_an_event_is_noted_later(
    seed: int, today: dt.date, event: str, days: int
) -> None:
    history = a_random_history(seed)
    before = plan_tasks(a_tree(), history, CARDS, today, REFERENCE)
    settled = random.Random(seed).sample(before, len(before) // 2)
    states = [
        {"id": f"s{n}", "task": task["id"], "state": "skipped", "settled_on": today.isoformat()}
        for n, task in enumerate(settled)
    ]
    noted = {"id": "late", "tree": T, "kind": event, "happened_on": (today - dt.timedelta(days=days)).isoformat()}
    later = {**history, "events": [*history["events"], noted], "states": states}
    after = plan_tasks(a_tree(), later, CARDS, today, REFERENCE)
    assert {task["id"] for task in settled} <= {task["id"] for task in after}
    assert {task["id"] for task in settled}.isdisjoint(task["id"] for task in due(after, states, today, 800))


# Due


def a_task(name: str, starts_on: str, by_on: str) -> Task:
    return {"id": name, "from": starts_on, "by": by_on}


def test_due_reaches_to_the_last_day_asked_for() -> None:
    tasks = [a_task("a", "2026-03-16", "2026-03-20"), a_task("b", "2026-03-17", "2026-03-20")]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 7)] == ["a"]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 8)] == ["a", "b"]


def test_due_tells_overdue_tasks_first_and_counts_the_last_day_as_not_overdue() -> None:
    tasks = [
        a_task("today", "2026-03-01", "2026-03-09"),
        a_task("overdue", "2026-03-05", "2026-03-08"),
        a_task("older", "2026-03-05", "2026-03-07"),
        a_task("soon", "2026-03-10", "2026-03-12"),
    ]
    assert [task["id"] for task in due(tasks, [], "2026-03-09", 3)] == ["older", "overdue", "today", "soon"]


@pytest.mark.parametrize(
    ("state", "is_open"),
    [
        ({"state": "done"}, False),
        ({"state": "skipped"}, False),
        ({"state": None}, True),
        ({"state": "done", "deleted": True}, True),
        ({"task": "another", "state": "done"}, True),
    ],
)
def test_settled_tasks_are_not_due(state: dict[str, object], is_open: bool) -> None:
    found = due([a_task("a", "2026-03-09", "2026-03-09")], [{"task": "a", **state}], "2026-03-09", 0)
    assert bool(found) is is_open


def test_nothing_planned_is_nothing_due() -> None:
    assert due([], [], "2026-03-09", 7) == []
