"""Keeps a home's certificates with its data: made when there are none, renewed in time, kept private."""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509

from field.core.errors import StoreTrouble
from field.services import home_ca
from field.store.files import replacing

FOLDER = "tls"
CA_FILE = "authority.pem"
LEAF_FILE = "server.pem"


@dataclass(frozen=True, slots=True)
class Kept:
    """What the server serves with."""

    file: Path  # key and chain, for its owner's eyes only
    ca: x509.Certificate
    until: dt.datetime  # when the server's certificate ends
    why: str | None  # why something was made; None: nothing was
    is_first: bool  # whether no authority stood there before


def keep_certificates(
    data: Path, now: dt.datetime, called: str, names: Sequence[str], ips: Sequence[ipaddress.IPv4Address]
) -> Kept:
    """Return the certificates of a data folder, having made or renewed what was due.

    The caller holds the folder's lock.

    Args:
        data: the data folder.
        now: aware.
        called: what a new authority is named after.
        names, ips: what the server's certificate must hold.
    Raises: StoreTrouble when the authority cannot be read (it is never replaced unasked: every phone trusts it), or
        when something has to be made and this machine's clock is plainly wrong.
    """
    folder = data / FOLDER
    ca = _read_ca(folder / CA_FILE)
    leaf = _read_leaf(folder / LEAF_FILE)
    is_first = ca is None
    plan = home_ca.plan_certificates(now, _shown(ca), _shown(leaf), names, ips)
    if plan.why is not None and now < home_ca.CLOCK_FLOOR:
        raise StoreTrouble(
            f"This machine's clock says {now:%Y-%m-%d}, and a certificate made now would never be good.",
            "Set the clock, then start Fellside again.",
            code="wrong-clock",
        )
    if plan.ca or ca is None:
        ca = home_ca.make_ca(now, called)
        _write(folder / CA_FILE, home_ca.to_pem(ca))
    if plan.leaf or leaf is None:
        leaf = home_ca.make_leaf(now, ca, names, ips)
        _write(folder / LEAF_FILE, home_ca.to_pem(leaf, ca.certificate))
    return Kept(folder / LEAF_FILE, ca.certificate, leaf.certificate.not_valid_after_utc, plan.why, is_first)


def is_due(data: Path, now: dt.datetime, names: Sequence[str], ips: Sequence[ipaddress.IPv4Address]) -> str | None:
    """Return why `keep_certificates` would make something now, None when it would not; nothing is written."""
    folder = data / FOLDER
    ca, leaf = _read_ca(folder / CA_FILE), _read_leaf(folder / LEAF_FILE)
    if now < home_ca.CLOCK_FLOOR:
        return None
    return home_ca.plan_certificates(now, _shown(ca), _shown(leaf), names, ips).why


def _shown(issued: home_ca.Issued | None) -> x509.Certificate | None:
    return None if issued is None else issued.certificate


def _read_ca(file: Path) -> home_ca.Issued | None:
    try:
        return home_ca.read_pem(file.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, IndexError):
        raise StoreTrouble(
            f"This home's own authority in {file} cannot be read.",
            "Put that file back from a backup. Or take it away: a new one is made, and every phone is set up anew.",
            code="no-authority",
        ) from None


def _read_leaf(file: Path) -> home_ca.Issued | None:
    try:
        return home_ca.read_pem(file.read_bytes())
    except (OSError, ValueError, TypeError, IndexError):
        return None  # it can be made again at any time


def _write(file: Path, text: bytes) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with replacing(file, private=True) as out:
        out.write(text)
