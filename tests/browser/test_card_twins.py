"""A person's change of a card on the phone: named and read as at home, and made only of what differs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from field.core.card_edit import edit_id, parts_of
from field.core.species import load_cards

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "card_edit.json").read_text(encoding="utf-8"))

# A window of a card, as home tells it.
WAS = {
    "opens": {"event": "bud_swell", "days": -21},
    "closes": {"on": "08-01", "moves": "earlier"},
    "hard_open": False,
    "hard_close": True,
}
# The same as a form says it.
SAME = {
    "opens_by": "event", "opens_event": "bud_swell", "opens_days": 21, "opens_side": "before", "opens_month": "1",
    "opens_day": 1, "opens_fixed": False, "hard_open": False, "why_opens": None,
    "closes_by": "date", "closes_event": "bud_swell", "closes_days": None, "closes_side": "before",
    "closes_month": "8", "closes_day": 1, "closes_fixed": False, "hard_close": True, "why_closes": None,
}  # fmt: skip
WINDOWS: list[tuple[dict[str, Any], dict[str, Any] | None, str | None]] = [
    ({}, None, None),
    ({"hard_open": True}, {"hard_open": True}, None),
    ({"why_closes": "seen"}, {"why_closes": "seen"}, None),
    ({"closes_day": 20}, None, "why_closes"),
    ({"closes_day": 20, "why_closes": "s"}, {"closes": {"on": "08-20", "moves": "earlier"}, "why_closes": "s"}, None),
    ({"closes_month": "3", "why_closes": "s"}, {"closes": {"on": "03-01", "moves": "later"}, "why_closes": "s"}, None),
    ({"closes_fixed": True, "why_closes": "s"}, {"closes": {"on": "08-01", "moves": "no"}, "why_closes": "s"}, None),
    ({"closes_month": "2", "closes_day": 30, "why_closes": "s"}, None, "closes_day"),
    (
        {"closes_month": "2", "closes_day": 29, "why_closes": "s"},
        {"closes": {"on": "02-29", "moves": "later"}, "why_closes": "s"}, None,
    ),
    ({"closes_day": None}, None, "closes_day"),
    ({"opens_side": "after", "why_opens": "s"}, {"opens": {"event": "bud_swell", "days": 21}, "why_opens": "s"}, None),
    ({"opens_days": None, "why_opens": "s"}, {"opens": {"event": "bud_swell", "days": 0}, "why_opens": "s"}, None),
    (
        {"opens_by": "date", "opens_month": "2", "opens_day": 1, "why_opens": "s"},
        {"opens": {"on": "02-01", "moves": "later"}, "why_opens": "s"}, None,
    ),
]  # fmt: skip
CARDS: list[Any] = [
    {"edit": {"traits": {"shade_weeks": {"value": 6, "why": "x"}}}},
    {"edit": {"events": {"bud_swell": {"on": "03-01", "why": "x"}}, "windows": {"lift": {"1": {}, "2": {}}}}},
    {"edit": {}}, {"edit": None}, {"edit": {"windows": []}}, {"traits": {"shade_weeks": {}}}, None, 3, [],
]  # fmt: skip

ASK = """async ({ names, windows, was, same, cards, made }) => {
  const edit = await import('/static/js/core/card_edit.js');
  return {
    names: names.map(({ kind, part }) => edit.cardEditId(kind, part)),
    windows: windows.map(([more]) => edit.windowChange({ ...same, ...more }, was)),
    parts: cards.map((card) => edit.changesIn(card).map(([part]) => part)),
    made: made.map(([part, change]) => edit.editOf(part, change)),
    event: [
      edit.eventChange({ month: '3', day: 15, why: null }, { usual: '03-15' }),
      edit.eventChange({ month: '3', day: 1, why: 'seen' }, { usual: '03-15' }),
      edit.eventChange({ month: '3', day: 1, why: null }, { usual: '03-15' }),
      edit.eventChange({ month: '4', day: 31, why: 'x' }, { usual: '03-15' }),
    ],
    trait: [
      edit.traitChange({ value: 4, why: null }, { value: 4 }),
      edit.traitChange({ value: false, why: 'dry air' }, { value: true }),
      edit.traitChange({ value: 5, why: null }, { value: 4 }),
    ],
  };
}"""
WHY = "Say why: a date without its reason is only an opinion."
NO_DAY = "There is no such day in that month. Set it again."


def test_changes_are_named_read_and_made_as_at_home(blank: Page) -> None:
    made = [("windows.lift.1", {"hard_close": True}), ("traits.shade_weeks", {"value": 6, "why": "x"})]
    got = blank.evaluate(
        ASK,
        {"names": VECTORS["cases"], "windows": WINDOWS, "was": WAS, "same": SAME, "cards": CARDS, "made": made},
    )
    assert got["names"] == [one["expect"] for one in VECTORS["cases"]]
    for (more, change, field), told in zip(WINDOWS, got["windows"], strict=True):
        assert told["change"] == change, more
        assert (told["fault"] or {}).get("field") == field, more
    assert got["parts"] == [list(parts_of(card)) for card in CARDS]
    for (part, _), card in zip(made, got["made"], strict=True):
        assert parts_of(card) == (part,)
    assert got["event"] == [
        {"change": None, "fault": None},
        {"change": {"on": "03-01", "why": "seen"}, "fault": None},
        {"change": None, "fault": {"field": "why", "text": WHY}},
        {"change": None, "fault": {"field": "day", "text": NO_DAY}},
    ]
    assert got["trait"] == [
        {"change": None, "fault": None},
        {"change": {"value": False, "why": "dry air"}, "fault": None},
        {"change": None, "fault": {"field": "why", "text": WHY}},
    ]


def test_what_the_form_of_a_window_makes_home_can_lay_over_the_card(blank: Page) -> None:
    got = blank.evaluate(ASK, {"names": [], "windows": WINDOWS, "was": WAS, "same": SAME, "cards": [], "made": []})
    for told in got["windows"]:
        if told["change"] is None:
            continue
        edit = {"edit": {"windows": {"hard-prune": {"1": told["change"]}}}}
        cards = load_cards([{"id": "1", "kind": "birch", "card": edit}])
        assert all("would" in fault.message for fault in cards.trouble), (
            cards.trouble
        )  # its dates may cross; its form is good


WAITING = """async ({ records, told }) => {
  const { waitingChanges } = await import('/static/js/core/card_edit.js');
  return waitingChanges('birch', records, told);
}"""


def test_what_home_has_not_told_of_yet_waits(blank: Page) -> None:
    def record(rec: str, weeks: int, *, deleted: bool = False, kind: str = "birch") -> dict[str, Any]:
        card = {"edit": {"traits": {"shade_weeks": {"why": "x", "value": weeks}}}}
        return {"id": rec, "type": "species_card", "deleted": deleted, "fields": {"kind": kind, "card": card}}

    mine = edit_id("birch", "traits.shade_weeks")
    told = {"edits": {mine: {"edit": {"traits": {"shade_weeks": {"value": 6, "why": "x"}}}}}}

    def waiting(records: list[dict[str, Any]], known: dict[str, Any] | None = told) -> list[Any]:
        return [(one["part"], one["change"]) for one in blank.evaluate(WAITING, {"records": records, "told": known})]

    assert waiting([record(mine, 6)]) == []
    assert waiting([record(mine, 7)]) == [("traits.shade_weeks", {"value": 7, "why": "x"})]
    assert waiting([record(mine, 6, deleted=True)]) == [("traits.shade_weeks", None)]
    assert waiting([record("another", 6, deleted=True)]) == []
    assert waiting([record("another", 6, kind="oak")]) == []
    assert waiting([record(mine, 6)], None) == [("traits.shade_weeks", {"value": 6, "why": "x"})]
