"""Reads and checks one species card: a JSON object in, a Card or one clear sentence out.

The form of a card file is told in the docstring of `read_card`. A wrong card is refused whole, with the place of the
fault; half a card would plan half of the care without anybody knowing.
"""

from __future__ import annotations

import dataclasses
import math
import re
import string
from collections.abc import Mapping, Sequence

from field.core.card import EVENT_WORDS, TASK_WORKS, WORKS, Card, Edge, Rule, Step, Trait
from field.core.errors import BadInput

PRACTICE = "common practice, no source"

# Traits that the planning reads; a card may have more. Weeks, months and years are told by the name's ending.
NUMBER_TRAITS = (
    "bleeding_0_3",
    "dieback_0_3",
    "moisture_1_5",
    "protect_below_c_year1",
    "protect_below_c_later",
    "shade_weeks",
    "first_prune_min_months_after_lift",
    "first_styling_years_min",
    "repot_years_between",
    "wire_weeks_min",
    "wire_weeks_max",
)
BOOL_TRAITS = ("mist_after_lift",)

_KIND = re.compile(r"[a-z]+(-[a-z]+)*\Z")
_STEP = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")
_MONTH_DAY = re.compile(r"([0-9]{2})-([0-9]{2})\Z")
_MONTH_LENGTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MOST_TIME = {"weeks": 520, "months": 1200, "years": 100}  # past any use; keeps every planned date in the calendar
DAYS_TO_COUNT_FROM = ("mark", "taken-in", "lift", "repot", "hard-prune", "defoliate", "wire")
_WINDOW_WORDS = frozenset({"opens", "closes"})

_STEP_KEYS = frozenset(one.name for one in dataclasses.fields(Step))
_RULE_KEYS = frozenset(
    ["opens", "closes", "hard_open", "hard_close", "why_opens", "why_closes", "source", "source_opens", "other"]
)
_CARD_KEYS = frozenset(["kind", "name", "latin", "sources", "traits", "events", "windows", "care", "leave_out", "note"])


class BadCard(BadInput):
    """A species card that cannot be used."""

    usual_code = "bad-card"


def read_card(data: object, base_care: Sequence[Step] = (), *, where: str = "card") -> Card:
    """Return the card told by a JSON object.

    Args:
        data: the object. `kind`, `name`, `latin`; `sources`: short name -> words with the mark of how it was read;
            `traits`: name -> {value, source[, note, other]};
            `events`: kind -> {on: MM-DD, source} in the reference climate (52 N, lowland);
            `windows`: work -> list of {opens, closes, hard_close[, hard_open], why_opens, why_closes, source[,
            source_opens, other]} or {never: why[, source]};
            `care`: list of steps (`field.core.card.Step`); `leave_out`: steps of `base_care` that do not suit.
            An edge is "MM-DD", or {event, days}, or {on: MM-DD, moves: later, earlier or no}.
            `source` is one short name of `sources`, a list of them, or "practice". `other` is {says, source}: where
            habit and the published word differ, what the side says that the value does not follow.
        base_care: the steps of the cautious card of its leaf type; those that the card names anew are replaced, the
            others are kept.
        where: how to name the card in an error.
    Returns: the Card.
    Raises: BadCard with the place of the first fault.
    """
    card = _mapping(data, where)
    _no_others(card, _CARD_KEYS, where)
    kind = _text(card, "kind", where)
    if not _KIND.match(kind):
        raise BadCard("A kind is lower-case letters, with hyphens between words.", where=f"{where}.kind")
    sources = {
        name: _plain(words, f"{where}.sources.{name}")
        for name, words in _mapping(card.get("sources", {}), f"{where}.sources").items()
    }
    traits = _read_traits(card, sources, where)
    events: dict[str, Edge] = {}
    event_sources: dict[str, str] = {}
    for name, raw in _mapping(card.get("events"), f"{where}.events").items():
        at = f"{where}.events.{name}"
        if name not in EVENT_WORDS:
            raise BadCard(f"“{name}” is no event that can be noted; known are {_listed(EVENT_WORDS)}.", where=at)
        event = _mapping(raw, at)
        events[name] = _calendar_edge(event, at)
        event_sources[name] = _source(event, sources, at)
    missing = [name for name in EVENT_WORDS if name not in events]
    if missing:
        raise BadCard(f"The card gives no usual date for {_listed(missing)}.", where=f"{where}.events")
    windows, never, never_sources = _read_windows(card, sources, where)
    return Card(
        kind=kind,
        name=_text(card, "name", where),
        latin=_text(card, "latin", where),
        stands_in=False,
        traits=traits,
        events=events,
        event_sources=event_sources,
        windows=windows,
        never=never,
        care=_read_care(card, base_care, traits, sources, where),
        never_sources=never_sources,
    )


