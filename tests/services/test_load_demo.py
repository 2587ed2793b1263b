"""The demo's scenario as it stands in the store: what the design asks of it, counted."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from flask import Flask
from shapely.geometry import Point, shape

from field.core.may_dig import may_dig
from field.services.check import check
from field.services.list_due import list_due
from field.services.load_demo import load_demo
from field.store import db
from field.store.queries import list_records

DAYS = [date(2026, 11, 25), date(2027, 3, 22), date(2028, 2, 29), date(2027, 7, 15)]


@pytest.fixture(scope="module", params=DAYS, ids=str)
def loaded(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, date]]:
    """Load the demo once a day of DAYS; the tests only read it. What it writes through is held elsewhere."""
    folder = tmp_path_factory.mktemp("demo")
    house = Flask("house")
    db.init_app(house, None, folder / "data")
    with house.app_context():
        load_demo(request.param, folder / "card")
        yield folder / "card", request.param
    db.close(house)


@pytest.fixture
def card(loaded: tuple[Path, date]) -> Path:
    return loaded[0]


@pytest.fixture
def today(loaded: tuple[Path, date]) -> date:
    return loaded[1]


def test_scenario_is_as_large_and_as_mixed_as_promised(card: Path, today: date) -> None:
    trees = list_records("tree")
    lifts = list_records("lift")
    assert len(list_records("site")) == 3
    assert len(list_records("landholder")) == 3
    assert 28 <= len(trees) <= 32
    assert len({tree["species"] for tree in trees}) >= 9
    assert min(lift["lifted_on"] for lift in lifts) < (today - timedelta(days=5 * 365)).isoformat()
    assert {tree["ended_as"] for tree in trees} >= {"lost", "parted", "left_standing", None}
    assert len(list_records("photo")) >= 25
    assert len(list_records("track")) >= 10


def test_leaves_stand_in_every_state(card: Path, today: date) -> None:
    leaves = list_records("leave")
    lifted = {leave["id"]: 0 for leave in leaves}
    for lift in list_records("lift"):
        lifted[lift["leave"]] += 1
    now = today.isoformat()
    states = set()
    for leave in leaves:
        if leave["withdrawn_on"] and leave["withdrawn_on"] <= now:
            states.add("withdrawn")
        elif leave["ends_on"] and leave["ends_on"] < now:
            states.add("ended")
        elif leave["starts_on"] and leave["starts_on"] > now:
            states.add("not begun")
        elif leave["form"] == "spoken":
            states.add("spoken")
        elif leave["allowance"] is not None and lifted[leave["id"]] >= leave["allowance"]:
            states.add("used up")
        else:
            states.add("good")
    assert states == {"withdrawn", "ended", "not begun", "spoken", "used up", "good"}


def test_no_tree_is_lifted_before_it_was_marked_or_after_it_ended(card: Path) -> None:
    trees = {tree["id"]: tree for tree in list_records("tree")}
    for lift in list_records("lift"):
        tree = trees[lift["tree"]]
        assert tree["marked_on"] <= lift["lifted_on"]
        assert tree["ended_on"] is None or lift["lifted_on"] <= tree["ended_on"]


def test_a_tree_s_condition_is_one_of_the_words_that_mark_offers(card: Path) -> None:
    words = {"strong", "fair", "weak", "damaged", "browsed"}
    assert {tree["condition"] for tree in list_records("tree")} <= words


def test_every_tree_stands_on_its_site(card: Path) -> None:
    grounds = {site["id"]: shape(site["boundary"]) for site in list_records("site")}
    trees = {tree["id"]: tree for tree in list_records("tree")}
    for fix in list_records("fix"):
        assert grounds[trees[fix["tree"]]["site"]].contains(Point(fix["lon"], fix["lat"]))


def test_each_lift_keeps_the_answer_that_its_own_input_gives(card: Path) -> None:
    lifts = list_records("lift")
    assert lifts
    for lift in lifts:
        assert may_dig(lift["answer"]["input"]) == lift["answer"]["verdict"]


def test_there_is_something_to_do_about_today(card: Path, today: date) -> None:
    assert len(list_due(today, 14)["tasks"]) >= 5


def test_only_a_few_tasks_have_slipped(card: Path, today: date) -> None:
    overdue = [task for task in list_due(today, 0)["tasks"] if task["by"] < today.isoformat()]
    assert len(overdue) <= 8


def test_everything_loaded_checks_out(card: Path) -> None:
    said = check()
    assert said["ok"], said


def test_camera_card_lies_ready_to_take_in(card: Path) -> None:
    assert len(list(card.glob("*.jpg"))) == 7
    assert len(list(card.glob("*.gpx"))) == 1
