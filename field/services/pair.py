"""Pairs phones with this home: a short code shown here and typed there, a long secret handed over once."""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import io
import itertools
import re
import secrets
from typing import Any, NoReturn

import segno

from field.core.dates import instant_text, show_date
from field.core.errors import BadInput, Conflict, NotAllowed, NotFound, NotPaired
from field.services import owner, wrong_tries
from field.store import db, devices, epoch, sign_ins
from field.store.tables import DeviceRow
from field.sync.change import UUID

# No 0 and O, no 1, I and L, no 5 and S, no 2 and Z, no 8 and B: a code is read off a screen and typed with cold hands.
ALPHABET = "34679ACDEFGHJKMNPQRTUVWXY"
CODE_LENGTH = 8  # 25 to the 8th: 37 bits, against 10 tries in 10 minutes
GOOD_FOR = dt.timedelta(minutes=10)
CLOCK_SLACK = dt.timedelta(minutes=2)  # a clock that is set right while a code is good; common practice, no source
ROLES = ("full", "record")  # everything, or: may record, and sees no landholder's contact data
TOKEN_BYTES = 32
OWN_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)  # 32 bytes, as a phone writes them
MOST_NAME = 80


def make_code(reusable: bool = False, now: dt.datetime | None = None, role: object = "full") -> dict[str, str]:
    """Make a code by which one phone may be paired within ten minutes.

    Args:
        reusable: good for any number of phones as long as this server's data lasts: for the demo only.
        now: aware; None: the clock's.
        role: full or record: what the phone may do that is paired by it.
    Returns: {"code", "good_until", "role"}.
    """
    may = _read_role(role)
    at = _now(now)
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    good_until = at + (dt.timedelta(days=3650) if reusable else GOOD_FOR)
    with db.writing() as session:
        devices.drop_old_codes(session, at)
        devices.save_code(session, _hash(code), good_until, reusable, may)
    return {"code": code, "good_until": instant_text(good_until), "role": may}


def draw_qr(text: str) -> str:
    """Return the QR code of a text as SVG: dark on light in any theme, for a camera wants it so."""
    out = io.BytesIO()
    segno.make(text, micro=False).save(out, kind="svg", scale=6, border=4, dark="#000", light="#fff", xmldecl=False)
    return out.getvalue().decode("utf-8")


def pair(
    code: object, device: object, name: object, now: dt.datetime | None = None, *, address: str | None = None
) -> dict[str, str]:
    """Pair a phone by a code and hand over its secret.

    Args:
        code: as it was typed; letter case, blanks and hyphens do not count.
        device: the phone's own id, a UUID.
        name: what its owner calls it.
        now: aware; None: the clock's.
        address: where it is asked from, as the server sees it.
    Returns: {"token", "device", "epoch", "now", "role"}; with "like", a name of its own to offer, where another phone
        is called alike. The token is kept here only as a hash: it is told once.
    Raises: BadInput; NotAllowed (pair-code) for a code that is wrong, used or too old; TooManyTries after ten wrong
        ones in ten minutes from one address.
    """
    at = _now(now)
    phone, known_as = _read_phone(device, name)
    if not isinstance(code, str):
        raise BadInput("A code and a name are needed to pair a phone.", None, "code", code="bad-request")
    paired = None
    with db.writing() as session:
        number = wrong_tries.begin_try(session, "code", at, wrong_tries.stranger_at(address))
        role = _use_code(session, code, at)
        if role is not None:
            devices.drop_try(session, number)
            paired = _let_in(session, phone, known_as, role, at)
    if paired is None:
        raise NotAllowed(
            "That code is wrong, used or too old.", "Make a new code at home and type it within ten minutes.",
            "code", code="pair-code",
        )  # fmt: skip
    return paired


def pair_by_passphrase(
    passphrase: object, device: object, name: object, now: dt.datetime | None = None, *, address: str | None = None
) -> tuple[dict[str, str], str]:
    """Pair a phone or desk by the owner's passphrase in place of a code: it may do everything, and is signed in.

    Returns: what `pair` returns, and the secret of the sign-in.
    Raises: BadInput; NotAllowed and TooManyTries as `owner.check_passphrase`.
    """
    at = _now(now)
    phone, known_as = _read_phone(device, name)
    stood = owner.check_passphrase(passphrase, at, address=address)
    with db.writing() as session:
        told = _let_in(session, phone, known_as, "full", at)
        return told, owner.open_sign_in(session, stood, phone, at)


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


