"""The phone's clock and merging on the same hand-worked cases as the Python ones."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import phone_kit as kit
import pytest
from playwright.sync_api import Browser, Page

HERE = Path(__file__).resolve().parent
VECTORS = HERE.parent / "vectors"


HLC = json.loads((VECTORS / "hlc.json").read_text(encoding="utf-8"))["cases"]
MERGE = json.loads((VECTORS / "merge.json").read_text(encoding="utf-8"))["cases"]

HLC_CALLS = """async ({call, input}) => {
  const hlc = await import('/static/js/core/hlc.js');
  const clock = ({l, c}) => ({ms: l, count: c});
  const told = ({ms, count}) => ({l: ms, c: count});
  switch (call) {
    case 'tick': return told(hlc.tick(clock(input.clock), input.now_ms));
    case 'receive': return told(hlc.receive(clock(input.clock), clock(input.seen), input.now_ms));
    case 'is_suspect': return hlc.isSuspect(clock(input.seen), input.now_ms);
    case 'write': return hlc.writeStamp(clock(input.clock), input.dev);
    case 'sort': return [...input.stamps].sort((a, b) => (a < b ? -1 : 1));
    case 'read': {
      const got = hlc.readStamp(input.stamp);
      return got && {...told(got), dev: got.dev};
    }
    default: throw new Error(`no such call: ${call}`);
  }
}"""
MERGE_CALL = "async (changes) => (await import('/static/js/core/merge.js')).mergeRecord(changes)"


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    with kit.Line() as line:
        context = browser.new_context()
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        yield page
        context.close()


@pytest.mark.parametrize("case", HLC, ids=lambda case: f"{case['call']}: {case['name']}")
def test_clock_case_worked_by_hand(page: Page, case: dict[str, Any]) -> None:
    assert page.evaluate(HLC_CALLS, case) == case["expect"]


@pytest.mark.parametrize("case", MERGE, ids=lambda case: case["name"])
def test_merge_case_worked_by_hand(page: Page, case: dict[str, Any]) -> None:
    assert page.evaluate(MERGE_CALL, case["input"]) == case["expect"]


@pytest.mark.parametrize("case", MERGE, ids=lambda case: case["name"])
def test_merge_case_holds_in_any_order_and_twice_over(page: Page, case: dict[str, Any]) -> None:
    shuffled = case["input"] * 2
    random.Random(case["name"]).shuffle(shuffled)
    assert page.evaluate(MERGE_CALL, shuffled) == case["expect"]


def test_clock_that_is_no_number_never_stops_a_save(page: Page) -> None:
    # JSON has no word for these, so they are not among the shared cases.
    assert (
        page.evaluate(
            """async () => {
          const {tick} = await import('/static/js/core/hlc.js');
          return [NaN, Infinity, -Infinity].map((now) => tick({ms: 5, count: 1}, now));
        }"""
        )
        == [{"ms": 5, "count": 2}] * 3
    )


def test_base_of_an_edit_names_every_value_in_dispute(page: Page) -> None:
    base = page.evaluate(
        """async () => (await import('/static/js/core/merge.js')).baseFor(
          {stamps: {girth_mm: ['a', 'b'], tag: ['c']}}, {girth_mm: 1, note: 'new'})"""
    )
    assert base == {"girth_mm": ["a", "b"], "note": []}


def test_base_of_a_removal_names_all_that_was_seen(page: Page) -> None:
    base = page.evaluate(
        """async () => (await import('/static/js/core/merge.js')).baseFor(
          {stamps: {girth_mm: ['b'], tag: ['c', 'a']}}, {deleted: true})"""
    )
    assert base == {"deleted": ["a", "b", "c"]}
