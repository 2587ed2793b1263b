"""Why an answer is what it is: codes, the words for people, and the answer as data.

The words are for someone on a hill with wet hands: short, in the trade's language, each with what would cure it. The
phone has the same table in static/js/core/reasons.js; a test holds them equal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from field.core.units import round_half_up

NO = "no"
ASK = "ask"
YES = "yes"

CAUTION = "Local law and the landholder's word stand above this answer."
CAUTION_DEPTH = "Go no deeper than 30 cm and use no machine before buried pipes and cables are checked."

# Terms that follow from the methods agreed, told after the conditions.
KEEP_HAND_TOOLS = "Hand tools only: no machine."
KEEP_NO_VEHICLE = "No vehicle on the ground."


@dataclass(frozen=True, slots=True)
class Words:
    """One row of the table: `{name}` in the texts is filled in from the case."""

    code: str
    weight: str  # 'no' or 'ask'
    text: str
    cure: str


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason in full."""

    code: str
    weight: str
    text: str
    cure: str

    def as_json(self) -> dict[str, str]:
        return {"code": self.code, "weight": self.weight, "text": self.text, "cure": self.cure}


@dataclass(frozen=True, slots=True)
class Verdict:
    """An answer with all that was weighed."""

    answer: str  # 'yes', 'ask' or 'no'
    reasons: tuple[Reason, ...]  # those that say no first
    keep: tuple[str, ...]  # conditions of the leave, to be ticked
    caution: str
    leave: str | None  # id of the leave that gives the answer; None for 'no', or when it has no id
    rule: str  # the version of the rule that gave it: `may_dig.RULE`

    def as_json(self) -> dict[str, object]:
        return {
            "answer": self.answer,
            "reasons": [reason.as_json() for reason in self.reasons],
            "keep": list(self.keep),
            "caution": self.caution,
            "leave": self.leave,
            "rule": self.rule,
        }


