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
from field.core.lift_terms import is_hole_open, terms_not_ticked
from field.core.reasons import listed
from field.core.site_task import Task, site_task
from field.core.windows import find_date

# All of them common practice, no source.
ENDING_DAYS = 30
ASK_ANEW_DAYS = 28
WRITING_DAYS = 14
ANSWER_DAYS = 14
NUMBER_DAYS = 30
FEW_OF = 5  # of at least so many agreed, a fifth left is few
FEW_SHARE = 0.2
TERMS_DAYS = 28
HOLES_DAYS = 90  # somebody may fall into an open hole, and stock break a leg
REPORT_DAYS = 14
REPORT_LAPSES_DAYS = 90

ASKED = "asked"  # the form of a leave that was asked for and has no answer yet
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
    owners: Sequence[str]  # who owns the ground beside them, by name; empty where the giver does, or nobody noted it
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

    @property
    def to_be_told(self) -> str:
        """Who is to hear of what went beyond the leave: whoever gave it, and who owns the ground."""
        if not self.owners:
            return self.holder
        return f"{self.holder}, and {'the owner' if len(self.owners) == 1 else 'the owners'} {listed(self.owners)},"


def tasks_of_leave(leave: LeaveFacts, others: Sequence[LeaveFacts], marked: int, today: dt.date) -> Iterator[Task]:
    """Yield the tasks of one leave; of one that was withdrawn, or only asked for, what is to be seen to of its lifts.

    Args:
        others: all leaves of its site, itself among them or not.
        marked: how many trees are marked on the site and still stand.
        today: the day it is planned on.
    """
    if leave.record.get("form") == ASKED:
        yield from _answer(leave)
    elif leave.withdrawn_on is None:
        yield from _end(leave, others, marked, today)
        yield from _writing(leave, today)
        yield from _number(leave, marked, today)
    yield from _left_open(leave, today)
    if leave.withdrawn_on is None or leave.withdrawn_on > today:
        yield from _reports(leave)
    yield from _over(leave, today)
    yield from _outside(leave)


def is_open(leave: LeaveFacts, today: dt.date) -> bool:
    """Return whether a leave is in force or still to come; one that was only asked for is none."""
    if leave.record.get("form") == ASKED:
        return False
    return leave.withdrawn_on is None and (leave.last is None or leave.last >= today)


def _answer(leave: LeaveFacts) -> Iterator[Task]:
    """Yield the question after an answer that has not come; the day it was asked stands as the day it was given."""
    if leave.withdrawn_on is not None:
        return
    asked_on = find_date(leave.record.get("given_on")) or leave.first
    if asked_on is None:
        return
    from_on = asked_on + dt.timedelta(days=ANSWER_DAYS)
    lapses_on = leave.last if leave.last is None else max(leave.last, from_on)
    yield site_task(
        leave.site,
        f"answer:{leave.rec}",
        (from_on, from_on, lapses_on),
        f"No answer from {leave.holder} for {leave.place} is noted yet. Ask again, and write down what was said.",
        "Until somebody who may give leave has said yes, nothing may be lifted under it. "
        f"{ANSWER_DAYS} days are common practice, no source.",
    )


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
    if other is leave or other.withdrawn_on is not None or leave.last is None or other.record.get("form") == ASKED:
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


def _left_open(leave: LeaveFacts, today: dt.date) -> Iterator[Task]:
    """Yield, for each day of lifting, the terms not ticked and the holes not noted as filled, with their trees.

    A term kept with one tree may have been broken with the next: each lift is asked about. A leave that ended or was
    withdrawn since changes nothing of what was agreed for the trees that were taken.
    """
    for day, lifts in _by_day(leave.lifts).items():
        missing: dict[str, list[Record]] = {}
        for lift in lifts:
            for term in terms_not_ticked(lift, leave.rec, leave.record):
                missing.setdefault(term, []).append(lift)
        holes = [lift for lift in lifts if is_hole_open(lift)]
        lines = [f"“{term}” with {_short(leave, some)}" for term, some in missing.items()]
        if holes:
            lines.append(f"the {'hole' if len(holes) == 1 else 'holes'} of {_short(leave, holes)} filled")
        if not lines:
            continue
        lacking = [lift for lift in lifts if any(lift in some for some in (holes, *missing.values()))]
        before = "The leave is over: ask before you go back. " if _is_over(leave, today) else ""
        yield site_task(
            leave.site,
            f"terms:{leave.rec}:{day.isoformat()}-{len(lifts)}",
            (day, day + dt.timedelta(days=1), day + dt.timedelta(days=HOLES_DAYS if holes else TERMS_DAYS)),
            f"Not noted as done for {leave.holder} at {leave.place} on {show_date(day)}: {'; '.join(lines)}. "
            f"{before}Put right what was not done, then note it with its tree.",
            "Whether terms were kept is best told while the day is fresh. An open hole can lame an animal or a person; "
            "every letter promises that holes are filled on the same day.",
            trees=[str(lift["tree"]) for lift in lacking if isinstance(lift.get("tree"), str)],
        )


def _is_over(leave: LeaveFacts, today: dt.date) -> bool:
    """Return whether a leave is good no more: its end is past, or the day from which it was withdrawn has come."""
    return (leave.last is not None and leave.last < today) or (
        leave.withdrawn_on is not None and leave.withdrawn_on <= today
    )


def _reports(leave: LeaveFacts) -> Iterator[Task]:
    """Yield the word to the landholder that is owed after each day of lifting."""
    for day, lifts in _by_day(leave.lifts).items():
        by_on = day + dt.timedelta(days=REPORT_DAYS)
        yield site_task(
            leave.site,
            f"report:{leave.rec}:{day.isoformat()}-{len(lifts)}",
            (day, by_on, by_on + dt.timedelta(days=REPORT_LAPSES_DAYS)),
            f"Tell {leave.holder} what was taken from {leave.place} on {show_date(day)}: {_trees(leave, lifts)}.",
            "Whoever hears what was taken, and that the holes are filled, says yes more gladly the next time. "
            f"{REPORT_DAYS} days are common practice, no source.",
        )


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
        f"Tell {leave.to_be_told} of {over} {'tree' if over == 1 else 'trees'} over the number agreed for "
        f"{leave.place}: {lifted} lifted where {agreed} {'was' if agreed == 1 else 'were'} agreed.",
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
                f"Tell {leave.to_be_told} of {lifted}: {_why_outside(code, leave)}.",
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
    if len(lifts) == 1:
        tags = _tags(leave, lifts)
        return f"tree {tags[0]}" if tags else "a tree without a tag"
    short = _short(leave, lifts)
    return f"{len(lifts)} trees" if short.endswith("trees") else f"{len(lifts)} trees ({short})"


def _short(leave: LeaveFacts, lifts: Sequence[Record]) -> str:
    """Return lifted trees by their tags alone: 'K1 and K2', or 'a tree without a tag', '7 trees'."""
    tags = _tags(leave, lifts)
    if 0 < len(tags) <= MOST_NAMED and len(tags) == len(lifts):
        return listed(tags)
    return "a tree without a tag" if len(lifts) == 1 else f"{len(lifts)} trees"


def _tags(leave: LeaveFacts, lifts: Sequence[Record]) -> list[str]:
    tags = [tag for lift in lifts if (tag := leave.tags.get(str(lift.get("tree"))))]
    return sorted(tags, key=lambda tag: (len(tag), tag))  # K9 before K10