def _read_traits(card: Mapping[str, object], sources: Mapping[str, str], where: str) -> dict[str, Trait]:
    traits: dict[str, Trait] = {}
    for name, raw in _mapping(card.get("traits"), f"{where}.traits").items():
        at = f"{where}.traits.{name}"
        trait = _mapping(raw, at)
        value = trait.get("value")
        if not isinstance(value, (bool, int, float, str)):
            raise BadCard(f"“{name}” needs a value that is a number, a yes or no, or words.", where=at)
        if isinstance(value, float) and not math.isfinite(value):
            raise BadCard(f"“{name}” is no usable number.", where=at)
        unit = trait_unit(name)
        if unit is not None and not isinstance(value, (bool, str)) and not 0 <= value <= _MOST_TIME[unit]:
            raise BadCard(f"“{name}” lies between 0 and {_MOST_TIME[unit]} {unit}.", where=at)
        note = trait.get("note")
        traits[name] = Trait(
            value if isinstance(value, (bool, str)) else float(value),
            _source(trait, sources, at),
            None if note is None else _plain(note, f"{at}.note"),
            _other(trait, sources, at),
        )
    for name in NUMBER_TRAITS:
        if name not in traits or isinstance(traits[name].value, (bool, str)):
            raise BadCard(f"The card needs the trait “{name}” as a number.", where=f"{where}.traits.{name}")
    for name in BOOL_TRAITS:
        if name not in traits or not isinstance(traits[name].value, bool):
            raise BadCard(f"The card needs the trait “{name}” as a yes or no.", where=f"{where}.traits.{name}")
    return traits


def _read_windows(
    card: Mapping[str, object], sources: Mapping[str, str], where: str
) -> tuple[dict[str, tuple[Rule, ...]], dict[str, str], dict[str, str]]:
    windows: dict[str, tuple[Rule, ...]] = {}
    never: dict[str, str] = {}
    never_sources: dict[str, str] = {}
    given = _mapping(card.get("windows"), f"{where}.windows")
    for work, raw in given.items():
        at = f"{where}.windows.{work}"
        if work not in WORKS:
            raise BadCard(f"“{work}” is no work that has windows; known are {_listed(WORKS)}.", where=at)
        if isinstance(raw, Mapping):
            _no_others(raw, frozenset({"never", "source"}), at)
            never[work] = _text(raw, "never", at)
            if "source" in raw:
                never_sources[work] = _source(raw, sources, at)
            windows[work] = ()
            continue
        rules = [_read_rule(one, sources, f"{at}[{n}]") for n, one in enumerate(_list(raw, at))]
        if not rules:
            raise BadCard("A work without a window says why under “never”.", where=at)
        windows[work] = tuple(rules)
    missing = [work for work in WORKS if work not in windows]
    if missing:
        raise BadCard(
            f"The card says nothing of {_listed(missing)}: give a window, or say why never.", where=f"{where}.windows"
        )
    return windows, never, never_sources


def _read_rule(raw: object, sources: Mapping[str, str], where: str) -> Rule:
    rule = _mapping(raw, where)
    _no_others(rule, _RULE_KEYS, where)
    closes_source = _source(rule, sources, where)
    source = closes_source
    if "source_opens" in rule:
        opens_source = _source({"source": rule["source_opens"]}, sources, f"{where}.source_opens")
        source = f"opens: {opens_source}; closes: {closes_source}"
    return Rule(
        opens=_edge(rule.get("opens"), f"{where}.opens"),
        closes=_edge(rule.get("closes"), f"{where}.closes"),
        hard_close=_flag(rule, "hard_close", where),
        why_opens=_text(rule, "why_opens", where),
        why_closes=_text(rule, "why_closes", where),
        source=source,
        hard_open=_flag(rule, "hard_open", where, usual=False),
        other=_other(rule, sources, where),
    )


def _other(owner: Mapping[str, object], sources: Mapping[str, str], where: str) -> str | None:
    """Return what the side says that a value does not follow, with its source; None where all agree."""
    if owner.get("other") is None:
        return None
    at = f"{where}.other"
    other = _mapping(owner["other"], at)
    _no_others(other, frozenset({"says", "source"}), at)
    return f"{_text(other, 'says', at)}: {_source(other, sources, at)}"


