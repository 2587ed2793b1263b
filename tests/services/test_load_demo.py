"""The demo's scenario as it stands in the store: what the design asks of it, counted."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from shapely.geometry import Point, shape

from field.core.ground_questions import open_questions, questions_for
from field.core.lift_flags import lift_flags
from field.core.may_dig import may_dig
from field.core.signing import changed_terms, content_sha256
from field.services import build_pack
from field.services.check import check
from field.services.list_due import list_due
from field.services.load_demo import load_demo
from field.store import db
from field.store.queries import list_records

METHODS = ("hand_tools", "machine", "vehicle")
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
    assert len(list_records("landholder")) == 7
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


def test_each_site_has_its_owner_and_someone_else_who_has_a_say(card: Path) -> None:
    roles: dict[str, set[str]] = {}
    for holding in list_records("holding"):
        roles.setdefault(holding["site"], set()).add(holding["role"])
    assert set(roles) == {site["id"] for site in list_records("site")}
    assert all("owner" in some and len(some) > 1 for some in roles.values())
    assert set().union(*roles.values()) == {"owner", "occupier", "agent"}
    holders = {(holding["site"], holding["landholder"]) for holding in list_records("holding")}
    assert all((leave["site"], leave["landholder"]) in holders for leave in list_records("leave"))


def test_leaves_tell_of_area_methods_renewal_paper_and_signature(card: Path) -> None:
    leaves = {leave["id"]: leave for leave in list_records("leave")}
    grounds = {site["id"]: shape(site["boundary"]) for site in list_records("site")}
    with_area = [leave for leave in leaves.values() if leave["area"] is not None]
    assert all(grounds[leave["site"]].contains(shape(leave["area"])) for leave in with_area)
    assert len(with_area) == 1
    assert any(leaves[leave["renews"]]["ends_on"] < leave["starts_on"] for leave in leaves.values() if leave["renews"])
    assert {method for leave in leaves.values() for method in leave["methods"] or ()} == set(METHODS)
    (paper,), (signing,) = list_records("paper"), list_records("signing")
    assert leaves[paper["leave"]]["form"] == leaves[signing["leave"]]["form"] == "signed"
    assert content_sha256(signing) == signing["content_sha256"]
    assert changed_terms(signing["letter"], leaves[signing["leave"]], site_of(leaves[signing["leave"]])) == []
    assert len(signing["strokes"]) == 2


def site_of(leave: dict[str, Any]) -> dict[str, Any]:
    return next(site for site in list_records("site") if site["id"] == leave["site"])


def test_consents_stand_in_every_state_each_with_whom_to_ask(card: Path) -> None:
    consents = list_records("consent")
    assert {consent["state"] for consent in consents} == {"held", "needed", "not_needed", "unknown"}
    assert all(consent["authority"] and consent["phone"] for consent in consents)


def test_what_was_answered_about_the_ground_is_seen_to(card: Path) -> None:
    slips = build_pack.build(date(2027, 2, 14), 1)["sites"].values()
    assert [slip["site"].get("checks") for slip in slips] == [None] * 3


def test_questions_of_the_country_are_answered_in_part(card: Path) -> None:
    checks = list_records("ground_check")
    for site in list_records("site"):
        questions = questions_for(site["country"]).questions
        assert {check["question"] for check in checks if check["site"] == site["id"]} < {one.id for one in questions}
        assert 0 < len(open_questions(questions, site["id"], checks)) < len(questions)


def test_two_phones_took_the_last_tree_and_that_is_to_be_told(card: Path, today: date) -> None:
    flags = lift_flags(list_records("lift"), list_records("leave"), list_records("tree"))
    assert [[flag["code"] for flag in some] for some in flags.values()] == [["over-number"]]
    texts = [task["text"] for task in list_due(today, 0)["tasks"] if task["tree"] is None]
    for words in (
        "1 tree over the number agreed",
        "Not noted as done",
        "what was taken from",
        "is only spoken",
        "runs out on",
    ):
        assert any(words in text for text in texts), words


def test_holes_that_were_filled_have_their_picture(card: Path) -> None:
    photos = [photo for photo in list_records("photo") if photo["shows"] == "hole"]
    filled = {lift["tree"] for lift in list_records("lift") if lift["hole_filled"]}
    assert len(photos) == 3
    assert all(photo["tree"] in filled for photo in photos)


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
