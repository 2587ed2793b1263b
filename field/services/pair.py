"""Pairs phones with this home: a short code shown here and typed there, a long secret handed over once."""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import io
import secrets
from typing import Any

import segno

from field.core.dates import instant_text
from field.core.errors import BadInput, NotAllowed, NotFound, NotPaired, TooManyTries
from field.store import db, devices, epoch
from field.sync.change import UUID

# No 0 and O, no 1, I and L, no 5 and S, no 2 and Z, no 8 and B: a code is read off a screen and typed with cold hands.
ALPHABET = "34679ACDEFGHJKMNPQRTUVWXY"
CODE_LENGTH = 8  # 25 to the 8th: 37 bits, against 10 tries in 10 minutes
GOOD_FOR = dt.timedelta(minutes=10)
MOST_WRONG = 10
WRONG_WITHIN = dt.timedelta(minutes=10)
TOKEN_BYTES = 32
MOST_NAME = 80


def make_code(reusable: bool = False, now: dt.datetime | None = None) -> dict[str, str]:
    """Make a code by which one phone may be paired within ten minutes.

    Args:
        reusable: good for any number of phones as long as this server's data lasts: for the demo only.
        now: aware; None: the clock's.
    Returns: {"code", "good_until"}.
    """
    at = _now(now)
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    good_until = at + (dt.timedelta(days=3650) if reusable else GOOD_FOR)
    with db.writing() as session:
        devices.drop_old_codes(session, at)
        devices.save_code(session, _hash(code), good_until, reusable)
    return {"code": code, "good_until": instant_text(good_until)}


def draw_qr(text: str) -> str:
    """Return the QR code of a text as SVG: dark on light in any theme, for a camera wants it so."""
    out = io.BytesIO()
    segno.make(text, micro=False).save(out, kind="svg", scale=6, border=4, dark="#000", light="#fff", xmldecl=False)
    return out.getvalue().decode("utf-8")


def pair(code: object, device: object, name: object, now: dt.datetime | None = None) -> dict[str, str]:
    """Pair a phone by a code and hand over its secret.

    Args:
        code: as it was typed; letter case, blanks and hyphens do not count.
        device: the phone's own id, a UUID.
        name: what its owner calls it.
        now: aware; None: the clock's.
    Returns: {"token", "device", "epoch", "now"}. The token is kept here only as a hash; it cannot be told again.
    Raises: BadInput; NotAllowed (pair-code) for a code that is wrong, used or too old; TooManyTries after ten wrong
        ones in ten minutes, whoever tried.
    """
    at = _now(now)
    if not isinstance(device, str) or UUID.fullmatch(device) is None:
        raise BadInput("The phone does not say which one it is.", None, "device", code="bad-request")
    if not isinstance(code, str) or not isinstance(name, str):
        raise BadInput("A code and a name are needed to pair a phone.", None, "code", code="bad-request")
    known_as = " ".join(name.split())[:MOST_NAME]
    if not known_as or not known_as.isprintable():
        raise BadInput("The phone needs a name.", "Give it one, such as Anna's phone.", "name", code="bad-request")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with db.writing() as session:
        if devices.count_wrong_tries(session, at - WRONG_WITHIN) >= MOST_WRONG:
            raise TooManyTries("Too many wrong codes were tried.", "Wait ten minutes, then make a new code.")
        good = _use_code(session, code, at)
        if good:
            if device == devices.own_device(session):
                raise BadInput("That name belongs to this server.", None, "device", code="bad-request")
            devices.save_device(session, device, known_as, _hash(token), at)
        else:
            devices.forget_tries(session, at - WRONG_WITHIN)
            devices.note_wrong_try(session, at)
        standing = epoch.read(session)
    if not good:
        raise NotAllowed(
            "That code is wrong, used or too old.", "Make a new code at home and type it within ten minutes.",
            "code", code="pair-code",
        )  # fmt: skip
    return {"token": token, "device": device, "epoch": standing, "now": instant_text(at)}


def who(token: str) -> str:
    """Return the device of a token; raise NotPaired (unpaired) where `find_device` finds none."""
    device = find_device(token)
    if device is None:
        raise NotPaired("This phone is not paired with this home.", "Pair it with a code made at home.")
    return device


def find_device(token: str) -> str | None:
    """Return the device of a token, None for a token that is unknown or revoked."""
    found = find_paired(token)
    return None if found is None else found[0]


def find_paired(token: str) -> tuple[str, str] | None:
    """Return the device of a token and its role (full or record), None for a token that is unknown or revoked."""
    hashed = _hash(token)
    row = devices.find_by_token(db.db.session(), hashed)
    # The hash was looked up through an index; the comparison that decides takes the same time for any of them.
    known = row is not None and hmac.compare_digest(row.token_hash or "", hashed)
    return (row.device, row.role) if row is not None and known and row.revoked_at is None else None


def revoke(device: str, now: dt.datetime | None = None) -> None:
    """Shut a phone out: its secret is worth nothing from now on; what it has sent stays.

    Raises: NotFound when no such phone was ever paired.
    """
    with db.writing() as session:
        row = devices.find_device(session, device)
        if row is None:
            raise NotFound("There is no phone of that name.", None, "device", code="no-device")
        if row.revoked_at is None:
            row.revoked_at = _now(now)


def list_devices() -> list[dict[str, Any]]:
    """Return the phones that were ever paired: [{"device", "name", "paired_at", "last_seen_at", "revoked"}]."""
    return [
        {
            "device": row.device,
            "name": row.name,
            "paired_at": instant_text(row.paired_at),
            "last_seen_at": None if row.last_seen_at is None else instant_text(row.last_seen_at),
            "revoked": row.revoked_at is not None,
        }
        for row in devices.list_devices(db.db.session())
    ]


def _use_code(session: db.Session, typed: str, now: dt.datetime) -> bool:
    """Whether a code is good; a code for one phone is used up by that."""
    row = devices.find_code(session, _hash("".join(typed.split()).replace("-", "").upper()))
    if row is None or row.good_until < now:
        return False
    if not row.reusable:
        devices.drop_code(session, row)
    return True


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _now(now: dt.datetime | None) -> dt.datetime:
    return dt.datetime.now(dt.UTC) if now is None else now
