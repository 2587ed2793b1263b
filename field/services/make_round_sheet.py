"""Makes the round sheet for the bench out of what is due: one place or all, for some days, as a PDF or a page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from field.core.dates import show_date
from field.core.errors import BadInput, NotFound, TooLarge
from field.core.rounds import ON_NO_SITE, gather_rounds, round_name
from field.papers.how_long import find_excess
from field.papers.html_page import PAGE_SIZES, make_html
from field.papers.pdf_pages import make_pdf
from field.papers.round_sheet import MOST_DAYS, SheetPlace, SheetRound, round_sheet
from field.papers.unprintable import printable
from field.services.list_due import name_all, plan_all
from field.services.make_paper import FORMS, Paper, trouble_of
from field.store import queries

USUAL_DAYS = 7
NO_PLACE = "On no site"


@dataclass(frozen=True, slots=True)
class SheetQuestion:
    """Which round sheet is asked for."""

    form: str  # pdf or html
    place: str | None  # id of a garden or site; None: all at which something is due
    days: int
    size: str


def read_sheet_question(form: str, asked: Mapping[str, str]) -> SheetQuestion:
    """Return a checked question; raise NotFound for a form there is none of, BadInput for the rest."""
    if form not in FORMS:
        raise NotFound("There is no such paper.", "Ask for the sheet as pdf or html.")
    size = asked.get("size") or "a4"
    if size not in PAGE_SIZES:
        raise BadInput("This size of paper is not known.", "Ask for a4 or letter.", "size")
    days = asked.get("days") or str(USUAL_DAYS)
    if re.fullmatch(r"[1-9][0-9]?", days, re.ASCII) is None or int(days) > MOST_DAYS:
        raise BadInput(f"A sheet holds 1 to {MOST_DAYS} days.", None, "days")
    return SheetQuestion(form, asked.get("place") or None, int(days), size)


def make_round_sheet(question: SheetQuestion, today: date, style: str) -> Paper:
    """Return the sheet as a file.

    Args:
        today: its first day, local.
        style: the style sheet of the HTML page.
    Raises: NotFound for a place that is not kept.
    """
    names = {
        one["id"]: str(one.get("name") or "a place without a name")
        for one in (*queries.list_records("garden"), *queries.list_records("site"))
    }
    if question.place is not None and question.place not in names:
        raise NotFound("That place is not kept here.", "Choose another, or none.", code="no-site")
    document = round_sheet(_places(question, names, today), today, question.days, today)
    excess = find_excess(document)
    if excess is not None:
        raise TooLarge(excess, "Ask for fewer days, or for one place.", code="too-long")
    if question.form == "pdf":
        data = make_pdf(printable(document), question.size)
    else:
        data = make_html(document, question.size, style).encode()
    name = f"round-sheet-{today.isoformat()}.{question.form}"
    return Paper(data, FORMS[question.form], name, trouble_of(document))


def _places(question: SheetQuestion, names: Mapping[str, str], today: date) -> list[SheetPlace]:
    last = today + timedelta(days=question.days - 1)
    settled = {str(one.get("task")) for one in queries.list_records("task_state") if one.get("state")}
    tasks = [
        task
        for task in plan_all(today)
        if task["id"] not in settled
        and str(task["from"]) <= last.isoformat()
        and question.place in (None, task.get("site"))
    ]
    rounds, single = gather_rounds(tasks, {}, today.isoformat())
    called = name_all()

    def tree_name(task: Mapping[str, Any]) -> str:
        if task.get("tree") is None:
            return "The leave and the ground"
        # "K1, birch, Frame yard": the place stands above already.
        tag, *kind = called.get(str(task["tree"]), "a tree without a tag").split(", ")[:2]
        return ", ".join([tag, *(one.replace("-", " ") for one in kind)])

    kinds: dict[str, dict[str, tuple[dict[str, None], dict[str, set[date]]]]] = {}
    loose: dict[str, list[str]] = {}
    for one in rounds:
        place, day = one.site or ON_NO_SITE, date.fromisoformat(one.day_on)
        if day > last:  # begun, with time left beyond the sheet
            loose.setdefault(place, []).extend(_line(tree_name(task), task, today) for task in one.tasks)
            continue
        texts, trees = kinds.setdefault(place, {}).setdefault(one.kind, ({}, {}))
        for task in one.tasks:
            texts[str(task["text"])] = None
            trees.setdefault(tree_name(task), set()).add(day)
    for task in single:
        if not (isinstance(task.get("lapses_on"), str) and str(task["lapses_on"]) < today.isoformat()):
            loose.setdefault(str(task.get("site") or ON_NO_SITE), []).append(_line(tree_name(task), task, today))
    places = sorted(
        {*kinds, *loose} | ({question.place} if question.place else set()), key=lambda one: names.get(one, "~")
    )
    return [
        SheetPlace(
            names.get(place, NO_PLACE),
            tuple(
                SheetRound(
                    round_name(kind),
                    tuple(texts),
                    tuple((name, frozenset(trees[name])) for name in sorted(trees, key=_as_counted)),
                )
                for kind, (texts, trees) in sorted(kinds.get(place, {}).items())
            ),
            tuple(sorted(loose.get(place, []), key=_as_counted)),
        )
        for place in places
    ]


def _line(name: str, task: Mapping[str, Any], today: date) -> str:
    by = date.fromisoformat(str(task["by"])) if task.get("by") else None
    when = "" if by is None else f" ({'overdue, ' if by < today else ''}by {show_date(by)})"
    return f"{name}: {task['text']}{when}"


def _as_counted(name: str) -> list[tuple[int, int, str]]:
    """Return a name so that K2 sorts before K10."""
    parts = re.findall(r"\d{1,9}|\D+|\d", name.casefold())
    return [(0, int(one), "") if one.isdigit() else (1, 0, one) for one in parts]