def _edge(raw: object, where: str) -> Edge:
    if isinstance(raw, str):
        return _calendar_edge({"on": raw}, where)
    edge = _mapping(raw, where)
    if "event" not in edge:
        return _calendar_edge(edge, where)
    _no_others(edge, frozenset({"event", "days"}), where)
    event = _text(edge, "event", where)
    if event not in EVENT_WORDS:
        raise BadCard(f"“{event}” is no event that can be noted; known are {_listed(EVENT_WORDS)}.", where=where)
    days = _whole(edge, "days", where)
    return Edge(event, 0 if days is None else days, 0, 0, "no")


def calendar_edge(month_day: str, where: str = "card") -> Edge:
    """Return the edge on 'MM-DD' of the reference climate, moving as that time of the year does."""
    return _calendar_edge({"on": month_day}, where)


def _calendar_edge(edge: Mapping[str, object], where: str) -> Edge:
    _no_others(edge, frozenset({"on", "moves", "source"}), where)
    text = _text(edge, "on", where)
    month, day = _read_month_day(text, where)
    moves = edge.get("moves")
    if moves is None:
        # Hopkins: spring and early summer come later northward and upward, autumn earlier.
        moves = "later" if month <= 6 else "earlier"
    if moves not in ("later", "earlier", "no"):
        raise BadCard("An edge moves “later”, “earlier” or “no”.", where=f"{where}.moves")
    return Edge(None, 0, month, day, str(moves))


def _read_month_day(text: str, where: str) -> tuple[int, int]:
    """Return month and day of 'MM-DD'; raise BadCard when there is no such day in any year."""
    if (found := _MONTH_DAY.match(text)) is None:
        raise BadCard(f"“{text}” is no date of the form MM-DD.", where=where)
    month, day = int(found[1]), int(found[2])
    if not 1 <= month <= 12 or not 1 <= day <= _MONTH_LENGTHS[month - 1]:
        raise BadCard(f"“{text}” is in no calendar.", where=where)
    return month, day


def _read_care(
    card: Mapping[str, object],
    base_care: Sequence[Step],
    traits: Mapping[str, Trait],
    sources: Mapping[str, str],
    where: str,
) -> tuple[Step, ...]:
    left_out = {_plain(name, f"{where}.leave_out") for name in _list(card.get("leave_out", []), f"{where}.leave_out")}
    known = {step.step for step in base_care}
    for name in sorted(left_out - known):
        raise BadCard(f"There is no step “{name}” to leave out.", where=f"{where}.leave_out")
    steps = {step.step: step for step in base_care if step.step not in left_out}
    for step in _read_list(card.get("care", []), sources, f"{where}.care"):
        steps[step.step] = step
    for step in steps.values():
        at = f"{where}.care.{step.step}"
        for trait in (step.from_trait, step.by_trait):
            if trait is not None and (trait not in traits or isinstance(traits[trait].value, (bool, str))):
                raise BadCard(f"The step “{step.step}” needs the trait “{trait}” as a number.", where=at)
        for name in _placeholders(step.text, at) | _placeholders(step.why, at):
            has_window = step.in_window or step.anchor == "mark" or step.anchor.startswith("window:")
            if name not in traits and name != "date" and not (has_window and name in _WINDOW_WORDS):
                raise BadCard(f"The words of “{step.step}” name “{name}”, which the card does not have.", where=at)
    return tuple(steps.values())


def read_steps(steps: object, sources: object, where: str) -> tuple[Step, ...]:
    """Return the steps of a care plan, told as those of a card; raise BadCard with the place of the first fault.

    Args:
        steps: a list of objects.
        sources: short name -> words, as in a card.
        where: how to name the plan in an error.
    """
    named = {
        name: _plain(words, f"{where}.sources.{name}") for name, words in _mapping(sources, f"{where}.sources").items()
    }
    return _read_list(steps, named, f"{where}.steps")


def _read_list(raw_steps: object, sources: Mapping[str, str], where: str) -> tuple[Step, ...]:
    steps: dict[str, Step] = {}
    for n, raw in enumerate(_list(raw_steps, where)):
        step = _read_step(raw, sources, f"{where}[{n}]")
        if step.step in steps:
            raise BadCard(f"The step “{step.step}” is told twice.", where=f"{where}[{n}]")
        steps[step.step] = step
    return tuple(steps.values())


