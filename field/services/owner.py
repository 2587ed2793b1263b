"""The owner: one passphrase, by which what lets others in or out is done; and the sign-ins it gives.

A paired phone shows its token with every call. What only the owner may do wants a sign-in on that phone as well: so a
phone that was found or lent can record, and cannot let anybody in.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
import threading
import unicodedata

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from field.core.errors import BadInput, Conflict, NotAllowed, TooManyTries
from field.services import wrong_tries
from field.store import db, devices, sign_ins

FEWEST_CHARACTERS = 10
MOST_BYTES = 1024
IDLE = dt.timedelta(minutes=30)
IN_ALL = dt.timedelta(hours=12)
USED_EVERY = dt.timedelta(minutes=1)  # oftener would write a row for every request
SECRET_BYTES = 32
HASH_WAIT_S = 5
HASHER = PasswordHasher()  # the library's own figures: RFC 9106, the low-memory choice
# A hash takes 64 MiB and a core for a moment: however many try at once, one is reckoned at a time.
HASHING = threading.Lock()


def is_set() -> bool:
    """Whether the owner has set a passphrase."""
    return sign_ins.read_passphrase(db.db.session()) is not None


def set_passphrase(passphrase: object) -> None:
    """Set the passphrase, whatever stood before, and end all sign-ins: for whoever sits at the server itself.

    Wrong tries of strangers count no more: this is the way back in for an owner whom they kept out.

    Raises: BadInput for one that is too short, too long or easily guessed.
    """
    hashed = _hash(_read_new(passphrase))
    with db.writing() as session:
        sign_ins.save_passphrase(session, hashed)
        sign_ins.end_all(session)
        devices.drop_tries(session, "passphrase")


def set_first(passphrase: object) -> None:
    """Set the passphrase where there is none yet.

    Raises: BadInput; Conflict (passphrase-set) where there is one, also when it came in this moment.
    """
    wanted = _read_new(passphrase)
    taken = Conflict("A passphrase is set already.", "Change it with the old one.", code="passphrase-set")
    if is_set():
        raise taken
    hashed = _hash(wanted)
    with db.writing() as session:
        if sign_ins.read_passphrase(session) is not None:
            raise taken
        sign_ins.save_passphrase(session, hashed)
        sign_ins.end_all(session)


def change_passphrase(old: object, new: object, now: dt.datetime | None = None, *, device: str | None = None) -> None:
    """Set another passphrase and end all sign-ins.

    Args:
        device: the paired phone that asks.
    Raises: BadInput; NotAllowed and TooManyTries as `check_passphrase`.
    """
    wanted = _read_new(new)
    stood = check_passphrase(old, now, device=device)
    hashed = _hash(wanted)
    with db.writing() as session:
        if sign_ins.read_passphrase(session) != stood:
            raise Conflict("The passphrase was changed in this moment.", "Try again with the new one.")
        sign_ins.save_passphrase(session, hashed)
        sign_ins.end_all(session)


def check_passphrase(
    passphrase: object, now: dt.datetime | None = None, *, device: str | None = None, address: str | None = None
) -> str:
    """Go on only when a passphrase is the owner's.

    Args:
        device: the paired phone that asks.
        address: where a stranger asks from, when it is none.
    Returns: the hash that stands.
    Raises: BadInput when it is no text; NotAllowed (no-passphrase) while none is set, (passphrase-wrong) for a wrong
        one; TooManyTries after ten wrong ones of this caller in ten minutes, then also for the right one.
    """
    at = _now(now)
    if not isinstance(passphrase, str):
        raise BadInput("The passphrase is needed for that.", None, "passphrase", code="bad-request")
    with db.writing() as session:
        stands = sign_ins.read_passphrase(session)
        if stands is None:
            raise NotAllowed("No passphrase is set yet.", "Set one under House first.", code="no-passphrase")
        caller = wrong_tries.stranger_at(address) if device is None else wrong_tries.phone(session, device)
        number = wrong_tries.begin_try(session, "passphrase", at, caller)
    # Checked outside of the transaction: reckoning takes long, and nobody else could write meanwhile.
    is_right = _is_right(stands, passphrase)
    if is_right is None:
        with db.writing() as session:
            devices.drop_try(session, number)  # it was never looked at
        raise TooManyTries("Too many try the passphrase at this moment.", "Try again.", retry_after_s=HASH_WAIT_S)
    if not is_right:
        raise NotAllowed("That passphrase is wrong.", None, "passphrase", code="passphrase-wrong")
    fresh = _hash(_normal(passphrase)) if HASHER.check_needs_rehash(stands) else None
    with db.writing() as session:
        devices.drop_try(session, number)
        if fresh is not None and sign_ins.read_passphrase(session) == stands:
            sign_ins.save_passphrase(session, fresh)
            stands = fresh
    return stands


def sign_in(passphrase: object, device: str, now: dt.datetime | None = None) -> str:
    """Sign the owner in on a paired phone; return the secret that proves it there. It cannot be told again.

    Raises: as `check_passphrase`.
    """
    at = _now(now)
    stood = check_passphrase(passphrase, at, device=device)
    with db.writing() as session:
        return open_sign_in(session, stood, device, at)


def open_sign_in(session: db.Session, stood: str, device: str, at: dt.datetime) -> str:
    """Sign the owner in, in the transaction of the caller, who has checked the passphrase; return the secret.

    Args:
        stood: the hash it was checked against.
    Raises: NotAllowed when the passphrase was changed meanwhile, or the phone may not do everything.
    """
    if sign_ins.read_passphrase(session) != stood:
        raise NotAllowed("The passphrase was changed in this moment.", "Use the new one.", code="passphrase-wrong")
    row = devices.find_device(session, device)
    if row is None or row.revoked_at is not None or row.role != "full":
        raise NotAllowed("The owner cannot sign in on this phone.", "Use one that may do everything.")
    secret = secrets.token_urlsafe(SECRET_BYTES)
    sign_ins.forget_old(session, at - IN_ALL, at - IDLE)
    sign_ins.save(session, _name(secret), device, at)
    return secret


def is_signed_in(secret: str | None, device: str, now: dt.datetime | None = None) -> bool:
    """Whether a secret proves that the owner is signed in on this very phone; asking counts as using it."""
    if not secret:
        return False
    at = _now(now)
    row = sign_ins.find(db.db.session(), _name(secret))
    if row is None or row.device != device or not _still_good(row.made_at, row.used_at, at):
        return False
    if at - row.used_at >= USED_EVERY:
        with db.writing() as session:
            again = sign_ins.find(session, _name(secret))
            if again is not None:
                again.used_at = at
    return True


def sign_out(secret: str | None) -> None:
    """End a sign-in; one that is not known is ended already."""
    if secret:
        with db.writing() as session:
            sign_ins.end(session, _name(secret))


def list_signed_in(now: dt.datetime | None = None) -> set[str]:
    """Return the phones on which the owner is signed in."""
    at = _now(now)
    rows = sign_ins.list_all(db.db.session())
    return {row.device for row in rows if row.device is not None and _still_good(row.made_at, row.used_at, at)}


def _still_good(made_at: dt.datetime, used_at: dt.datetime, at: dt.datetime) -> bool:
    # Before it was made: the clock was set back, and how long it has lasted is not known any more.
    slack = dt.timedelta(minutes=2)
    return made_at - slack <= at < made_at + IN_ALL and at < used_at + IDLE


def _read_new(passphrase: object) -> str:
    if not isinstance(passphrase, str):
        raise BadInput("A passphrase is a text.", None, "passphrase", code="bad-request")
    text = _normal(passphrase)
    if len(text) < FEWEST_CHARACTERS:
        cure = "Take a few words that do not belong together."
        raise BadInput(
            f"A passphrase needs at least {FEWEST_CHARACTERS} characters.", cure, "passphrase", code="too-short"
        )
    if len(text.encode("utf-8", "surrogatepass")) > MOST_BYTES:
        raise BadInput("That passphrase is too long to be kept.", "Take a shorter one.", "passphrase", code="too-long")
    if _is_weak(text):
        cure = "Take a few words that do not belong together."
        raise BadInput("That passphrase would be guessed among the first.", cure, "passphrase", code="too-weak")
    return text


def _is_weak(text: str) -> bool:
    """Whether it is one character over and over, a row of keys or figures, or the house's own name. Common practice."""
    plain = "".join(text.lower().split())
    rows = ("01234567890123456789", "98765432109876543210", "abcdefghijklmnopqrstuvwxyz", "qwertyuiopasdfghjklzxcvbnm")
    first = plain.rstrip("0123456789!.")
    return len(set(plain)) < 4 or any(plain in row for row in rows) or first in {"fellside", "passphrase", "password"}


def _normal(passphrase: str) -> str:
    # The same words typed on another keyboard, or with a blank that a phone put behind them, are the same passphrase.
    return unicodedata.normalize("NFC", passphrase).strip()


def _hash(passphrase: str) -> str:
    with HASHING:
        return HASHER.hash(passphrase.encode("utf-8", "surrogatepass"))


def _is_right(stands: str, passphrase: str) -> bool | None:
    """Whether it is the passphrase; None when so many are being checked that this one was not looked at."""
    text = _normal(passphrase[: 2 * MOST_BYTES]).encode("utf-8", "surrogatepass")
    if not HASHING.acquire(timeout=HASH_WAIT_S):
        return None
    try:
        return len(text) <= MOST_BYTES and HASHER.verify(stands, text)
    except (VerificationError, InvalidHashError):
        return False
    finally:
        HASHING.release()


def _name(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _now(now: dt.datetime | None) -> dt.datetime:
    return dt.datetime.now(dt.UTC) if now is None else now
