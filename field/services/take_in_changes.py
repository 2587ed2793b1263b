"""Takes in what a phone brings and gives it what it lacks: one request, one transaction, one answer."""

from __future__ import annotations

import datetime as dt
import json
import logging
import uuid
from collections.abc import Callable, Container, Iterable, Mapping
from typing import Any

from field.core.dates import instant_text
from field.core.errors import BadInput, Conflict, TooOld
from field.core.who_sees import FULL, HANDED_OVER, find_hidden, find_refusal
from field.services import forget
from field.services.build_pack import current_pack
from field.services.pair import shut_out
from field.store import backup, db, devices, epoch, journal, projection, queries
from field.sync.blank import WITHHELD, blank
from field.sync.protocol import MIN_PROTO, PROTOS, Request, read_request

MOST_HELD = 500  # of changes that could not be applied, in one answer
MOST_ANSWER_BYTES = 2 * 1024 * 1024  # of changes in one answer; a phone on one bar asks again for the rest


def take_in(request: Mapping[str, Any], device: str, now: dt.datetime, role: str = FULL) -> dict[str, Any]:
    """Take in the changes of a request and return the answer.

    What is brought is kept in one transaction, all or nothing, lastingly before the answer; what cannot be applied is
    held with its reason, and never stops the rest.

    Args:
        request: the JSON body; see `protocol.read_request`.
        device: the phone whose token came with it.
        now: aware; the server's clock.
        role: what that phone may do; see `field.core.who_sees`.
    Returns: "epoch", "now", "have", "results", "ops", "cursor", "more", "blobs_missing", "pack" (None when
        none could be built, or the phone is not at its end yet), "backed_up_to".
    Raises: BadInput (bad-request); Conflict (device-fork) when the phone's own name is used by another phone too: then
        nothing was taken in; NotPaired (shut-out) when it comes under the name of a copy that was shut out; TooOld when
        a phone that is too old asks for news: what it brings is always taken.
    """
    asked = read_request(request)
    _check_proto(asked)
    with db.writing() as session:
        if asked.device == devices.own_device(session):
            raise BadInput("That name belongs to this server.", None, "device", code="bad-request")
        _refuse_shut_out(session, asked.device)
        own = {asked.device, *devices.line_of(session, device)}

        def refuse(op: Mapping[str, Any]) -> str | None:
            if role == FULL:
                return None
            refusal = find_refusal(op, lambda rec: journal.is_of_others(session, rec, own))
            return HANDED_OVER if refusal is not None and op["dev"] not in own else refusal

        arrival = keep(session, asked.ops, now, refuse)
        _refuse_fork(asked, arrival)
        devices.note_seen(session, asked.device, device, now, asked.app)
        standing, cursor, renewed = _place(session, asked, role)
        answer = {
            "epoch": _told_epoch(standing, role),
            "now": instant_text(now),
            "have": journal.have(session),
            "results": [result.as_json() for result in arrival.results],
            **_news(session, asked, cursor, None if role == FULL else own),
            "blobs_missing": queries.list_missing_blobs(session),
            "pack": None,
            "backed_up_to": backup.backed_up_to(session),
        }
        if renewed:
            db.note_epoch(session)
    if arrival.forgot:
        forget.clear_up()
    if not _comes_again(asked, more=answer["more"]):
        answer["pack"] = _find_pack(now, role)
    return answer


def keep(
    session: db.Session,
    ops: Iterable[Any],
    now: dt.datetime,
    refuse: Callable[[Mapping[str, Any]], str | None] = lambda _op: None,
) -> journal.Arrival:
    """Take changes into the journal and the tables, whoever brought them; inside a writing transaction."""
    arrival = journal.append(session, ops, now, refuse)
    projection.apply(session, arrival.touched)
    devices.hear(session, arrival.stamps, now.timestamp() * 1000)
    if arrival.freed:  # phones are past it, and know it as held: they read all anew
        epoch.renew(session)
        db.note_epoch(session)
    return arrival


def list_held(after: int = 0) -> dict[str, Any]:
    """Return the changes that could not be applied, as many as one answer holds.

    Args:
        after: the position in the journal that they come after.
    Returns: {"held": [{"op", "why", "taken_at"}]}, and "next" where there are more: the position to ask on after.
    """
    rows = journal.list_held(db.db.session(), after, MOST_HELD + 1, MOST_ANSWER_BYTES)
    told = rows[:MOST_HELD]
    answer: dict[str, Any] = {
        "held": [{"op": json.loads(row.text), "why": row.held, "taken_at": instant_text(row.taken_at)} for row in told]
    }
    if told and (len(rows) > len(told) or journal.list_held(db.db.session(), told[-1].pos, 1, 1)):
        answer["next"] = told[-1].pos
    return answer