def refuse_unpaired(token: str | None) -> NoReturn:
    """Say why a caller is not let in: whoever shows the token of a phone that was shut out is told so, and when.

    Nobody else can have that token: a stranger learns nothing by it.

    Raises: NotPaired (unpaired, shut-out).
    """
    row = None if token is None else devices.find_by_token(db.db.session(), _hash(token))
    if row is not None and row.revoked_at is not None:
        raise shut_out(row.revoked_at)
    raise NotPaired("This device is not paired with this server.", "Pair it with a code from home.")


def shut_out(at: dt.datetime) -> NotPaired:
    """Return what a phone is told that was shut out.

    Args:
        at: when it was; the day is told by this machine's own clock, beside which it was done.
    """
    return NotPaired(
        f"This phone was shut out at home on {show_date(at.astimezone().date())}.",
        "What it has not sent yet is still on it. Keep a copy and bring that home, or have the phone let in anew.",
        code="shut-out",
    )


def take_own_token(device: object, token: object, shown: str) -> dict[str, str]:
    """Give a copy of a phone, that took a name of its own, a token of its own: either can then be shut out alone.

    The phone makes the token and keeps it before it asks, so that a lost answer costs nothing: asked once more, the
    same is said.

    Args:
        device: the name that it took.
        token: what it shows from now on.
        shown: the phone whose token it showed until now.
    Returns: {"device"}.
    Raises: BadInput; NotFound (no-device) when no such copy of that phone has synced; NotPaired (shut-out); Conflict
        (token-taken) when the copy has another one: then it was copied itself.
    """
    copy, _ = _read_phone(device, "copy")
    if not isinstance(token, str) or OWN_TOKEN.fullmatch(token) is None:
        raise BadInput("That is no token.", None, "token", code="bad-request")
    hashed = _hash(token)
    with db.writing() as session:
        row = _get_device(session, copy)
        if row.copy_of != shown:
            raise NotFound("There is no such copy of this phone.", None, "device", code="no-device")
        if row.revoked_at is not None:
            raise shut_out(row.revoked_at)
        holder = devices.find_by_token(session, hashed)
        if row.token_hash != hashed and (row.token_hash is not None or holder is not None):
            raise Conflict("This phone has a token of its own already.", None, "token", code="token-taken")
        row.token_hash = hashed
    return {"device": copy}


def revoke(device: str, now: dt.datetime | None = None, *, anyway: bool = True) -> None:
    """Shut a phone out: its secret is worth nothing from now on; what it has sent stays.

    Args:
        anyway: also the last one that may do everything.
    Raises: NotFound when no such phone was ever paired; Conflict (last-full).
    """
    with db.writing() as session:
        row = _get_device(session, device)
        if row.revoked_at is None:
            _keep_one_full(session, row, anyway)
            row.revoked_at = _now(now)
        sign_ins.end_of_device(session, device)


def set_role(device: str, role: object, *, anyway: bool = True) -> None:
    """Say what a phone may do from now on.

    Args:
        role: full or record.
        anyway: also when it is the last one that may do everything, and will no longer.
    Raises: BadInput; NotFound; Conflict (last-full).
    """
    may = _read_role(role)
    with db.writing() as session:
        row = _get_device(session, device)
        if may == row.role:
            return
        if may != "full":
            _keep_one_full(session, row, anyway)
            sign_ins.end_of_device(session, device)
        row.role = may


def rename(device: str, name: object) -> str | None:
    """Call a phone something else in the list at home.

    Returns: a name to offer in its place, where another phone is called alike; else None.
    Raises: BadInput; NotFound.
    """
    known_as = _read_name(name)
    with db.writing() as session:
        _get_device(session, device).name = known_as
        return _find_other_name(session, device, known_as)


