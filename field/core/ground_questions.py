"""What to check for a piece of ground: a list of questions for each country, and which of them are still open.

The lists lie in `ground/` beside this module, one JSON file a country or area; `read_list` tells the form. They ask and
name who answers; none of them says that anything is allowed. Local law and the authority's word stand above them.
"""

from __future__ import annotations

import datetime as dt
import functools
import json
import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from importlib import resources
from types import MappingProxyType

from field.core.errors import BadInput

GENERAL = "general"  # the list for everywhere that has none of its own
BEFORES = ("asking", "digging", "moving")
MARKS = ("seen", "from memory")
ANSWERS = ("yes", "no")
PROTECTED_AREA = "protected_area"
SERVICES = "services"
OTHER = "other"
CONSENTS = ("protected_area", "tree_order", "felling_licence", "monument", "services", "plant_health", "other")
ABOVE = "Local law and the authority’s word stand above this list. It is no legal advice."

_CODE = re.compile(r"[a-z]+(-[a-z]+)*\Z")
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")
_LIST_KEYS = frozenset(["code", "name", "note", "includes", "leave_out", "questions"])
_OPTIONAL = frozenset(["consent", "consent_name"])


class BadList(BadInput):
    """A list of questions that cannot be used."""

    usual_code = "bad-list"


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to find out before a tree is asked for, dug or moved."""

    id: str  # begins with the code of its list: an answer given for one country never passes for another's
    question: str  # to the collector, answered with yes or no
    why: str  # one sentence: what hangs on it
    heed: str  # yes or no: the answer after which more has to be done
    ask: str  # the authority or person who answers it, and whose word stands above the list
    consent: str | None  # the kind of consent that answer leads to
    consent_name: str | None  # what that consent is called, where its kind is other
    law: str  # name of the act with its section, or that there is none
    source: str  # where that is published
    mark: str  # how the source was read: seen, or from memory
    as_of: str  # the day it was looked at, 'YYYY-MM-DD'
    before: str  # asking, digging or moving


@dataclass(frozen=True, slots=True)
class GroundList:
    """The questions of one country, those it takes from another list behind its own."""

    code: str
    name: str
    note: str  # one or two sentences: what this list covers
    questions: tuple[Question, ...]


def read_list(data: object, others: Mapping[str, GroundList] | None = None, *, where: str = "list") -> GroundList:
    """Return the list told by a JSON object.

    Args:
        data: `code`, `name`, `note`; `questions`: a list of objects with the fields of `Question` (`consent` may be
            null or left out; `consent_name` only where it is "other"); `includes`: codes of lists whose questions
            follow its own, `leave_out`: ids of those that it answers by questions of its own.
        others: the lists that may be included, by code.
        where: how to name the list in an error.
    Returns: the list.
    Raises: BadList with the place of the first fault.
    """
    given = _mapping(data, where)
    _no_others(given, _LIST_KEYS, where)
    code = _text(given, "code", where)
    if not _CODE.match(code):
        raise BadList("A code is lower-case letters, with hyphens between words.", where=f"{where}.code")
    own: list[Question] = []
    for n, raw in enumerate(_list(given.get("questions"), f"{where}.questions")):
        one = _read_question(raw, code, f"{where}.questions[{n}]")
        if any(one.id == other.id for other in own):
            raise BadList(f"“{one.id}” stands twice in the list.", where=f"{where}.questions[{n}].id")
        own.append(one)
    if not own:
        raise BadList("A list needs at least one question.", where=f"{where}.questions")
    taken = _included(given, others or {}, where)
    return GroundList(code, _text(given, "name", where), _text(given, "note", where), (*own, *taken))


def _included(given: Mapping[str, object], others: Mapping[str, GroundList], where: str) -> list[Question]:
    found: dict[str, Question] = {}
    for n, code in enumerate(_list(given.get("includes", []), f"{where}.includes")):
        if not isinstance(code, str) or code not in others:
            raise BadList(f"There is no list called “{code}” to include.", where=f"{where}.includes[{n}]")
        found |= {one.id: one for one in others[code].questions}
    for n, name in enumerate(_list(given.get("leave_out", []), f"{where}.leave_out")):
        if not isinstance(name, str) or name not in found:
            raise BadList(f"“{name}” is no question of an included list.", where=f"{where}.leave_out[{n}]")
        del found[name]
    return list(found.values())


def _read_question(raw: object, code: str, where: str) -> Question:
    given = _mapping(raw, where)
    names = [one.name for one in fields(Question)]
    _no_others(given, frozenset(names), where)
    told = {name: _text(given, name, where) for name in names if name not in _OPTIONAL}
    name, consent, consent_name = told["id"], given.get("consent"), given.get("consent_name")
    if not _ID.match(name) or not name.startswith(f"{code}-"):
        raise BadList(f"“{name}” is to begin with “{code}-”, in lower-case letters and hyphens.", where=f"{where}.id")
    if not told["question"].endswith("?"):
        raise BadList("A question ends with a question mark.", where=f"{where}.question")
    for part, known in (("heed", ANSWERS), ("mark", MARKS), ("before", BEFORES)):
        if told[part] not in known:
            raise BadList(f"“{told[part]}” is none of: {', '.join(known)}.", where=f"{where}.{part}")
    if consent is not None and consent not in CONSENTS:
        raise BadList(f"“{consent}” is no kind of consent; known are {', '.join(CONSENTS)}.", where=f"{where}.consent")
    if (consent == "other") != isinstance(consent_name, str):
        raise BadList("A consent is named where its kind is other, and only there.", where=f"{where}.consent_name")
    try:
        as_of = dt.date.fromisoformat(told["as_of"]).isoformat()
    except ValueError:
        as_of = ""
    if as_of != told["as_of"]:
        raise BadList("A date is written as 2026-11-26.", where=f"{where}.as_of")
    kind = consent if isinstance(consent, str) else None
    return Question(consent=kind, consent_name=consent_name if isinstance(consent_name, str) else None, **told)


def list_countries() -> list[dict[str, str]]:
    """Return code and name of every list, by name; the general one last."""
    order = sorted(_lists().values(), key=lambda one: (one.code == GENERAL, one.name))
    return [{"code": one.code, "name": one.name} for one in order]


def questions_for(code: str | None) -> GroundList:
    """Return the list of a country; the general one for None and for a code that is not known.

    Whoever shows it can tell the second case by the code of what comes back.
    """
    return _lists().get(code or GENERAL, _lists()[GENERAL])


def check_record_id(site: str, question: str) -> str:
    """Return the id of the ground_check record of a question at a site: the same on every device, unasked.

    Two phones that answer the same question out of reach of each other then write the same record, and what differs is
    told as any two answers to one question are. The site's own bits are mixed with those of the question by exclusive
    or, so that a phone can do it at once; version 8 of RFC 9562 is the one for ids made by a rule of one's own.

    Args:
        site: id of the site, a UUID in lower case.
        question: short name of the question.
    Raises: ValueError if the site's id is no UUID.
    """
    return mixed_id(site, question_key(question))


def mixed_id(site: str, key: str) -> str:
    """Return the UUID of a site's bits mixed with a question's 32 hex digits, marked as version 8."""
    mixed = uuid.UUID(site).int ^ int(key, 16)
    mixed = mixed & ~(0xF << 76) | 8 << 76
    return str(uuid.UUID(int=mixed & ~(0x3 << 62) | 2 << 62))


def question_key(question: str) -> str:
    """Return the 32 hex digits that stand for a question in the ids of its answers."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"fellside:ground:{question}").hex


