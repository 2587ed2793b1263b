"""The dated tasks of one tree: its history and its species card in, tasks out; nothing is read, written or remembered.

A task's id is `<tree>:<kind>:<step>:<n>`. `n` never depends on a date that may still move: for repeated steps it
counts the repetitions, for yearly ones it is the year of the season, for steps after a work (a repotting, a hard
pruning, a wiring) it holds that work's id, and a second dig of the same tree years later puts its own number in front.
So a task that was ticked stays ticked when an observed event, a mended date or a new card re-dates it.

Every task says how long it stands: `lapses_on` is its last day, None for a deed that stays overdue until it is
settled. What has lapsed is left out, unless it was settled and `history["states"]` says so. A step lapses

| step | lapses |
|---|---|
| with `lapses_days` | so many days after its last date; 0, for advice that is no deed: with that date |
| repeated, or coming round each year | the day before it comes round; not before its last date |
| in a window | with the window: the day after, it moves to the next opening |
| in a window, and of the first seasons only | a year after its own first day |
| of which no safe dates are known | after `NOTE_DAYS` |
| any other | never |
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from field.core.card import Card, Step
from field.core.care import (
    BOX_AFTER_DAYS,
    Done,
    Occurrence,
    Standing,
    count_digs,
    find_occurrences,
    latest_lift,
    lift_day,
    stage,
)
from field.core.errors import BadInput
from field.core.read_card import DAYS_TO_COUNT_FROM
from field.core.rounds import round_of_step
from field.core.signs import Expected, Signs
from field.core.species import DEFAULT, card_for_tree
from field.core.windows import (
    Climate,
    DatedWindow,
    as_date,
    climate_at,
    find_date,
    find_windows,
    gather_observed,
    why_none,
    words_for_date,
)
from field.core.wire import BITES

ENDS = ("lost", "parted", "left_standing")
AHEAD_DAYS = 60  # repeated checks are planned this far; a yearly or single task as far as it lies
TICK_REACH_DAYS = 14  # a tick and a logged work of one kind closer than this tell the same work; common practice
WINDOW_SEARCH_DAYS = 800  # two years and a bit: every yearly window opens within it
MOST_NOTE = 60  # letters of a note that a task repeats
NOTE_DAYS = 28  # how long a note stands that says why a work has no date; common practice
YEAR_DAYS = 365

_WORK_NAMES = {"sucker-removal": "suckers"}


@dataclass(frozen=True, slots=True)
class _Dated:
    starts_on: dt.date
    by_on: dt.date
    lapses_on: dt.date | None  # the last day it stands; None: until it is settled
    moved_from: dt.date | None
    window: DatedWindow | None
    moved_words: str
    none_words: str | None  # why no window was found


def plan_tasks(
    tree: Mapping[str, object],
    history: Mapping[str, Iterable[Mapping[str, object]]],
    cards: Mapping[str, Card],
    today: dt.date | str,
    place: Mapping[str, object] | None = None,
    ahead_days: int = AHEAD_DAYS,
) -> list[dict[str, object]]:
    """Return the tasks of one tree, open and settled alike, by date.

    Args:
        tree: merged tree record with "id".
        history: "lifts", "events", "works", "boxes" and, if known, "states" (task_state records): lists of merged
            records with "id", in any order. Deleted ones are passed over, and those of other trees.
        cards: from `species.load_cards`.
        today: the day it is planned on, local.
        place: {"lat", "height_m", "own_days"} where the tree stands, and "expected": event -> `signs.Expected` for its
            kind there; None or missing parts: not known.
        ahead_days: how far repeated checks are planned.
    Returns: tasks {"id", "rec", "tree", "site", "work", "from", "by", "lapses_on", "text", "why", "moved_from"}, with
        "round" where the step is walked in one; none for a tree that is deleted or has ended.
    """
    day = as_date(today)
    card = card_for_tree(cards, tree.get("species"))
    tree_id = str(tree["id"])
    lifts = _of_tree(history.get("lifts", ()), tree_id)
    if tree.get("deleted") is True or stage(tree, lifts, day, card) in ENDS:
        return []
    states = {str(state.get("task")): state for state in _kept(history.get("states", ())) if state.get("state")}
    standing = _standing(tree, history, card, day, place, lifts, states, ahead_days)
    tasks = [
        _task(tree, card, step, occurrence, dated, standing)
        for step in card.care
        for occurrence in find_occurrences(step, card, standing)
        if (dated := _dated(step, occurrence, card, standing, _task_id(tree_id, card, step, occurrence.n) in states))
    ]
    if standing.is_lifted and standing.lifted_on is None:
        tasks.append(_ask_for_day(tree, card, day))
    return sorted(tasks, key=lambda task: (str(task["from"]), str(task["by"]), str(task["id"])))


def due(
    tasks: Iterable[Mapping[str, object]],
    states: Iterable[Mapping[str, object]],
    on: dt.date | str,
    days: int,
) -> list[dict[str, object]]:
    """Return the tasks that have begun or begin within some days, neither settled nor lapsed: overdue first, by date.

    Args:
        tasks: from `plan_tasks`.
        states: task_state records; "done" and "skipped" settle a task, None leaves it open.
        on: the day asked about.
        days: how many days further to look, 0 or more.
    """
    day = as_date(on)
    until = (day + dt.timedelta(days=days)).isoformat()
    settled = {str(state.get("task")) for state in _kept(states) if state.get("state") in ("done", "skipped")}
    today = day.isoformat()
    open_tasks = [
        dict(task)
        for task in tasks
        if str(task["from"]) <= until and task["id"] not in settled and not _has_lapsed(task, today)
    ]
    return sorted(
        open_tasks,
        key=lambda task: (str(task["by"]) >= today, str(task["by"]), str(task["from"]), str(task["id"])),
    )


def _has_lapsed(task: Mapping[str, object], today: str) -> bool:
    lapses_on = task.get("lapses_on")
    return isinstance(lapses_on, str) and lapses_on < today


def task_record_id(task_id: str) -> str:
    """Return the id of the task_state record of a task: the same on every device without asking one another."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:task:{task_id}"))


