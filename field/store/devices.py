"""Who writes and who may: paired phones, their codes, and the server's own device with its clock."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable

from sqlalchemy import delete, func, or_, select
from sqlalchemy.orm import Session

from field.store.tables import DeviceRow, MetaRow, PairingCodeRow, WrongTryRow
from field.sync.hlc import Clock, find_stamp, receive, write_stamp

OWN = "own_device"
CLOCK = "own_clock"
SEEN_EVERY = dt.timedelta(minutes=1)  # oftener would write a row for every request


def renew_own(session: Session) -> str:
    """Give the server a new device of its own to write changes as."""
    fresh = str(uuid.uuid4())
    session.merge(MetaRow(key=OWN, value=fresh))
    session.flush()
    return fresh


def own_device(session: Session) -> str:
    """Return the device that the server writes changes as."""
    row = session.get(MetaRow, OWN)
    return renew_own(session) if row is None else row.value


def own_clock(session: Session) -> Clock:
    """Return where the server's clock stands."""
    row = session.get(MetaRow, CLOCK)
    stamp = None if row is None else find_stamp(row.value)
    return Clock() if stamp is None else stamp.clock


def keep_clock(session: Session, clock: Clock) -> None:
    """Write down where the server's clock stands, in the transaction of the changes it stamped."""
    session.merge(MetaRow(key=CLOCK, value=write_stamp(clock, "own")))


def hear(session: Session, stamps: Iterable[str], now_ms: float) -> None:
    """Let the server's clock see the stamps of others; suspect ones must be left out."""
    heard = max((found.clock for stamp in stamps if (found := find_stamp(stamp))), default=None)
    if heard is not None:
        keep_clock(session, receive(own_clock(session), heard, now_ms))


def find_by_token(session: Session, token_hash: str) -> DeviceRow | None:
    """Return the phone of a token's hash, revoked or not."""
    return session.scalars(select(DeviceRow).where(DeviceRow.token_hash == token_hash)).one_or_none()


def find_device(session: Session, device: str) -> DeviceRow | None:
    """Return a phone that was ever paired, revoked or not."""
    return session.get(DeviceRow, device)


def list_devices(session: Session) -> list[DeviceRow]:
    """Return all phones ever paired, in the order of pairing."""
    return list(session.scalars(select(DeviceRow).order_by(DeviceRow.paired_at, DeviceRow.device)))


def count_full(session: Session) -> int:
    """Return how many phones that may do everything can still show a token."""
    asked = (DeviceRow.revoked_at.is_(None), DeviceRow.role == "full", DeviceRow.token_hash.is_not(None))
    return session.scalar(select(func.count()).select_from(DeviceRow).where(*asked)) or 0


def count_paired(session: Session) -> int:
    """Return how many phones may sync now."""
    return session.scalar(select(func.count()).select_from(DeviceRow).where(DeviceRow.revoked_at.is_(None))) or 0


def save_device(
    session: Session, device: str, name: str, token_hash: str | None, now: dt.datetime, role: str = "full"
) -> None:
    """Write a phone as paired now; one that was there gets the new token and role, and is no longer revoked."""
    row = DeviceRow(device=device, name=name, token_hash=token_hash, role=role, paired_at=now)
    row.last_seen_at, row.revoked_at = now, None
    session.merge(row)
    session.flush()


def note_seen(session: Session, device: str, brought_by: str, now: dt.datetime, app: str | None = None) -> None:
    """Note that a phone was here.

    Args:
        device: the name it syncs under.
        brought_by: the phone whose token it showed. Another name under the same token is a copy of that phone that
            had to take a new name: it counts as a phone of its own.
        app: the version of the app it runs; None where it does not say.
    """
    row = session.get(DeviceRow, device)
    if row is None:
        source = session.get(DeviceRow, brought_by)
        if source is None:
            return
        save_device(session, device, source.name, None, now, source.role)
        row = session.get_one(DeviceRow, device)
        row.copy_of = brought_by
    elif row.last_seen_at is None or abs(now - row.last_seen_at) >= SEEN_EVERY:
        row.last_seen_at = now
    if app is not None and row.app != app:
        row.app = app


def line_of(session: Session, device: str) -> list[str]:
    """Return a phone and what it was copied from, the first of them last: all of that was written in one hand."""
    line = [device]
    while (row := session.get(DeviceRow, line[-1])) is not None and row.copy_of and row.copy_of not in line:
        line.append(row.copy_of)
    return line


def save_code(
    session: Session, code_hash: str, good_until: dt.datetime, reusable: bool = False, role: str = "full"
) -> None:
    """Keep a code; `reusable`: it is not used up by the first phone; `role`: of the phone that is paired by it."""
    session.add(PairingCodeRow(code_hash=code_hash, good_until=good_until, reusable=reusable, role=role))


def find_code(session: Session, code_hash: str) -> PairingCodeRow | None:
    """Return a code by its hash, also one that is too old."""
    return session.get(PairingCodeRow, code_hash)


def drop_code(session: Session, row: PairingCodeRow) -> None:
    """Use a code up."""
    session.delete(row)


def drop_old_codes(session: Session, now: dt.datetime) -> None:
    """Forget the codes that are good no longer."""
    session.execute(delete(PairingCodeRow).where(PairingCodeRow.good_until < now))


def note_try(session: Session, now: dt.datetime, kind: str, caller: str) -> int:
    """Note that a wrong code or passphrase was tried (kind: code or passphrase); return the note's number."""
    row = WrongTryRow(tried_at=now, kind=kind, caller=caller)
    session.add(row)
    session.flush()
    return row.id


def drop_try(session: Session, number: int) -> None:
    """Take a note of a wrong try back: it was right after all."""
    session.execute(delete(WrongTryRow).where(WrongTryRow.id == number))


def drop_tries(session: Session, kind: str) -> None:
    """Forget all wrong tries of a kind."""
    session.execute(delete(WrongTryRow).where(WrongTryRow.kind == kind))


def list_tries(session: Session, after: dt.datetime, until: dt.datetime, kind: str, callers: str) -> list[dt.datetime]:
    """Return when wrong ones were tried in a span of time, the newest first.

    Args:
        callers: one of them, or what the names of several begin with.
    """
    asked = (
        WrongTryRow.kind == kind, WrongTryRow.tried_at > after, WrongTryRow.tried_at <= until,
        WrongTryRow.caller.startswith(callers, autoescape=True),
    )  # fmt: skip
    return list(session.scalars(select(WrongTryRow.tried_at).where(*asked).order_by(WrongTryRow.tried_at.desc())))


def forget_tries(session: Session, after: dt.datetime, until: dt.datetime, kind: str) -> None:
    """Forget the wrong tries outside of a span of time."""
    outside = or_(WrongTryRow.tried_at <= after, WrongTryRow.tried_at > until)
    session.execute(delete(WrongTryRow).where(WrongTryRow.kind == kind, outside))
