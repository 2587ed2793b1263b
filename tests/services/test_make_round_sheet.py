"""The round sheet: every tree on its day, every single task a line, one place or all, and read back out of the PDF."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from flask import Flask
from pdf_reader import text_of

from field.core.errors import BadInput, NotFound
from field.core.tasks import task_record_id
from field.services.list_due import plan_all
from field.services.make_round_sheet import make_round_sheet, read_sheet_question
from field.services.write_changes import write_changes

TODAY = dt.date(2026, 3, 16)  # a Monday, a week after the lift; buds swell on the 15th
STYLE = (Path(__file__).resolve().parents[2] / "static" / "css" / "letter.css").read_text(encoding="utf-8")


@pytest.fixture
def database_url() -> None:
    """SQLite alone: what is put on paper hangs on records, not on what they lie in."""


@pytest.fixture
def bench(store: Flask) -> dict[str, str]:
    ids = {}
    ids["garden"] = write_changes([("garden", None, {"name": "Frame yard, Ærø", "lat": 52.0, "is_main": True})])[0]
    ids["other"] = write_changes([("garden", None, {"name": "Cold house", "lat": 52.0})])[0]
    for tag, more in (("K10", {}), ("K2", {}), ("L1", {"stands_at": ids["other"]})):
        tree = write_changes([("tree", None, {"tag": tag, "species": "birch", **more})])[0]
        write_changes([("lift", None, {"tree": tree, "lifted_on": "2026-03-09", "roots_kept": "most"})])
        ids[tag] = tree
    return ids


def page(today: dt.date = TODAY, **asked: str) -> str:
    made = make_round_sheet(read_sheet_question("html", asked), today, STYLE)
    return made.data.decode()


def grid(text: str, heading: str) -> dict[str, list[bool]]:
    """Return tree -> whether each day has a box, of the table under a heading."""
    table = text[text.index(heading) :].split("</table>")[0]
    return {
        name: ['class="box"' in cell for cell in re.findall(r"<td[^>]*>", cells)[:-1]]
        for name, cells in re.findall(r"<th scope=row>(.*?)</th>(.*?)</tr>", table)
    }


def test_a_tree_looked_at_daily_has_a_box_for_every_day_of_its_fortnight(bench: dict[str, str]) -> None:
    text = page(days="14", place=bench["garden"])
    water = grid(text, "Frame yard, Ærø: water look")
    # Looked at daily until the 14th day after the lift, 23 March, then on the 24th and every seventh day.
    assert list(water) == ["K2, birch", "K10, birch"], "counted, not spelt"
    assert water["K2, birch"] == [True] * 9 + [False] * 5
    assert "Mon 16" in text
    assert "Sun 29" in text
    assert "L1" not in text


def test_what_is_ticked_is_on_no_sheet(bench: dict[str, str]) -> None:
    of_day = (one for one in plan_all(TODAY) if one["tree"] == bench["K2"] and one["from"] == "2026-03-17")
    task = next(one for one in of_day if ":water-daily:" in str(one["id"]))
    state = {"task": task["id"], "tree": bench["K2"], "state": "done", "settled_on": "2026-03-16"}
    write_changes([("task_state", task_record_id(str(task["id"])), state)])
    water = grid(page(days="7", place=bench["garden"]), "water look")
    assert water["K2, birch"] == [True, False, True, True, True, True, True]
    assert water["K10, birch"] == [True] * 7


def test_every_open_task_of_a_tree_is_on_the_sheet_of_all_places(bench: dict[str, str]) -> None:
    text = page(days="7")
    assert text.count("Cold house: water look") == 1
    last = (TODAY + dt.timedelta(days=6)).isoformat()
    for task in plan_all(TODAY):
        lapsed = task["lapses_on"] is not None and str(task["lapses_on"]) < TODAY.isoformat()
        if str(task["from"]) <= last and not lapsed and not task.get("round"):
            assert f"birch: {task['text']}".replace("&", "&amp;") in text, task["id"]


def test_what_a_leave_asks_for_stands_on_the_sheet_of_its_site(bench: dict[str, str]) -> None:
    (site,) = write_changes([("site", None, {"name": "Upper Brae"})])
    leave = {"site": site, "form": "spoken", "starts_on": "2026-01-01", "ends_on": "2026-03-20"}
    write_changes([("leave", None, leave)])
    for place in ({"place": site}, {}):
        text = page(days="7", **place)
        assert "Upper Brae: on its own" in text
        assert "The leave and the ground: " in text


def test_the_pdf_says_the_same(bench: dict[str, str]) -> None:
    made = make_round_sheet(read_sheet_question("pdf", {"size": "letter", "days": "1"}), TODAY, STYLE)
    assert made.file_name == "round-sheet-2026-03-16.pdf"
    text = text_of(made.data)
    for words in ("Round sheet, 16 March 2026", "Frame yard, Ærø: water look", "K10, birch", "Mon 16", "kept nowhere"):
        assert words in " ".join(text.split())


def test_a_place_with_nothing_due_says_so(store: Flask) -> None:
    garden = write_changes([("garden", None, {"name": "Empty frames"})])[0]
    assert "Nothing is due here in these days." in page(place=garden)


@pytest.mark.parametrize(
    ("form", "asked", "refusal"),
    [
        ("doc", {}, NotFound),
        ("pdf", {"days": "0"}, BadInput),
        ("pdf", {"days": "15"}, BadInput),
        ("pdf", {"days": "٣"}, BadInput),
        ("pdf", {"size": "a5"}, BadInput),
        ("html", {"place": "nowhere"}, NotFound),
    ],
)
def test_nonsense_is_refused(store: Flask, form: str, asked: dict[str, str], refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        make_round_sheet(read_sheet_question(form, asked), TODAY, STYLE)