# The order of the table is the order in which reasons are told. Several rows may share a code.
REASONS: Mapping[str, Words] = MappingProxyType(
    {
        "no-leave": Words(
            "no-leave",
            NO,
            "You have no leave for this ground.",
            "Ask the landholder. Get it in writing before you dig.",
        ),
        "not-begun": Words(
            "not-begun",
            NO,
            "The leave begins on {day}.",
            "Wait until that day, or ask the landholder for an earlier one.",
        ),
        "ended": Words("ended", NO, "The leave ended on {day}.", "Ask the landholder for a new leave."),
        "withdrawn": Words(
            "withdrawn",
            NO,
            "The landholder withdrew the leave. It is not good from {day} on.",
            "Do not dig. Talk to the landholder.",
        ),
        "outside": Words(
            "outside",
            NO,
            "You are outside the ground of the leave: {distance} from its boundary.",
            "Go back inside, or ask for leave for this ground as well.",
        ),
        "outside-hole": Words(
            "outside",
            NO,
            "You are inside the piece left out of the ground of the leave: {distance} from its edge.",
            "Go out of that piece, or ask for leave for it as well.",
        ),
        "species": Words(
            "species",
            NO,
            "The leave is for {kinds}. It does not name {kind}.",
            "Let this tree stand, or ask the landholder to add the kind.",
        ),
        "species-none": Words(
            "species",
            NO,
            "The leave has a list of kinds, and no kind is on it.",
            "Ask the landholder which kinds are meant. Write them into the leave.",
        ),
        "girth": Words(
            "girth",
            NO,
            "The girth is {girth}. The leave allows up to {limit}.",
            "Let this tree stand, or ask the landholder to allow it.",
        ),
        "used-up": Words(
            "used-up",
            NO,
            "The agreed number is used up: {allowance} agreed, {lifted} lifted.",
            "Ask the landholder for more trees.",
        ),
        "methods": Words(
            "methods",
            NO,
            "The leave is for hand tools only. You dig with a machine.",
            "Dig by hand, or ask the landholder to allow a machine.",
        ),
        "entitlement-none": Words(
            "entitlement",
            NO,
            "The person who gave this leave had no right to give it.",
            "Find out who may give leave for this ground, and ask them.",
        ),
        "consent-missing": Words(
            "consent-missing",
            NO,
            "A consent is needed here and you do not hold it: {consent}.",
            "Do not dig. Get the consent first.",
        ),
        "consent-not-begun": Words(
            "consent-missing",
            NO,
            "A consent is not good before {day}: {consent}.",
            "Wait until that day, or ask for an earlier one.",
        ),
        "consent-expired": Words(
            "consent-expired",
            NO,
            "A consent ran out on {day}: {consent}.",
            "Have it renewed before you dig. Note the new date with the consent.",
        ),
        "protected": Words(
            "protected",
            NO,
            "This ground is protected, and no consent for that is noted.",
            "Ask the office that looks after the protected area. Note its answer.",
        ),
        "spoken": Words(
            "spoken",
            ASK,
            "The leave was only spoken.",
            "Have it signed on paper, and photograph the paper.",
        ),
        "spoken-unknown": Words(
            "spoken",
            ASK,
            "Nobody noted whether this leave is in writing.",
            "Look for the paper. Note it in the leave.",
        ),
        "spoken-changed": Words(
            "spoken",
            ASK,
            "The leave was changed after it was signed, and the change is not signed.",
            "Have it signed again before you dig by what was changed.",
        ),
        "edge": Words(
            "edge",
            ASK,
            "You are close to the boundary: {distance}, on the {side}. "
            "Your position is {accuracy}, so within {margin} nearly always: you may be on either side.",
            "Find the wall, fence or mark on the ground, or go well inside.",
        ),
        "edge-unknown": Words(
            "edge",
            ASK,
            "You are close to the boundary: {distance}, on the {side}. Nobody knows how good your position is.",
            "Find the wall, fence or mark on the ground, or go well inside.",
        ),
        "no-boundary": Words(
            "no-boundary",
            ASK,
            "The boundary of this ground is not drawn, so nobody can tell whether you are on it.",
            "Walk the boundary with the landholder, and draw it.",
        ),
        "coarse-fix": Words(
            "coarse-fix",
            ASK,
            "Your position is good to {accuracy} only.",
            "Stand under open sky and wait for a better one.",
        ),
        "coarse-fix-unknown": Words(
            "coarse-fix",
            ASK,
            "Nobody knows how good this position is.",
            "Take a new one under open sky.",
        ),
        "species-untold": Words(
            "species",
            ASK,
            "The leave is for {kinds} only. The kind of this tree is not told.",
            "Say what kind it is.",
        ),
        "girth-untold": Words(
            "girth",
            ASK,
            "The leave allows a girth of up to {limit}. This tree is not measured.",
            "Measure the girth.",
        ),
        "consent-unknown": Words(
            "consent-unknown",
            ASK,
            "Nobody knows yet whether a consent is needed here: {consent}.",
            "Find out before you dig. Note the answer.",
        ),
        "protected-unknown": Words(
            "consent-unknown",
            ASK,
            "Nobody noted whether this ground is protected.",
            "Find out before you dig. Note it with the site.",
        ),
        "ground-check": Words(
            "ground-check",
            ASK,
            "You noted about this ground: {question} {answer}.",
            "Ask {ask}. When it is settled, answer the question anew.",
        ),
        "ground-check-consent": Words(
            "ground-check",
            ASK,
            "You noted about this ground: {question} {answer}.",
            "Ask {ask}. Then note the consent: {consent}.",
        ),
        "entitlement-unknown": Words(
            "entitlement",
            ASK,
            "Nobody noted whether the person who gave this leave had the right to.",
            "Ask whether they own the ground, rent it, or act for the owner. Note it in the leave.",
        ),
        "stale": Words(
            "stale",
            ASK,
            "This phone has not heard from home for {days} days. Trees may have been lifted, or the leave changed.",
            "Go where there is signal and catch up with home, or call the others.",
        ),
        "stale-never": Words(
            "stale",
            ASK,
            "This phone has not heard from home yet. Trees may have been lifted, or the leave changed.",
            "Go where there is signal and catch up with home, or call the others.",
        ),
        "stale-last": Words(
            "stale",
            ASK,
            "One tree is left, and another phone may have taken it today.",
            "Call the others, or catch up with home first.",
        ),
        "stale-uncounted": Words(
            "stale",
            ASK,
            "A number of trees is agreed, and nobody counted how many were lifted so far.",
            "Count them before you dig. Note each lift under its leave.",
        ),
        "ending": Words("ending", ASK, "The leave ends on {day}.", "Be done by then, or ask for more time."),
        "ending-today": Words(
            "ending",
            ASK,
            "Today is the last day of the leave.",
            "Be done today, or ask for more time.",
        ),
        "ending-withdrawal": Words(
            "ending",
            ASK,
            "The landholder withdrew the leave. It is not good from {day} on.",
            "Talk to the landholder before you dig.",
        ),
        "services-machine": Words(
            "services",
            ASK,
            "You dig with a machine, and buried pipes and cables are not checked here.",
            "Get the plans and have the ground searched first.",
        ),
        "services-depth": Words(
            "services",
            ASK,
            "You dig deeper than 30 cm, and buried pipes and cables are not checked here.",
            "Get the plans and have the ground searched first.",
        ),
    }
)

