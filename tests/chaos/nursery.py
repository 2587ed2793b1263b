"""Homes that may be killed: forked off one process that has the app loaded, so that a start costs milliseconds.

Run as a program: one JSON line in, one JSON line out. A home is a process of its own with the real app, the real store
and a real socket; so is every backup, restore and rebuild.
"""

from __future__ import annotations

import datetime as dt
import gc
import hashlib
import json
import os
import select
import shutil
import signal
import socket
import sys
import time
import traceback
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

import broken  # noqa: E402  (the paths come first)
import moments  # noqa: E402
import small_server  # noqa: E402
from flask import Flask  # noqa: E402
from sqlalchemy import select as sql_select  # noqa: E402

from field.services import restore, take_in_changes  # noqa: E402
from field.services.backup import back_up  # noqa: E402
from field.services.check import check  # noqa: E402
from field.services.pair import make_code, revoke  # noqa: E402
from field.services.rebuild import rebuild  # noqa: E402
from field.services.write_changes import write_changes  # noqa: E402
from field.store import db, devices, epoch, journal, lock, photos, queries  # noqa: E402
from field.store.engine import FILE_NAME  # noqa: E402
from field.store.tables import BlobRow, DeviceRow, JournalRow  # noqa: E402
from field.web.app import create_app  # noqa: E402

LONGEST_S = 30
FIRST_PHONES = 4
CONTROL = "/chaos/"


