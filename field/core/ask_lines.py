"""What is to be said when a cut, a wire or a root is asked about, beside the dates: one line a row, as data.

A line is said where all of its conditions hold. It weighs

- "no": what was asked is answered *not now*;
- "must": the answer is at most *only if you must*;
- "say": it is told, and changes nothing.

The conditions, each left out where it does not matter: `least` and `below` (traits that are at least so
much, or less), `starts` (traits whose words begin so), `unless` (traits whose words begin otherwise), `span` (one of
SPANS, in which the day lies), `over` (the trait that the cut's thickness is above; `over_strong` on a strong branch),
`share_over` (share of the leaves), `root_over` (thickness of the root in mm), `within` (a trait in months or years that
has not passed since the lift or the last repotting).

Texts may name traits, `{name}` (the kind), `{cut_mm}`, `{until}` (the end of the span), `{date}` (the day that
`within` ends on).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field

NO, MUST, SAY = "no", "must", "say"
CUTS = ("trim", "hard-prune", "suckers")
ASKED = ("trim", "hard-prune", "suckers", "wire", "unwire", "defoliate", "repot")
PRACTICE = "common practice, no source"

# Parts of the year in which a line holds: from an event with an offset to another; both days are inside.
# Sap: "January to May" of the trade's calendar, that is from 75 days before the middle of March on (common practice).
SPANS: Mapping[str, tuple[tuple[str, int], tuple[str, int]]] = {
    "sap": (("bud_swell", -75), ("flush_hardened", 13)),
    "swelling": (("bud_swell", -7), ("bud_break", 14)),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line; see the head of this module."""

    code: str
    works: tuple[str, ...]
    weight: str
    text: str
    source: str
    least: Mapping[str, float] = field(default_factory=dict)
    below: Mapping[str, float] = field(default_factory=dict)
    starts: Mapping[str, str] = field(default_factory=dict)
    unless: Mapping[str, str] = field(default_factory=dict)
    span: str | None = None
    over: str | None = None
    over_strong: str | None = None
    share_over: float | None = None
    root_over: int | None = None
    within: str | None = None
    since: str = "lift"


NIEMISTO = "Niemistö, Kilpeläinen and Heräjärvi 2019, Silva Fennica 53:10052 [seen: abstract]"
WATSON = "Watson and Himelick 1982, J. Arboric. 8:305 [seen: abstract]"
RHS_BLEED = "Royal Horticultural Society pruning guide [seen]; " + PRACTICE
BARE_WOOD = "pruning pages: conifers other than yew do not regrow from bare wood [seen]"
DEFOLIATED = "Varnagirytė-Kabašinskienė 2015, young silver birch defoliated in part [seen: abstract]"

