"""May I dig here, this tree, today? The rule, with every reason in words.

The answer is the collector's own evidence and is saved with the lift. It never promises more than is recorded: what
is not known leads to 'ask', never to 'yes'. The phone has the same in static/js/core/may_dig.js.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from field.core import area as areas
from field.core.area import Area
from field.core.dates import days_between, local_date, read_date, read_instant, read_zone, show_date
from field.core.errors import BadInput
from field.core.geodesy import NEAR_M, read_position
from field.core.ground_questions import PROTECTED_AREA
from field.core.leave import (
    HELD,
    MACHINE,
    NEEDED,
    SPOKEN,
    UNKNOWN,
    VEHICLE,
    Leave,
    Site,
    plain_kind,
    read_flag,
    read_leave,
    read_site,
)
from field.core.reasons import (
    ANSWER_WORDS,
    ASK,
    CAUTION,
    CAUTION_DEPTH,
    KEEP_HAND_TOOLS,
    KEEP_NO_VEHICLE,
    NO,
    YES,
    Reason,
    Verdict,
    accuracy_words,
    ask_words,
    cm_words,
    consent_words,
    kind_words,
    listed,
    reason,
    sort_reasons,
)
from field.core.units import read_count, read_measure, round_half_up, show_distance

# The version of the rule, kept with every answer: a date and a running number. DEVELOPERS.md says when to raise it.
RULE = "2026-11-26.3"

# 95 % radius over 68 % radius of a circular normal error: sqrt(ln 0.05 / ln 0.32) = 1.6214.
MARGIN_PER_ACCURACY = 1.62
LEAST_MARGIN_M = 1.0  # no boundary is known, or drawn, better than this
COARSE_FIX_M = 100.0
DEEP_MM = 300.0
STALE_DAYS = 14
ENDING_DAYS = 3
FAR_WORDS = "more than 20 km"


@dataclass(frozen=True, slots=True)
class Case:
    """One checked question."""

    lat: float
    lon: float
    accuracy_m: float | None  # 68 %; None: not known
    on: date  # in the zone of the site
    species: str | None
    girth_mm: float | None
    machine: bool | None
    depth_mm: float | None
    synced_days_ago: float | None  # None: never
    paired_phones: int | None
    site: Site
    leaves: tuple[Leave, ...]

    @property
    def margin_m(self) -> float:
        """How far the position may be off: metres, 95 %."""
        return max(LEAST_MARGIN_M, MARGIN_PER_ACCURACY * (self.accuracy_m or 0.0))


def may_dig(case: object) -> dict[str, object]:
    """Return whether a tree may be dug out here today, with every reason.

    Args:
        case: {"here": {"lat", "lon", "accuracy_m"}, "on": date or "now": instant with "zone", "species", "girth_mm",
            "machine", "depth_mm", "synced_days_ago", "paired_phones", "site", "leaves"}; "site" and "leaves" as
            `leave.compile_slips` makes them. Position, day, site and leaves must be there; what else is missing
            is not known. With both "on" and "now", the date counts.
    Returns: {"answer": "yes", "ask" or "no", "reasons": [{"code", "weight", "text", "cure"}], "keep": conditions of the
        leave and what follows from its methods, "caution": always a sentence, "leave": id of the leave that gives the
        answer or None, "rule": the version of this rule}.
    Raises: BadInput if something needed is missing or something given is nonsense; `where` names the place.
    """
    return decide(read_case(case)).as_json()


def read_case(case: object) -> Case:
    """Return a checked question; raises and shape as `may_dig`."""
    if not isinstance(case, Mapping):
        raise BadInput(
            "The question is not a set of named facts.", "Give an object with here, site and leaves.", "case"
        )
    here = case.get("here")
    if not isinstance(here, Mapping):
        raise BadInput("The position is missing.", "Take a position first.", "here")
    lat, lon = read_position(here.get("lat"), here.get("lon"), "here")
    species = case.get("species")
    if species is not None and not isinstance(species, str):
        raise BadInput("The kind of tree is not text.", "Give the short name of the kind.", "species")
    leaves = case.get("leaves")
    if not isinstance(leaves, (list, tuple)):
        raise BadInput("The list of leaves is missing.", "Give a list; empty if there are none.", "leaves")
    return Case(
        lat=lat,
        lon=lon,
        accuracy_m=read_measure(here.get("accuracy_m"), "The accuracy of the position", "here.accuracy_m"),
        on=_read_day(case),
        species=plain_kind(species) or None if species is not None else None,
        girth_mm=read_measure(case.get("girth_mm"), "The girth", "girth_mm"),
        machine=read_flag(case.get("machine"), "Whether a machine digs", "machine"),
        depth_mm=read_measure(case.get("depth_mm"), "The depth", "depth_mm"),
        synced_days_ago=read_measure(
            case.get("synced_days_ago"), "The number of days since this phone heard from home", "synced_days_ago"
        ),
        paired_phones=read_count(case.get("paired_phones"), "The number of phones", "paired_phones"),
        site=read_site(case.get("site"), "site"),
        leaves=tuple(read_leave(slip, f"leaves[{i}]") for i, slip in enumerate(leaves)),
    )


def decide(case: Case) -> Verdict:
    """Return the verdict on a checked question."""
    everywhere = [
        *_fix_reasons(case),
        *_consent_reasons(case),
        *_check_reasons(case),
        *_news_reasons(case),
        *_services_reasons(case),
    ]
    caution = CAUTION
    if not case.site.services_checked and (case.depth_mm is None or case.machine is None):
        caution = f"{CAUTION} {CAUTION_DEPTH}"
    if not case.leaves:
        return Verdict(NO, sort_reasons([reason("no-leave"), *everywhere]), (), caution, None, RULE)
    told: list[Reason] = []
    best: tuple[int, Leave, list[Reason]] | None = None
    for leave in case.leaves:
        found = [*_leave_reasons(leave, case), *everywhere]
        told += found
        if any(one.weight == NO for one in found):
            continue
        # Of several leaves that all ask, the one with the fewest questions is the best; the first of equals.
        if best is None or len(found) < best[0]:
            best = (len(found), leave, found)
    if best is None:
        return Verdict(NO, sort_reasons(told), (), caution, None, RULE)
    open_questions, leave, found = best
    return Verdict(ASK if open_questions else YES, sort_reasons(found), _keep(leave), caution, leave.leave, RULE)


def _keep(leave: Leave) -> tuple[str, ...]:
    """Return the terms to tick: the conditions, then what the methods agreed leave out."""
    if leave.methods is None:
        return leave.conditions
    lines = [KEEP_HAND_TOOLS] * (MACHINE not in leave.methods) + [KEEP_NO_VEHICLE] * (VEHICLE not in leave.methods)
    return (*leave.conditions, *(line for line in lines if line not in leave.conditions))


def _read_day(case: Mapping[str, object]) -> date:
    zone = None if case.get("zone") is None else read_zone(case["zone"])
    if case.get("on") is not None:
        return read_date(case["on"], "The day", "on")
    if case.get("now") is None:
        raise BadInput("The day is missing.", "Give the day, or the moment and the zone.", "on")
    instant = read_instant(case["now"], "The moment", "now")
    return local_date(instant, read_zone(None) if zone is None else zone)


# --- what holds whoever gave leave ---------------------------------------------------------------------------------


def _fix_reasons(case: Case) -> list[Reason]:
    if case.accuracy_m is None:
        return [reason("coarse-fix-unknown")]
    if case.accuracy_m > COARSE_FIX_M:
        return [reason("coarse-fix", accuracy=show_distance(case.accuracy_m))]
    return []


def _consent_reasons(case: Case) -> list[Reason]:
    found = []
    for consent in case.site.consents:
        words = consent_words(consent.kind, consent.name)
        if consent.state == NEEDED:
            found.append(reason("consent-missing", consent=words))
        elif consent.state == UNKNOWN:
            found.append(reason("consent-unknown", consent=words))
        elif consent.state == HELD:
            if consent.starts_on is not None and case.on < consent.starts_on:
                found.append(reason("consent-not-begun", consent=words, day=show_date(consent.starts_on)))
            if consent.until is not None and consent.until < case.on:
                found.append(reason("consent-expired", consent=words, day=show_date(consent.until)))
    if all(consent.kind != PROTECTED_AREA for consent in case.site.consents):
        if case.site.protected is None:
            found.append(reason("protected-unknown"))
        elif case.site.protected:
            found.append(reason("protected"))
    return found


def _check_reasons(case: Case) -> list[Reason]:
    found = []
    for check in case.site.checks:
        told = {"question": check.question, "answer": ANSWER_WORDS[check.answer], "ask": ask_words(check.ask)}
        if check.consent is None:
            found.append(reason("ground-check", **told))
        else:
            found.append(reason("ground-check-consent", **told, consent=check.consent))
    return found


def _news_reasons(case: Case) -> list[Reason]:
    if case.synced_days_ago is None:
        return [reason("stale-never")]
    if case.synced_days_ago > STALE_DAYS:
        return [reason("stale", days=round_half_up(case.synced_days_ago))]
    return []


def _services_reasons(case: Case) -> list[Reason]:
    if case.site.services_checked:
        return []
    if case.machine:
        return [reason("services-machine")]
    # A depth that is not told is no depth over the limit; the caution line then names the limit.
    if case.depth_mm is not None and case.depth_mm > DEEP_MM:
        return [reason("services-depth")]
    return []


# --- what one leave says -------------------------------------------------------------------------------------------


def _leave_reasons(leave: Leave, case: Case) -> list[Reason]:
    return [
        *_day_reasons(leave, case.on),
        *_ground_reasons(leave.area if leave.area is not None else case.site.boundary, case),
        *_tree_reasons(leave, case),
        *_count_reasons(leave, case),
        *_method_reasons(leave, case),
        *_form_reasons(leave),
    ]


def _day_reasons(leave: Leave, on: date) -> list[Reason]:
    found = []
    if leave.starts_on is not None and on < leave.starts_on:
        found.append(reason("not-begun", day=show_date(leave.starts_on)))
    has_ended = leave.ends_on is not None and leave.ends_on < on
    is_withdrawn = leave.withdrawn_on is not None and leave.withdrawn_on <= on
    if has_ended and leave.ends_on is not None:
        found.append(reason("ended", day=show_date(leave.ends_on)))
    if is_withdrawn and leave.withdrawn_on is not None:
        found.append(reason("withdrawn", day=show_date(leave.withdrawn_on)))
    if has_ended or is_withdrawn:
        return found
    ends_soon = leave.ends_on is not None and days_between(on, leave.ends_on) <= ENDING_DAYS
    falls_soon = leave.withdrawn_on is not None and days_between(on, leave.withdrawn_on) <= ENDING_DAYS
    if falls_soon and leave.withdrawn_on is not None and (leave.ends_on is None or leave.withdrawn_on <= leave.ends_on):
        found.append(reason("ending-withdrawal", day=show_date(leave.withdrawn_on)))
    elif ends_soon and leave.ends_on is not None:
        found.append(reason("ending-today") if leave.ends_on == on else reason("ending", day=show_date(leave.ends_on)))
    return found


def _ground_reasons(ground: Area | None, case: Case) -> list[Reason]:
    if ground is None:
        return [reason("no-boundary")]
    where = areas.covers(ground, case.lat, case.lon)
    away_m = areas.boundary_distance_m(ground, case.lat, case.lon)
    if away_m <= case.margin_m:
        side = "line itself" if where == areas.ON_LINE else where
        near = {"distance": show_distance(away_m), "side": side}
        if case.accuracy_m is None:
            return [reason("edge-unknown", **near)]
        return [
            reason("edge", **near, accuracy=accuracy_words(case.accuracy_m), margin=show_distance(case.margin_m)),
        ]
    if where != areas.OUTSIDE:
        return []
    if areas.in_hole(ground, case.lat, case.lon):
        return [reason("outside-hole", distance=show_distance(away_m))]
    # The phone's formula is true up to here, and nobody walks farther to get back in.
    return [reason("outside", distance=FAR_WORDS if away_m > NEAR_M else show_distance(away_m))]


def _tree_reasons(leave: Leave, case: Case) -> list[Reason]:
    found = []
    if leave.species is not None:
        if not leave.species:
            found.append(reason("species-none"))
        else:
            kinds = listed([kind_words(kind) for kind in leave.species])
            if case.species is None:
                found.append(reason("species-untold", kinds=kinds))
            elif case.species not in leave.species:
                found.append(reason("species", kinds=kinds, kind=kind_words(case.species)))
    if leave.max_girth_mm is not None:
        limit = cm_words(leave.max_girth_mm)
        if case.girth_mm is None:
            found.append(reason("girth-untold", limit=limit))
        elif case.girth_mm > leave.max_girth_mm:
            found.append(reason("girth", girth=cm_words(case.girth_mm), limit=limit))
    return found


def _count_reasons(leave: Leave, case: Case) -> list[Reason]:
    if leave.allowance is None:
        return []
    if leave.lifted is None and leave.allowance > 0:
        return [reason("stale-uncounted")]
    lifted = leave.lifted or 0  # where none is agreed, none can be left
    left = leave.allowance - lifted
    if left <= 0:
        return [reason("used-up", allowance=leave.allowance, lifted=lifted)]
    synced = case.synced_days_ago
    # Longer silence is told by `_news_reasons`, once for all leaves.
    if left == 1 and (case.paired_phones is None or case.paired_phones > 1) and synced is not None and synced >= 1:
        return [reason("stale-last")]
    return []


def _method_reasons(leave: Leave, case: Case) -> list[Reason]:
    if leave.methods is None or MACHINE in leave.methods or not case.machine:
        return []
    return [reason("methods")]


def _form_reasons(leave: Leave) -> list[Reason]:
    found = []
    if leave.entitled is None:
        found.append(reason("entitlement-unknown"))
    elif not leave.entitled:
        found.append(reason("entitlement-none"))
    if leave.changed:
        found.append(reason("spoken-changed"))
    elif leave.form is None:
        found.append(reason("spoken-unknown"))
    elif leave.form == SPOKEN:
        found.append(reason("spoken"))
    return found
