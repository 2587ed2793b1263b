"""The lists of questions: what ships, what is refused, which questions are open and where an answer is kept."""

from __future__ import annotations

import copy
import json
import uuid
from pathlib import Path
from typing import Any

import pytest

from field.core.ground_questions import (
    BEFORES,
    CONSENTS,
    BadList,
    Question,
    check_record_id,
    ground_for_pack,
    list_countries,
    mixed_id,
    open_questions,
    question_key,
    questions_for,
    read_list,
)

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "ground_checks.json").read_text(encoding="utf-8"))
WANTED = {
    "england",
    "wales",
    "scotland",
    "northern-ireland",
    "ireland",
    "eu",
    "usa-federal",
    "norway",
    "sweden",
    "general",
}

A_QUESTION = {
    "id": "here-owner",
    "question": "Does the person who says yes own the ground?",
    "why": "The tree is the owner’s.",
    "heed": "no",
    "ask": "The owner",
    "consent": None,
    "law": "Law of the place",
    "source": "common practice, no source",
    "mark": "from memory",
    "as_of": "2026-11-26",
    "before": "asking",
}
A_LIST = {"code": "here", "name": "Here", "note": "For ground here.", "questions": [A_QUESTION]}


def a_question(name: str) -> Question:
    return read_list({**A_LIST, "code": "a", "questions": [{**A_QUESTION, "id": name}]}).questions[0]


def test_each_wanted_country_has_a_list_and_the_general_one_stands_last() -> None:
    codes = [one["code"] for one in list_countries()]
    assert set(codes) == WANTED
    assert codes[-1] == "general"


@pytest.mark.parametrize("code", [None, "", "atlantis"])
def test_without_a_known_country_the_general_list_holds_and_says_so_by_its_code(code: str | None) -> None:
    assert questions_for(code).code == "general"


@pytest.mark.parametrize("code", sorted(WANTED))
def test_a_list_is_of_a_length_that_is_answered_and_has_every_part(code: str) -> None:
    questions = questions_for(code).questions
    assert 8 <= len(questions) <= 14
    assert {one.before for one in questions} == set(BEFORES)
    # Whose the tree is, what is buried, and whose word else is needed: no list goes without them.
    assert any(one.id.endswith("who-may-say-yes") or one.id.endswith("which-agency") for one in questions)
    assert {"services", "plant_health", "protected_area", "monument"} <= {one.consent for one in questions}


def test_no_id_stands_in_two_lists_but_by_inclusion() -> None:
    owners: dict[str, str] = {}
    for code in WANTED:
        for one in questions_for(code).questions:
            assert owners.setdefault(one.id, one.question) == one.question
    assert all(any(name.startswith(f"{code}-") for code in WANTED) for name in owners)


def test_ireland_and_sweden_take_the_questions_of_the_union_that_they_do_not_ask_themselves() -> None:
    for code in ("ireland", "sweden"):
        ids = [one.id for one in questions_for(code).questions]
        assert "eu-plant-passport" in ids
        assert "eu-who-may-say-yes" not in ids
        assert ids.index("eu-plant-passport") > ids.index(f"{code}-services")


@pytest.mark.parametrize("case", VECTORS["open"], ids=lambda case: case["name"])
def test_open_are_the_questions_nobody_answered(case: dict[str, Any]) -> None:
    questions = [a_question(name) for name in VECTORS["questions"]]
    checks = [{"site": VECTORS["site"], **one} for one in case["checks"]]
    assert [one.id for one in open_questions(questions, VECTORS["site"], checks)] == case["expect"]


@pytest.mark.parametrize("case", VECTORS["ids"], ids=lambda case: case["why"])
def test_a_site_and_a_question_make_the_same_id_everywhere(case: dict[str, Any]) -> None:
    assert mixed_id(case["site"], case["key"]) == case["expect"]


