"""The verb that serves a home over https, and what it prints: where, how a phone is set up, and the code to pair it."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from field.core.errors import BadInput
from field.verbs.call import Args

if TYPE_CHECKING:
    from field.services.home_name import HomeName
    from field.services.phone_setup import PhoneSetup

EVERYWHERE = "0.0.0.0"  # a phone has to reach it; nobody who is not paired gets anything but the app itself
USUAL_PORT = 8420
USUAL_SETUP_PORT = 8421


def serve_at_home(args: Args, data: Path, database: str | None) -> None:
    """Serve a data folder over https until it is stopped; the caller holds the folder."""
    from field.services import home_name, pair
    from field.services.serve import find_free_port, note_address
    from field.services.serve_home import Home, Ways, serve_home
    from field.store import db
    from field.verbs.serving_app import choose_backups, make_serving_app
    from field.web.app import create_app
    from field.web.setup_page import create_setup_app

    backups = choose_backups(args, data)
    host = EVERYWHERE if args.host is None else args.host
    chosen, before = home_name.choose_name(data, args.name, args.port or None, USUAL_PORT)
    port = find_free_port(host, chosen.port if args.port is None else args.port)
    setup_port = _setup_port(args, host, port)
    app = create_app(data, database)
    with app.app_context():
        code = pair.make_code()["code"]
    db.close(app)  # the worker is another process, and must not share connections with this one
    home_name.remember_name(data, chosen)
    chosen = replace(chosen, port=port)  # another than was chosen only when any free one was asked for
    note_address(data, host, port, chosen.address)

    def make_app(told: dict[str, str]) -> partial[Any]:
        return partial(make_serving_app, data, database, told, backups)

    ways = Ways(make_app, create_setup_app, partial(_say_where, code, chosen, before), partial(print, flush=True))
    serve_home(Home(data, host, chosen, setup_port, args.announce, args.processes), ways)


def address_without_server(args: Args, data: Path) -> str:
    """Return the address a server of this folder would be opened under, were it to serve over https."""
    from field.services import home_name

    chosen, _ = home_name.choose_name(data, None, args.port or None, USUAL_PORT)
    return chosen.address


def _setup_port(args: Args, host: str, port: int) -> int:
    """Return the port of the setup page; one that was only the usual one gives way to any other."""
    from field.services.serve import find_free_port

    if args.setup_port is not None:
        if args.setup_port == port:
            raise BadInput("The setup page needs a port of its own.", "Choose another with --setup-port.")
        return find_free_port(host, args.setup_port)
    try:
        return find_free_port(host, USUAL_SETUP_PORT if port != USUAL_SETUP_PORT else 0)
    except BadInput:
        return find_free_port(host, 0)


def _say_where(code: str, chosen: HomeName, before: HomeName | None, setup: PhoneSetup) -> None:
    groups = setup.fingerprint.split(" ")
    print(f"Fellside is at {chosen.address}/")
    if before is not None:
        print(f"It was at {before.address} before: phones paired there keep their log under that address.")
    print(f"Set up a phone, once for each: {setup.page}")
    print("There it shows these figures, the SHA-256 of this home's certificate:")
    for at in range(0, len(groups), 4):
        print(f"  {' '.join(groups[at : at + 4])}")
    print(f"Then pair it, within ten minutes, with the code {code}")
    print(f"or open {chosen.address}/#/pair/{code}", flush=True)
    if sys.stdout.isatty():
        import segno

        segno.make(setup.page, micro=False).terminal(compact=True)
        print("Ctrl-C stops it.", flush=True)
