"""Kills a move between the two databases at its statements, and looks at what it left; see tests/services/test_move.py.

python tests/kill_move.py ADDRESS FOLDER KILLS: the address of a PostgreSQL server, a folder to work in, and how many
kills each way. The moment is the n-th statement or end of a transaction: every third one of the last, where the one
store is closed and the other opened, and others spread over the rest.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import psycopg  # noqa: E402
from backup_kit import all_kept, fill  # noqa: E402
from sqlalchemy import Engine, event, inspect, make_url  # noqa: E402

from field.services.move import Place, find_place, move  # noqa: E402
from field.store import closed, db, moving  # noqa: E402

NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
LAST = 14  # moments at the end


def in_child(work: Callable[[], None]) -> int:
    """Run something in a process of its own; return how that ended."""
    child = os.fork()
    if child:
        return os.waitpid(child, 0)[1]
    try:
        work()
    except BaseException:
        traceback.print_exc()
        os._exit(1)
    os._exit(0)


class Moments:
    """Counts the statements and ends of transactions of this process, and kills it at one of them."""

    def __init__(self, kill_at: int | None) -> None:
        self.passed, self.kill_at = 0, kill_at
        event.listen(Engine, "before_cursor_execute", self._pass)
        event.listen(Engine, "commit", self._pass)

    def _pass(self, *_: object) -> None:
        self.passed += 1
        if self.passed == self.kill_at:
            os.kill(os.getpid(), signal.SIGKILL)


def is_usable(place: Place) -> bool:
    """Whether a store holds the log and may be opened."""
    with moving.reached(place.url) as engine, engine.connect() as connection:
        has_tables = inspect(connection).has_table("journal")
        return has_tables and closed.find(connection) is None and moving.holds_anything(connection)


class Trial:
    """One way to move, tried again and again from the same beginning."""

    def __init__(self, server: str, folder: Path, to_file: bool) -> None:
        self.server, self.folder, self.to_file = server, folder, to_file
        self.data, self.model = folder / "data", folder / "model"
        self.address = make_url(server).set(database="kill_move").render_as_string(hide_password=False)
        file, base = find_place(None, self.data, None), find_place(self.address, self.data, None)
        for left in folder.glob("between-*"):
            left.unlink()
        self.source, self.target = (base, file) if to_file else (file, base)
        self.database = self.address if to_file else None
        self.other = None if to_file else self.address

    def prepare(self) -> None:
        """Fill a store that every try begins with."""
        shutil.rmtree(self.model, ignore_errors=True)
        self._sql("DROP DATABASE IF EXISTS kill_move_model WITH (FORCE)", "CREATE DATABASE kill_move_model")
        address = make_url(self.server).set(database="kill_move_model").render_as_string(hide_password=False)
        self._child(lambda: self._fill(address if self.to_file else None))

    def begin(self) -> None:
        shutil.rmtree(self.data, ignore_errors=True)
        shutil.copytree(self.model, self.data)
        self._sql("DROP DATABASE IF EXISTS kill_move WITH (FORCE)")
        self._sql("CREATE DATABASE kill_move" + (" TEMPLATE kill_move_model" if self.to_file else ""))

    def move(self, kill_at: int | None) -> int:
        def work() -> None:
            moments = Moments(kill_at)
            move(self.data, self.source, self.target, NOW)
            (self.folder / "passed").write_text(str(moments.passed))

        return in_child(work)

    def look(self) -> None:
        """Check what a kill left, then let the next try end it."""

        def work() -> None:
            usable = [is_usable(self.source), is_usable(self.target)]
            assert usable in ([True, False], [False, True], [False, False]), usable
            if usable == [False, False]:  # the one is closed, the other not yet opened: the same call ends that
                (self.folder / f"between-{os.getpid()}").touch()
                with moving.reached(self.source.url) as engine, engine.connect() as connection:
                    assert closed.find(connection)["to"] == self.target.told
            if usable[0]:
                with db.alone(self.database, self.data):
                    same(self.folder)
            if not usable[1]:
                move(self.data, self.source, self.target, NOW)
            assert [is_usable(self.source), is_usable(self.target)] == [False, True]
            with db.alone(self.other, self.data):
                same(self.folder)

        self._child(work)

    def _fill(self, address: str | None) -> None:
        with db.alone(address, self.model):
            fill(4)
            (self.folder / "kept").write_text(repr(all_kept()))

    def _child(self, work: Callable[[], None]) -> None:
        if in_child(work) != 0:
            raise SystemExit(1)

    def _sql(self, *statements: str) -> None:
        with psycopg.connect(self.server, autocommit=True) as link:
            for statement in statements:
                link.execute(statement.encode())


def same(folder: Path) -> None:
    assert repr(all_kept()) == (folder / "kept").read_text()


def main(server: str, folder: str, kills: str) -> None:
    done = 0
    for to_file in (False, True):
        trial = Trial(server, Path(folder), to_file)
        trial.prepare()
        trial.begin()
        assert trial.move(None) == 0
        passed = int((trial.folder / "passed").read_text())
        spread = max(1, int(kills) - LAST // 3 - 1)
        moments = [1 + number * (passed - LAST) // spread for number in range(spread)]
        for kill_at in [*moments, *range(passed - LAST + 1, passed + 1, 3)]:
            trial.begin()
            assert trial.move(kill_at) == signal.SIGKILL, kill_at
            trial.look()
            done += 1
        between = len(list(trial.folder.glob("between-*")))
        print(f"{'to SQLite' if to_file else 'to PostgreSQL'}: {passed} moments, {between} between the two")
    print(f"{done} kills")


if __name__ == "__main__":
    main(*sys.argv[1:])
