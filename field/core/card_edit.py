"""A person's own edits of a species card: only what differs is kept, and it is laid over the card as it ships.

One edit is the `card` of one species_card record: {"edit": {...}}, for one trait, one event or one window, so that two
phones that changed different things never stand against each other, and taking an edit back is deleting its record.
What an edit does not name keeps coming from the shipped card, also after an update of it.
"""

from __future__ import annotations

import copy
import datetime as dt
import re
import uuid
from collections.abc import Mapping
from typing import Any

from field.core.card import EVENT_WORDS, WORKS, Card, Edge
from field.core.read_card import BadCard
from field.core.windows import climate_at, yearly_parts

OWN = "own"  # the short name of the source of a value that the person changed
OWN_SOURCE = "changed by you"
MOST_OFFSET_DAYS = 120  # an event says nothing of another season than its own; as far as an observation reaches
# No window but the one that is always open takes longer; a longer one comes of a close before its opening.
# Common practice: the longest of the shipped cards is 226 days.
MOST_WINDOW_DAYS = 300
ALL_YEAR_DAYS = 364

# What a number may be: the scales by their names, the temperatures as far as roots and nights go.
_RANGES: tuple[tuple[str, float, float], ...] = (("_0_3", 0, 3), ("_1_5", 1, 5), ("_mm", 0, 2000), ("_days_", 0, 366))
_COLD = (-50.0, 15.0)
_LAYERS = frozenset({"traits", "events", "windows"})
_WINDOW_FIELDS = frozenset({"opens", "closes", "hard_open", "hard_close", "why_opens", "why_closes"})
# In an error a window is counted from 0 where the card's own form was read, and from 1 where the edit was.
_FAULTY_PART = re.compile(
    r"card [^.]*\.(?:(?P<layer>traits|events)\.(?P<name>\w+)"
    r"|windows\.(?P<work>[\w-]+)(?:\[(?P<from_0>\d+)\]|\.(?P<from_1>\d+)))"
    r"(?:\.(?P<field>\w+))?",
    re.ASCII,
)


def edit_id(kind: str, part: str) -> str:
    """Return the id of the record of an edit, so that two phones that edit one thing meet in one record.

    Args:
        kind: short name of the card.
        part: "traits.<name>", "events.<event>" or "windows.<work>.<number>", as `parts_of` tells them.
    Source: a name-based UUID, version 5, RFC 9562 section 5.5, in the name space for addresses. Twin:
    `static/js/core/card_edit.js`.
    """
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:card:{kind}:{part}"))


def parts_of(raw: object) -> tuple[str, ...]:
    """Return the parts of a card that an edit changes; none of what is no edit, and of what cannot be read."""
    edit = raw["edit"] if isinstance(raw, Mapping) and "edit" in raw else None
    if not isinstance(edit, Mapping):
        return ()
    found = [f"{layer}.{name}" for layer in ("traits", "events") for name in _names(edit.get(layer))]
    windows = edit.get("windows")
    if isinstance(windows, Mapping):
        found += [f"windows.{work}.{number}" for work in _names(windows) for number in _names(windows[work])]
    return tuple(found)


def place_of_fault(where: str | None) -> tuple[str | None, str | None]:
    """Return the part of a card and its field in which an error of `load_cards` lies; None where it tells none."""
    found = _FAULTY_PART.match(where or "")
    if found is None:
        return None, None
    if found["layer"]:
        return f"{found['layer']}.{found['name']}", found["field"]
    number = int(found["from_0"]) + 1 if found["from_0"] else int(found["from_1"])
    return f"windows.{found['work']}.{number}", found["field"]


def is_edit(raw: object) -> bool:
    """Return whether the `card` of a record is an edit to be laid over a card, and no whole card."""
    return isinstance(raw, Mapping) and "edit" in raw


def lay_over(card: Mapping[str, Any], raw: Mapping[str, object], where: str) -> dict[str, Any]:
    """Return a card's object with an edit laid over it; neither of the two is changed.

    Args:
        card: the object of a card file.
        raw: {"edit": {"traits": {name: {value, why}}, "events": {event: {on, why}}, "windows": {work: {number:
            {opens, closes, hard_open, hard_close, why_opens, why_closes}}}}}; each part and each field only where it
            differs. Windows are numbered from "1", as the page shows them. An edge that is changed brings its reason.
        where: how to name the edit in an error.
    Raises: BadCard at the first fault, with its field.
    """
    laid = copy.deepcopy(dict(card))
    edit = _named(raw["edit"], f"{where}.edit")
    for name in (*(set(raw) - {"edit"}), *(set(edit) - _LAYERS)):
        raise BadCard(f"“{name}” is nothing that an edit of a card knows.", where=f"{where}.{name}")
    if not any(edit.values()):
        raise BadCard("This edit changes nothing.", where=f"{where}.edit")
    laid["sources"] = {**laid.get("sources", {}), OWN: OWN_SOURCE}
    for name, change in _named(edit.get("traits", {}), f"{where}.traits").items():
        at = f"{where}.traits.{name}"
        laid["traits"][name] = _trait(laid["traits"], name, _named(change, at), at)
    for name, change in _named(edit.get("events", {}), f"{where}.events").items():
        at = f"{where}.events.{name}"
        if name not in EVENT_WORDS:
            raise BadCard(f"“{name}” is no event that can be noted.", where=at)
        told = _named(change, at)
        _only(told, frozenset({"on", "why"}), at)
        _reason(told, "why", at)
        laid["events"][name] = {"on": told.get("on"), "source": OWN}
    for work, numbered in _named(edit.get("windows", {}), f"{where}.windows").items():
        at = f"{where}.windows.{work}"
        if work not in WORKS:
            raise BadCard(f"“{work}” is no work that has windows.", where=at)
        rules = laid["windows"][work]
        for number, change in _named(numbered, at).items():
            place = f"{at}.{number}"
            if not isinstance(rules, list) or number not in {str(n + 1) for n in range(len(rules))}:
                raise BadCard(f"The card has no window {number} of this work.", where=place)
            rules[int(number) - 1] = _window(rules[int(number) - 1], _named(change, place), place)
    return laid


