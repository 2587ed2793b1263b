"""What a species card is: its traits, events, windows and care steps, as records that cannot change.

A card file (`cards/<kind>.json`, or a card the person made) is read by `field.core.read_card`; this module only
says what comes out. Every value and every edge keeps the words of its source, because a date without its source is
only an opinion.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# What a window can be for; the words of the command `windows`.
WORKS = (
    "prepare",
    "lift",
    "repot",
    "trim",
    "hard-prune",
    "wire",
    "unwire",
    "defoliate",
    "feed",
    "shelter",
    "suckers",
)

# What a task can be: the works, and the small things of aftercare that no window rules.
TASK_WORKS = (*WORKS, "box", "water", "look", "record", "clean")

# What a tree or the weather does on a date, and how it is said in a sentence.
EVENT_WORDS: Mapping[str, str] = {
    "bud_swell": "bud swell",
    "bud_break": "bud break",
    "flush_hardened": "first flush hardened",
    "leaf_colour": "leaf colour",
    "leaf_fall": "leaf fall",
    "frost": "first frost",
}


@dataclass(frozen=True, slots=True)
class Trait:
    """One value of a card with where it is from."""

    value: float | bool | str
    source: str
    note: str | None
    other: str | None = None  # what another source says against it, with that source


@dataclass(frozen=True, slots=True)
class Edge:
    """One end of a window, or the usual date of an event, in the reference climate."""

    event: str | None  # None: a calendar date
    days: int  # after the event; negative before; 0 for a calendar date
    month: int  # of a calendar date; 0 where `event` is set
    day: int  # 29 February means the last day of that month
    moves: str  # "later", "earlier" or "no": how height and a higher latitude move a calendar date


@dataclass(frozen=True, slots=True)
class Rule:
    """One window of a kind of work; both edges inclusive."""

    opens: Edge
    closes: Edge
    hard_close: bool
    why_opens: str
    why_closes: str
    source: str
    hard_open: bool = False
    other: str | None = None  # where habit and the published word differ: what the other side says, with its source


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the care plan: from it come dated tasks."""

    step: str
    work: str
    # mark, taken-in, lift, repot, hard-prune, defoliate, wire, event:<kind>, calendar:<MM-DD> or
    # window:<work>:<opens or closes>
    anchor: str
    from_days: int
    by_days: int
    from_trait: str | None  # a trait in weeks, months or years, added to from_days
    by_trait: str | None
    every_days: int | None
    by_pace: bool  # of wire: repeated as far apart as the kind grows wire in, instead of every so many days
    until_days: int | None  # after the anchor; the last repetition begins on or before it
    between: tuple[Edge, Edge] | None  # only repetitions beginning in this part of the year
    first_season: int  # 0: the first one on or after the lift
    last_season: int | None
    in_window: bool  # moves to the next opening of the work's window
    stem_years: bool  # waits at least one year for each 25 mm of stem
    satisfied_by_event: str | None
    satisfied_by_work: tuple[str, ...]
    lapses_days: int | None  # how long after its last date it still stands; 0: not a day; None: see field.core.tasks
    when: Mapping[str, object]
    text: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Card:
    """All that is known of a kind of tree for planning its care."""

    kind: str
    name: str
    latin: str
    stands_in: bool  # True: a cautious card's values, because this kind has no card of its own yet
    traits: Mapping[str, Trait]
    events: Mapping[str, Edge]
    event_sources: Mapping[str, str]
    windows: Mapping[str, tuple[Rule, ...]]
    never: Mapping[str, str]  # work -> why the card does not allow it
    care: tuple[Step, ...]
    never_sources: Mapping[str, str] = field(default_factory=dict)

    def number(self, trait: str) -> float:
        """Return a trait that must be a number; the reader has made sure that it is there."""
        value = self.traits[trait].value
        if isinstance(value, (bool, str)):
            raise TypeError(f"{self.kind}: {trait} is no number")
        return value