CONSENT_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "protected_area": "protected area",
        "tree_order": "tree order",
        "felling_licence": "felling licence",
        "monument": "monument",
        "services": "buried pipes and cables",
        "plant_health": "plant health",
        "other": "one that is not named",
    }
)
CONSENT_UNNAMED = "its kind is not noted"
ANSWER_WORDS: Mapping[str, str] = MappingProxyType({"yes": "Yes", "no": "No"})
ASK_UNNAMED = "whoever can tell"
_SMALL_WORDS = ("The", "A", "An", "Each", "Whoever")

_ORDER = {key: place for place, key in enumerate(REASONS)}
_PLACE_OF_CODE = {(words.weight, words.code): _ORDER[key] for key, words in reversed(list(REASONS.items()))}


def reason(key: str, **facts: object) -> Reason:
    """Return one reason in words.

    Args:
        key: row of `REASONS`.
        facts: what stands for each `{name}` of its text, ready to be read.
    """
    words = REASONS[key]
    return Reason(words.code, words.weight, words.text.format(**facts), words.cure.format(**facts))


def sort_reasons(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return reasons in the order of the table, those that say no first, each once."""
    once = dict.fromkeys(reasons)
    return tuple(sorted(once, key=lambda reason: _PLACE_OF_CODE[reason.weight, reason.code]))


def listed(names: Sequence[str]) -> str:
    """Return names as a person would list them: 'birch, larch and rowan'."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def cm_words(mm: float) -> str:
    """Return the size of a part of a tree as it is read off the tape: 450 becomes '45 cm', 412 '41.2 cm'."""
    whole, tenths = divmod(round_half_up(mm), 10)
    return f"{whole}.{tenths} cm" if tenths else f"{whole} cm"


def accuracy_words(accuracy_m: float) -> str:
    """Return the accuracy of a position as the screens show it: '± 5 m'."""
    return f"± {max(1, round_half_up(accuracy_m))} m"


def kind_words(kind: str) -> str:
    """Return the short name of a kind of tree for use in a sentence: 'scots-pine' becomes 'scots pine'."""
    return kind.replace("-", " ")


def consent_words(kind: str | None, name: str | None = None) -> str:
    """Return the words for a kind of consent; one of another kind goes by its own name."""
    if kind is None:
        return CONSENT_UNNAMED
    if kind == "other" and name is not None and name.strip():
        return name.strip()
    return CONSENT_WORDS.get(kind, kind.replace("_", " "))


def ask_words(ask: str | None) -> str:
    """Return whom to ask as it stands within a sentence: 'The owner, or an agent' becomes 'the owner, or an agent'."""
    words = "" if ask is None else ask.strip().removesuffix(".")
    if not words:
        return ASK_UNNAMED
    return words[0].lower() + words[1:] if words.split(" ", 1)[0] in _SMALL_WORDS else words
