"""The command line: reads the call, runs one service, prints what it says.

Exit status: 0 done; 1 done, but some input was refused or unreadable; 2 the call itself is wrong, with one sentence on
standard error. No traceback reaches a person: a fault of our own is written to a file, and the sentence names it.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

from field import __version__
from field.core.errors import BadInput, FellsideError
from field.services import tell
from field.services.case_shape import SEE_EXAMPLE, SHAPE
from field.services.progress import Stopped, show_progress, stop_between_files

DONE = 0
SOME_REFUSED = 1
WRONG_CALL = 2
STOPPED = 130  # the shell's own convention: 128 + SIGINT

USUAL_HOST = "127.0.0.1"
USUAL_PORT = 8420
DEMO_MARK = "demo-scenario"

Args = argparse.Namespace
Lines = Callable[[Mapping[str, Any]], Iterable[str]]


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_CALL, f"{self.prog}: {_one_line(message)}. '{self.prog} --help' says more.\n")


def build_parser(prog: str) -> argparse.ArgumentParser:
    """Return the parser of every verb."""
    parser = _Parser(prog=prog, description="Serve the field log; or, with a verb:", parents=[_common(), _listen()])
    parser.add_argument("--version", action="version", version=f"fellside {__version__}")
    parser.set_defaults(run=run_serve, data=None, json=False, host=None, port=None)
    verbs: Any = parser.add_subparsers(title="verbs", dest="verb", parser_class=_Parser)

    def verb(
        name: str, run: Callable[[Args], int], text: str, *more: argparse.ArgumentParser
    ) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = verbs.add_parser(name, help=text, description=text, parents=[_common(), *more])
        made.set_defaults(run=run)
        return made

    verb("demo", run_demo, "serves invented data from a throwaway folder", _listen())
    verb("init", run_init, "makes the data folder and its tables")
    verb("migrate", run_migrate, "brings the tables up to this version")
    verb("pair-code", run_pair_code, "prints a code to pair one more phone", _listen())

    place = verb("place", run_place, "reads photos and tracks, and says where each was taken")
    place.add_argument("paths", nargs="+", metavar="PATH", help="a photo, a track, or a folder of them")
    place.add_argument("--clock-offset", type=_number, metavar="S", help="seconds to add to the camera's clock")
    place.add_argument("--zone", metavar="Z", help="zone of the camera's clock, as Europe/London")
    place.add_argument("--save", action="store_true", help="keep them in the data folder")

    may_i = verb("may-i", run_may_i, "answers: may I dig here, this tree, today?")
    may_i.add_argument("case", metavar="CASE", help="a JSON file with the case, or with cases; - reads standard input")
    may_i.formatter_class = argparse.RawDescriptionHelpFormatter  # the example below keeps its lines
    may_i.epilog = SHAPE

    where = verb("where", run_where, "says where a place is in every notation, and when the sun rises and sets there")
    where.add_argument("place", nargs="+", metavar="PLACE", help="LAT LON in degrees, or a grid reference, MGRS, UTM")
    where.add_argument("--on", type=_day, metavar="DATE", help="as YYYY-MM-DD (else today)")
    where.add_argument("--height", type=_metres, default=0.0, metavar="M", help="metres above what bounds the view")

    due = verb("due", run_due, "lists the tasks that are due")
    due.add_argument("--on", type=_day, metavar="DATE", help="as YYYY-MM-DD (else today)")
    due.add_argument("--days", type=_days, default=14, metavar="N", help="how many days to look ahead (else 14)")

    due.add_argument("-v", "--why", action="store_true", help="say why, task by task")

    verb("check", run_check, "verifies every stored photo and the journal")
    verb("rebuild", run_rebuild, "makes the tables again from the journal")
    return parser


# Switches that may stand before or after the verb. SUPPRESS: the one left out must not undo the one given. Each parser
# gets its own copy, for a default set on one would else be the default of all.
def _common() -> argparse.ArgumentParser:
    common = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    common.add_argument("--data", metavar="DIR", help="where everything is kept (else FELLSIDE_DATA, ./fellside-data)")
    common.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    return common


def _listen() -> argparse.ArgumentParser:
    listen = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    listen.add_argument("--host", metavar="ADDRESS", help=f"address to serve on (else {USUAL_HOST})")
    listen.add_argument("--port", metavar="N", type=_port, help=f"port to serve on (else {USUAL_PORT}); 0: any free")
    return listen


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or int(text) > 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 0 to 65535")
    return int(text)


def _number(text: str) -> float:
    try:
        got = float(text)
    except ValueError:
        got = float("nan")
    if not abs(got) < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds")
    return got


def _day(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()  # noqa: DTZ007  a day on a wall calendar has no zone
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date as YYYY-MM-DD") from None


def _metres(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of metres") from None


def _days(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or len(text) > 5:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of days")
    return int(text)


# --- what each verb does -------------------------------------------------------------------------------------------


def run_place(args: Args) -> int:
    """Read files, place the photos; keep them only when asked to."""
    from field.services import place_photos

    if args.save:
        _find_log(args)  # before thousands of photos are read, not after
    with show_progress("read", "Nothing was written.") as told:
        document, status = place_photos.read_paths(args.paths, args.clock_offset, args.zone, told)
    if args.save:
        copied = "No record was written; the copies made so far stay, and the same call goes on from them."
        with _store(args), stop_between_files() as check, show_progress("kept", copied, check) as told:
            status = max(status, place_photos.save_document(document, told))
    _say(args, place_photos.plain_document(document) if args.json else document, tell.tell_place)
    return status


def run_may_i(args: Args) -> int:
    """Answer the case, or each case, of one file."""
    from field.services import answer_may_i

    name = "standard input" if args.case == "-" else args.case
    try:
        with sys.stdin.buffer if args.case == "-" else Path(args.case).open("rb") as stream:
            asked = answer_may_i.read_case_file(stream, name)
    except FileNotFoundError:
        cure = f"may-i wants a file that holds the case as JSON; {SEE_EXAMPLE}"
        raise BadInput(f"There is no file '{name}'.", cure) from None
    except (OSError, ValueError) as fault:  # ValueError: a name that no file can have
        why = _reason(fault) if isinstance(fault, OSError) else "no file can have that name"
        cure = f"may-i wants a file that holds the case as JSON; {SEE_EXAMPLE}"
        raise BadInput(f"{name!r} cannot be read: {why}.", cure) from None
    try:
        document, status = answer_may_i.answer(asked)
    except BadInput as refused:
        at = "" if refused.where in (None, "document") else f'In {name} look at "{refused.where}"; '
        raise BadInput(refused.message, " ".join(filter(None, (refused.cure, at + SEE_EXAMPLE)))) from None
    _say(args, document, tell.tell_may_i)
    return status


def run_where(args: Args) -> int:
    """Say where a place is, in every notation, and when the sun rises and sets there."""
    from field.services import where

    now = datetime.now().astimezone()
    _say(args, where.where(" ".join(args.place), args.on, args.height, now), tell.tell_where)
    return DONE


def run_due(args: Args) -> int:
    """List the tasks due on a day and some days after it."""
    from field.services import list_due
    from field.services.tell_due import tell_due

    today = _today()
    on = args.on or today
    with _store(args):
        document = list_due.list_due(on, args.days)
        names = list_due.name_trees()
    # In a file or a pipe one task stays one line, for whoever looks for one in it.
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    _say(args, document, partial(tell_due, names=names, on=on, is_today=on == today, width=width, with_why=args.why))
    return DONE


def run_check(args: Args) -> int:
    """Verify photos and journal; 1 when something is not as it should be."""
    from field.services import check

    with _store(args):
        document = check.check()
    _say(args, document, tell.tell_ok)
    return DONE if document["ok"] else SOME_REFUSED


def run_rebuild(args: Args) -> int:
    """Make the tables again; 1 when they were not the same before."""
    from field.services import rebuild

    with _store(args):
        document = rebuild.rebuild()
    _say(args, document, tell.tell_ok)
    return DONE if document["ok"] else SOME_REFUSED


def run_init(args: Args) -> int:
    """Make the data folder and its tables; a second time changes nothing."""
    with _store(args, must_exist=False) as data:
        _say(args, {"ok": True, "data": str(data)}, lambda document: [f"Ready: {document['data']}"])
    return DONE


def run_migrate(args: Args) -> int:
    """Bring the tables of a data folder up to this version."""
    with _store(args) as data:
        _say(args, {"ok": True, "data": str(data)}, lambda document: [f"Up to this version: {document['data']}"])
    return DONE


def run_pair_code(args: Args) -> int:
    """Print a code that pairs one more phone, for a server that runs or will run on this folder."""
    from field.services import pair
    from field.services.serve import read_address

    with _store(args) as data:
        made = pair.make_code()
        running = read_address(data)
    # What was said on the call wins; else where the server of this folder listens, else where it would.
    host, port = _where(args, running or (USUAL_HOST, USUAL_PORT))
    document = {**made, "url": _pair_url(_address(host, port), made["code"])}
    _say(args, document, lambda told: [f"Code {told['code']}, good until {told['good_until']}", told["url"]])
    if not args.json:
        _show_qr(document["url"])
    return DONE


# --- serving -------------------------------------------------------------------------------------------------------


def run_serve(args: Args) -> int:
    """Serve the app on the data folder until it is stopped."""
    from field.web.app import find_data_dir

    _serve(args, find_data_dir(args.data), None)
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


def _stop(*_: object) -> NoReturn:
    raise KeyboardInterrupt


def _serve(args: Args, data: Path, database: str | None, *, demo: bool = False) -> None:
    from field.services import pair
    from field.services.serve import find_free_port, hold_folder, note_address, serve
    from field.store import db
    from field.web.app import create_app

    if demo and data.is_dir() and any(data.iterdir()) and not (data / DEMO_MARK).exists():
        raise BadInput(f"{data} holds something already.", "The demo wants an empty folder.")
    host, port = _where(args, (USUAL_HOST, USUAL_PORT))
    with hold_folder(data):
        port = find_free_port(host, port)
        app = create_app(data, database)
        with app.app_context():
            if demo:
                _load_scenario(data)
            code = pair.make_code(reusable=demo)["code"]
        db.close(app)  # the worker is another process, and must not share connections with this one
        note_address(data, host, port)
        address = _address(host, port)

        def say_where() -> None:
            print(f"Fellside is at {address}/", flush=True)
            print(f"Pair a phone or this browser: {_pair_url(address, code)}", flush=True)
            if demo:
                print(f"A camera card to take in lies in {data / 'camera-card'}", flush=True)
            _show_qr(_pair_url(address, code))
            if sys.stdout.isatty():
                print("Ctrl-C stops it.", flush=True)

        serve(partial(create_app, data, database), host, port, say_where)


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
    load_demo(_today(), data / "camera-card")
    mark.write_text("All data in this folder is invented.\n", encoding="utf-8")


def _address(host: str, port: int) -> str:
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]", "": "127.0.0.1"}.get(host, f"[{host}]" if ":" in host else host)
    return f"http://{shown}:{port}"


def _pair_url(address: str, code: str) -> str:
    return f"{address}/#/pair/{code}"


def _show_qr(url: str) -> None:
    """Draw a QR code of an address, on a terminal only: in a file it would be a heap of signs."""
    if sys.stdout.isatty():
        import segno

        segno.make(url, micro=False).terminal(compact=True)


# --- shared --------------------------------------------------------------------------------------------------------


def _find_log(args: Args, *, must_exist: bool = True) -> Path:
    """Return the data folder of a call; refuse one that is not there, or that is somebody's other folder."""
    from field.store import db
    from field.web.app import find_data_dir, find_database

    data = find_data_dir(args.data)
    if "\0" in str(data):
        raise BadInput("No folder can have that name.", "--data names another.")
    if must_exist and find_database() is None:
        if not data.is_dir():
            raise BadInput(f"There is no data folder {data}.", "'fellside init' makes one; --data names another.")
        if not db.holds_log(data):
            raise BadInput(f"The folder {data} holds other things and no log.", "--data names another.")
    return data


