"""Ask before you cut: whether a work on a tree suits a day - now, not now, or only if you must - with its reasons.

The answer hangs on the dated windows of the work (`field.core.windows`), on what this tree itself has shown this year,
on how long ago it was lifted, and on the lines of `field.core.ask_lines`. It is a rule of the project, careful on each
side (common practice); the phone has a twin of this module, `static/js/core/ask_work.js`, on the same cases.

| answer | when |
|---|---|
| now | the day lies in a window, and no line is against it |
| must | only if you must: a soft edge is missed, or a line warns |
| not-now | a hard edge is missed, the card never allows it, or a line forbids |
| no | the tree is not yours to cut: it stands on its ground still, or has come to its end |
"""

from __future__ import annotations

import calendar
import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from field.core.ask_lines import ASKED, MUST, NO, SAY
from field.core.errors import BadInput

REACH_DAYS = 120  # an event belongs to the season whose usual date is within so many days; as in field.core.windows
FIRST_COUNTS = ("bud_swell", "bud_break", "frost")
WORDS: Mapping[str, str] = {
    "trim": "trimming", "hard-prune": "hard pruning", "suckers": "taking suckers", "wire": "wiring",
    "unwire": "taking wire off", "defoliate": "defoliating", "repot": "repotting",
}  # fmt: skip
EVENTS: Mapping[str, str] = {
    "bud_swell": "bud swell", "bud_break": "bud break", "flush_hardened": "first flush hardened",
    "leaf_colour": "leaf colour", "leaf_fall": "leaf fall", "frost": "first frost",
}  # fmt: skip
CAUTION = (
    "A torn or broken limb is cut clean at any time. What stands can still be cut next year; "
    "what is cut cannot be put back."
)
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

Question = Mapping[str, Any]
_Answer = dict[str, Any]


def ask_work(question: Question, lines: Sequence[Mapping[str, Any]]) -> _Answer:
    """Answer whether a work suits a day.

    Args:
        question: "work" (one of ASKED), "on" ('YYYY-MM-DD'), "name" of the kind, "stage", "traits" (name -> value),
            "windows" of the work (as `ask_dates.find_asked` gives them, from the season before on), "spans" (name ->
            such windows),
            "never" (why the card forbids it, or None), "seen" (event -> dates), "lifted_on", "repotted_on" (or None),
            and of the cut itself, each None where not told: "cut_mm", "strong", "leaf_share", "root_mm".
        lines: as `ask_lines.lines_for_pack` gives them.
    Returns: "answer", "reasons" ({"code", "weight", "text", "source"}; what decides comes first), "opens" and "closes"
        of the window that it speaks of (the one that is open, else the next; None), "caution".
    Raises: BadInput for an unknown work or a day that is none.
    """
    work, on = question["work"], _day(question["on"])
    if work not in ASKED:
        raise BadInput(f"“{work}” is no work that can be asked about.", f"Known are: {', '.join(ASKED)}.", "work")
    owned = _whose(question)
    if owned:
        return {"answer": "no", "reasons": [owned], "opens": None, "closes": None, "caution": CAUTION}
    windows = sorted((_redate(one, question["seen"]) for one in question["windows"]), key=lambda one: one["opens"])
    reasons, waits = _line_reasons(question, lines, on)
    dated, shown = _window_reasons(question, windows, on, waits)
    reasons = [*dated, *reasons]
    order = (NO, MUST, "yes", SAY)
    reasons.sort(key=lambda one: order.index(one["weight"]))
    weights = {one["weight"] for one in reasons}
    answer = "not-now" if NO in weights else "must" if MUST in weights else "now"
    return {
        "answer": answer,
        "reasons": reasons,
        "opens": None if shown is None else shown["opens"].isoformat(),
        "closes": None if shown is None else shown["closes"].isoformat(),
        "caution": CAUTION,
    }