def list_devices(now: dt.datetime | None = None) -> list[dict[str, Any]]:
    """Return the phones that were ever paired, in the order of pairing.

    Returns: [{"device", "name", "role", "paired_at", "last_seen_at", "revoked", "signed_in", "copy_of": the phone that
        it is a copy of, "own_token": whether it can be shut out without that one, "app": the version it runs}].
    """
    signed_in = owner.list_signed_in(now)
    return [
        {
            "device": row.device,
            "name": row.name,
            "role": row.role,
            "paired_at": instant_text(row.paired_at),
            "last_seen_at": None if row.last_seen_at is None else instant_text(row.last_seen_at),
            "revoked": row.revoked_at is not None,
            "signed_in": row.device in signed_in,
            "copy_of": row.copy_of,
            "own_token": row.token_hash is not None,
            "app": row.app,
        }
        for row in devices.list_devices(db.db.session())
    ]


def list_names() -> list[dict[str, str]]:
    """Return what the phones are called and nothing else of them: [{"device", "name"}]."""
    return [{"device": row.device, "name": row.name} for row in devices.list_devices(db.db.session())]


def _let_in(session: db.Session, device: str, name: str, role: str, at: dt.datetime) -> dict[str, str]:
    if device == devices.own_device(session):
        raise BadInput("That name belongs to this server.", None, "device", code="bad-request")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    devices.save_device(session, device, name, _hash(token), at, role)
    sign_ins.end_of_device(session, device)
    standing = epoch.read(session)
    told = {"token": token, "device": device, "epoch": standing, "now": instant_text(at), "role": role}
    other = _find_other_name(session, device, name)
    return told if other is None else {**told, "like": other}


def _find_other_name(session: db.Session, device: str, name: str) -> str | None:
    """A name that no phone has, where another one that is let in is called alike; else None."""
    rows = devices.list_devices(session)
    if not any(_plain(row.name) == _plain(name) for row in rows if row.device != device and row.revoked_at is None):
        return None
    taken = {_plain(row.name) for row in rows}
    others = (f"{name[: MOST_NAME - 6]} {number}" for number in itertools.count(2))
    return next(other for other in others if _plain(other) not in taken)


def _plain(name: str) -> str:
    # Letter case, blanks and the kind of apostrophe do not tell two phones apart in a list.
    return "".join(name.replace("’", "'").split()).casefold()


def _read_phone(device: object, name: object) -> tuple[str, str]:
    if not isinstance(device, str) or UUID.fullmatch(device) is None:
        raise BadInput("The phone does not say which one it is.", None, "device", code="bad-request")
    return device, _read_name(name)


def _read_name(name: object) -> str:
    if not isinstance(name, str):
        raise BadInput("The phone needs a name.", None, "name", code="bad-request")
    known_as = " ".join(name.split())[:MOST_NAME]
    if not known_as or not known_as.isprintable():
        raise BadInput("The phone needs a name.", "Give it one, such as Anna's phone.", "name", code="bad-request")
    return known_as


def _read_role(role: object) -> str:
    if not isinstance(role, str) or role not in ROLES:
        raise BadInput("A phone may do everything, or may record.", "Say full or record.", "role", code="bad-request")
    return role


def _get_device(session: db.Session, device: str) -> DeviceRow:
    row = devices.find_device(session, device)
    if row is None:
        raise NotFound("There is no phone of that name.", None, "device", code="no-device")
    return row


def _keep_one_full(session: db.Session, row: DeviceRow, anyway: bool) -> None:
    is_last = row.role == "full" and row.token_hash is not None and devices.count_full(session) == 1
    if is_last and not anyway:
        raise Conflict(
            "It is the last one that may do everything.", "Pair another first, or say that it is meant.",
            "device", code="last-full",
        )  # fmt: skip


def _use_code(session: db.Session, typed: str, now: dt.datetime) -> str | None:
    """Return the role that a code gives, None for one that is not good; a code for one phone is used up by that."""
    row = devices.find_code(session, _hash("".join(typed.split()).replace("-", "").upper()))
    if row is None or row.good_until < now:
        return None
    if row.reusable:
        return row.role
    devices.drop_code(session, row)
    # Good for longer than it ever was: the clock was set back, and how old the code is nobody knows.
    return row.role if row.good_until <= now + GOOD_FOR + CLOCK_SLACK else None


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _now(now: dt.datetime | None) -> dt.datetime:
    return dt.datetime.now(dt.UTC) if now is None else now