def open_questions(
    questions: Sequence[Question], site: str, checks: Iterable[Mapping[str, object]]
) -> tuple[Question, ...]:
    """Return the questions that nobody has answered for a site, in their order.

    Args:
        questions: of the site's country, `questions_for`.
        site: id of the site.
        checks: ground_check records of any site. One without yes or no, and a deleted one, answers nothing; two records
            of one question that say different things leave it open.
    """
    said = _said(site, checks)
    return tuple(one for one in questions if len({check["answer"] for check in said.get(one.id, ())}) != 1)


def _said(site: object, checks: Iterable[Mapping[str, object]]) -> dict[object, list[Mapping[str, object]]]:
    said: dict[object, list[Mapping[str, object]]] = {}
    for one in checks:
        if one.get("site") == site and one.get("answer") in ANSWERS and one.get("deleted") is not True:
            said.setdefault(one.get("question"), []).append(one)
    return said


def find_protected(
    site: Mapping[str, object], questions: Iterable[Mapping[str, object]], checks: Iterable[Mapping[str, object]]
) -> object:
    """Return whether a site is protected: as it is recorded, else as the questions about protected areas were answered.

    Args:
        site: merged fields with "id".
        questions: of the site's country, as they stand in the pack.
        checks: ground_check records of any site.
    Returns: what is recorded; with nothing recorded True where one answer says so, False where all of them say that it
        is not, and None while one is open or there is no such question.
    """
    if site.get("protected") is not None:
        return site["protected"]
    said = _said(site["id"], checks)
    asked = [one for one in questions if one["consent"] == PROTECTED_AREA]
    answers = [{check["answer"] for check in said.get(one["id"], ())} for one in asked]
    if any(one["heed"] in told for one, told in zip(asked, answers, strict=True)):
        return True
    return False if asked and all(answers) else None