def current_epoch() -> str:
    """Return the epoch of the store, for a phone that only asks who is there."""
    return epoch.read(db.db.session())


def _comes_again(asked: Request, *, more: bool) -> bool:
    """Whether a phone is not at its end yet: then the pack would be built for nothing, and anew with the next request.

    What a phone wrote itself it sends in its order, and before all else; and it asks on while there is more for it.
    """
    own = [op["seq"] for op in asked.ops if _is_own(op, asked.device)]
    return (more and asked.want > 0) or (bool(own) and max(own) < asked.have.get(asked.device, 0))


def _is_own(op: object, device: str) -> bool:
    return isinstance(op, dict) and op.get("dev") == device and isinstance(op.get("seq"), int)


def _find_pack(now: dt.datetime, role: str) -> str | None:
    try:
        return current_pack(now, role)
    except Exception:
        # What was brought is taken in, and must be answered: a fault in the planning of one tree may not keep every
        # phone from syncing. Without a current pack the phone makes its slips from its own records.
        logging.getLogger("fellside").exception("the pack could not be built")
        return None


def _check_proto(asked: Request) -> None:
    if asked.proto < MIN_PROTO and not asked.ops:
        raise TooOld("This phone's Fellside is too old to get news from home.", "Update it; what it has is kept.")
    if asked.proto > max(PROTOS):
        raise BadInput(
            "This phone speaks a newer protocol than this server.",
            f"Speak {max(PROTOS)}, or update the server.",
            "proto",
            code="bad-request",
        )


def _refuse_shut_out(session: db.Session, device: str) -> None:
    row = devices.find_device(session, device)
    if row is not None and row.revoked_at is not None:
        raise shut_out(row.revoked_at)


def _refuse_fork(asked: Request, arrival: journal.Arrival) -> None:
    for result in arrival.results:
        if result.fork and result.dev == asked.device:
            raise Conflict(
                "Another phone writes under the name of this one: one of them is a copy.",
                "This phone takes a new name and sends its changes again; nothing is lost.",
                f"ops: {result.dev} {result.seq}",
                code="device-fork",
            )


def _told_epoch(standing: str, role: str) -> str:
    """The epoch as a phone is told it: when what it may do changes, it reads the whole journal anew."""
    return standing if role == FULL else str(uuid.uuid5(uuid.UUID(standing), role))


def _place(session: db.Session, asked: Request, role: str) -> tuple[str, int, bool]:
    """The epoch, the place to read on from, and whether a new epoch had to begin."""
    standing = epoch.read(session)
    if asked.epoch != _told_epoch(standing, role):
        return standing, 0, False
    if asked.cursor <= journal.end(session):
        return standing, asked.cursor, False
    # The phone has read further than this journal goes: it was put back from a backup.
    devices.renew_own(session)
    return epoch.renew(session), 0, True


def _news(session: db.Session, asked: Request, cursor: int, own: Container[str] | None) -> dict[str, Any]:
    """What is new since a place; own: the names of a phone that may only record, None for one that sees all."""
    if asked.proto < MIN_PROTO:
        return {"ops": [], "cursor": cursor, "more": False}
    rows = journal.read_from(session, cursor, asked.want, MOST_ANSWER_BYTES)
    reached = rows[-1].pos if rows else cursor
    return {
        "ops": [_entry(row, own) for row in rows],
        "cursor": reached,
        "more": reached < journal.end(session),
    }


def _entry(row: journal.Kept, own: Container[str] | None) -> dict[str, Any]:
    op, held = json.loads(row.text), row.held
    if own is not None and op["dev"] not in own and held is not None:
        # It takes no part; what stands in it, or in the reason, may be anything.
        op, held = blank(op, op["set"] if isinstance(op.get("set"), dict) else (), WITHHELD), "It could not be applied."
    elif own is not None and held is None:
        hidden = find_hidden(op, own=op["dev"] in own)
        op = blank(op, hidden, WITHHELD) if hidden else op
    return {"pos": row.pos, "op": op, "clock_suspect": row.suspect, "held": held}
