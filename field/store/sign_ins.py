"""The owner's passphrase and sign-ins: both kept only as hashes."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from field.store.tables import MetaRow, SignInRow

PASSPHRASE = "passphrase"


def read_passphrase(session: Session) -> str | None:
    """Return the hash of the owner's passphrase, None while there is none."""
    row = session.get(MetaRow, PASSPHRASE)
    return None if row is None else row.value


def save_passphrase(session: Session, hashed: str) -> None:
    """Keep the hash of the owner's passphrase in place of the one before."""
    session.merge(MetaRow(key=PASSPHRASE, value=hashed))


def save(session: Session, token_hash: str, device: str, now: dt.datetime) -> None:
    """Keep that the owner signed in on a phone or desk."""
    session.add(SignInRow(token_hash=token_hash, device=device, made_at=now, used_at=now))


def find(session: Session, token_hash: str) -> SignInRow | None:
    """Return a sign-in by the hash of its secret, also one that has ended by its age."""
    return session.get(SignInRow, token_hash)


def list_all(session: Session) -> list[SignInRow]:
    """Return all sign-ins that are kept, also those that have ended by their age."""
    return list(session.scalars(select(SignInRow)))


def end(session: Session, token_hash: str) -> None:
    """End one sign-in."""
    session.execute(delete(SignInRow).where(SignInRow.token_hash == token_hash))


def end_of_device(session: Session, device: str) -> None:
    """End the sign-ins of one phone or desk."""
    session.execute(delete(SignInRow).where(SignInRow.device == device))


def end_all(session: Session) -> None:
    """End every sign-in."""
    session.execute(delete(SignInRow))


def forget_old(session: Session, made_before: dt.datetime, used_before: dt.datetime) -> None:
    """Forget sign-ins that were made or last used too long ago."""
    too_old = (SignInRow.made_at < made_before) | (SignInRow.used_at < used_before)
    session.execute(delete(SignInRow).where(too_old))