LINES: tuple[Line, ...] = (
    Line(
        "too-young", ("trim", "suckers"), NO,
        "In its first time after the lift every leaf builds roots: nothing green comes off before {date}.",
        PRACTICE, within="first_prune_min_months_after_lift",
    ),
    Line(
        "too-young", ("hard-prune", "wire", "defoliate"), NO,
        "It is still finding its roots: by the card, styling waits until {date}.",
        PRACTICE, within="first_styling_years_min",
    ),
    Line(
        "roots-rest", ("repot",), MUST,
        "Its roots have not long been in their mix: by the card they are left alone until {date}, unless the box is "
        "full or the mix has gone sour.",
        PRACTICE, within="repot_years_between", since="repot",
    ),
    Line(
        "sap", CUTS, NO,
        "{name} bleeds from cuts now: sap rises from late winter until the first flush has hardened, about {until} "
        "here. It is more a mark of bad timing than a proven harm; what can wait, waits.",
        RHS_BLEED, least={"bleeding_0_3": 2}, span="sap",
    ),
    Line(
        "sap", CUTS, SAY,
        "{name} may weep from cuts now, until the first flush has hardened, about {until} here.",
        PRACTICE, least={"bleeding_0_3": 1}, below={"bleeding_0_3": 2}, span="sap",
    ),
    Line(
        "thick-cut", CUTS, MUST,
        "A cut of {cut_mm} mm is thick for {name}: those below {cut_below_mm} mm closed, on a strong branch those "
        "below {cut_below_strong_mm} mm; larger ones rot in and the limb is at risk.",
        NIEMISTO, over="cut_below_mm", over_strong="cut_below_strong_mm",
    ),
    Line(
        "gives-up-limbs", ("hard-prune",), MUST,
        "{name} gives up limbs after heavy cuts: avoid the chop where a smaller cut in another year does as well.",
        PRACTICE, least={"dieback_0_3": 3},
    ),
    Line(
        "several-branches", ("trim", "hard-prune"), SAY,
        "Keep several primary branches: {name} may give one up without warning, and a tree that hangs on it is lost "
        "with it.",
        PRACTICE, least={"dieback_0_3": 3},
    ),
    Line(
        "bare-wood", ("hard-prune", "trim"), MUST,
        "{name} does not bud from bare old wood: leave green on every branch that is to live.",
        BARE_WOOD, starts={"back_buds_on_old_wood": "no"},
    ),
    Line(
        "bare-wood", ("hard-prune", "trim"), SAY,
        "{name} buds weakly from old wood: cut back to a shoot or bud that is there, not to where one is hoped for.",
        PRACTICE, starts={"back_buds_on_old_wood": "weak"},
    ),
    Line(
        "suckers-first", ("suckers",), SAY,
        "Take suckers while they are soft, close to where they spring: a tree feeds them and lets the crown above go.",
        PRACTICE,
    ),
    Line(
        "swelling-buds", ("wire",), MUST,
        "The buds swell: they rub off under wire and hands, until about {until} here.",
        PRACTICE, span="swelling",
    ),
    Line(
        "unwire", ("unwire",), SAY,
        "Cut wire off turn by turn, never unwind it: unwinding breaks what the wire has set.",
        PRACTICE,
    ),
    Line(
        "all-leaves", ("defoliate",), MUST,
        "Taking more than half of the leaves of {name} is not tried well: a partial loss was made good with up to 30 % "
        "less growth; take part of them, on a strong tree only.",
        DEFOLIATED, least={"dieback_0_3": 3}, share_over=0.5,
    ),
    Line(
        "thick-root", ("repot",), SAY,
        "Take a thick root back to a smaller side root, not to a stump: new roots come mainly from cut ends. Do it "
        "over several repottings rather than in one.",
        WATSON, root_over=15,
    ),
    Line(
        "thirsty-mix", ("repot",), SAY,
        "{name} is thirsty: give it a mix with 40 to 50 % of a water-holding part that still drains freely.",
        PRACTICE, least={"moisture_1_5": 5},
    ),
    Line(
        "own-soil", ("repot",), SAY,
        "Keep a good part of its own soil about the roots: the fungi that feed it live there.",
        PRACTICE, starts={"keep_native_soil_core": "yes"},
    ),
    Line(
        "roots-wet", ("repot",), SAY,
        "Keep the roots wet and out of sun and wind from the first minute to the last.",
        PRACTICE,
    ),
    Line(
        "health", ("trim", "hard-prune", "suckers", "repot"), SAY,
        "Look it over for what {name} is prone to: {plant_health_check}.",
        PRACTICE, unless={"plant_health_check": "none|look"},
    ),
    Line(
        "clean-tools", ("trim", "hard-prune", "suckers", "repot"), SAY,
        "Clean blades before and after each tree; cut away from your hand, and mind the saw in wet bark.",
        PRACTICE,
    ),
)  # fmt: skip


def lines_for_pack() -> list[dict[str, object]]:
    """Return the lines as plain JSON, without what a line leaves out: what the phone answers from."""
    return [
        {
            name: value
            for name, value in asdict(line).items()
            if value not in (None, {}) and (name, value) != ("since", "lift")
        }
        for line in LINES
    ]
