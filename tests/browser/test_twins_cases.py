"""The phone and the command line answer May I? alike, to the letter: all cases, made questions, nonsense."""

from __future__ import annotations

import json
import random
from typing import Any

import case_maker
from may_i_cases import ALL
from playwright.sync_api import Page

from field.core.errors import BadInput
from field.core.may_dig import may_dig
from field.services import answer_may_i

MADE = 1200
SEED = 20270214

# The questions go over as one text: handing over so many objects one by one takes far longer than answering them.
ANSWER_ALL = """async (text) => {
  const { mayDig } = await import('/static/js/core/may_dig.js');
  const { BadInput } = await import('/static/js/core/errors.js');
  return JSON.stringify(JSON.parse(text).map((one) => {
    try { return mayDig(one); } catch (fault) { if (fault instanceof BadInput) return fault.asJson(); throw fault; }
  }));
}"""


def on_the_phone(page: Page, cases: list[Any]) -> list[Any]:
    """Return the answer, or the refusal, that the phone's own modules give to each case."""
    return json.loads(page.evaluate(ANSWER_ALL, json.dumps(cases)))


def in_python(case: Any) -> dict[str, Any]:
    """Return the answer, or the refusal in the form both sides give it."""
    try:
        return may_dig(case)
    except BadInput as refused:
        return refused.as_json()


def told_apart(cases: list[Any], answers: list[Any]) -> list[tuple[Any, Any, Any]]:
    """Return the cases that the two sides answer differently, with both answers."""
    pairs = zip(cases, answers, strict=True)
    return [(case, got, in_python(case)) for case, got in pairs if got != in_python(case)]


def test_made_questions_are_answered_alike(blank: Page) -> None:
    rng = random.Random(SEED)
    cases = [case_maker.a_case(rng) for _ in range(MADE)]
    answers = on_the_phone(blank, cases)
    assert told_apart(cases, answers)[:1] == []
    assert {answer["answer"] for answer in answers} == {"yes", "ask", "no"}


def test_nonsense_is_refused_alike_and_in_the_same_words(blank: Page) -> None:
    rng = random.Random(SEED + 1)
    cases = [case_maker.spoilt(rng, case_maker.a_case(rng)) for _ in range(MADE)]
    answers = on_the_phone(blank, cases)
    assert told_apart(cases, answers)[:1] == []
    sentences = {answer["error"]["message"] for answer in answers if "error" in answer}
    assert len(sentences) > 40  # many kinds of nonsense, not one


def test_a_difference_would_be_seen() -> None:
    case = case_maker.a_case(random.Random(1))
    told = may_dig(case)
    assert told_apart([case], [told]) == []
    assert len(told_apart([case], [{**told, "caution": ""}])) == 1


def test_a_file_of_cases_is_answered_alike_by_the_command_and_the_phone(blank: Page) -> None:
    document = {"cases": [{"name": name, "input": case} for name, case, _ in ALL]}
    # Through the text of a file, as the command reads it.
    said, status = answer_may_i.answer(json.loads(json.dumps(document)))
    answers = on_the_phone(blank, [case for _, case, _ in ALL])
    shown = [
        {"name": name, **{key: answer[key] for key in answer_may_i.TOLD}}
        for (name, _, _), answer in zip(ALL, answers, strict=True)
    ]
    assert (said, status) == ({"cases": shown}, 0)
    assert len(shown) > 200