def find_heeded(
    site: Mapping[str, object],
    questions: Iterable[Mapping[str, object]],
    checks: Iterable[Mapping[str, object]],
    consents: Iterable[Mapping[str, object]],
) -> list[Mapping[str, object]]:
    """Return the questions that were answered so that more has to be done, and for which nothing is noted yet.

    Settled is one whose kind of consent is noted for the site, in whatever state: then the rules for consents speak.
    Of two answers that differ the one to be heeded counts.

    Args:
        site: merged fields with "id".
        questions: of the site's country, as they stand in the pack.
        checks, consents: records of any site, consents without deleted ones.
    """
    questions, checks = list(questions), list(checks)
    said = _said(site["id"], checks)
    noted = [one for one in consents if one.get("site") == site["id"]]
    protected = find_protected(site, questions, checks)
    found = []
    for one in questions:
        heeded = [check for check in said.get(one["id"], ()) if check["answer"] == one["heed"]]
        # That the ground is protected is told by a rule of its own.
        is_told = one["consent"] == PROTECTED_AREA and protected is True
        is_checked = one["consent"] == SERVICES and _is_checked_since(site, heeded)
        if heeded and not is_told and not is_checked and not any(_is_for(one, consent) for consent in noted):
            found.append(one)
    return found


def _is_for(question: Mapping[str, object], consent: Mapping[str, object]) -> bool:
    if question["consent"] is None or consent.get("kind") != question["consent"]:
        return False
    return question["consent"] != OTHER or consent.get("name") == question["consent_name"]


def _is_checked_since(site: Mapping[str, object], heeded: Iterable[Mapping[str, object]]) -> bool:
    """Whether buried services were checked, and not before somebody found that they were not."""
    checked = site.get("services_checked_on")
    return checked is not None and all(str(one.get("settled_on") or "") <= str(checked) for one in heeded)


def ground_for_pack() -> dict[str, object]:
    """Return all lists as plain JSON for the phone: `above`, and `lists`, each question with its `key`."""
    return {
        "above": ABOVE,
        "lists": [
            {
                "code": one["code"],
                "name": one["name"],
                "note": questions_for(one["code"]).note,
                "questions": [
                    {**asdict(question), "key": question_key(question.id)}
                    for question in questions_for(one["code"]).questions
                ],
            }
            for one in list_countries()
        ],
    }


@functools.cache
def _lists() -> Mapping[str, GroundList]:
    raw = {
        file.name.removesuffix(".json"): json.loads(file.read_text(encoding="utf-8"))
        for file in (resources.files("field.core") / "ground").iterdir()
        if file.name.endswith(".json")
    }
    lists: dict[str, GroundList] = {}
    # A list that includes another is read after it; an included one includes none itself.
    for name in sorted(raw, key=lambda one: (bool(raw[one].get("includes")), one)):
        lists[name] = read_list(raw[name], MappingProxyType(lists), where=f"{name}.json")
        if lists[name].code != name:
            raise BadList("A list's code is the name of its file.", where=f"{name}.json.code")
    return MappingProxyType(lists)


def _mapping(value: object, where: str) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise BadList("Here the list needs named values.", where=where)
    return value


def _list(value: object, where: str) -> Sequence[object]:
    if not isinstance(value, list):
        raise BadList("Here the list needs several values in square brackets.", where=where)
    return value


def _text(given: Mapping[str, object], name: str, where: str) -> str:
    value = given.get(name)
    if not isinstance(value, str) or not value.strip():
        raise BadList(f"“{name}” needs words.", where=f"{where}.{name}")
    return value


def _no_others(given: Mapping[str, object], known: frozenset[str], where: str) -> None:
    for name in given:
        if name not in known:
            raise BadList(f"“{name}” is nothing that a list of questions has.", where=f"{where}.{name}")
