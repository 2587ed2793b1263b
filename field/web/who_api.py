"""Letting phones in and out, saying what each may do, and signing the owner in."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from flask import Blueprint, Response, current_app, g, jsonify, request

from field.core.errors import BadInput
from field.services import owner, pair
from field.web import auth, pages
from field.web.body import read_json

bp = Blueprint("who", __name__)

ORIGIN = re.compile(r"https?://[A-Za-z0-9.\-\[\]:]{1,255}", re.ASCII)
LIMIT = 8192  # bytes: a code or two passphrases, a device and a name


@bp.post("/api/pair")
def take_pairing() -> Response:
    """Give a device its token for a good code, or for the owner's passphrase; the latter signs in as well."""
    body = read_json(LIMIT)
    auth.needs_own_page()
    if "passphrase" not in body:
        told = pair.pair(body.get("code"), body.get("device"), body.get("name"), address=request.remote_addr)
        return jsonify(told)
    told, secret = pair.pair_by_passphrase(
        body["passphrase"], body.get("device"), body.get("name"), address=request.remote_addr
    )
    return _with_cookie(jsonify(told), secret)


@bp.post("/api/sign-in")
def sign_in() -> Response:
    """Sign the owner in on the device that asks."""
    body = read_json(LIMIT)
    auth.needs_own_page()
    secret = owner.sign_in(body.get("passphrase"), g.device)
    return _with_cookie(jsonify({"signed_in": True}), secret)


@bp.post("/api/sign-out")
def sign_out() -> Response:
    """End the sign-in of the device that asks."""
    auth.needs_own_page()
    owner.sign_out(request.cookies.get(auth.COOKIE))
    answer = jsonify({"signed_in": False})
    answer.delete_cookie(auth.COOKIE, path="/api", secure=auth.is_https(), httponly=True, samesite="Strict")
    return answer


@bp.post("/api/passphrase")
def set_passphrase() -> Response:
    """Set the owner's passphrase: the first, or another in place of the old one; then sign in by it."""
    body = read_json(LIMIT)
    auth.needs_own_page()
    if owner.is_set():
        auth.needs_owner()
        owner.change_passphrase(body.get("old"), body.get("passphrase"), device=g.device)
    else:
        owner.set_first(body.get("passphrase"))
    return _with_cookie(jsonify({"signed_in": True}), owner.sign_in(body.get("passphrase"), g.device))


@bp.get("/api/me")
def me() -> dict[str, Any]:
    """Say what the device that asks may do."""
    told = {"device": g.device, "role": g.role}
    if g.role != "full":
        return told
    return {**told, "passphrase_set": owner.is_set(), "signed_in": auth.is_signed_in()}


@bp.post("/api/pair-code")
def make_pair_code() -> dict[str, Any]:
    """Make a code for one more device, with the address to open there and a drawing of it.

    The address is the home's own where it has one; else the one the asking page was opened under, for a proxy may have
    changed what arrives here.
    """
    asked = _asked()
    auth.needs_owner()
    made = pair.make_code(role=asked.get("role", "full"))
    home = current_app.config["HOME"]
    url = f"{_origin() if home is None else home['address']}/#/pair/{made['code']}"
    return {**made, "url": url, "qr": pair.draw_qr(url)}


@bp.get("/api/devices")
def devices() -> dict[str, Any]:
    """List the paired devices; to one that may only record, what they are called and no more."""
    return _listed() if g.role == "full" else {"devices": pair.list_names()}


@bp.post("/api/own-token")
def own_token() -> dict[str, Any]:
    """Give a copy of the device that asks, which took a name of its own, its own token."""
    asked = read_json(LIMIT)
    return pair.take_own_token(asked.get("device"), asked.get("token"), g.device)


@bp.post("/api/devices/<uuid:device>/revoke")
def revoke(device: UUID) -> dict[str, Any]:
    """Shut a device out; its token is good for nothing from then on."""
    asked = _asked()
    auth.needs_owner()
    pair.revoke(str(device), anyway=_anyway(asked))
    return _listed()


@bp.post("/api/devices/<uuid:device>/role")
def set_role(device: UUID) -> dict[str, Any]:
    """Say what a device may do from now on."""
    asked = read_json(LIMIT)
    auth.needs_owner()
    pair.set_role(str(device), asked.get("role"), anyway=_anyway(asked))
    return _listed()


@bp.post("/api/devices/<uuid:device>/name")
def rename(device: UUID) -> dict[str, Any]:
    """Call a device something else; "like" offers another name where one is called alike."""
    asked = read_json(LIMIT)
    auth.needs_owner()
    like = pair.rename(str(device), asked.get("name"))
    return {**_listed(), "like": like}


def _listed() -> dict[str, Any]:
    """Return the devices, and by which version of the app those are told that are up to date."""
    return {"devices": pair.list_devices(), "app": pages.current_version()}


def _asked() -> dict[str, Any]:
    """Return what the request says; none is as good as an empty one where nothing has to be said."""
    return {} if request.content_length in (None, 0) else read_json(LIMIT)


def _anyway(asked: dict[str, Any]) -> bool:
    anyway = asked.get("anyway", False)
    if not isinstance(anyway, bool):
        raise BadInput("It is not said clearly whether to do it anyway.", None, "anyway", code="bad-request")
    return anyway


def _with_cookie(answer: Response, secret: str) -> Response:
    answer.set_cookie(
        auth.COOKIE, secret, path="/api", secure=auth.is_https(), httponly=True, samesite="Strict",
        max_age=int(owner.IN_ALL.total_seconds()),
    )  # fmt: skip
    return answer


def _origin() -> str:
    """Return the asking page's own origin, as its browser tells it; else what this server was asked under."""
    told = request.headers.get("Origin", "")
    return told if ORIGIN.fullmatch(told) else request.host_url.rstrip("/")