def _standing(
    tree: Mapping[str, object],
    history: Mapping[str, Iterable[Mapping[str, object]]],
    card: Card,
    today: dt.date,
    place: Mapping[str, object] | None,
    lifts: list[Mapping[str, object]],
    states: Mapping[str, Mapping[str, object]],
    ahead_days: int,
) -> Standing:
    tree_id = str(tree["id"])
    lift = latest_lift(lifts)
    lifted_on = lift_day(lift)
    girth = (lift or {}).get("girth_mm")
    girth = tree.get("girth_mm") if girth is None else girth
    roots = (lift or {}).get("roots_kept")
    events = [
        event
        for event in history.get("events", ())
        if event.get("tree") == tree_id or (event.get("tree") is None and event.get("site") in (None, tree.get("site")))
    ]
    return Standing(
        lifted_on=lifted_on,
        is_lifted=lift is not None,
        dig=count_digs(lifts),
        is_client=tree.get("origin") == "client",
        taken_in_on=find_date(tree.get("marked_on")) if tree.get("origin") == "client" and lift is None else None,
        roots_kept=roots if isinstance(roots, str) else None,
        girth_mm=girth if isinstance(girth, int) and not isinstance(girth, bool) and girth > 0 else None,
        observed=Signs(gather_observed(events), _expected(place)),
        works=_gather_works(history, tree_id, card, states, lifted_on),
        climate=_climate(place),
        today=today,
        ahead_days=ahead_days,
        settled=frozenset(
            task.split(":")[-2] for task in states if task.startswith(f"{tree_id}:") and task.count(":") >= 3
        ),
    )


def _expected(place: Mapping[str, object] | None) -> Mapping[str, Expected]:
    told = (place or {}).get("expected")
    return told if isinstance(told, Mapping) else {}


def _climate(place: Mapping[str, object] | None) -> Climate:
    told = {} if place is None else place
    lat, height, own = told.get("lat"), told.get("height_m"), told.get("own_days")
    try:
        return climate_at(
            float(lat) if isinstance(lat, (int, float)) else None,
            float(height) if isinstance(height, (int, float)) else None,
            own if isinstance(own, int) else None,
        )
    except BadInput as fault:
        # A slip in the height of one site must not leave its trees without care; the reason of each date says so.
        return Climate(0, False, f"not moved from 52° N, lowland: {fault.message.rstrip('.')}")