class Nursery:
    """Has everything loaded, and forks."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.data = root / "home" / "data"
        self.template = root / "template"
        self.log = root / "flushed"
        self.app: Flask = create_app(self.data, "")
        with self.app.app_context():
            shutil.copyfile(self._closed(), root / "empty.sqlite")
            with db.writing() as session:
                for device, token_hash in first_phones():
                    put_phone(session, device, token_hash)
        self._closed()
        # A data folder copied from here is another one to the store: a new epoch begins, as it should.
        self.data.rename(self.template)
        self._warm_up()
        self.child: int | None = None
        self.before: dict[int, int] = {}
        with socket.socket() as held:
            held.bind(("127.0.0.1", 0))
            self.port = int(held.getsockname()[1])

    def _closed(self) -> Path:
        """The database's file with nothing left beside it."""
        db.close(self.app)
        return self.data / FILE_NAME

    def _warm_up(self) -> None:
        """Do everything once, so that no child has to learn the same statements anew."""
        shutil.copytree(self.template, self.data)
        (self.root / "shelf").mkdir()
        db.migrate(self.app)
        work = _Child(self, -1, None)
        sha256 = hashlib.sha256(b"1").hexdigest()
        device = next(first_phones())[0]
        client = self.app.test_client()
        headers = {"Authorization": f"Bearer {device}"}
        piece = {"Upload-Offset": "0", "Upload-Length": "1", "Content-Type": "application/partial-upload"}
        for seq in (1, 2, 3):
            sets: list[tuple[str, dict[str, Any]]] = [("tree", {"tag": str(seq)}), ("photo", {"sha256": sha256})]
            ops = [warm_op(device, seq * 2 + number, kind, values) for number, (kind, values) in enumerate(sets)]
            asked = {"proto": 1, "device": device, "epoch": None, "cursor": 0, "have": {}, "ops": ops, "want": 500}
            for _ in range(2):
                answer = client.post("/api/sync", json=asked, headers=headers)
                assert answer.status_code == 200, answer.text
                client.head(f"/api/blob/{sha256}", headers=headers)
                client.patch(f"/api/blob/{sha256}", data=b"1", headers={**headers, **piece})
            with self.app.app_context():
                code = work._code()["code"]
                client.post("/api/pair", json={"code": code, "device": str(uuid.uuid4()), "name": "Warm"})
                work._desk(str(uuid.UUID(int=1, version=4)), "tag", "1")
                work._backup(str(self.root / "shelf" / f"{seq}.zip"))
                work._look()
                work._revoke(device)
                with db.writing() as session:
                    put_phone(session, *next(first_phones()))
        work._restore(str(self.root / "shelf" / "1.zip"))
        db.close(self.app)
        gc.collect()
        gc.freeze()

    # --- what is asked for ------------------------------------------------------------------------------------------

    def new(self) -> dict[str, Any]:
        """Begin with an empty home, that is not started."""
        self.stop()
        fresh(self.root, self.data)
        return {"port": self.port}

    def start(self, kill_at: moments.Kill, pack: bool) -> dict[str, Any]:
        """Serve; tell what is kept, or None when it was killed before it served."""
        self._note_before()
        told, self.child = self._fork("serve", kill_at, {"pack": pack, "port": self.port}, keep=True)
        return {"kept": told}

    def began_anew(self) -> dict[str, Any]:
        """Take note that the living home was given an empty folder."""
        self._note_before()
        return {}

    def stop(self) -> dict[str, Any]:
        """Kill the home if it lives."""
        if self.child is not None:
            os.kill(self.child, signal.SIGKILL)
            os.waitpid(self.child, 0)
            self.child = None
        return {}

    def dead(self, power: bool) -> dict[str, Any]:
        """Wait for the death of a home that broke a line, and cut its power if that is what killed it."""
        if self.child is not None:
            until = time.monotonic() + LONGEST_S
            while os.waitpid(self.child, os.WNOHANG)[0] == 0:
                if time.monotonic() > until:
                    return {"dead": False}
                time.sleep(0.0005)
            self.child = None
        if power:
            self._cut()
        return {"dead": True}

    def work(self, verb: str, kill_at: moments.Kill, **words: Any) -> dict[str, Any]:
        """Do one thing in a process of its own, beside the home or alone; "told" is None when it was killed."""
        if self.child is None:
            self._note_before()
        told, _ = self._fork(verb, kill_at, words, keep=False)
        return {"told": told}

    # --- forking ----------------------------------------------------------------------------------------------------

    def _note_before(self) -> None:
        self.log.unlink(missing_ok=True)
        files = [path.stat() for folder in self._folders() for path in moments.list_files(folder)]
        self.before = {state.st_ino: state.st_size for state in files}

    def _folders(self) -> list[Path]:
        return [self.data / "blobs", self.data / "parts"]

    def _cut(self) -> None:
        moments.cut_power(self._folders(), self.log, self.before)

    def _fork(self, verb: str, kill_at: moments.Kill, words: dict[str, Any], *, keep: bool) -> tuple[Any, int | None]:
        reading, writing = os.pipe()
        sys.stdout.flush()
        child = os.fork()
        if child == 0:
            gc.disable()  # looking through what was there before would copy all of it
            os.close(reading)
            try:
                _Child(self, writing, kill_at).run(verb, words)
            except BaseException:
                traceback.print_exc()
            finally:
                os._exit(1)
        os.close(writing)
        said = b""
        until = time.monotonic() + LONGEST_S
        while not said.endswith(b"\n"):
            if not select.select([reading], [], [], max(0.0, until - time.monotonic()))[0]:
                os.kill(child, signal.SIGKILL)
                raise AssertionError(f"{verb} did not end within {LONGEST_S} s")
            piece = os.read(reading, 1 << 20)
            if not piece:
                break
            said += piece
        os.close(reading)
        if keep and said:
            return json.loads(said), child
        status = os.waitpid(child, 0)[1]
        if not said and status != signal.SIGKILL:
            raise AssertionError(f"{verb} ended by itself with {status}; its words are above")
        return (json.loads(said) if said else None), None