def test_no_two_answers_share_a_record() -> None:
    sites = [str(uuid.UUID(int=n * 7919 | 1 << 100)) for n in range(50)]
    questions = {one.id for code in WANTED for one in questions_for(code).questions}
    ids = {check_record_id(site, name) for site in sites for name in questions}
    assert len(ids) == len(sites) * len(questions)


def test_the_pack_has_every_list_in_plain_json_with_the_key_of_each_question() -> None:
    pack = json.loads(json.dumps(ground_for_pack()))
    assert "stand above" in pack["above"]
    assert "no legal advice" in pack["above"]
    assert [one["code"] for one in pack["lists"]] == [one["code"] for one in list_countries()]
    owner = next(one for one in pack["lists"] if one["code"] == "scotland")["questions"][0]
    assert owner["key"] == question_key("scotland-who-may-say-yes")
    # RFC 9562: a version 5 UUID is the SHA-1 of the name space and the name.
    assert uuid.UUID(owner["key"]).version == 5


REFUSED: list[tuple[str, Any, str, str]] = [
    ("questions.0.question", "The owner agrees.", "questions[0].question", "question mark"),
    ("questions.0.id", "there-owner", "questions[0].id", "begin with"),
    ("questions.0.id", "here-Owner", "questions[0].id", "lower-case"),
    ("questions.0.heed", "maybe", "questions[0].heed", "yes, no"),
    ("questions.0.mark", "sure", "questions[0].mark", "seen"),
    ("questions.0.before", "lunch", "questions[0].before", "asking"),
    ("questions.0.as_of", "26 November 2026", "questions[0].as_of", "2026-11-26"),
    ("questions.0.as_of", "20261126", "questions[0].as_of", "2026-11-26"),
    ("questions.0.as_of", "2026-02-30", "questions[0].as_of", "2026-11-26"),
    ("questions.0.consent", "blessing", "questions[0].consent", "no kind of consent"),
    ("questions.0.consent", "other", "questions[0].consent_name", "named"),
    ("questions.0.consent_name", "a permit", "questions[0].consent_name", "named"),
    ("questions.0.source", " ", "questions[0].source", "needs words"),
    ("questions.0.source", None, "questions[0].source", "needs words"),
    ("questions.0.allowed", True, "questions[0].allowed", "nothing that a list"),
    ("questions", [], "questions", "at least one"),
    ("questions", "none", "questions", "square brackets"),
    ("questions.0", "none", "questions[0]", "named values"),
    ("code", "Here", "code", "lower-case"),
    ("extra", 1, "extra", "nothing that a list"),
    ("includes", ["there"], "includes[0]", "no list called"),
    ("leave_out", ["here-owner"], "leave_out[0]", "included"),
]


@pytest.mark.parametrize(("path", "value", "where", "words"), REFUSED)
def test_a_fault_is_told_with_its_place(path: str, value: Any, where: str, words: str) -> None:
    data: Any = copy.deepcopy(A_LIST)
    at = data
    *steps, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    for step in steps:
        at = at[step]
    at[last] = value
    with pytest.raises(BadList) as fault:
        read_list(data)
    assert fault.value.where == f"list.{where}"
    assert words in fault.value.message


def test_a_question_twice_in_a_list_is_refused() -> None:
    with pytest.raises(BadList, match="stands twice"):
        read_list({**A_LIST, "questions": [A_QUESTION, A_QUESTION]})


@pytest.mark.parametrize("data", [None, [], "england", 3])
def test_what_is_no_list_at_all_is_refused(data: object) -> None:
    with pytest.raises(BadList, match="named values"):
        read_list(data)


def test_the_sound_list_that_the_refused_ones_come_from_is_read() -> None:
    assert [one.id for one in read_list(A_LIST).questions] == ["here-owner"]


def test_consents_are_the_kinds_that_a_consent_record_has() -> None:
    told = (Path(__file__).parent.parent.parent / "field" / "core" / "records.py").read_text(encoding="utf-8")
    comment = next(line for line in told.splitlines() if "protected_area, tree_order" in line)
    assert all(kind in comment for kind in CONSENTS)