def check_laid(card: Card, where: str) -> None:
    """Raise BadCard when what an edit made of a card cannot be.

    That is a window that never opens or closes before it opens, in the reference climate, or a least over its most.
    """
    for name, trait in card.traits.items():
        least, most = trait.value, card.traits.get(f"{name.removesuffix('_min')}_max")
        if most is None or not name.endswith("_min") or isinstance(least, str) or isinstance(most.value, str):
            continue
        if least > most.value:
            raise BadCard(f"The least, {least:g}, lies over the most, {most.value:g}.", where=f"{where}.traits.{name}")
    climate, day = climate_at(None, None), dt.date(2001, 7, 1)
    for work, rules in card.windows.items():
        for number, rule in enumerate(rules, 1):
            at = f"{where}.windows.{work}.{number}"
            for end, edge in (("opens", rule.opens), ("closes", rule.closes)):
                if abs(edge.days) > MOST_OFFSET_DAYS:
                    raise BadCard(
                        f"{_far(edge)} lies in another season; the most is {MOST_OFFSET_DAYS} days.",
                        where=f"{at}.{end}",
                    )
            crossed = rule.opens.event == rule.closes.event is not None and rule.closes.days < rule.opens.days
            opens, closes = yearly_parts(card, day, day, rule.opens, rule.closes, climate)[0]
            long = (closes - opens).days
            if crossed or MOST_WINDOW_DAYS < long < ALL_YEAR_DAYS:
                raise BadCard("It would close before it opens.", "Give a later closing.", f"{at}.closes")
            if long < 0:
                raise BadCard("This window would never open.", "Give an earlier opening.", f"{at}.opens")


def _trait(traits: Mapping[str, Any], name: str, told: Mapping[str, object], at: str) -> dict[str, object]:
    _only(told, frozenset({"value", "why"}), at)
    if name not in traits:
        raise BadCard(f"The card has no “{name}” to change.", where=at)
    if name == "leaf_type":
        raise BadCard("Another leaf type is another kind: copy a card that has it.", where=f"{at}.value")
    was, value = traits[name]["value"], told.get("value")
    if isinstance(was, bool):
        if not isinstance(value, bool):
            raise BadCard("Say yes or no.", where=f"{at}.value")
    elif isinstance(was, str):
        if not isinstance(value, str) or not value.strip():
            raise BadCard("Say it in words.", where=f"{at}.value")
    else:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise BadCard("Give a number.", where=f"{at}.value")
        least, most = value_range(name)
        if not least <= value <= most:
            raise BadCard(f"Give a number from {least:g} to {most:g}.", where=f"{at}.value")
    changed: dict[str, object] = {"value": value, "source": OWN, "note": _reason(told, "why", at)}
    return changed if "other" not in traits[name] else {**changed, "other": traits[name]["other"]}


def value_range(name: str) -> tuple[float, float]:
    """Return the least and the most that a number of this name may be."""
    for part, least, most in _RANGES:
        if part in f"{name}_" or name.endswith(part):
            return least, most
    if "_below_c" in name or name.endswith("_c"):
        return _COLD
    return 0.0, 1200.0  # weeks, months and years have limits of their own where the card is read


def _window(rule: Mapping[str, Any], told: Mapping[str, object], at: str) -> dict[str, Any]:
    _only(told, _WINDOW_FIELDS, at)
    changed = {**rule, **told}
    for end, why in (("opens", "why_opens"), ("closes", "why_closes")):
        if end in told or why in told:
            _reason(told, why, at)
    opens_from, closes_from = rule.get("source_opens", rule["source"]), rule["source"]
    opens_own = not told.keys().isdisjoint({"opens", "hard_open", "why_opens"})
    closes_own = not told.keys().isdisjoint({"closes", "hard_close", "why_closes"})
    changed["source_opens"] = OWN if opens_own else opens_from
    changed["source"] = OWN if closes_own else closes_from
    return changed


def _reason(told: Mapping[str, object], name: str, at: str) -> str:
    words = told.get(name)
    if not isinstance(words, str) or not words.strip():
        raise BadCard("Say why: a date without its reason is only an opinion.", where=f"{at}.{name}")
    return words


def _far(edge: Edge) -> str:
    return f"{abs(edge.days)} days {'before' if edge.days < 0 else 'after'} {EVENT_WORDS[str(edge.event)]}"


def _names(raw: object) -> list[str]:
    return [name for name in raw if isinstance(name, str)] if isinstance(raw, Mapping) else []


def _named(raw: object, where: str) -> Mapping[str, Any]:
    if not isinstance(raw, Mapping) or not all(isinstance(key, str) for key in raw):
        raise BadCard("Here the edit needs named values.", where=where)
    return raw


def _only(told: Mapping[str, object], known: frozenset[str], where: str) -> None:
    for name in told:
        if name not in known:
            raise BadCard(f"“{name}” is nothing that an edit can change here.", where=f"{where}.{name}")
    if not told:
        raise BadCard("This edit changes nothing.", where=where)
