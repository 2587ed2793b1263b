"""The phone tells what of a change is left, and which copies are the same, as home does: the same hand-worked cases."""

from __future__ import annotations

import json
from pathlib import Path

import phone_kit as kit
from playwright.sync_api import Browser

CASES = json.loads((Path(__file__).resolve().parent.parent / "vectors" / "blank.json").read_text(encoding="utf-8"))
CALLS = """async ({same, forget}) => {
  const core = await import('/static/js/core/blank.js');
  return {
    same: same.map(({one, other}) => [core.sameChange(one, other), core.sameChange(other, one)]),
    forget: forget.map(({op, blanks}) => core.forget(op, core.readBlanks(blanks))),
  };
}"""


def test_every_case_comes_out_as_at_home(browser: Browser) -> None:
    with kit.Line() as line:
        context = browser.new_context()
        page = context.new_page()
        page.goto(line.url + kit.BLANK)
        got = page.evaluate(CALLS, {"same": CASES["same"], "forget": CASES["forget"]})
        context.close()
    assert got["same"] == [[case["same"], case["same"]] for case in CASES["same"]]
    assert got["forget"] == [case["left"] for case in CASES["forget"]]