def _read_step(raw: object, sources: Mapping[str, str], where: str) -> Step:
    step = _mapping(raw, where)
    _no_others(step, _STEP_KEYS, where)
    name = _text(step, "step", where)
    if not _STEP.match(name):
        raise BadCard("A step's short name is lower-case letters and digits with hyphens.", where=f"{where}.step")
    where = f"{where} ({name})"
    work = _text(step, "work", where)
    if work not in TASK_WORKS:
        raise BadCard(f"“{work}” is no work; known are {_listed(TASK_WORKS)}.", where=f"{where}.work")
    anchor = _text(step, "anchor", where)
    _check_anchor(anchor, f"{where}.anchor")
    every = _whole(step, "every_days", where)
    until = _whole(step, "until_days", where)
    if every is not None and (every < 1 or until is None or anchor not in ("lift", "repot", "wire")):
        raise BadCard(
            "A repeated step counts from lift, repot or wire, every 1 day or more, until a day.",
            where=f"{where}.every_days",
        )
    by_pace = _flag(step, "by_pace", where, usual=False)
    if by_pace and (every is None or anchor != "wire"):
        raise BadCard("Only repeated looks at wire go by its pace.", where=f"{where}.by_pace")
    between = step.get("between")
    part: tuple[Edge, Edge] | None = None
    if between is not None:
        ends = _list(between, f"{where}.between")
        if len(ends) != 2:
            raise BadCard("“between” is two dates.", where=f"{where}.between")
        part = (_edge(ends[0], f"{where}.between[0]"), _edge(ends[1], f"{where}.between[1]"))
    event = step.get("satisfied_by_event")
    if event is not None and event not in EVENT_WORDS:
        raise BadCard(f"“{event}” is no event that can be noted.", where=f"{where}.satisfied_by_event")
    in_window = _flag(step, "in_window", where, usual=False)
    if in_window and work not in WORKS:
        raise BadCard(f"“{work}” has no window to wait for.", where=f"{where}.in_window")
    from_days = _whole(step, "from_days", where)
    by_days = _whole(step, "by_days", where)
    from_days = 0 if from_days is None else from_days
    by_days = from_days if by_days is None else by_days
    from_trait = _optional_text(step, "from_trait", where)
    by_trait = _optional_text(step, "by_trait", where)
    for trait in (from_trait, by_trait):
        if trait is not None and trait_unit(trait) is None:
            raise BadCard(f"“{trait}” does not tell weeks, months or years by its name.", where=where)
    if by_days < from_days and by_trait is None:
        raise BadCard("The last day of a step lies before its first.", where=f"{where}.by_days")
    first_season = _whole(step, "first_season", where)
    lapses_days = _whole(step, "lapses_days", where)
    if lapses_days is not None and lapses_days < 0:
        raise BadCard("A step cannot lapse before its last day.", where=f"{where}.lapses_days")
    return Step(
        step=name,
        work=work,
        anchor=anchor,
        from_days=from_days,
        by_days=by_days,
        from_trait=from_trait,
        by_trait=by_trait,
        every_days=every,
        by_pace=by_pace,
        until_days=until,
        between=part,
        first_season=0 if first_season is None else first_season,
        last_season=_whole(step, "last_season", where),
        in_window=in_window,
        stem_years=_flag(step, "stem_years", where, usual=False),
        satisfied_by_event=None if event is None else str(event),
        satisfied_by_work=tuple(
            _plain(one, f"{where}.satisfied_by_work")
            for one in _list(step.get("satisfied_by_work", []), f"{where}.satisfied_by_work")
        ),
        lapses_days=lapses_days,
        when=_read_when(step.get("when", {}), f"{where}.when"),
        text=_text(step, "text", where),
        why=_text(step, "why", where),
        source=_source(step, sources, where),
    )


def _check_anchor(anchor: str, where: str) -> None:
    head, _, rest = anchor.partition(":")
    if not rest and anchor in DAYS_TO_COUNT_FROM:
        return
    if head == "event" and rest in EVENT_WORDS:
        return
    if head == "calendar":
        _read_month_day(rest, where)
        return
    work, _, edge = rest.partition(":")
    if head == "window" and work in WORKS and edge in ("opens", "closes"):
        return
    raise BadCard(
        f"“{anchor}” is nothing to count from: say {', '.join(DAYS_TO_COUNT_FROM)}, event:<event>, calendar:<MM-DD> "
        "or window:<work>:opens (or closes).",
        where=where,
    )


