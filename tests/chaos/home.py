"""A home as the schedule sees it: started, killed, put back; and everything it ever answered, held against its disk."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from moments import Kill
from wire import Answer, Line

from field.sync.change import op_hash

NURSERY = Path(__file__).resolve().parent / "nursery.py"
Names = set[tuple[str, int, str]]  # device, number, hash


class Home:
    """Talks to the process that forks homes, and remembers what they answered."""

    def __init__(self, root: Path, breaking: str = "") -> None:
        self.root = root
        words = [sys.executable, str(NURSERY), str(root), breaking]
        self._nursery = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.line = Line(self._ask("new")["port"], self._hear)
        self.lives = False
        self.count = 0
        self.armed: Kill = None  # it is to be killed at its next so manieth moment
        self.cuts_power = False
        self.begin()

    def begin(self) -> None:
        """Begin with an empty home; it runs, unless the one before does not."""
        self.answered: Names = set()
        self.photos: dict[str, int] = {}  # how much of a photo was said to be here
        self.whole: set[str] = set()
        self.backups: list[tuple[str, Names, set[str]]] = []
        self.files = 0
        self.count += 1
        armed, self.armed, self.cuts_power = self.armed, None, False
        self.line.late = None
        if self.lives and armed is None:
            self._control("anew", pack=self.count % 8 == 0)
            self._ask("began_anew")
        else:
            self._ask("new")
            self.lives = False

    def close(self) -> None:
        assert self._nursery.stdin is not None
        self._nursery.stdin.close()
        self._nursery.wait(60)

    def _ask(self, do: str, **words: Any) -> Any:
        assert self._nursery.stdin is not None
        assert self._nursery.stdout is not None
        print(json.dumps({"do": do, **words}), file=self._nursery.stdin, flush=True)
        said = self._nursery.stdout.readline()
        assert said, "the nursery ended; its words are above"
        return json.loads(said)

    # --- running ----------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Start it if it does not run; what it then has is held against what it had answered."""
        if self.lives:
            return
        kept = self._ask("start", kill_at=self.armed, pack=self.count % 8 == 0)["kept"]
        if kept is None:  # it was killed while it started
            self.armed = None
            self._ask("dead", power=self.cuts_power)
            kept = self._ask("start", kill_at=None, pack=False)["kept"]
        self.lives = True
        self.compare(kept)

    def stop(self) -> None:
        """Kill it, between two requests."""
        self._ask("stop")
        self.lives, self.armed, self.line.died = False, None, False

    def kill_at(self, moment: Kill, cuts_power: bool) -> None:
        """Have it killed at its so manieth moment from now, be it while it starts."""
        self.armed, self.cuts_power = moment, cuts_power
        if self.lives:
            self._control("arm", moment=moment)
            if self.line.died:  # its answer had as many moments
                self.died()

    def died(self) -> None:
        """Take note that a line broke: it must be dead."""
        assert self.armed is not None, "the home closed a line without an answer, and nothing was to kill it"
        assert self._ask("dead", power=self.cuts_power)["dead"], "the home closed a line without an answer, and lives"
        self.lives, self.armed, self.line.died = False, None, False

    def disarm(self) -> None:
        """Let nothing kill it any more."""
        if self.armed is not None:
            self.stop()
        self.cuts_power = False

    def _control(self, verb: str, **words: Any) -> Any:
        """Ask something of the living process that is no part of a home."""
        told = self.line.plainly("POST", f"/chaos/{verb}", json.dumps(words).encode())
        return None if told is None else told.json()

    def compare(self, kept: dict[str, Any]) -> None:
        """Assert that all that was answered is here."""
        names = names_of(kept)
        assert self.answered <= names, f"taken in and gone: {sorted(self.answered - names)}"
        assert not kept["bad"], f"photos that are told to be whole and are not: {kept['bad']}"
        assert self.whole <= kept["blobs"].keys(), f"photos taken in and gone: {self.whole - kept['blobs'].keys()}"
        for sha256, size in self.photos.items():
            here = kept["blobs"].get(sha256, kept["parts"].get(sha256, 0))
            assert here >= size, f"{size} bytes of a photo were taken in, and {here} are here"

    # --- what it says -----------------------------------------------------------------------------------------------

    def _hear(self, method: str, path: str, body: bytes, answer: Answer) -> None:
        if path == "/api/sync" and answer.status == 200:
            results = answer.json()["results"]
            sent = {(op["dev"], op["seq"]): op_hash(op) for op in json.loads(body)["ops"]}
            taken = [(one["dev"], one["seq"]) for one in results if one["s"] in ("ok", "dup", "held")]
            self.answered |= {(*name, sent[name]) for name in taken}
        if not path.startswith("/api/blob/"):
            return
        sha256 = path.rsplit("/", 1)[1]
        if answer.status in (200, 204):
            self.photos[sha256] = int(answer.headers["upload-offset"])
            if answer.headers["upload-complete"] == "?1":
                self.whole.add(sha256)
        elif answer.status == 422:
            self.photos.pop(sha256, None)

    # --- work on the data folder ------------------------------------------------------------------------------------

    def _work(self, verb: str, kill_at: Kill = None, **words: Any) -> Any:
        """Have a process of its own do something; None: it was killed."""
        return self._ask("work", verb=verb, kill_at=kill_at, **words)["told"]

    def _inside(self, verb: str, again: bool = True, **words: Any) -> Any:
        """Have the home itself do something; None: it was killed over it, each time it was tried."""
        for _ in range(2 if again else 1):
            self.start()
            told = self._control(verb, **words)
            if not self.line.died:
                return told
            self.died()
        return None

    def back_up(self, kill_at: Kill) -> bool:
        """Back up beside the running home, or while it stands still; return whether it came to its end."""
        self.files += 1
        file = str(self.root / "shelf" / f"{self.files}.zip")
        # By hand it is made beside the home; the daily one is made inside it.
        told = (
            self._work("backup", kill_at, file=file)
            if self.files % 2
            else self._inside("backup", again=False, file=file)
        )
        if told is None:
            return False
        assert told["ok"], told
        names = names_of(told["kept"])
        self.backups.append((file, names, set(told["kept"]["blobs"])))
        return True

    def restore(self, which: int, kill_at: Kill) -> bool:
        """Put a backup back, with the home stopped; return whether there was one."""
        if not self.backups:
            return False
        file, names, whole = self.backups[which % len(self.backups)]
        self.stop()
        old = (self.answered, self.whole, self.photos)
        told = self._work("restore", kill_at, file=file)
        if told is not None:
            assert told["ok"], told
        self.answered, self.whole, self.photos = set(), set(), {}
        kept = self._ask("start", kill_at=None, pack=False)["kept"]
        self.lives = True
        has = names_of(kept)
        cut_off = told is None and (has, whole) != (names, set(kept["blobs"]))
        if cut_off:  # before the folders changed places: then all of the old is here
            self.answered, self.whole, self.photos = old
            self.compare(kept)
            return True
        assert has == names, f"put back: {len(has)} changes of {len(names)}"
        assert whole == set(kept["blobs"]), "photos of the backup are not here"
        self.answered, self.whole = set(names), set(whole)
        self.compare(kept)
        return True

    def rebuild(self, kill_at: Kill) -> None:
        """Make the tables anew; none may differ from what it was."""
        self.stop()
        told = self._work("rebuild", kill_at)
        assert told is None or told["ok"], told

    def desk(self, rec: str, field: str, value: Any) -> dict[str, Any] | None:
        """Write a change of the home's own; return the record as it was before."""
        before: dict[str, Any] | None = self._inside("merged", rec=rec)
        self._inside("desk", rec=rec, field=field, value=value)
        return before

    def code(self) -> str:
        """Return a code that pairs one phone."""
        return str(self._inside("code")["code"])

    def revoke(self, device: str) -> bool:
        """Shut a phone out; return whether it was paired here."""
        return bool(self._inside("revoke", device=device)["done"])

    def look(self) -> dict[str, Any]:
        """Return everything that is kept."""
        told: dict[str, Any] = self._inside("look", thorough=self.count % 4 == 0)
        self.compare(told["kept"])
        return told


def names_of(kept: dict[str, Any]) -> Names:
    """The changes that are kept, each with its name and its hash."""
    return {(dev, seq, hashed) for dev, seq, hashed in kept["names"]}
