"""Who asks: every /api route but two wants the token of a paired device, before anything else is looked at."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from flask import Blueprint, Flask, current_app, g, request

from field.core.errors import NotAllowed, NotPaired
from field.services import pair
from field.web.body import read_json

bp = Blueprint("auth", __name__)

OPEN = frozenset({"/api/hello", "/api/pair"})
# What a phone that may only record gets; each of these looks at `g.role` itself where there is more to withhold.
FOR_RECORDING = frozenset(
    {
        "sync.say_hello", "auth.take_pairing", "sync.sync", "sync.pack", "copy.kept_twice", "auth.devices",
        "upload.blob", "upload.piece", "upload.preview",
    }
)  # fmt: skip
ORIGIN = re.compile(r"https?://[A-Za-z0-9.\-\[\]:]{1,255}", re.ASCII)
PAIR_LIMIT = 4096  # bytes: a code, a device and a name


def init_app(app: Flask) -> None:
    """Ask for the token before routing, body or method are looked at: an unpaired caller learns nothing but that."""
    app.before_request(_ask_for_token)


def _ask_for_token() -> None:
    if not (request.path.startswith("/api/") or request.path == "/api") or request.path in OPEN:
        return
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    found = pair.find_paired(token.strip()) if scheme.lower() == "bearer" and token.strip() else None
    if found is None:
        raise NotPaired("This device is not paired with this server.", "Pair it with a code from home.")
    g.device, g.role = found
    if request.endpoint is not None and request.endpoint not in FOR_RECORDING:
        needs_full()


def needs_full() -> None:
    """Refuse a phone that may only record. Every route asks this by itself but those of `FOR_RECORDING`."""
    if g.role != "full":
        raise NotAllowed(
            "This phone may record, and no more than that.", "Ask the owner, or use a phone that may do everything.",
            code="record-only",
        )  # fmt: skip


def needs_owner() -> None:
    """Refuse whoever is not the owner: without a passphrase set, any phone that may do everything counts as that."""
    needs_full()


@bp.post("/api/pair")
def take_pairing() -> dict[str, Any]:
    """Give a device its token for a good code."""
    body = read_json(PAIR_LIMIT)
    return pair.pair(body.get("code"), body.get("device"), body.get("name"))


@bp.post("/api/pair-code")
def make_pair_code() -> dict[str, Any]:
    """Make a code for one more device, with the address to open there and a drawing of it.

    The address is the home's own where it has one; else the one the asking page was opened under, for a proxy may have
    changed what arrives here.
    """
    made = pair.make_code()
    home = current_app.config["HOME"]
    url = f"{_origin() if home is None else home['address']}/#/pair/{made['code']}"
    return {**made, "url": url, "qr": pair.draw_qr(url)}


def _origin() -> str:
    """Return the asking page's own origin, as its browser tells it; else what this server was asked under."""
    told = request.headers.get("Origin", "")
    return told if ORIGIN.fullmatch(told) else request.host_url.rstrip("/")


@bp.get("/api/devices")
def devices() -> dict[str, Any]:
    """List the paired devices."""
    return {"devices": pair.list_devices()}


@bp.post("/api/devices/<uuid:device>/revoke")
def revoke(device: UUID) -> dict[str, Any]:
    """Shut a device out; its token is good for nothing from then on."""
    pair.revoke(str(device))
    return {"devices": pair.list_devices()}