def _whose(question: Question) -> _Answer | None:
    if question["stage"] in ("marked", "left_standing"):
        return _reason(
            "stands",
            NO,
            "It stands on its ground still: nothing is cut without the landholder's leave. Ask “May I?” there.",
        )
    if question["stage"] in ("lost", "parted"):
        return _reason("ended", NO, "This tree has come to its end in your books.")
    return None


def _window_reasons(
    question: Question, windows: list[_Answer], on: dt.date, waits: dt.date | None
) -> tuple[list[_Answer], _Answer | None]:
    """Return what the dates say, and the window that is open or comes next once all waiting is over."""
    work = WORDS[question["work"]]
    if question["never"] is not None:
        return [_reason("never", NO, f"Not for {question['name']}: {question['never'].rstrip('.')}.")], None
    crossed = [one for one in windows if one["opens"] > one["closes"]]
    windows = [one for one in windows if one["opens"] <= one["closes"]]
    open_now = [one for one in windows if one["opens"] <= on <= one["closes"]]
    coming = [
        one for one in windows if one["closes"] >= (on if waits is None else max(on, waits)) and one not in open_now
    ]
    if open_now:
        window = max(open_now, key=lambda one: one["closes"])
        found = [
            _reason(
                "open", "yes",
                f"The time for {work} is {_date(window['opens'])} to {_date(window['closes'])}: {window['why_opens']}.",
                window["source_opens"],
            )
        ]  # fmt: skip
        if window["opens_event"] and not window["opens_seen"]:
            event = EVENTS[window["opens_event"]]
            found.append(
                _reason(
                    "look-first", SAY,
                    f"The dates hang on “{event}”, which is only expected on {_date(window['opens_usual'])} and was "
                    "not noted this year: look at the tree before the date.",
                )
            )  # fmt: skip
        found.extend(_disagree(window))
        if waits is not None and waits > window["closes"]:
            return found, coming[0] if coming else None
        return found, window
    past = [one for one in windows if one["closes"] < on]
    before = max(past, key=lambda one: one["closes"]) if past else None
    after = next((one for one in windows if one["opens"] > on), None)
    if before is None and after is None:
        return [_too_short(work, crossed)], None
    hard = bool(before and before["hard_close"]) or bool(after and after["hard_open"])
    opens = "" if after is None else f"opens on {_date(after['opens'])}"
    # Of the two edges the nearer one is what the asker stands before.
    if after is not None and (before is None or after["opens"] - on <= on - before["closes"]):
        text, told, code = f"Too early for {work}: it {opens}: {after['why_opens']}.", after, "too-early"
        source = after["source_opens"]
    else:
        assert before is not None
        text, told = f"Too late for {work}: it closed on {_date(before['closes'])}: {before['why_closes']}.", before
        code, source = "too-late", before["source_closes"]
        text += f" The next {opens}." if opens else ""
    found = [_reason(code, NO if hard else MUST, text, source)]
    return [*found, *_disagree(told)], coming[0] if coming else None


def _too_short(work: str, crossed: list[_Answer]) -> _Answer:
    if not crossed:
        return _reason("no-dates", NO, f"No safe dates for {work} are known here.")
    one = crossed[-1]
    return _reason(
        "too-short", NO,
        f"By the calendar the season here is too short for {work}: it would open about {_date(one['opens'])} and must "
        f"close by {_date(one['closes'])}. Note what the tree itself shows: that may open it earlier.",
        one["source_opens"],
    )  # fmt: skip


def _disagree(window: _Answer) -> list[_Answer]:
    if window.get("other") is None:
        return []
    return [_reason("not-all-agree", SAY, f"Not all agree: {window['other']}.")]


def _line_reasons(
    question: Question, lines: Sequence[Mapping[str, Any]], on: dt.date
) -> tuple[list[_Answer], dt.date | None]:
    """Return what the lines say, and the day before which nothing suits by them."""
    found: list[_Answer] = []
    waits: dt.date | None = None
    for line in lines:
        if question["work"] not in line["works"]:
            continue
        said = _holds(line, question, on)
        if said is None:
            continue
        found.append(
            _reason(line["code"], line["weight"], _fill(line["text"], {**question["traits"], **said}), line["source"])
        )
        until = said.get("day")
        if line["weight"] == NO and until is not None:
            waits = until if waits is None else max(waits, until)
    return found, waits


