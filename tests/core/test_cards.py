"""Each shipped card by itself: it is whole, its windows open, and it says what its kind is like."""

from __future__ import annotations

import datetime as dt
import json
from importlib import resources
from typing import Any

import pytest

from field.core.card import WORKS
from field.core.read_card import PRACTICE
from field.core.species import CAUTIOUS, LEAF_CARDS, load_cards
from field.core.tasks import plan_tasks
from field.core.windows import climate_at, dated_windows, find_windows, why_none

CARDS = load_cards()
OWN = sorted(kind for kind, card in CARDS.items() if not card.stands_in)
KINDS = [kind for kind in OWN if kind not in CAUTIOUS]

# What a practitioner asks of every card, beside the traits that the planning needs.
ASKED = (
    "leaf_type",
    "first_prune_after",
    "ball_to_stem_ratio",
    "back_buds_on_old_wood",
    "bare_root_tolerated",
    "keep_native_soil_core",
    "suckers_to_watch",
    "plant_health_check",
    "decorative_pot_years_min",
    "decorative_pot_years_max",
    "first_styling_years_max",
)
FIRM = ("prepare", "lift", "repot", "unwire", "shelter")  # without these a tree cannot be carried through a year

LOWLAND, HIGH_NORTH, SOUTH = (52.0, 0.0), (60.0, 600.0), (-40.0, 0.0)