class _Child:
    """One process that does one thing."""

    def __init__(self, nursery: Nursery, writing: int, kill_at: moments.Kill) -> None:
        self.nursery, self.app, self.data, self.writing = nursery, nursery.app, nursery.data, writing
        self.moments = moments.Moments()
        self.kill_at = kill_at

    def run(self, verb: str, words: dict[str, Any]) -> None:
        restore.finish(self.data)  # as every verb of the command line does first
        self.moments.watch(self.nursery.log)
        self.moments.arm(self.kill_at)
        if verb == "restore":
            self._say(self._restore(**words))
            return
        if verb == "serve":
            self._serve(**words)
        with self.app.app_context():
            result = getattr(self, f"_{verb}")(**words)
        self._say(result)

    def _say(self, result: Any) -> None:
        self.moments.arm(None)
        left = (json.dumps(result) + "\n").encode()
        while left:
            left = left[os.write(self.writing, left) :]
        os._exit(0)

    def _serve(self, port: int, pack: bool) -> None:
        self.real_pack = take_in_changes._find_pack
        with ExitStack() as held, socket.create_server(("127.0.0.1", port)) as listening:
            self.held = held
            os.write(self.writing, (json.dumps(self._open(pack)) + "\n").encode())
            small_server.serve(self._answer, listening, self.moments.pass_one)

    def _open(self, pack: bool) -> Any:
        """Open the data folder, as a start does; return what is kept."""
        # The plan costs more than all the rest, and is told by a hash alone.
        take_in_changes._find_pack = self.real_pack if pack else lambda *_: None
        self.held.enter_context(lock.hold(self.data))
        for folder in db.FOLDERS:
            (self.data / folder).mkdir(exist_ok=True)
        db.migrate(self.app)
        with self.app.app_context():
            return kept_now(self.data)

    def _answer(self, environ: dict[str, Any], start: Any) -> Any:
        """The app; and beside it what the test asks of this process, which is no part of a home."""
        path = environ["PATH_INFO"]
        if not path.startswith(CONTROL):
            return self.app.wsgi_app(environ, start)
        words = json.loads(environ["wsgi.input"].read())
        with self.app.app_context():
            told = getattr(self, "_" + path.removeprefix(CONTROL))(**words)
        start("200 OK", [("Content-Type", "application/json")])
        return [json.dumps(told).encode()]

    def _anew(self, pack: bool) -> Any:
        """Give this process an empty folder: to start another one would take longer than the schedule."""
        db.db.session.remove()
        db.close(self.app)
        self.held.close()
        fresh(self.nursery.root, self.data)
        looks, db.migrations.bring_up = db.migrations.bring_up, lambda connection: False  # its tables are of today
        try:
            return self._open(pack)
        finally:
            db.migrations.bring_up = looks

    def _arm(self, moment: moments.Kill) -> None:
        self.moments.arm(moment)

    def _restore(self, file: str) -> Any:
        with alone_from(self.nursery.root / "empty.sqlite"):
            return restore.restore(Path(file), self.data, None, dt.datetime.now(dt.UTC))

    def _backup(self, file: str) -> Any:
        before = kept_now(self.data)
        return {**back_up(Path(file), dt.datetime.now(dt.UTC)), "kept": before}

    def _rebuild(self) -> Any:
        return rebuild()

    def _code(self) -> Any:
        return make_code()

    def _revoke(self, device: str) -> Any:
        if devices.find_device(db.db.session(), device) is None:
            return {"done": False}  # put back to a day on which it was not paired yet
        revoke(device)
        return {"done": True}

    def _desk(self, rec: str, field: str, value: Any) -> Any:
        return write_changes([("tree", rec, {field: value})])

    def _kept(self) -> Any:
        return kept_now(self.data)

    def _merged(self, rec: str) -> Any:
        return queries.merged_record(rec)

    def _look(self, thorough: bool = True) -> Any:
        """Everything a home holds, looked at twice: as it stands, and made anew out of its journal.

        Args:
            thorough: check each row of the journal by its hash too.
        """
        found = check() if thorough else {"ok": True}
        with db.snapshot() as session:
            rows = session.execute(
                sql_select(JournalRow.op, JournalRow.clock_suspect, JournalRow.held).order_by(JournalRow.pos)
            ).all()
            records = {rec: queries.merged_record(rec) for rec in journal.all_recs(session)}
            told = {
                "check": found,
                "ops": [[json.loads(op), suspect, held] for op, suspect, held in rows],
                "records": records,
                "end": journal.end(session),
                "epoch": epoch.read(session),
                "missing": queries.list_missing_blobs(session),
                "kept": kept_now(self.data),
            }
        return {**told, "rebuild": rebuild()}


