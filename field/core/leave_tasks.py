"""The tasks of one leave: its end, its writing, its number, its terms, and what the landholder is to be told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from field.core.dates import show_date
from field.core.leave import SIGNED, SPOKEN
from field.core.lift_flags import (
    AFTER_END,
    AFTER_WITHDRAWAL,
    BEFORE_BEGIN,
    GIRTH,
    KINDS,
    Flag,
    Record,
    count_of,
)
from field.core.reasons import listed
from field.core.site_task import Task, site_task
from field.core.windows import find_date

# All of them common practice, no source.
ENDING_DAYS = 30
ASK_ANEW_DAYS = 28
WRITING_DAYS = 14
NUMBER_DAYS = 30
FEW_OF = 5  # of at least so many agreed, a fifth left is few
FEW_SHARE = 0.2
TERMS_DAYS = 28
REPORT_DAYS = 14
REPORT_LAPSES_DAYS = 90

MOST_NAMED = 5  # trees told one by one

_TOLD_EARLY = (
    "The landholder should hear it from you, and soon. Nothing is struck out: the lift stays in the log as it was "
    "done, with this beside it."
)


@dataclass(frozen=True, slots=True)
class LeaveFacts:
    """One leave with all that hangs on it."""

    record: Record
    rec: str  # its id
    site: str
    place: str  # name of the site
    holder: str  # who gave it, in words
    first: dt.date | None
    last: dt.date | None
    withdrawn_on: dt.date | None
    lifts: Sequence[Record]  # in the order they were done
    flags: Mapping[str, Sequence[Flag]]  # by lift
    tags: Mapping[str, str]  # what to call a tree
    versions: int  # how often it was signed
    is_changed: bool  # whether its terms are no longer those of the newest letter that was signed

    @property
    def whose(self) -> str:
        return f"The leave of {self.holder} for {self.place}"


def tasks_of_leave(leave: LeaveFacts, others: Sequence[LeaveFacts], marked: int, today: dt.date) -> Iterator[Task]:
    """Yield the tasks of one leave; of one that was withdrawn only what is to be told of its lifts.

    Args:
        others: all leaves of its site, itself among them or not.
        marked: how many trees are marked on the site and still stand.
        today: the day it is planned on.
    """
    if leave.withdrawn_on is None:
        yield from _end(leave, others, marked, today)
        yield from _writing(leave, today)
        yield from _number(leave, marked, today)
    if leave.withdrawn_on is None or leave.withdrawn_on > today:
        yield from _after_visits(leave)
    yield from _over(leave, today)
    yield from _outside(leave)


def is_open(leave: LeaveFacts, today: dt.date) -> bool:
    """Return whether a leave is in force or still to come."""
    return leave.withdrawn_on is None and (leave.last is None or leave.last >= today)


def _end(leave: LeaveFacts, others: Sequence[LeaveFacts], marked: int, today: dt.date) -> Iterator[Task]:
    if leave.last is None or any(_goes_on(other, leave) for other in others):
        return
    ends = show_date(leave.last)
    yield site_task(
        leave.site,
        f"ending:{leave.rec}:{leave.last.year}",
        (leave.last - dt.timedelta(days=ENDING_DAYS), leave.last, leave.last),
        f"{leave.whose} ends on {ends}. Ask for another term, or finish there by then.",
        "The last day still counts; after it no tree may be lifted under this leave. A renewal keeps the old leave as "
        f"it was. {ENDING_DAYS} days ahead are common practice, no source.",
    )
    if today > leave.last and marked > 0 and not any(is_open(other, today) for other in others):
        trees = "a marked tree still stands" if marked == 1 else f"{marked} marked trees still stand"
        lapses_on = leave.last + dt.timedelta(days=ASK_ANEW_DAYS)
        yield site_task(
            leave.site,
            f"ask-anew:{leave.rec}:{leave.last.year}",
            (leave.last + dt.timedelta(days=1), lapses_on, lapses_on),
            f"{leave.whose} ended on {ends}, and {trees} there. Ask anew before going back.",
            "Nothing may be lifted there until someone who may give leave has said yes again.",
        )


def _goes_on(other: LeaveFacts, leave: LeaveFacts) -> bool:
    """Return whether another leave stands beyond the end of one: its renewal, or one as wide of the same landholder."""
    if other is leave or other.withdrawn_on is not None or leave.last is None:
        return False
    if other.last is not None and other.last <= leave.last:
        return False
    if other.record.get("renews") == leave.rec:
        return True
    if other.record.get("landholder") != leave.record.get("landholder"):
        return False
    if other.first is not None and other.first > leave.last + dt.timedelta(days=1):
        return False
    return _is_as_wide(other.record, leave.record)


def _is_as_wide(other: Record, leave: Record) -> bool:
    if other.get("area") is not None and other.get("area") != leave.get("area"):
        return False
    kinds, wanted = other.get("species"), leave.get("species")
    return kinds is None or (
        isinstance(kinds, list) and isinstance(wanted, list) and all(one in kinds for one in wanted)
    )


def _writing(leave: LeaveFacts, today: dt.date) -> Iterator[Task]:
    form = leave.record.get("form")
    if form == SIGNED and not leave.is_changed:
        return
    if leave.versions > 0:
        version = "it was signed" if leave.versions == 1 else f"version {leave.versions} was signed"
        yield site_task(
            leave.site,
            f"sign-again:{leave.rec}:{leave.versions}",
            (today, today, leave.last),
            f"{leave.whose} was changed after {version}. Get it signed again.",
            "What was signed is kept as it was read. The terms as they stand now have no signature under them.",
        )
        return
    given_on = find_date(leave.record.get("given_on")) or leave.first
    from_on = today if given_on is None else given_on
    by_on = today if given_on is None else given_on + dt.timedelta(days=WRITING_DAYS)
    if leave.last is not None:
        from_on = min(from_on, leave.last)  # two days that contradict one another: the end stands
        by_on = min(by_on, leave.last)
    what = "is only spoken" if form == SPOKEN else "is not noted as signed"
    yield site_task(
        leave.site,
        f"writing:{leave.rec}",
        (from_on, by_on, leave.last),
        f"{leave.whose} {what}. Get it in writing, or signed at the gate.",
        "What was said is soon remembered in two ways, and cannot be shown to anyone. "
        f"{WRITING_DAYS} days are common practice, no source.",
    )


def _number(leave: LeaveFacts, marked: int, today: dt.date) -> Iterator[Task]:
    agreed, lifted = count_of(leave.record.get("allowance")), len(leave.lifts)
    if agreed is None or not 0 < lifted <= agreed:
        return
    left = agreed - lifted
    if left > 1 and not (agreed >= FEW_OF and left <= FEW_SHARE * agreed):
        return
    if left == 0 and marked == 0:
        return
    if leave.last is not None and today >= leave.last - dt.timedelta(days=ENDING_DAYS):
        return  # the talk about another term is the talk about the number
    from_on = find_date(leave.lifts[-1].get("lifted_on")) or today
    by_on = from_on + dt.timedelta(days=NUMBER_DAYS)
    with_whom = f"agreed with {leave.holder} for {leave.place}"
    if left == 0:
        trees = f"The one tree {with_whom} is" if agreed == 1 else f"All {agreed} trees {with_whom} are"
        text = f"{trees} lifted. Ask before another comes out."
    else:
        text = f"{left} {'tree is' if left == 1 else 'trees are'} left of the {agreed} {with_whom}."
    yield site_task(
        leave.site,
        f"number:{leave.rec}:{agreed}",
        (from_on, by_on, by_on),
        text,
        "Another phone may have taken one that this one has not heard of. If you want more, ask in good time.",
    )


def _after_visits(leave: LeaveFacts) -> Iterator[Task]:
    """Yield what is owed after each day of lifting: the conditions ticked, and a word to the landholder."""
    for day, lifts in _by_day(leave.lifts).items():
        on = show_date(day)
        missing = _not_ticked(leave, lifts)
        if missing:
            lines = listed([f"“{line}”" for line in missing])
            yield site_task(
                leave.site,
                f"terms:{leave.rec}:{day.isoformat()}",
                (day, day + dt.timedelta(days=1), day + dt.timedelta(days=TERMS_DAYS)),
                f"The terms of {leave.holder} for {leave.place} were not all ticked on {on}: {lines}. Look whether "
                "they were kept, and put right what was not.",
                "Whether terms were kept is best told while the day is fresh.",
            )
        by_on = day + dt.timedelta(days=REPORT_DAYS)
        yield site_task(
            leave.site,
            f"report:{leave.rec}:{day.isoformat()}-{len(lifts)}",
            (day, by_on, by_on + dt.timedelta(days=REPORT_LAPSES_DAYS)),
            f"Tell {leave.holder} what was taken from {leave.place} on {on}: {_trees(leave, lifts)}.",
            "Whoever hears what was taken, and that the holes are filled, says yes more gladly the next time. "
            f"{REPORT_DAYS} days are common practice, no source.",
        )


def _not_ticked(leave: LeaveFacts, lifts: Sequence[Record]) -> list[str]:
    """Return the conditions that no lift of a day has ticked, in their order.

    They are those that the answer before the lift told, which stand as they were that day; else those of the leave.
    """
    wanted: dict[str, None] = {}
    ticked: set[str] = set()
    for lift in lifts:
        answer = lift.get("answer")
        verdict = answer.get("verdict") if isinstance(answer, Mapping) else None
        lines = leave.record.get("conditions")
        if isinstance(verdict, Mapping) and verdict.get("leave") == leave.rec:
            lines = verdict.get("keep")
        wanted.update(dict.fromkeys(_texts(lines)))
        ticked.update(_texts(lift.get("kept_conditions")))
    return [line for line in wanted if line not in ticked]


def _over(leave: LeaveFacts, today: dt.date) -> Iterator[Task]:
    agreed, lifted = count_of(leave.record.get("allowance")), len(leave.lifts)
    if agreed is None or lifted <= agreed:
        return
    over = lifted - agreed
    day = find_date(leave.lifts[-1].get("lifted_on")) or today
    yield site_task(
        leave.site,
        f"over:{leave.rec}:{lifted}-of-{agreed}",
        (day, day, None),
        f"Tell {leave.holder} of {over} {'tree' if over == 1 else 'trees'} over the number agreed for {leave.place}: "
        f"{lifted} lifted where {agreed} {'was' if agreed == 1 else 'were'} agreed.",
        _TOLD_EARLY,
    )


def _outside(leave: LeaveFacts) -> Iterator[Task]:
    """Yield what the landholder has to be told of lifts outside of the leave, day by day."""
    for code in (AFTER_WITHDRAWAL, AFTER_END, BEFORE_BEGIN, KINDS, GIRTH):
        flagged = [lift for lift in leave.lifts if _has_flag(leave, lift, code)]
        for day, lifts in _by_day(flagged).items():
            lifted = f"{_trees(leave, lifts)}, lifted at {leave.place} on {show_date(day)}"
            yield site_task(
                leave.site,
                f"{code}:{leave.rec}:{day.isoformat()}-{len(lifts)}",
                (day, day, None),
                f"Tell {leave.holder} of {lifted}: {_why_outside(code, leave)}.",
                _TOLD_EARLY,
            )


def _has_flag(leave: LeaveFacts, lift: Record, code: str) -> bool:
    return any(flag["code"] == code for flag in leave.flags.get(str(lift["id"]), ()))


def _why_outside(code: str, leave: LeaveFacts) -> str:
    if code == AFTER_WITHDRAWAL and leave.withdrawn_on is not None:
        return f"the leave was withdrawn on {show_date(leave.withdrawn_on)}"
    if code == AFTER_END and leave.last is not None:
        return f"the leave had ended on {show_date(leave.last)}"
    if code == BEFORE_BEGIN and leave.first is not None:
        return f"the leave began only on {show_date(leave.first)}"
    return "the leave does not name the kind" if code == KINDS else "over the girth agreed"


def _by_day(lifts: Sequence[Record]) -> dict[dt.date, list[Record]]:
    """Return lifts by their day; those of no known day are left out, for a task about them would move every day."""
    by_day: dict[dt.date, list[Record]] = {}
    for lift in lifts:
        day = find_date(lift.get("lifted_on"))
        if day is not None:
            by_day.setdefault(day, []).append(lift)
    return by_day


def _trees(leave: LeaveFacts, lifts: Sequence[Record]) -> str:
    """Return lifted trees in words: 'tree K1', '2 trees (K1 and K2)'."""
    tags = [tag for lift in lifts if (tag := leave.tags.get(str(lift.get("tree"))))]
    tags.sort(key=lambda tag: (len(tag), tag))  # K9 before K10
    if len(lifts) == 1:
        return f"tree {tags[0]}" if tags else "a tree without a tag"
    if len(tags) < len(lifts) or len(tags) > MOST_NAMED:
        return f"{len(lifts)} trees"
    return f"{len(lifts)} trees ({listed(tags)})"


def _texts(value: object) -> list[str]:
    return [text for text in value if isinstance(text, str)] if isinstance(value, list) else []
