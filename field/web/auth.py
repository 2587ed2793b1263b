"""Who asks: every /api route but two wants the token of a paired device, before anything else is looked at."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Flask, current_app, g, request

from field.core.errors import NotAllowed
from field.services import owner, pair

OPEN = frozenset({"/api/hello", "/api/pair"})
# What a phone that may only record gets; each of these looks at `g.role` itself where there is more to withhold.
FOR_RECORDING = frozenset(
    {
        "sync.say_hello", "who.take_pairing", "who.me", "who.devices", "who.own_token", "sync.sync", "sync.pack",
        "copy.kept_twice", "upload.blob", "upload.piece", "upload.preview", "upload.small_ahead_of_photo",
        "card.kinds", "card.card", "weather.season",
    }
)  # fmt: skip
COOKIE = "fellside_owner"


def init_app(app: Flask) -> None:
    """Ask for the token before routing, body or method are looked at: an unpaired caller learns nothing but that."""
    app.before_request(_ask_for_token)


def _ask_for_token() -> None:
    if not (request.path.startswith("/api/") or request.path == "/api") or request.path in OPEN:
        return
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    shown = token.strip() if scheme.lower() == "bearer" and token.strip() else None
    found = None if shown is None else pair.find_paired(shown)
    if found is None:
        pair.refuse_unpaired(shown)
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
    """Refuse whoever is not the owner: without a passphrase set, any phone that may do everything counts as that.

    The token stands in a header that no other site can have a browser send; the sign-in in a cookie that no script can
    read. Both have to be of the same phone.
    """
    needs_full()
    needs_own_page()
    if owner.is_set() and not is_signed_in():
        raise NotAllowed("Only the owner can do that.", "Sign in with the passphrase.", code="owner-only")


def is_signed_in() -> bool:
    """Whether the owner is signed in on the phone that asks."""
    return owner.is_signed_in(request.cookies.get(COOKIE), g.device)


def needs_own_page() -> None:
    """Refuse what a page of another site had the browser send, where the browser tells.

    Behind a proxy the server may be asked under another name than the page was opened at: then only the browser's own
    word counts, or the name that the proxy hands on.
    """
    site = request.headers.get("Sec-Fetch-Site")
    told = request.headers.get("Origin")
    if site == "same-origin" or (site is None and (told is None or _is_own(told))):
        return
    raise NotAllowed(
        "That was asked by a page that is not Fellside's.", "Open Fellside at its own address.", code="other-page"
    )


def _is_own(origin: str) -> bool:
    home = current_app.config["HOME"]
    own = {request.host, request.headers.get("X-Forwarded-Host", request.host)}
    if home is not None:
        own.add(urlsplit(home["address"]).netloc)
    try:
        return urlsplit(origin).netloc in own
    except ValueError:
        return False


def is_https() -> bool:
    """Whether the page was opened over https, also where a proxy in front of a plain server says so."""
    home = current_app.config["HOME"]
    if request.is_secure or (home is not None and home["address"].startswith("https:")):
        return True
    return home is None and request.headers.get("X-Forwarded-Proto", "").split(",")[0].strip() == "https"