def _read_when(raw: object, where: str) -> dict[str, object]:
    """Return the condition: traits with the value they must have, or have at least, and what the lift must be like."""
    when = _mapping(raw, where)
    _no_others(when, frozenset({"traits", "at_least", "roots_kept", "lifted_between", "lifted_outside_window"}), where)
    read: dict[str, object] = {}
    for name in ("traits", "at_least"):
        if name in when:
            read[name] = dict(_mapping(when[name], f"{where}.{name}"))
    if "roots_kept" in when:
        read["roots_kept"] = tuple(
            _plain(one, f"{where}.roots_kept") for one in _list(when["roots_kept"], f"{where}.roots_kept")
        )
    if "lifted_between" in when:
        ends = _list(when["lifted_between"], f"{where}.lifted_between")
        if len(ends) != 2:
            raise BadCard("“lifted_between” is two dates.", where=f"{where}.lifted_between")
        read["lifted_between"] = tuple(_edge(end, f"{where}.lifted_between") for end in ends)
    if "lifted_outside_window" in when:
        read["lifted_outside_window"] = _flag(when, "lifted_outside_window", where)
    return read


def trait_unit(trait: str) -> str | None:
    """Return 'weeks', 'months' or 'years' as a trait's name tells it, None when it tells none of them."""
    for unit in ("weeks", "months", "years"):
        if unit in trait.split("_"):
            return unit
    return None


def _placeholders(text: str, where: str) -> set[str]:
    try:
        parts = [part for part in string.Formatter().parse(text) if part[1] is not None]
    except ValueError as trouble:
        raise BadCard("The words have a single curly bracket.", where=where) from trouble
    if any(form or conversion for _, _, form, conversion in parts):
        raise BadCard("Curly brackets in the words hold the name of a trait and nothing else.", where=where)
    return {str(name) for _, name, _, _ in parts}


def _source(owner: Mapping[str, object], sources: Mapping[str, str], where: str) -> str:
    raw = owner.get("source")
    names = [raw] if isinstance(raw, str) else _list(raw, f"{where}.source")
    if not names:
        raise BadCard("Each value says where it is from, or “practice”.", where=f"{where}.source")
    words: list[str] = []
    for name in names:
        if name == "practice":
            words.append(PRACTICE)
        elif isinstance(name, str) and name in sources:
            words.append(sources[name])
        else:
            raise BadCard(f"“{name}” is not among the card's sources.", where=f"{where}.source")
    return "; ".join(words)


def _mapping(raw: object, where: str) -> Mapping[str, object]:
    if not isinstance(raw, Mapping) or not all(isinstance(key, str) for key in raw):
        raise BadCard("Here the card needs named values.", where=where)
    return raw


def _list(raw: object, where: str) -> Sequence[object]:
    if isinstance(raw, str) or not isinstance(raw, Sequence):
        raise BadCard("Here the card needs a list.", where=where)
    return raw


def _plain(raw: object, where: str) -> str:
    if not isinstance(raw, str) or not raw.strip():
        raise BadCard("Here the card needs words.", where=where)
    return raw


def _text(owner: Mapping[str, object], name: str, where: str) -> str:
    return _plain(owner.get(name), f"{where}.{name}")


def _optional_text(owner: Mapping[str, object], name: str, where: str) -> str | None:
    return None if owner.get(name) is None else _text(owner, name, where)


def _whole(owner: Mapping[str, object], name: str, where: str) -> int | None:
    raw = owner.get(name)
    if raw is None:
        return None
    if isinstance(raw, bool) or not isinstance(raw, int):
        raise BadCard("Here the card needs a whole number of days or seasons.", where=f"{where}.{name}")
    if not -800 <= raw <= 20000:
        raise BadCard("This number of days is past any use.", where=f"{where}.{name}")
    return raw


def _flag(owner: Mapping[str, object], name: str, where: str, *, usual: bool | None = None) -> bool:
    raw = owner.get(name, usual)
    if not isinstance(raw, bool):
        raise BadCard("Here the card needs true or false.", where=f"{where}.{name}")
    return raw


def _no_others(owner: Mapping[str, object], known: frozenset[str], where: str) -> None:
    for name in owner:
        if name not in known:
            raise BadCard(f"“{name}” is nothing a card knows here.", where=f"{where}.{name}")


def _listed(names: Sequence[str] | Mapping[str, str]) -> str:
    return ", ".join(names)
