"""Answers before a cut: edges, waits and words."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import ask_cases
import pytest

from field.core.ask_lines import ASKED, LINES, lines_for_pack
from field.core.ask_work import ask_work
from field.core.errors import BadInput
from field.core.species import load_cards
from field.core.windows import climate_at, event_date, find_windows

LATS = (-41.0, 37.5, 52.0, 60.0)


def ask(question: dict[str, Any]) -> dict[str, Any]:
    return ask_work(question, lines_for_pack())


@pytest.mark.parametrize("lat", LATS)
def test_what_a_tree_showed_moves_its_dates_as_it_moves_those_of_the_care_plan(lat: float) -> None:
    # The care plan dates its windows with the events themselves; here the usual dates are moved afterwards.
    on, climate = dt.date(2027, 1, 10), climate_at(lat, 80.0)
    compared = 0
    for kind in ("birch", "hawthorn", "default"):
        card = load_cards()[kind]
        usual = event_date(card, "flush_hardened", 2027, climate)[0]
        for days in (-40, -9, 0, 12, 35):
            event_on = usual + dt.timedelta(days=days)
            expected = find_windows(
                card, "trim", climate, event_on, event_on + dt.timedelta(days=300), {"flush_hardened": (event_on,)}
            )
            asked = ask_cases.question(kind, "trim", on.isoformat(), lat=lat, height_m=80.0)
            asked |= {"on": event_on.isoformat(), "seen": {"flush_hardened": [event_on.isoformat()]}}
            told = ask(asked)
            if expected:
                assert told["opens"] == expected[0].opens_on.isoformat(), (kind, days)
                assert told["closes"] == expected[0].closes_on.isoformat(), (kind, days)
                compared += 1
    assert compared >= 5


def test_leaves_lost_to_drought_open_nothing() -> None:
    for kind, card in load_cards().items():
        for work in ASKED:
            if not any(rule.opens.event == "leaf_fall" for rule in card.windows[work]):
                continue
            fell = dt.date(2027, 8, 10)  # well before any card's leaf colour
            asked = ask_cases.question(kind, work, "2027-09-01", seen={"leaf_fall": [fell.isoformat()]}, lifted_on=None)
            assert ask(asked)["answer"] == ask({**asked, "seen": {}})["answer"], (kind, work)
            colour = event_date(card, "leaf_colour", 2027, climate_at(52.0, 0.0))[0]
            early = {"leaf_fall": [(colour + dt.timedelta(days=2)).isoformat()]}
            moved = find_windows(
                card,
                work,
                climate_at(52.0, 0.0),
                colour,
                colour + dt.timedelta(days=90),
                {"leaf_fall": (colour + dt.timedelta(days=2),)},
            )
            told = ask({**asked, "on": colour.isoformat(), "seen": early, "windows": asked["windows"]})
            assert told["opens"] == min(one.opens_on for one in moved if one.closes_on >= colour).isoformat(), (
                kind,
                work,
            )


def test_every_answer_is_in_whole_sentences_with_nothing_left_to_fill_in() -> None:
    for question in ask_cases.make_questions(5, 600):
        for one in ask(question)["reasons"]:
            assert not re.search(r"[{}]|None|nan", one["text"]), one
            assert one["text"][0].isupper() or not one["text"][0].isalpha()
            assert one["text"].endswith("."), one
            assert ".." not in one["text"], one


def test_now_means_that_the_day_lies_in_the_window_that_is_told_and_that_nothing_is_against_it() -> None:
    answers = [(question, ask(question)) for question in ask_cases.make_questions(6, 600)]
    for question, told in answers:
        weights = {one["weight"] for one in told["reasons"]}
        if told["answer"] == "now":
            assert told["opens"] <= question["on"] <= told["closes"]
            assert not weights & {"no", "must"}
        elif told["answer"] == "not-now":
            assert "no" in weights
        elif told["answer"] == "must":
            assert "must" in weights
            assert "no" not in weights
    assert len([told for _, told in answers if told["answer"] == "now"]) > 40


def test_the_next_good_date_is_not_before_the_waiting_is_over() -> None:
    told = ask(ask_cases.question("birch", "hard-prune", "2027-06-20", lifted_on="2026-03-10", stage="gaining"))
    assert told["answer"] == "not-now"
    assert told["closes"] >= "2028-03-10"  # first styling after two years, by the card


def test_a_question_about_an_unknown_work_or_a_day_that_is_none_is_told_so() -> None:
    good = ask_cases.question("birch", "trim", "2027-06-20")
    for wrong in ({"work": "juggling"}, {"on": "2027-02-30"}, {"on": None}, {"on": "soon"}):
        with pytest.raises(BadInput):
            ask({**good, **wrong})


def test_every_line_is_about_works_that_can_be_asked_and_is_said_for_some_kind() -> None:
    cards = load_cards().values()
    for line in LINES:
        assert set(line.works) <= set(ASKED)
        assert line.weight in ("no", "must", "say")
        assert line.source
        named = {name for table in (line.least, line.below, line.starts, line.unless) for name in table}
        assert any(named <= card.traits.keys() for card in cards), line.code