def _holds(line: Mapping[str, Any], question: Question, on: dt.date) -> _Answer | None:
    """Return what a line's text may name where all its conditions hold, else None."""
    traits = question["traits"]
    said: _Answer = {"name": question["name"], "cut_mm": question["cut_mm"]}
    numbers = [(name, least, 1) for name, least in line.get("least", {}).items()]
    numbers += [(name, bound, -1) for name, bound in line.get("below", {}).items()]
    for name, bound, sign in numbers:
        value = traits.get(name)
        if not _is_number(value) or (value < bound if sign > 0 else value >= bound):
            return None
    if any(not str(traits.get(name, "")).startswith(word) for name, word in line.get("starts", {}).items()):
        return None
    for name, words in line.get("unless", {}).items():
        value = str(traits.get(name, ""))
        if not value or any(value.startswith(word) for word in words.split("|")):
            return None
    if "over" in line and not _is_thick(line, question):
        return None
    if "share_over" in line and not (question["leaf_share"] or 0) > line["share_over"]:
        return None
    if "root_over" in line and not (question["root_mm"] or 0) > line["root_over"]:
        return None
    if "span" in line:
        spans = [_redate(one, question["seen"]) for one in question["spans"].get(line["span"], ())]
        now = next((one for one in spans if one["opens"] <= on <= one["closes"]), None)
        if now is None:
            return None
        said["until"] = _date(now["closes"])
    if "within" in line:
        since = question["lifted_on"] if line.get("since", "lift") == "lift" else question["repotted_on"]
        value = traits.get(line["within"])
        if since is None or not _is_number(value):
            return None
        day = _add_months(_day(since), math.ceil(value if "month" in line["within"] else 12 * value))
        if on >= day:
            return None
        said["date"], said["day"] = _date(day), day
    return said


def _is_thick(line: Mapping[str, Any], question: Question) -> bool:
    bound = question["traits"].get(line["over_strong"] if question["strong"] else line["over"])
    return question["cut_mm"] is not None and _is_number(bound) and question["cut_mm"] > bound


def _redate(window: Mapping[str, Any], seen: Mapping[str, Sequence[str]]) -> _Answer:
    """Give an edge that hangs on an event the date on which the tree showed it."""
    found = dict(window)
    for edge in ("opens", "closes"):
        event, days = window[f"{edge}_event"], window[f"{edge}_days"]
        found[edge] = usual = _day(window[edge])
        found[f"{edge}_seen"], found[f"{edge}_usual"] = False, usual - dt.timedelta(days=days)
        if event is None:
            continue
        dates = [_day(one) for one in seen.get(event, ())]
        earliest = window[f"{edge}_earliest"]
        near = [one for one in dates if abs((one - found[f"{edge}_usual"]).days) <= REACH_DAYS]
        near = [one for one in near if earliest is None or one.isoformat() >= earliest]
        if near:
            day = min(near) if event in FIRST_COUNTS else max(near)
            found[edge], found[f"{edge}_seen"] = day + dt.timedelta(days=days), True
    return found


def _fill(text: str, words: Mapping[str, Any]) -> str:
    return re.sub(r"\{(\w+)\}", lambda found: _show(words.get(found[1])), text)


def _show(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _reason(code: str, weight: str, text: str, source: str | None = None) -> _Answer:
    return {"code": code, "weight": weight, "text": text[0].upper() + text[1:], "source": source}


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _day(text: Any) -> dt.date:
    try:
        return text if isinstance(text, dt.date) else dt.date.fromisoformat(text)
    except (TypeError, ValueError) as trouble:
        raise BadInput(f"“{text}” is no date.", "Write it as year-month-day: 2026-03-09.", "on") from trouble


def _date(day: dt.date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _add_months(day: dt.date, months: int) -> dt.date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