def fresh(root: Path, data: Path) -> None:
    """Put a folder that was just closed for the first time in place of all there is."""
    shutil.rmtree(root / "home", ignore_errors=True)
    shutil.rmtree(root / "shelf", ignore_errors=True)
    (root / "shelf").mkdir()
    data.mkdir(parents=True)
    shutil.copyfile(root / "template" / FILE_NAME, data / FILE_NAME)


def put_phone(session: db.Session, device: str, token_hash: str) -> None:
    """Write a phone as paired."""
    now = dt.datetime.now(dt.UTC)
    session.merge(
        DeviceRow(
            device=device, name="Phone", token_hash=token_hash, role="full",
            paired_at=now, last_seen_at=now, revoked_at=None,
        )
    )  # fmt: skip


def first_phones() -> Iterator[tuple[str, str]]:
    """The phones that every home knows from its first day, with the hash of each one's token, which is its name."""
    for number in range(FIRST_PHONES):
        device = str(uuid.UUID(int=number + 1, version=4))
        yield device, hashlib.sha256(device.encode()).hexdigest()


def warm_op(device: str, seq: int, kind: str, values: dict[str, Any]) -> dict[str, Any]:
    """A change like those of phones."""
    rec = str(uuid.UUID(int=1 if kind == "tree" else seq, version=4))
    stamp = f"{1_800_000_000_000:012x}-{seq:04x}-{device}"
    frame = {"dev": device, "seq": seq, "hlc": stamp, "wall": None, "tz": None, "rec": rec, "type": kind}
    return {**frame, "set": values, "base": {}, "v": 1}


def kept_now(data: Path) -> dict[str, Any]:
    """Names and hashes of all changes that are kept, and the files with the length of each."""
    with db.snapshot() as session:
        names = [list(row) for row in session.execute(sql_select(JournalRow.dev, JournalRow.seq, JournalRow.hash))]
        rows = {row[0]: row[1] for row in session.execute(sql_select(BlobRow.sha256, BlobRow.size_bytes))}
    # A file that took its place, and whose row was not written any more, is found when it is next asked for.
    lying = [*moments.list_files(data / "parts"), *moments.list_files(data / "blobs")]
    parts = {path.name: path.stat().st_size for path in lying}
    bad = [sha256 for sha256 in rows if not _is_whole(photos.blob_path(data, sha256), sha256)]
    return {"names": names, "blobs": rows, "parts": parts, "bad": bad}


def _is_whole(path: Path, sha256: str) -> bool:
    return path.is_file() and photos.hash_file(path) == sha256


@contextmanager
def alone_from(empty: Path) -> Iterator[None]:
    """Let a store that is opened by itself begin with a copy of an empty one: to make its tables takes far longer."""
    real = db.alone

    def alone(database_url: str | None, folder: Path | str) -> Any:
        Path(folder).mkdir(parents=True, exist_ok=True)
        if not (Path(folder) / FILE_NAME).exists():
            shutil.copyfile(empty, Path(folder) / FILE_NAME)
        return real(database_url, folder)

    db.alone = alone  # type: ignore[assignment]
    try:
        yield
    finally:
        db.alone = real


def main(root: str, breaking: str) -> None:
    nursery = Nursery(Path(root))
    broken.break_home(breaking)
    try:
        for line in sys.stdin:
            asked = json.loads(line)
            told = getattr(nursery, asked.pop("do"))(**asked)
            print(json.dumps(told), flush=True)
    finally:
        nursery.stop()  # whoever asked may be gone: no home outlives this process


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "")
