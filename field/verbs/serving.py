"""The verbs that serve, and what a phone needs to find the server: its address, a code, a drawing of both."""

from __future__ import annotations

import shutil
import signal
import sys
import tempfile
from functools import partial
from pathlib import Path
from typing import NoReturn

from field.core.errors import BadInput
from field.verbs.call import DONE, Args, local_today, open_store, say

USUAL_HOST = "127.0.0.1"
USUAL_PORT = 8420
DEMO_MARK = "demo-scenario"


def run_serve(args: Args) -> int:
    """Serve the app on the data folder until it is stopped: over https, or plainly for this machine or a proxy."""
    from field.services.restore import finish
    from field.services.serve import check_processes, hold_folder
    from field.verbs.serving_home import serve_at_home
    from field.web.app import find_data_dir, find_database

    data = find_data_dir(args.data)
    check_processes(args.processes, find_database(), data)
    if args.plain:
        _serve(args, data, None)
        return DONE
    finish(data.resolve())
    with hold_folder(data):
        serve_at_home(args, data, None)
    return DONE


def run_demo(args: Args) -> int:
    """Serve the invented scenario, from a folder that goes when the demo ends, or from one named."""
    if args.data is not None:
        _serve(args, Path(args.data).expanduser().absolute(), "", demo=True)
        return DONE
    # Being stopped must still take the folder away, also while the scenario is being loaded.
    signal.signal(signal.SIGTERM, _stop)
    folder = Path(tempfile.mkdtemp(prefix="fellside-demo-"))
    try:
        _serve(args, folder, "", demo=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return DONE


def run_pair_code(args: Args) -> int:
    """Print a code that pairs one more phone, for a server that runs or will run on this folder."""
    from field.services import pair
    from field.services.serve import read_address

    with open_store(args) as data:
        made = pair.make_code(role="record" if args.record else "full")
        running = read_address(data)
        address = _pair_address(args, data, running)
    document = {**made, "url": _pair_url(address, made["code"])}
    say(args, document, lambda told: [f"Code {told['code']}, good until {told['good_until']}", told["url"]])
    if not args.json:
        _show_qr(document["url"])
    return DONE


def _pair_address(args: Args, data: Path, running: tuple[str, int, str | None] | None) -> str:
    """Return the address to pair at: as said on the call; else of the server of this folder, else where it would be."""
    from field.verbs.serving_home import address_without_server

    if running is not None and running[2] is not None and args.host is None and args.port is None:
        return running[2]
    if running is None and not args.plain and args.host is None:
        return address_without_server(args, data)
    return address_of(*_where(args, running[:2] if running else (USUAL_HOST, USUAL_PORT)))


def _stop(*_: object) -> NoReturn:
    raise KeyboardInterrupt


def _serve(args: Args, data: Path, database: str | None, *, demo: bool = False) -> None:
    from field.services import pair
    from field.services.restore import finish
    from field.services.serve import find_free_port, hold_folder, note_address, serve
    from field.store import db
    from field.verbs.serving_app import choose_backups, make_serving_app
    from field.web.app import create_app

    if demo and data.is_dir() and any(data.iterdir()) and not (data / DEMO_MARK).exists():
        raise BadInput(f"{data} holds something already.", "The demo wants an empty folder.")
    backups = "" if demo else choose_backups(args, data)
    host, port = _where(args, (USUAL_HOST, USUAL_PORT))
    if demo:  # a port that is taken must leave nothing in the folder: the next try wants it empty
        find_free_port(host, port)
    finish(data.resolve())
    with hold_folder(data):
        port = find_free_port(host, port)
        app = create_app(data, database)
        with app.app_context():
            if demo:
                _load_scenario(data)
            code = pair.make_code(reusable=demo)["code"]
        db.close(app)  # the worker is another process, and must not share connections with this one
        note_address(data, host, port)
        address = address_of(host, port)

        def say_where() -> None:
            print(f"Fellside is at {address}/", flush=True)
            print(f"Pair a phone or this browser: {_pair_url(address, code)}", flush=True)
            if demo:
                print(f"A camera card to take in lies in {data / 'camera-card'}", flush=True)
            _show_qr(_pair_url(address, code))
            if sys.stdout.isatty():
                print("Ctrl-C stops it.", flush=True)

        processes = 1 if demo else args.processes
        serve(partial(make_serving_app, data, database, None, backups), host, port, say_where, processes=processes)


def _where(args: Args, usual: tuple[str, int]) -> tuple[str, int]:
    """Return (host, port) as the call says them, else the usual ones."""
    return usual[0] if args.host is None else args.host, usual[1] if args.port is None else args.port


def _load_scenario(data: Path) -> None:
    from field.services.load_demo import load_demo

    mark = data / DEMO_MARK
    if mark.exists():
        return
    if sys.stderr.isatty():
        print("Drawing the invented scenario ...", file=sys.stderr, flush=True)
    load_demo(local_today(), data / "camera-card")
    mark.write_text("All data in this folder is invented.\n", encoding="utf-8")


def address_of(host: str, port: int) -> str:
    """Return an address that can be opened on this machine, for what is listened on."""
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]", "": "127.0.0.1"}.get(host, f"[{host}]" if ":" in host else host)
    return f"http://{shown}:{port}"


def _pair_url(address: str, code: str) -> str:
    return f"{address}/#/pair/{code}"


def _show_qr(url: str) -> None:
    """Draw a QR code of an address, on a terminal only: in a file it would be a heap of characters."""
    if sys.stdout.isatty():
        import segno

        segno.make(url, micro=False).terminal(compact=True)
