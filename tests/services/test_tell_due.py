"""The lines of `due`: in which group a task stands, what is said beside it, and how long a line is."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from field.services.tell_due import tell_due

ON = date(2026, 3, 9)  # a Monday
NAMES = {"a": "B1, birch, Kettle Brae", "s": "Kettle Brae"}


def a_task(begins: str, by: str | None, **more: object) -> dict[str, Any]:
    return {"tree": "a", "from": begins, "by": by, "text": "Look.", "why": "Wire bites.", "moved_from": None, **more}


def told(*tasks: dict[str, Any], **more: Any) -> list[str]:
    return list(tell_due({"tasks": list(tasks)}, NAMES, ON, **more))


def test_nothing_due_is_said() -> None:
    assert told() == ["Nothing is due."]


def test_groups_are_overdue_then_today_then_each_day() -> None:
    lines = told(
        a_task("2026-03-11", "2026-03-11"),
        a_task("2026-03-09", "2026-03-09"),
        a_task("2026-03-10", "2026-03-10"),
        a_task("2026-03-01", "2026-03-02"),
        a_task("2026-03-10", "2026-03-10"),
    )
    titles = [line for line in lines if line and not line.startswith(" ")]
    # By the calendar: 9 March 2026 is a Monday.
    assert titles == ["Overdue (1)", "Today (1)", "Tuesday 10 March 2026 (2)", "Wednesday 11 March 2026 (1)"]
    assert lines.count("") == 3


@pytest.mark.parametrize(
    ("begins", "by", "title", "note"),
    [
        ("2026-03-01", "2026-03-07", "Overdue (1)", " (due by 7 March 2026, 2 days late)"),
        ("2026-03-01", "2026-03-08", "Overdue (1)", " (due by 8 March 2026, 1 day late)"),
        ("2026-03-01", "2026-03-09", "Today (1)", ""),
        ("2026-03-09", "2026-03-09", "Today (1)", ""),
        ("2026-03-01", "2026-03-10", "Today (1)", " (until 10 March 2026)"),
        ("2026-03-01", None, "Today (1)", ""),
        ("2026-03-10", "2026-03-10", "Tuesday 10 March 2026 (1)", ""),
        ("2026-03-10", "2026-03-12", "Tuesday 10 March 2026 (1)", " (until 12 March 2026)"),
        ("2026-03-10", None, "Tuesday 10 March 2026 (1)", ""),
    ],
)
def test_last_day_is_not_overdue_and_the_first_is_not_ahead(begins: str, by: str | None, title: str, note: str) -> None:
    assert told(a_task(begins, by)) == [title, f"  B1, birch, Kettle Brae: Look.{note}"]


def test_what_a_landholder_has_to_hear_stands_before_what_ends_sooner() -> None:
    over = {"id": "site:s:over:l:4-of-3", "tree": None, "site": "s", "text": "Tell Ms Invented."}
    lines = told(
        a_task("2026-03-01", "2026-03-02", text="Water it."),
        a_task("2026-03-01", "2026-03-03", **over),
        a_task("2026-03-09", "2026-03-09", text="Box it."),
        a_task("2026-03-09", "2026-03-09", **over),
    )
    assert [line.split(": ")[1].split(" (")[0] for line in lines if ": " in line] == [
        "Tell Ms Invented.", "Water it.", "Tell Ms Invented.", "Box it.",
    ]  # fmt: skip


def test_what_ends_first_stands_first_and_what_has_no_end_last() -> None:
    lines = told(
        a_task("2026-03-01", None, text="Third."),
        a_task("2026-03-02", "2026-03-12", text="Second."),
        a_task("2026-03-03", "2026-03-10", text="First."),
    )
    assert [line.split(": ")[1].split(".")[0] for line in lines[1:]] == ["First", "Second", "Third"]


def test_moved_task_says_from_which_day() -> None:
    (_, line) = told(a_task("2026-03-01", None, moved_from="2026-02-01"))
    assert line.endswith("Look. (moved from 1 February 2026)")


def test_task_of_a_tree_without_any_name_is_told_all_the_same() -> None:
    (_, line) = told(a_task("2026-03-09", None, tree="b"))
    assert line == "  a tree without a tag: Look."


def test_task_of_a_site_is_told_by_its_name() -> None:
    for_the_site = a_task("2026-03-09", None, tree=None, site="s")
    assert told(for_the_site, a_task("2026-03-09", None, tree=None, site="t"))[1:] == [
        "  Kettle Brae: Look.",
        "  a site without a name: Look.",
    ]


def test_another_day_than_today_is_named_by_its_date() -> None:
    assert told(a_task("2026-03-09", None), is_today=False)[0] == "Monday 9 March 2026 (1)"


def test_reason_is_told_only_where_asked_for() -> None:
    task = a_task("2026-03-09", None)
    assert "Wire bites" not in "".join(told(task))
    assert told(task, with_why=True)[2] == "      Why: Wire bites."


def test_task_without_a_reason_gets_no_line_for_one() -> None:
    assert len(told(a_task("2026-03-09", None, why=None), with_why=True)) == 2


@pytest.mark.parametrize("width", [40, 60, 80])
def test_no_line_is_wider_than_the_terminal_and_no_word_is_lost(width: int) -> None:
    text = "Feel the mix a finger deep, and water it when it is dry there. " * 4
    lines = told(a_task("2026-03-09", "2026-03-20", text=text), width=width, with_why=True)
    assert max(map(len, lines)) <= width
    whole = told(a_task("2026-03-09", "2026-03-20", text=text), with_why=True)
    assert " ".join(lines).split() == " ".join(whole).split()
    assert len(whole) == 3


def test_a_word_longer_than_the_line_stays_whole() -> None:
    assert any("x" * 100 in line for line in told(a_task("2026-03-09", None, text="x" * 100), width=40))


@pytest.mark.parametrize("width", [0, 1, 10])
def test_a_terminal_that_tells_no_width_of_use_gets_lines_all_the_same(width: int) -> None:
    assert told(a_task("2026-03-09", None), width=width)[0] == "Today (1)"