def _gather_works(
    history: Mapping[str, Iterable[Mapping[str, object]]],
    tree_id: str,
    card: Card,
    states: Mapping[str, Mapping[str, object]],
    lifted_on: dt.date | None,
) -> dict[str, tuple[Done, ...]]:
    """Return kind of work -> what was done since the lift, by date: logged, told by a new box, or ticked as a task."""
    done: dict[str, list[Done]] = {}
    for work in _of_tree(history.get("works", ()), tree_id):
        kind, on = work.get("kind"), find_date(work.get("done_on"))
        if isinstance(kind, str) and on is not None:
            short = kind.strip().lower().replace("_", "-").replace(" ", "-")
            done.setdefault(_WORK_NAMES.get(short, short), []).append(_done(on, work))
    by_word: dict[str, list[Done]] = {}
    for box in _of_tree(history.get("boxes", ()), tree_id):
        on = find_date(box.get("boxed_on"))
        if on is not None and lifted_on is not None:
            word = "repot" if (on - lifted_on).days > BOX_AFTER_DAYS else "box"
            by_word.setdefault(word, []).append(Done(on, str(box.get("id"))))
    steps = {step.step: step for step in card.care}
    for task, state in states.items():
        step = steps.get(task.split(":")[-2]) if task.count(":") >= 3 else None
        on = find_date(state.get("settled_on"))
        if step is None or state.get("state") != "done" or on is None:
            continue
        if task.startswith(f"{tree_id}:") and (step.in_window or step.work == "unwire"):
            by_word.setdefault(step.work, []).append(Done(on, on.isoformat()))
    for kind, told in by_word.items():
        for one in sorted(told, key=lambda one: (one.done_on, one.rec)):
            near = (abs((one.done_on - other.done_on).days) <= TICK_REACH_DAYS for other in done.get(kind, ()))
            if not any(near):
                done.setdefault(kind, []).append(one)
    return {
        kind: tuple(
            sorted(
                (one for one in some if lifted_on is None or one.done_on >= lifted_on),
                key=lambda one: (one.done_on, one.rec),
            )
        )
        for kind, some in done.items()
    }


def _done(on: dt.date, work: Mapping[str, object]) -> Done:
    detail = work.get("detail")
    told = detail if isinstance(detail, Mapping) else {}
    about, bites = told.get("wire"), told.get("bites")
    return Done(
        on,
        str(work.get("id")),
        about if isinstance(about, str) else None,
        bites if isinstance(bites, str) and bites in BITES else None,
        _short(work.get("note")),
    )


def _short(note: object) -> str | None:
    """Return the first words of a note, for telling two wirings of one tree apart."""
    text = " ".join(note.split()) if isinstance(note, str) else ""
    return (text if len(text) <= MOST_NOTE else f"{text[: MOST_NOTE - 1].rstrip()} …").rstrip(".") or None


def _about_wire(step: Step, occurrence: Occurrence, standing: Standing) -> str:
    """Return which wiring a task is about, as its note tells it; empty where there is none, or only one without."""
    if step.anchor != "wire":
        return ""
    rec, put_on = occurrence.n.rpartition(".")[0], standing.works.get("wire", ())
    days = {one.done_on for one in put_on if one.rec == rec}  # what went on that day is one wiring
    notes = dict.fromkeys(one.note for one in put_on if one.done_on in days and one.note)
    return f" This wire: {'; '.join(notes)}." if notes else ""


def _dated(step: Step, occurrence: Occurrence, card: Card, standing: Standing, settled: bool) -> _Dated | None:
    """Return when an occurrence is to be done, or None when there is nothing left to do about it."""
    if occurrence.satisfied and not settled:
        return None
    if step.in_window:
        return _in_window(step, occurrence, card, standing, settled)
    lapses_on = _lapse_day(step, occurrence)
    if not settled and lapses_on is not None and lapses_on < standing.today:
        return None
    return _Dated(occurrence.starts_on, occurrence.by_on, lapses_on, None, None, "", None)


def _lapse_day(step: Step, occurrence: Occurrence) -> dt.date | None:
    """Return the last day that an occurrence outside of any window stands, by the table at the top of this module."""
    if step.lapses_days is not None:
        return occurrence.by_on + dt.timedelta(days=step.lapses_days)
    if occurrence.stands_until is not None:
        return occurrence.stands_until
    round_days = step.every_days
    if round_days is None and (step.anchor == "mark" or step.anchor not in DAYS_TO_COUNT_FROM):
        round_days = YEAR_DAYS
    if round_days is None:
        return None
    return max(occurrence.by_on, occurrence.starts_on + dt.timedelta(days=round_days - 1))


