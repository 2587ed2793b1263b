"""The dated tasks of a site: what its leaves and consents ask of whoever keeps them up. Records in, tasks out.

They have the shape of a tree's tasks, with "tree" None and "work" `leave`. Their ids are
`site:<site>:<what>:<record>[:<n>]`, the record being the leave or the consent. `n` tells one time from the next, so
that a tick settles one time only: one more tree over the number, a third version signed, a consent that runs out again
a year later.

| what | when | n | lapses |
|---|---|---|---|
| ending | from 30 days before the last day of a leave, by that day; not where another goes on | year | with the end |
| ask-anew | after it, where trees are marked and no leave is left | year | after 28 days |
| answer | a leave asked for and not answered: 14 days after it was asked for | | with the end |
| writing | a leave that is not signed: from the day it was given, by 14 days later | | with the end |
| sign-again | signed once, and changed since | versions | with the end |
| number | the agreed number nearly or wholly used: from that lift, for 30 days | number agreed | with that time |
| over | more trees lifted than agreed: at once | lifted of agreed | never |
| after-withdrawal, after-end, before-begin, kinds, girth | a day's lifts outside a leave | day, how many | never |
| terms | terms not ticked, holes not noted as filled on a day: by the next day | day, lifts | 28 days; holes 90 |
| report | what was taken, told after a day of lifting: by 14 days later | day, how many | 90 days later |
| consent-ending | from 60 days before a consent's last day, by that day | year | with its end |
| consent-needed | needed and not held, where a leave is in force or soon to be | | never |
| consent-expired | held once and run out, where a leave is in force or soon to be | year | never |

A year stands for an end that may yet be moved a little; moved into another year it is another time. Lead times are
common practice, no source. A leave that was withdrawn asks for nothing more; only what is to be told of its lifts
remains, and the terms and holes of those days. The phone number of a landholder is in no text: texts are printed and
read aloud.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from field.core.consent_tasks import tasks_of_consents
from field.core.leave_tasks import LeaveFacts, is_open, tasks_of_leave
from field.core.lift_flags import Record, count_of, in_order, kept, lift_flags
from field.core.signing import changed_terms
from field.core.site_task import Task
from field.core.windows import as_date, find_date

TYPES = ("site", "leave", "consent", "lift", "landholder", "holding", "signing", "tree", "task_state")  # planned from
OWNER = "owner"
COMING_DAYS = 60  # a leave that begins so soon wants its consents as one in force does; common practice, no source


def plan_upkeep(records: Mapping[str, Iterable[Record]], today: dt.date | str) -> list[Task]:
    """Return the tasks of all sites, open and settled alike, by date.

    Args:
        records: merged records with "id" by their type, in any order: site, leave, consent, lift, landholder, holding,
            signing, tree and task_state; a type may be missing. Deleted records are passed over.
        today: the day it is planned on, local.
    Returns: tasks as `tasks.plan_tasks` gives them; one that has lapsed is told only where it was settled.
    """
    day = as_date(today)
    of = {record_type: kept(records.get(record_type, ())) for record_type in TYPES}
    settled = {str(state.get("task")) for state in of["task_state"] if state.get("state") in ("done", "skipped")}
    flags = lift_flags(of["lift"], of["leave"], of["tree"])
    names = {str(holder["id"]): str(holder.get("name") or "") for holder in of["landholder"]}
    roles = {str(holder["id"]): holder.get("role") for holder in of["landholder"]}
    tags = {str(tree["id"]): str(tree.get("tag") or "") for tree in of["tree"]}
    lifts_of, signings_of = _grouped(of["lift"], "leave"), _grouped(of["signing"], "leave")
    leaves_of, consents_of, holdings_of = (_grouped(of[name], "site") for name in ("leave", "consent", "holding"))
    marked = _count_marked(of["tree"], of["lift"])
    tasks: list[Task] = []
    for site in of["site"]:
        rec, place = str(site["id"]), str(site.get("name") or "a site without a name")
        own = [
            LeaveFacts(
                record=leave,
                rec=str(leave["id"]),
                site=rec,
                place=place,
                holder=_holder(leave, holdings_of.get(rec, ()), names),
                owners=_owners(leave, holdings_of.get(rec, ()), names, roles),
                first=find_date(leave.get("starts_on")),
                last=find_date(leave.get("ends_on")),
                withdrawn_on=find_date(leave.get("withdrawn_on")),
                lifts=in_order(lifts_of.get(str(leave["id"]), ())),
                flags=flags,
                tags=tags,
                versions=_versions(signings_of.get(str(leave["id"]), ())),
                is_changed=_is_changed(leave, site, signings_of.get(str(leave["id"]), ())),
            )
            for leave in leaves_of.get(rec, ())
        ]
        for leave in own:
            tasks += tasks_of_leave(leave, own, marked.get(rec, 0), day)
        tasks += tasks_of_consents(rec, place, consents_of.get(rec, ()), _wants_consents(own, day), day)
    found = [task for task in tasks if task["id"] in settled or not _has_lapsed(task, day)]
    return sorted(found, key=lambda task: (str(task["from"]), str(task["by"]), str(task["id"])))


def _has_lapsed(task: Task, today: dt.date) -> bool:
    lapses_on = task["lapses_on"]
    return isinstance(lapses_on, str) and lapses_on < today.isoformat()


def _wants_consents(leaves: Sequence[LeaveFacts], today: dt.date) -> bool:
    soon = today + dt.timedelta(days=COMING_DAYS)
    return any(is_open(leave, today) and (leave.first is None or leave.first <= soon) for leave in leaves)


def _holder(leave: Record, holdings: Sequence[Record], names: Mapping[str, str]) -> str:
    """Return who gave a leave, in words; where that is not noted and one alone holds the ground, who that is."""
    name = names.get(str(leave.get("landholder")))
    if not name and leave.get("landholder") is None and len(holdings) == 1:
        name = names.get(str(holdings[0].get("landholder")))
    return name or "the landholder"


def _owners(
    leave: Record, holdings: Sequence[Record], names: Mapping[str, str], roles: Mapping[str, object]
) -> list[str]:
    """Return the names of the owners of the ground, where whoever gave the leave is not noted as one of them."""
    giver = leave.get("landholder")
    if giver is None and len(holdings) == 1:
        giver = holdings[0].get("landholder")
    own = [holding.get("role") for holding in holdings if holding.get("landholder") == giver]
    role = leave.get("by_role") or (own[0] if own else roles.get(str(giver)))
    if role == OWNER or OWNER in own:
        return []
    owners = (names.get(str(one.get("landholder"))) for one in holdings if one.get("role") == OWNER)
    return sorted({name for name in owners if name})


def _versions(signings: Sequence[Record]) -> int:
    return max((count_of(signing.get("version")) or 1 for signing in signings), default=0)


def _is_changed(leave: Record, site: Record, signings: Sequence[Record]) -> bool:
    """Return whether no letter of the newest version has the terms as they stand; two phones may have signed it."""
    newest = _versions(signings)
    letters = [one.get("letter") for one in signings if (count_of(one.get("version")) or 1) == newest]
    return bool(letters) and all(changed_terms(letter, leave, site) for letter in letters)


def _count_marked(trees: Sequence[Record], lifts: Sequence[Record]) -> dict[str, int]:
    """Return how many trees are marked and stand on each site, neither lifted nor ended."""
    lifted = {lift.get("tree") for lift in lifts}
    marked: dict[str, int] = {}
    for tree in trees:
        if tree["id"] not in lifted and tree.get("ended_as") is None and tree.get("origin") != "client":
            site = str(tree.get("site"))
            marked[site] = marked.get(site, 0) + 1
    return marked


def _grouped(records: Sequence[Record], field: str) -> dict[str, list[Record]]:
    groups: dict[str, list[Record]] = {}
    for record in records:
        if isinstance(record.get(field), str):
            groups.setdefault(str(record[field]), []).append(record)
    return groups
