"""The phone answers before a cut as the core does: the same questions, the same words."""

from __future__ import annotations

import json

import ask_cases
import pytest
from playwright.sync_api import Page

from field.core.ask_lines import lines_for_pack
from field.core.ask_work import ask_work

pytestmark = pytest.mark.browser


def test_the_phone_answers_every_question_before_a_cut_in_the_same_words(blank: Page) -> None:
    questions, lines = ask_cases.make_questions(20261127, 400), lines_for_pack()
    expected = json.loads(json.dumps([ask_work(one, lines) for one in questions]))
    got = blank.evaluate(
        """async ([questions, lines]) => {
          const { askWork } = await import('/static/js/core/ask_work.js');
          return questions.map((one) => askWork(one, lines));
        }""",
        [questions, lines],
    )
    for asked, mine, theirs in zip(questions, got, expected, strict=True):
        assert mine == theirs, asked
    assert {one["answer"] for one in expected} == {"now", "must", "not-now", "no"}