def _in_window(step: Step, occurrence: Occurrence, card: Card, standing: Standing, settled: bool) -> _Dated | None:
    """Return an occurrence moved into the first window of its work that is still to be had."""
    planned = occurrence.starts_on
    # What belongs to the first seasons is not asked for years later, because nobody ticked it then.
    if step.last_season is not None and not settled and planned + dt.timedelta(days=YEAR_DAYS) < standing.today:
        return None
    first = planned if settled else max(planned, standing.today)
    until = first + dt.timedelta(days=WINDOW_SEARCH_DAYS)
    windows = find_windows(card, step.work, standing.climate, first, until, standing.observed, most=1)
    if not windows:
        last = planned + dt.timedelta(days=NOTE_DAYS)
        if not settled and last < standing.today:
            return None
        words = card.never.get(step.work) or _why_none(card, step.work, standing)
        return _Dated(planned, last, last, None, None, "", words)
    window = windows[0]
    closes = window.closes_on
    if window.opens_on <= planned:
        return _Dated(planned, closes, closes, None, window, "", None)
    was_due = words_for_date(planned)
    missed = planned < standing.today and not settled
    moved = (
        f"By the care plan it is due from {was_due}, outside of the window; it moves to the opening on "
        f"{words_for_date(window.opens_on)}."
    )
    yesterday = standing.today - dt.timedelta(days=1)
    if missed and find_windows(
        card, step.work, standing.climate, planned, yesterday, standing.observed, most=1, words=False
    ):
        moved = (
            f"It was due from {was_due} and that window has closed; it waits for the opening on "
            f"{words_for_date(window.opens_on)}."
        )
    return _Dated(window.opens_on, closes, closes, planned, window, moved, None)


def _why_none(card: Card, work: str, standing: Standing) -> str:
    return why_none(card, work, standing.climate) or "No safe dates were found in the next two years."


def _task(
    tree: Mapping[str, object], card: Card, step: Step, occurrence: Occurrence, dated: _Dated, standing: Standing
) -> dict[str, object]:
    window = dated.window
    opens = window.opens_on if window else occurrence.opens_on
    closes = window.closes_on if window else occurrence.closes_on
    words = _Words(card)
    words["date"] = words_for_date(dated.starts_on)
    words["opens"] = "" if opens is None else words_for_date(opens)
    words["closes"] = "" if closes is None else words_for_date(closes)
    if dated.none_words is None:
        text = step.text.format_map(words) + _about_wire(step, occurrence, standing)
        why = [step.why.format_map(words)]
    else:
        text = f"Leave {step.work.replace('-', ' ')} be for now: there are no safe dates for it."
        why = [dated.none_words]
    if dated.moved_words:
        why.append(dated.moved_words)
    if window is not None:
        why.append(
            f"Opens{' (hard)' if window.hard_open else ''}: {window.why_opens}. "
            f"Closes{' (hard)' if window.hard_close else ''}: {window.why_closes}."
        )
        if window.other is not None:
            why.append(f"Not all agree: {window.other}.")
    if card.stands_in:
        why.append(
            "The kind of this tree is not told; the careful default card is used."
            if card.kind == DEFAULT
            else f"There is no card for {card.name} yet; the careful "
            f"{'card of its leaf type' if 'leaf_type' in card.traits else 'default card'} stands in."
        )
    why.append(f"Source: {step.source}.")
    task_id = _task_id(str(tree["id"]), card, step, occurrence.n)
    round_kind = None if dated.none_words is not None else round_of_step(step)
    return {
        "id": task_id,
        "rec": task_record_id(task_id),
        "tree": tree["id"],
        "site": tree.get("site"),
        "work": step.work,
        "from": dated.starts_on.isoformat(),
        "by": dated.by_on.isoformat(),
        "lapses_on": None if dated.lapses_on is None else dated.lapses_on.isoformat(),
        "text": text,
        "why": " ".join(why),
        "moved_from": None if dated.moved_from is None else dated.moved_from.isoformat(),
        **({} if round_kind is None else {"round": round_kind}),
    }


class _Words(dict[str, str]):
    """What the text of a step may name; a trait of the card is put into words when it is named."""

    def __init__(self, card: Card) -> None:
        super().__init__()
        self.card = card

    def __missing__(self, name: str) -> str:
        return _show(self.card.traits[name].value)


def _ask_for_day(tree: Mapping[str, object], card: Card, today: dt.date) -> dict[str, object]:
    task_id = f"{tree['id']}:{card.kind}:day-of-lift:0"
    return {
        "id": task_id,
        "rec": task_record_id(task_id),
        "tree": tree["id"],
        "site": tree.get("site"),
        "work": "record",
        "from": today.isoformat(),
        "by": today.isoformat(),
        "lapses_on": None,
        "text": "Write down the day this tree was lifted.",
        "why": "The care of the first year counts from the day of the lift, and it is not recorded.",
        "moved_from": None,
    }


def _task_id(tree_id: str, card: Card, step: Step, n: str) -> str:
    return f"{tree_id}:{card.kind}:{step.step}:{n}"


def _kept(records: Iterable[Mapping[str, object]]) -> list[Mapping[str, object]]:
    return [record for record in records if record.get("deleted") is not True]


def _of_tree(records: Iterable[Mapping[str, object]], tree_id: str) -> list[Mapping[str, object]]:
    return [record for record in _kept(records) if record.get("tree") in (None, tree_id)]


def _show(value: float | bool | str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return str(int(value)) if value == int(value) else str(value)
