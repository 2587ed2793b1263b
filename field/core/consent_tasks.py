"""The tasks of a site's other consents: those that run out, and those that are needed and not held."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from field.core.dates import show_date
from field.core.leave import HELD, NEEDED
from field.core.lift_flags import Record
from field.core.reasons import consent_words
from field.core.site_task import Task, site_task
from field.core.windows import find_date

CONSENT_DAYS = 60  # common practice, no source


def tasks_of_consents(
    site: str, place: str, consents: Sequence[Record], is_wanted: bool, today: dt.date
) -> Iterator[Task]:
    """Yield the tasks of the consents of one site.

    Args:
        site, place: its id and its name.
        consents: its merged records with "id".
        is_wanted: whether there is a leave, in force or soon to be, that the consents have to stand beside.
        today: the day it is planned on.
    """
    for consent in consents:
        until = find_date(consent.get("until"))
        state, rec = consent.get("state"), str(consent["id"])
        which = f"The consent for {place} ({_name(consent)})"
        ask = str(consent.get("authority") or "whoever gives it")
        if state == NEEDED and is_wanted:
            yield site_task(
                site,
                f"consent-needed:{rec}",
                (today, today, None),
                f"{which} is needed and not held. Ask {ask}.",
                "A landholder's leave does not stand in for it. Until it is held, do not lift there.",
            )
        if state != HELD or until is None or any(_outlasts(other, consent, until) for other in consents):
            continue
        last = show_date(until)
        yield site_task(
            site,
            f"consent-ending:{rec}:{until.year}",
            (until - dt.timedelta(days=CONSENT_DAYS), until, until),
            f"{which} runs out on {last}. Ask {ask} about a new one.",
            f"An authority takes its time. {CONSENT_DAYS} days ahead are common practice, no source.",
        )
        if until < today and is_wanted:
            next_on = until + dt.timedelta(days=1)
            yield site_task(
                site,
                f"consent-expired:{rec}:{until.year}",
                (next_on, next_on, None),
                f"{which} ran out on {last}. Ask {ask} about a new one.",
                "A landholder's leave does not stand in for it. Until it is held again, do not lift there.",
            )


def _outlasts(other: Record, consent: Record, until: dt.date) -> bool:
    """Return whether another consent of the same kind is held for longer."""
    if other is consent or other.get("state") != HELD or other.get("kind") is None:
        return False
    if (other.get("kind"), other.get("name")) != (consent.get("kind"), consent.get("name")):
        return False
    last = find_date(other.get("until"))
    return other.get("until") is None or (last is not None and last > until)


def _name(consent: Record) -> str:
    kind, name = consent.get("kind"), consent.get("name")
    words = str(name) if kind == "other" and name else consent_words(kind if isinstance(kind, str) else None)
    reference = consent.get("reference")
    return f"{words}, {reference}" if reference else words
