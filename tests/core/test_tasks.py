"""The care plan's tasks: dates worked out by hand."""

from __future__ import annotations

import re
import uuid
from pathlib import Path

import pytest
from care_kit import CARDS, T, Task, a_history, a_tree, an_event, plan, span

TONIGHT_JS = Path(__file__).resolve().parents[2] / "static" / "js" / "hill" / "tonight.js"

# The evening of the lift and the first weeks


def test_evening_of_the_lift_has_water_shade_wind_label_and_clean_tools() -> None:
    found = plan()
    on_the_day = {step for step, task in found.items() if task["from"] == "2026-03-09"}
    assert {
        f"birch:{step}:0"
        for step in ("roots-wet", "box-in", "water-in", "shade", "wind-shelter", "label", "clean-tools")
    } <= (on_the_day)


def test_tree_tells_its_site_kind_of_work_and_record() -> None:
    task = plan()["birch:water-in:0"]
    assert set(task) == {"id", "rec", "tree", "site", "work", "from", "by", "lapses_on", "text", "why", "moved_from"}
    assert (task["tree"], task["site"], task["work"], task["moved_from"]) == (T, "s", "water", None)
    assert task["rec"] == str(uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:task:{T}:birch:water-in:0"))


def looks(found: dict[str, Task], step: str) -> list[str]:
    return [task["from"] for name, task in found.items() if f":{step}:" in name]


def test_water_is_looked_at_daily_for_a_fortnight_and_then_weekly() -> None:
    found = plan()
    # lifted bare on 9 March; bud swell 15 March; the fortnight ends on 23 March
    assert looks(found, "water-rest") == ["2026-03-10", "2026-03-13"]
    assert looks(found, "water-daily") == [f"2026-03-{day}" for day in range(15, 24)]
    weekly = looks(found, "water-weekly")
    # from the 15th day (24 March) every 7 days; planned for 60 days ahead: 8 May
    assert weekly == ["2026-03-24", "2026-03-31", "2026-04-07", "2026-04-14", "2026-04-21", "2026-04-28", "2026-05-05"]


def test_water_is_told_as_a_range_and_never_as_an_order() -> None:
    for step in ("water-rest:0", "water-daily:5", "water-weekly:0"):
        text = plan()[f"birch:{step}"]["text"]
        assert "anything from" in text or "anywhere from" in text


@pytest.mark.parametrize("species", ["birch", "hawthorn", "oak", None])
def test_tree_lifted_bare_is_told_of_winter_water_until_its_buds_swell(species: str | None) -> None:
    found = plan(a_tree(species=species), a_history("2026-11-25"), today="2026-11-25")
    # every third day of the fortnight from the 1st, then every 21 days from the 15th; planned to 24 January
    assert looks(found, "water-rest") == ["2026-11-26", "2026-11-29", "2026-12-02", "2026-12-05", "2026-12-08"]
    assert looks(found, "water-winter") == ["2026-12-10", "2026-12-31", "2027-01-21"]
    water = [str(task["text"]) for task in found.values() if task["work"] == "water" and task["from"] > "2026-11-25"]
    assert len(water) == 8
    assert [text for text in water if "ust damp" not in text or "thirsty" in text] == []


def test_thirsty_interval_begins_with_the_swelling_of_the_buds_as_they_were_seen() -> None:
    history = a_history("2027-02-24", events=[an_event("bud_swell", "2027-03-01")])
    found = plan(history=history, today="2027-02-24")
    # lifted on 24 February: the fortnight ends on 10 March
    assert looks(found, "water-rest") == ["2027-02-25", "2027-02-28"]
    assert looks(found, "water-daily") == [f"2027-03-{day:02}" for day in range(1, 11)]


def test_look_that_was_ticked_stays_when_bud_swell_seen_later_leaves_it_no_say() -> None:
    ticked = {"id": "x", "task": f"{T}:birch:water-rest:2", "state": "done", "settled_on": "2027-03-03"}
    history = a_history("2027-02-24", states=[ticked], events=[an_event("bud_swell", "2027-03-01")])
    found = plan(history=history, today="2027-03-04")
    # the 7th day after 24 February
    assert [(name, task["from"]) for name, task in found.items() if "water-rest" in name] == [
        ("birch:water-rest:2", "2027-03-03")
    ]


@pytest.mark.parametrize(
    ("boxes", "works", "asked"),
    [
        ([], [], True),
        ([{"id": "b", "boxed_on": "2026-03-09"}], [], False),
        ([{"id": "b", "boxed_on": "2026-03-12"}], [], False),
        ([{"id": "b", "boxed_on": "2026-03-08"}], [], True),  # of before the lift
        ([{"id": "b", "boxed_on": None}], [], True),  # cannot be told
        ([{"id": "b", "boxed_on": "2026-03-09", "deleted": True}], [], True),
        ([], [{"id": "w", "kind": "repot", "done_on": "2026-03-10"}], False),
    ],
)
def test_box_is_asked_for_until_one_is_noted(
    boxes: list[dict[str, object]], works: list[dict[str, object]], asked: bool
) -> None:
    found = plan(history=a_history(boxes=boxes, works=works), today="2026-03-12")
    assert ("birch:box-in:0" in found) is asked
    assert not [name for name in found if ":repot-water-in:" in name and not works]


def test_box_is_a_matter_of_the_evening_and_late_for_three_weeks() -> None:
    task = plan()["birch:box-in:0"]
    assert (*span(task), task["lapses_on"], task["work"]) == ("2026-03-09", "2026-03-09", "2026-03-30", "box")


@pytest.mark.parametrize("kind", ["birch", "hawthorn", "default"])
def test_phone_tells_the_first_evening_in_the_words_of_the_plan(kind: str) -> None:
    told = re.findall(r"^  '(.*)',$", TONIGHT_JS.read_text(encoding="utf-8"), re.MULTILINE)
    texts = {step.step: step.text for step in CARDS[kind].care}
    same = [texts[step] for step in ("box-in", "water-in", "wind-shelter", "no-feed")]
    assert [line for line in told if line in same] == same
    assert [line for line in told if re.search(r"\bwater (it )?(in|once|thoroughly)\b", line, re.I)] == [
        texts["water-in"]
    ]


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


def test_a_first_feed_that_nobody_ticked_is_not_asked_for_years_later() -> None:
    first = plan(today="2026-06-03")["birch:first-feed:2026"]
    assert first["from"] == "2026-06-03"
    assert "birch:first-feed:2026" in plan(today="2027-06-03"), "it waited for the opening of the next year"
    assert "birch:first-feed:2026" not in plan(today="2027-06-04")
    ticked = {"task": f"{T}:birch:first-feed:2026", "state": "done", "settled_on": "2026-06-05", "id": "s"}
    assert "birch:first-feed:2026" in plan(history=a_history(states=[ticked]), today="2029-06-04"), "a tick stays"


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


@pytest.mark.parametrize(
    ("lifted_on", "misted"),
    # from four weeks before bud swell, 15 March, to leaf fall, 31 October
    [("2027-02-14", False), ("2027-02-15", True), ("2026-10-31", True), ("2026-11-01", False), ("2026-11-25", False)],
)
def test_bare_tree_in_the_frost_is_not_misted(lifted_on: str, misted: bool) -> None:
    found = plan(history=a_history(lifted_on), today=lifted_on)
    assert ("birch:mist:0" in found) is misted
    if misted and "birch:frost-now:0" in found:
        assert "without frost" in found["birch:mist:0"]["text"]
        assert "not before a night that may freeze" in found["birch:mist:0"]["text"]


# Kinds, places, ends


def test_kind_without_a_card_says_that_the_default_stands_in() -> None:
    task = plan(a_tree(species="douglas-fir"))["douglas-fir:water-in:0"]
    assert "no card for Douglas fir yet; the careful card of its leaf type" in task["why"]
    # and it is the careful card of its leaf type: a fir has no rest without leaf
    assert "douglas-fir:soil-core:0" in plan(a_tree(species="douglas-fir"))


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
