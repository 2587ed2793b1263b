"""The command line: reads the call, runs one service, prints what it says.

Exit status: 0 done; 1 done, but some input was refused or unreadable; 2 the call itself is wrong, with one sentence on
standard error. No traceback reaches a person: a fault of our own is written to a file, and the sentence names it.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import traceback
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any, NoReturn

from field import __version__
from field.core.errors import FellsideError
from field.services.case_shape import SHAPE
from field.services.progress import Stopped
from field.verbs.asking import run_due, run_may_i, run_place, run_where
from field.verbs.call import SOME_REFUSED, STOPPED, WRONG_CALL, Args, one_line, reason
from field.verbs.keeping import run_backup, run_check, run_init, run_migrate, run_rebuild, run_restore, run_take_copy
from field.verbs.letting_in import run_passphrase
from field.verbs.moving import run_move
from field.verbs.seasons import run_drying, run_windows
from field.verbs.serving import USUAL_HOST, USUAL_PORT, run_demo, run_pair_code, run_serve

MOST_PROCESSES = 64  # each has up to ten connections to the database; common practice, no source


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_CALL, f"{self.prog}: {one_line(message)}. '{self.prog} --help' says more.\n")


def build_parser(prog: str) -> argparse.ArgumentParser:
    """Return the parser of every verb."""
    parser = _Parser(
        prog=prog,
        description="Serve the field log; or, with a verb:",
        parents=[_common(), _listen(), _plain(), _at_home()],
    )
    parser.add_argument("--version", action="version", version=f"fellside {__version__}")
    parser.set_defaults(run=run_serve, data=None, json=False, host=None, port=None, plain=False)
    parser.add_argument("--backups", metavar="DIR", help="where to put a backup a day (else FELLSIDE_BACKUPS, or none)")
    text = "how many processes answer (else 1): more than one only with PostgreSQL"
    parser.add_argument("--processes", metavar="N", type=_processes, default=1, help=text)
    parser.set_defaults(name=None, setup_port=None, announce=True)
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
    code = verb("pair-code", run_pair_code, "prints a code to pair one more phone", _listen(), _plain())
    code.add_argument("--record", action="store_true", help="for a phone that may record, and no more than that")
    text = "sets the owner's passphrase, also where it was forgotten; a script hands it over on standard input"
    verb("passphrase", run_passphrase, text)

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

    windows = verb("windows", run_windows, "says when each work is safe for a kind of tree at a place, and why")
    windows.add_argument("kind", metavar="KIND", help="short name of a species card, as birch or scots-pine")
    windows.add_argument("--lat", type=_degrees, required=True, metavar="LAT", help="degrees, negative in the south")
    windows.add_argument("--lon", type=_degrees, required=True, metavar="LON", help="degrees, negative in the west")
    windows.add_argument("--height", type=_metres, required=True, metavar="M", help="metres above the sea")
    windows.add_argument(
        "--own-days", type=int, metavar="N", help="your own number of days later than the cards, in place of the law"
    )
    windows.add_argument("--from", type=_day, dest="from_on", metavar="DATE", help="as YYYY-MM-DD (else today)")
    windows.add_argument("--days", type=_days, default=400, metavar="N", help="how many days to look ahead (else 400)")

    drying = verb("drying", run_drying, "says how long a box may last between waterings, as a range with its reasons")
    drying.add_argument("--tmin", type=_celsius, required=True, metavar="C", help="lowest of the day, degrees Celsius")
    drying.add_argument("--tmax", type=_celsius, required=True, metavar="C", help="highest of the day")
    drying.add_argument("--lat", type=_degrees, required=True, metavar="LAT", help="degrees, negative in the south")
    drying.add_argument("--on", type=_day, required=True, metavar="DATE", help="as YYYY-MM-DD")
    drying.add_argument("--box-l", type=_figure, required=True, metavar="L", help="inside volume of the box, litres")
    drying.add_argument("--canopy-cm", type=_figure, required=True, metavar="CM", help="across the crown; 0 for none")
    drying.add_argument("--kind", required=True, metavar="K", help="short name of a species card")
    drying.add_argument("--mix", required=True, metavar="MIX", help="parts by volume, as pumice=50,bark=30,peat=20")
    states = ("fresh", "recovering", "vigorous")
    drying.add_argument("--state", choices=states, help="how the tree does (else the range spans all three)")
    drying.add_argument("--depth-cm", type=_figure, metavar="CM", help="of the mix (else half the side of the box)")

    due = verb("due", run_due, "lists the tasks that are due")
    due.add_argument("--on", type=_day, metavar="DATE", help="as YYYY-MM-DD (else today)")
    due.add_argument("--days", type=_days, default=14, metavar="N", help="how many days to look ahead (else 14)")

    due.add_argument("-v", "--why", action="store_true", help="say why, task by task")

    verb("check", run_check, "verifies every stored photo and the journal")
    verb("rebuild", run_rebuild, "makes the tables again from the journal")
    backup = verb("backup", run_backup, "writes everything that is kept into one file, also while the server runs")
    backup.add_argument("file", metavar="FILE", help="a file that is not there yet, or a folder to put one into")
    restore = verb("restore", run_restore, "puts a backup back; what stands there now is kept beside it")
    restore.add_argument("file", metavar="FILE", help="a backup")
    move = verb("move", run_move, "moves the log from SQLite into PostgreSQL, or back; the server has to be stopped")
    move.add_argument("to", metavar="TO", nargs="?", help="postgresql://user@host/name, or sqlite")
    move.add_argument("--undo", action="store_true", help="open the store again that was closed when the log was moved")
    copy = verb("take-copy", run_take_copy, "takes in the copy that a phone kept, also while the server runs")
    copy.add_argument("files", nargs="+", metavar="FILE", help="a copy, or one part of it")
    copy.add_argument("--anyway", action="store_true", help="also one of a phone of another home")
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
    listen.add_argument("--host", metavar="ADDRESS", help=f"address to serve on (else all of them, or {USUAL_HOST})")
    listen.add_argument("--port", metavar="N", type=_port, help=f"port to serve on (else {USUAL_PORT}); 0: any free")
    return listen


def _plain() -> argparse.ArgumentParser:
    plain = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    text = f"http without a certificate: for this machine ({USUAL_HOST}), or behind a proxy of your own"
    plain.add_argument("--plain", action="store_true", help=text)
    return plain


def _at_home() -> argparse.ArgumentParser:
    at_home = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    at_home.add_argument("--name", metavar="NAME", help="what this home is called on its network (else fellside)")
    at_home.add_argument("--setup-port", metavar="N", type=_port, help="port of the page to set up phones (else 8421)")
    at_home.add_argument(
        "--no-announce", dest="announce", action="store_false", help="do not tell the network the name"
    )
    return at_home


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or int(text) > 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 0 to 65535")
    return int(text)


def _processes(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 4 and 1 <= int(text) <= MOST_PROCESSES):
        raise argparse.ArgumentTypeError(f"a number of processes is a whole number from 1 to {MOST_PROCESSES}")
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
    return _finite(text, "a number of metres")


def _degrees(text: str) -> float:
    return _finite(text, "a number of degrees")


def _celsius(text: str) -> float:
    return _finite(text, "a number of degrees Celsius")


def _figure(text: str) -> float:
    return _finite(text, "a number")


def _finite(text: str, what: str) -> float:
    try:
        got = float(text)
    except ValueError:
        got = float("nan")
    if not abs(got) < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not {what}")
    return got


def _days(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or len(text) > 5:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of days")
    return int(text)


def _keep_fault(fault: Exception) -> Path:
    """Write the traceback of a fault of our own to a file that can be sent on; return its path."""
    handle, name = tempfile.mkstemp(prefix="fellside-fault-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        traceback.print_exception(fault, file=out)
    return Path(name)


def _shield_numbers(words: list[str]) -> list[str]:
    """Return the words of a call with negative numbers set off by a blank: -3° or -1e-3 would be taken for a switch."""
    if not {"where", "windows", "drying"} & set(words):
        return words
    return [f" {word}" if re.match(r"-[0-9.]", word) else word for word in words]


def _complain(*parts: str | None) -> int:
    print("fellside:", *(one_line(part) for part in parts if part), file=sys.stderr)
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
        return _complain(f"{fault.filename or 'The disk'}: {reason(fault)}.")
    except Exception as fault:
        return _complain(
            "this is a fault of Fellside's own; what was asked for was not done.", f"{_keep_fault(fault)} says more."
        )
    return int(status)