def file_of(kind: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((resources.files("field.core") / "cards" / f"{kind}.json").read_text("utf-8"))
    return read


@pytest.mark.parametrize("kind", KINDS)
def test_card_answers_what_a_practitioner_asks(kind: str) -> None:
    card = CARDS[kind]
    assert [name for name in ASKED if name not in card.traits] == []
    assert card.traits["leaf_type"].value in LEAF_CARDS
    # a root-killing temperature, or the words that say what is known instead
    assert {"root_kill_c", "root_kill_basis"} & set(card.traits)


@pytest.mark.parametrize("place", [LOWLAND, SOUTH], ids=["52N", "40S"])
@pytest.mark.parametrize("kind", OWN)
def test_every_window_opens_before_it_closes(kind: str, place: tuple[float, float]) -> None:
    card, climate = CARDS[kind], climate_at(*place)
    for work in WORKS:
        found = find_windows(card, work, climate, dt.date(2027, 1, 1), dt.date(2028, 12, 31))
        assert {window.rule for window in found} == set(range(len(card.windows[work]))), work
        for window in found:
            assert 7 <= (window.closes_on - window.opens_on).days <= 366, (work, window)


@pytest.mark.parametrize("kind", OWN)
def test_on_a_high_northern_hill_a_window_opens_or_the_short_season_is_told(kind: str) -> None:
    card, climate = CARDS[kind], climate_at(*HIGH_NORTH)
    for work in WORKS:
        told = why_none(card, work, climate)
        if work in FIRM:
            assert told is None, work
        elif card.windows[work]:
            assert told is None or "season is too short" in told, work
        else:
            assert told == card.never[work]


@pytest.mark.parametrize("kind", KINDS)
def test_lift_closes_hard_in_spring(kind: str) -> None:
    assert CARDS[kind].windows["lift"][0].hard_close


@pytest.mark.parametrize("kind", KINDS)
def test_leaf_is_taken_only_once_it_is_firm(kind: str) -> None:
    for rule in CARDS[kind].windows["defoliate"]:
        assert rule.hard_open
        assert rule.hard_close


def test_reasons_are_written_for_each_kind() -> None:
    told: dict[str, set[str]] = {}
    for kind in KINDS:
        for work in ("prepare", "lift", "repot", "trim", "hard-prune", "wire", "unwire", "suckers"):
            for rule in CARDS[kind].windows[work]:
                told.setdefault(rule.why_opens, set()).add(kind)
            if not CARDS[kind].windows[work]:
                told.setdefault(CARDS[kind].never[work], set()).add(kind)
    assert {why: kinds for why, kinds in told.items() if len(kinds) > 2} == {}


@pytest.mark.parametrize("kind", OWN)
def test_card_file_names_only_sources_it_uses_and_no_link(kind: str) -> None:
    text = json.dumps(file_of(kind))
    assert "http" not in text
    assert text.count("\n") < 500
    known = file_of(kind)["sources"]
    if kind not in ("birch", "hawthorn", "default"):
        body = json.dumps({name: part for name, part in file_of(kind).items() if name != "sources"})
        assert [name for name in known if f'"{name}"' not in body] == []


@pytest.mark.parametrize("kind", KINDS)
def test_first_styling_waits_for_the_cards_years_and_says_why_for_this_kind(kind: str) -> None:
    (step,) = [one for one in CARDS[kind].care if one.step == "first-styling"]
    assert step.from_trait == "first_styling_years_min"
    assert "unknown" not in step.why


# What differs by kind after a lift


def tasks_of(kind: str, lifted_on: str, today: str) -> dict[str, dict[str, Any]]:
    tree = {"id": "t", "species": kind, "site": "s"}
    lift = {"id": "l", "tree": "t", "lifted_on": lifted_on, "roots_kept": "half"}
    place = {"lat": 52.0, "height_m": 0.0}
    return {str(task["id"]).split(":", 1)[1]: task for task in plan_tasks(tree, {"lifts": [lift]}, CARDS, today, place)}


@pytest.mark.parametrize("kind", ["scots-pine", "mountain-pine", "juniper", "yew", "spruce", "box", "olive"])
def test_evergreen_has_no_rest_without_leaf(kind: str) -> None:
    found = tasks_of(kind, "2027-11-20", "2027-12-10")
    assert f"{kind}:water-daily:0" in tasks_of(kind, "2027-11-20", "2027-11-21")
    assert not [name for name in found if ":water-rest:" in name]
    winter = [task for name, task in found.items() if ":water-winter:" in name]
    assert winter
    assert "on mild days" in winter[0]["text"]


@pytest.mark.parametrize("kind", ["scots-pine", "mountain-pine", "juniper", "spruce", "larch", "beech", "oak"])
def test_native_soil_and_its_fungi_are_kept(kind: str) -> None:
    assert f"{kind}:soil-core:0" in tasks_of(kind, "2027-04-10", "2027-04-10")
    assert str(CARDS[kind].traits["keep_native_soil_core"].value).startswith(("yes", "some"))


@pytest.mark.parametrize("kind", ["scots-pine", "mountain-pine"])
def test_pine_keeps_its_candles_and_gets_no_feed_at_first(kind: str) -> None:
    found = tasks_of(kind, "2027-04-10", "2027-05-20")
    assert found[f"{kind}:no-feed:0"]["text"].startswith("No feed")
    assert "candle" in found[f"{kind}:no-feed:0"]["text"]
    assert any(name.startswith(f"{kind}:candles") for name in found)


def test_larch_lifted_in_green_is_told_that_days_decide() -> None:
    late = tasks_of("larch", "2027-04-20", "2027-04-21")
    assert "a few days decide" in late["larch:late-lift:0"]["why"]
    assert "larch:late-lift:0" not in tasks_of("larch", "2027-03-10", "2027-03-11")


@pytest.mark.parametrize("kind", ["willow", "alder"])
def test_thirsty_kind_is_watered_more_often(kind: str) -> None:
    assert "twice a day" in tasks_of(kind, "2027-02-20", "2027-02-20")[f"{kind}:water-daily:0"]["text"]


@pytest.mark.parametrize(("kind", "line"), [("olive", "2"), ("box", "-3"), ("yew", "-5"), ("rowan", "-5")])
def test_tender_roots_are_told_before_the_first_winter(kind: str, line: str) -> None:
    found = tasks_of(kind, "2027-04-20", "2027-10-01")
    assert f"{line} °C" in found[f"{kind}:frost-first-winter:2027"]["text"]


@pytest.mark.parametrize("kind", ["elm", "blackthorn"])
def test_root_suckers_are_looked_for_beyond_the_stem(kind: str) -> None:
    assert "root" in tasks_of(kind, "2027-02-20", "2027-05-20")[f"{kind}:suckers:2027"]["text"]


def test_yew_says_that_it_is_poisonous_on_the_day_of_the_lift() -> None:
    assert "poisonous" in tasks_of("yew", "2027-04-10", "2027-04-10")["yew:poison:0"]["why"]


def test_what_habit_and_the_published_word_say_stand_side_by_side() -> None:
    for kind, work, words in [
        ("birch", "trim", "autumn to early winter"),
        ("beech", "hard-prune", "Habit is to cut beech in winter"),
        ("oak", "hard-prune", "Habit is to cut oak in winter"),
        ("willow", "lift", "warn of autumn lifting"),
        ("blackthorn", "trim", "already in April"),
        ("juniper", "prepare", "better when older"),
        ("elm", "hard-prune", "Dutch elm disease"),
    ]:
        others = [rule.other for rule in CARDS[kind].windows[work] if rule.other is not None]
        assert any(words in other for other in others), kind
        assert all("[" in other or PRACTICE in other for other in others)
        found = dated_windows(CARDS[kind], work, 52.0, 0.0, "2027-01-01", 364)
        assert any(words in str(window["other"]) for window in found)


def test_leaves_lost_to_drought_do_not_open_the_autumn_lift() -> None:
    hornbeam = CARDS["hornbeam"]

    def autumn(seen: str) -> str:
        observed = {"leaf_fall": (dt.date.fromisoformat(seen),)}
        found = dated_windows(hornbeam, "lift", 52.0, 0.0, "2027-07-01", 150, observed=observed)
        return str(found[0]["opens"])

    # by the card leaf colour comes on 15 October, leaf fall on 10 November; the window opens 14 days before the fall
    assert autumn("2027-08-20") == "2027-10-27"
    assert autumn("2027-11-03") == "2027-10-20"
