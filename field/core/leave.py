"""Leave slips: what a landholder agreed, and what else binds the ground, small enough to go up the hill.

`compile_slips` makes them from the log's records; `read_leave` and `read_site` check them where they are used. The
phone has the same in static/js/core/leave.js.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from field.core.area import Area, read_area
from field.core.dates import find_date
from field.core.errors import BadInput
from field.core.ground_questions import ANSWERS, SERVICES, find_heeded, find_protected
from field.core.reasons import consent_words
from field.core.signing import changed_terms
from field.core.units import read_count, read_measure

SIGNED = "signed"
SPOKEN = "spoken"
ASKED = "asked"  # no answer yet: no leave
HELD = "held"
NEEDED = "needed"
NOT_NEEDED = "not_needed"
UNKNOWN = "unknown"
MACHINE = "machine"
VEHICLE = "vehicle"

# What the phone takes for a blank as well: U+FEFF stands at the head of pasted text.
LONGEST_KIND = 1000
# What stands before the last run is asked first: else each blank of a long run inside would be begun with.
_BLANKS = re.compile(r"\A[\s\ufeff]+|(?<![\s\ufeff])[\s\ufeff]+\Z")


@dataclass(frozen=True, slots=True)
class Leave:
    """One checked leave slip; None means not agreed or not known."""

    leave: str | None  # id of the record
    area: Area | None  # None: the whole site
    starts_on: date | None
    ends_on: date | None
    withdrawn_on: date | None
    species: tuple[str, ...] | None  # None: any kind; empty: a list with nothing on it
    max_girth_mm: float | None
    allowance: int | None
    lifted: int | None
    form: str | None  # 'signed', 'spoken'; None: nobody noted which
    entitled: bool | None
    conditions: tuple[str, ...]
    methods: tuple[str, ...] | None  # out of hand_tools, machine, vehicle; None: not agreed
    changed: bool  # after it was signed, and the change is not signed


@dataclass(frozen=True, slots=True)
class Consent:
    """One checked consent."""

    kind: str | None
    state: str  # held, needed, not_needed or unknown
    until: date | None  # last day it is good; None: no end
    starts_on: date | None  # first day it is good; None: no beginning
    name: str | None  # what it is, where its kind is other


@dataclass(frozen=True, slots=True)
class Check:
    """One answer about the ground after which more has to be done, and nothing is noted."""

    question: str  # its words
    answer: str  # yes or no
    ask: str | None  # whom
    consent: str | None  # words for the consent that it leads to; None: to none


@dataclass(frozen=True, slots=True)
class Site:
    """What binds the ground whoever gave leave."""

    boundary: Area | None  # None: not drawn
    protected: bool | None
    services_checked: bool
    consents: tuple[Consent, ...]
    checks: tuple[Check, ...]


def compile_slips(
    site: Mapping[str, object],
    consents: Iterable[Mapping[str, object]],
    leaves: Iterable[Mapping[str, object]],
    lifts: Iterable[Mapping[str, object]],
    landholders: Iterable[Mapping[str, object]] | None = None,
    questions: Iterable[Mapping[str, object]] = (),
    checks: Iterable[Mapping[str, object]] = (),
    signings: Iterable[Mapping[str, object]] = (),
) -> dict[str, object]:
    """Return the slips of one site as plain JSON, the shape that `may_dig` takes.

    Args:
        site: merged fields of the site with its "id".
        consents, leaves: merged fields with "id"; those of other sites are passed over.
        lifts: merged fields of all lifts; each counts for the leave it names, wherever it was.
        landholders: merged fields with "id", to turn each leave's landholder into a name; None: the leaves carry
            names already.
        questions: those of the site's country, as they stand in the pack; none where no country is chosen.
        checks: ground_check records; two of one question where two people did not see each other's answer.
        signings: letters as they were signed, only those that fit their seal.
    All without deleted ones, which the caller leaves out.
    Returns: {"zone", "site": {...}, "leaves": [...]}; leaves by their first day, consents by kind, then by id, so
        that the same records make the same slips in any order. A leave that was asked for without an answer is none.
        "checks" of the site, answers that want more done, and "changed" of a leave are there only where they say it.
    """
    questions, checks, signings = list(questions), list(checks), list(signings)
    lifted: dict[object, int] = {}
    for lift in lifts:
        lifted[lift.get("leave")] = lifted.get(lift.get("leave"), 0) + 1
    names = None if landholders is None else {holder["id"]: holder.get("name") for holder in landholders}
    own_consents = [consent for consent in consents if consent.get("site") == site["id"]]
    own_leaves = [leave for leave in leaves if leave.get("site") == site["id"] and leave.get("form") != ASKED]
    heeded = [_check_slip(one) for one in find_heeded(site, questions, checks, own_consents)]
    own_consents.sort(key=lambda consent: (str(consent.get("kind") or ""), str(consent["id"])))
    own_leaves.sort(key=lambda leave: (str(leave.get("starts_on") or ""), str(leave["id"])))
    return {
        "zone": site.get("zone"),
        "site": {
            "boundary": site.get("boundary"),
            "protected": find_protected(site, questions, checks),
            "services_checked": site.get("services_checked_on") is not None,
            "consents": [
                {name: consent.get(name) for name in ("kind", "name", "state", "starts_on", "until")}
                for consent in own_consents
            ],
            **({"checks": heeded} if heeded else {}),
        },
        "leaves": [
            {
                "leave": leave["id"],
                "landholder": leave.get("landholder") if names is None else names.get(leave.get("landholder")),
                "area": leave.get("area"),
                "starts_on": leave.get("starts_on"),
                "ends_on": leave.get("ends_on"),
                "withdrawn_on": leave.get("withdrawn_on"),
                "species": leave.get("species"),
                "max_girth_mm": leave.get("max_girth_mm"),
                "allowance": leave.get("allowance"),
                "lifted": lifted.get(leave["id"], 0),
                "methods": leave.get("methods"),
                "form": leave.get("form"),
                "entitled": leave.get("entitled"),
                "conditions": [] if leave.get("conditions") is None else leave.get("conditions"),
                **({"form": SPOKEN, "changed": True} if _is_changed(leave, site, signings) else {}),
            }
            for leave in own_leaves
        ],
    }


def _check_slip(question: Mapping[str, object]) -> dict[str, object]:
    kind, name = question["consent"], question["consent_name"]
    # For buried services no consent is asked: it is their owners who answer.
    leads = isinstance(kind, str) and kind != SERVICES
    return {
        "question": question["question"],
        "answer": question["heed"],
        "ask": question["ask"],
        "consent": consent_words(str(kind), name if isinstance(name, str) else None) if leads else None,
    }


def _is_changed(
    leave: Mapping[str, object], site: Mapping[str, object], signings: Iterable[Mapping[str, object]]
) -> bool:
    """Whether a leave is no more what was signed last."""
    own = [one for one in signings if one.get("leave") == leave["id"]]
    if not own:
        return False
    newest = max(own, key=lambda one: (_whole(one.get("version")), str(one.get("signed_at") or "")))
    letter = newest.get("letter")
    terms = letter.get("terms") if isinstance(letter, Mapping) else None
    if leave.get("form") == SIGNED and isinstance(terms, Mapping):
        # Whoever draws the ground anew is asked whether the same is meant: the form of the leave is what was answered.
        site = {"boundary": terms.get("boundary")}
    return bool(changed_terms(letter, leave, site))


def _whole(value: object) -> int:
    return value if isinstance(value, int) and not isinstance(value, bool) else 0


def read_leave(slip: object, where: str) -> Leave:
    """Return a checked leave slip.

    Args:
        slip: one of "leaves" as `compile_slips` makes them; what is missing is not agreed, or not known.
        where: its place in the input.
    Raises: BadInput with the place of the fault.
    """
    if not isinstance(slip, Mapping):
        raise BadInput("A leave is not a set of named facts.", "Give each leave as an object.", where)
    name = slip.get("leave")
    if name is not None and not isinstance(name, str):
        raise BadInput("The id of a leave is not text.", None, f"{where}.leave")
    area = slip.get("area")
    allowance = read_count(slip.get("allowance"), "The agreed number of trees", f"{where}.allowance")
    lifted = read_count(slip.get("lifted"), "The number of trees lifted", f"{where}.lifted")
    return Leave(
        leave=name,
        area=None if area is None else read_area(area, f"{where}.area"),
        starts_on=find_date(slip.get("starts_on"), "The first day of the leave", f"{where}.starts_on"),
        ends_on=find_date(slip.get("ends_on"), "The last day of the leave", f"{where}.ends_on"),
        withdrawn_on=find_date(slip.get("withdrawn_on"), "The day of withdrawal", f"{where}.withdrawn_on"),
        species=_read_species(slip.get("species"), f"{where}.species"),
        max_girth_mm=read_measure(slip.get("max_girth_mm"), "The greatest girth", f"{where}.max_girth_mm"),
        allowance=allowance,
        lifted=lifted,
        form=_read_form(slip.get("form"), f"{where}.form"),
        entitled=read_flag(slip.get("entitled"), "Whether the leave was given by right", f"{where}.entitled"),
        conditions=_read_texts(slip.get("conditions"), "The conditions", f"{where}.conditions"),
        methods=_read_methods(slip.get("methods"), f"{where}.methods"),
        changed=read_flag(slip.get("changed"), "Whether the leave was changed since", f"{where}.changed") is True,
    )


def read_site(facts: object, where: str) -> Site:
    """Return the checked facts of a site.

    Args:
        facts: "site" as `compile_slips` makes it; each fact may be missing.
        where: its place in the input.
    Raises: BadInput with the place of the fault.
    """
    if not isinstance(facts, Mapping):
        raise BadInput("The site is missing.", "Give the facts of the site: its boundary and consents.", where)
    boundary = facts.get("boundary")
    consents = facts.get("consents")
    if consents is None:
        consents = []
    if not isinstance(consents, (list, tuple)):
        raise BadInput("The consents are not a list.", _NONE, f"{where}.consents")
    checked = read_flag(facts.get("services_checked"), "Whether services are checked", f"{where}.services_checked")
    checks = facts.get("checks")
    if checks is None:
        checks = []
    if not isinstance(checks, (list, tuple)):
        raise BadInput("The answers about the ground are not a list.", _NONE, f"{where}.checks")
    return Site(
        boundary=None if boundary is None else read_area(boundary, f"{where}.boundary"),
        protected=read_flag(facts.get("protected"), "Whether the ground is protected", f"{where}.protected"),
        services_checked=checked is True,
        consents=tuple(_read_consent(consent, f"{where}.consents[{i}]") for i, consent in enumerate(consents)),
        checks=tuple(_read_check(check, f"{where}.checks[{i}]") for i, check in enumerate(checks)),
    )


def read_flag(value: object, name: str, where: str) -> bool | None:
    """Return true, false, or None where it is not known; BadInput for anything else."""
    if value is None or isinstance(value, bool):
        return value
    raise BadInput(f"{name} is neither yes nor no.", "Give true or false, or leave it empty.", where)


def plain_kind(kind: str) -> str:
    """Return the name of a kind as it is compared: no letter case, no blanks around, an accent however it was typed."""
    plain = _BLANKS.sub("", kind).lower()
    # To put thousands of accents in order takes minutes, and a text that long is the name of no kind.
    return unicodedata.normalize("NFC", plain) if len(plain) <= LONGEST_KIND else plain


def _read_consent(value: object, where: str) -> Consent:
    if not isinstance(value, Mapping):
        raise BadInput("A consent is not a set of named facts.", "Give each consent as an object.", where)
    kind = value.get("kind")
    if kind is not None and not isinstance(kind, str):
        raise BadInput("The kind of a consent is not text.", None, f"{where}.kind")
    state = UNKNOWN if value.get("state") is None else value["state"]
    if state not in (HELD, NEEDED, NOT_NEEDED, UNKNOWN):
        raise BadInput("The state of a consent is none that is known.", _STATES, f"{where}.state")
    name = value.get("name")
    if name is not None and not isinstance(name, str):
        raise BadInput("The name of a consent is not text.", None, f"{where}.name")
    return Consent(
        kind,
        state,
        until=find_date(value.get("until"), "The last day of a consent", f"{where}.until"),
        starts_on=find_date(value.get("starts_on"), "The first day of a consent", f"{where}.starts_on"),
        name=name,
    )


def _read_check(value: object, where: str) -> Check:
    if not isinstance(value, Mapping):
        raise BadInput("An answer about the ground is not a set of named facts.", "Give an object.", where)
    question, answer, ask, consent = (value.get(name) for name in ("question", "answer", "ask", "consent"))
    if not isinstance(question, str):
        raise BadInput("The question about the ground is not text.", "Give its words.", f"{where}.question")
    if not isinstance(answer, str) or answer not in ANSWERS:
        raise BadInput("An answer about the ground is neither yes nor no.", "Give yes or no.", f"{where}.answer")
    if ask is not None and not isinstance(ask, str):
        raise BadInput("Whom to ask about the ground is not text.", None, f"{where}.ask")
    if consent is not None and not isinstance(consent, str):
        raise BadInput("The consent about the ground is not text.", None, f"{where}.consent")
    return Check(question, answer, ask, consent)


_NONE = "Give a list; empty if there are none."
_STATES = "Give held, needed, not_needed or unknown."


def _read_form(form: object, where: str) -> str | None:
    if form is None or (isinstance(form, str) and form in (SIGNED, SPOKEN)):
        return form
    raise BadInput("The form of a leave is neither signed nor spoken.", "Give signed or spoken.", where)


def _read_species(value: object, where: str) -> tuple[str, ...] | None:
    if value is None:
        return None
    kinds = _read_texts(value, "The kinds of the leave", where)
    return tuple(dict.fromkeys(plain for kind in kinds if (plain := plain_kind(kind))))


def _read_methods(value: object, where: str) -> tuple[str, ...] | None:
    """Return the methods agreed; one that only a newer app knows is passed over, not refused."""
    if value is None:
        return None
    return tuple(dict.fromkeys(plain_kind(method) for method in _read_texts(value, "The methods of the leave", where)))


def _read_texts(value: object, name: str, where: str) -> tuple[str, ...]:
    if value is None:
        return ()
    if not isinstance(value, (list, tuple)) or not all(isinstance(text, str) for text in value):
        raise BadInput(f"{name} are not a list of texts.", "Give a list of texts, or leave it empty.", where)
    return tuple(value)