@contextmanager
def _store(args: Args, *, must_exist: bool = True) -> Iterator[Path]:
    """Open the store of the data folder; a mistyped folder is said so, not made."""
    from field.store import db
    from field.web.app import create_app

    data = _find_log(args, must_exist=must_exist)
    app = create_app(data)
    try:
        with app.app_context():
            yield data
    except Exception as fault:
        trouble = db.find_trouble(fault)
        if trouble is None:
            raise
        raise trouble from None
    finally:
        db.close(app)


def _today() -> date:
    return datetime.now().astimezone().date()


def _say(args: Args, document: Mapping[str, Any], lines: Lines) -> None:
    if args.json:
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    else:
        for line in lines(document):
            print(line)


def _one_line(text: str) -> str:
    """Return a sentence without what would break its line: a file's name may hold anything."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def _reason(fault: OSError) -> str:
    return (fault.strerror or "the disk refused").lower()


def _keep_fault(fault: Exception) -> Path:
    """Write the traceback of a fault of our own to a file that can be sent on; return its path."""
    handle, name = tempfile.mkstemp(prefix="fellside-fault-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        traceback.print_exception(fault, file=out)
    return Path(name)


def _shield_numbers(words: list[str]) -> list[str]:
    """Return the words of a call with negative numbers set off by a blank: -3° or -1e-3 would be taken for a switch."""
    if "where" not in words:
        return words
    return [f" {word}" if re.match(r"-[0-9.]", word) else word for word in words]


def _complain(*parts: str | None) -> int:
    print("fellside:", *(_one_line(part) for part in parts if part), file=sys.stderr)
    return WRONG_CALL


def main(argv: list[str] | None = None) -> int:
    """Run one call of the command line and return its exit status.

    Args:
        argv: the words after the program's name; None for those of this process.
    """
    words = _shield_numbers(sys.argv[1:] if argv is None else argv)
    args = build_parser(Path(sys.argv[0]).name or "fellside").parse_args(words)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a file name may be no text: say it with marks, not with a traceback
            stream.reconfigure(errors="backslashreplace")
    try:
        status = args.run(args)
        sys.stdout.flush()
    except FellsideError as refused:
        return _complain(refused.message, refused.cure)
    except Stopped as stopped:
        _complain(str(stopped))
        return STOPPED
    except KeyboardInterrupt:
        _complain("stopped.")
        return STOPPED
    except BrokenPipeError:
        # Whoever read our output has gone; without this the interpreter complains once more while it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return SOME_REFUSED
    except OSError as fault:
        return _complain(f"{fault.filename or 'The disk'}: {_reason(fault)}.")
    except Exception as fault:
        return _complain(
            "this is a fault of Fellside's own; what was asked for was not done.", f"{_keep_fault(fault)} says more."
        )
    return int(status)
