"""A phone in Python on the same protocol: written from its rules, not from the app's own client.

What stands on its disk changes only as a whole (`Disk` in one step), so that a phone that dies has what it had said.
"""

from __future__ import annotations

import copy
import hashlib
import json
import random
import uuid
from dataclasses import dataclass, field
from typing import Any

from schedule import Chance
from wire import Answer, CutAnswer, Died, Line, NoAnswer

from field.sync.hlc import Clock, find_stamp, is_suspect, receive, tick, write_stamp
from field.sync.merge import Entry, base_for, merge_record

Op = dict[str, Any]
Name = tuple[str, int]
MOST_TURNS = 60


@dataclass(frozen=True)
class Row:
    """One change as this phone keeps it, with home's word on it."""

    op: Op
    suspect: bool = False
    held: str | None = None


@dataclass
class Disk:
    """All that outlives the phone's process."""

    dev: str
    token: str | None
    paired_as: str = ""  # the name it was paired under; it may write under another by now
    seq: int = 0
    clock: Clock = field(default_factory=Clock)
    rows: dict[Name, Row] = field(default_factory=dict)
    epoch: str | None = None
    cursor: int = 0
    have: dict[str, int] = field(default_factory=dict)  # home's numbers, as it last told them
    photos: dict[str, bytes] = field(default_factory=dict)
    at_home: set[str] = field(default_factory=set)

    def copied(self) -> Disk:
        """A copy that can be changed alone; changes themselves are never altered, and are shared."""
        return copy.copy(self)._own()

    def _own(self) -> Disk:
        self.paired_as = self.paired_as or self.dev
        self.rows, self.photos, self.at_home = dict(self.rows), dict(self.photos), set(self.at_home)
        return self


class PhoneDied(Exception):
    """The battery is empty: what was not on the disk is gone."""


class Fork(Exception):
    """Home says that another phone writes under this one's name."""


class PythonPhone:
    """Args: disk; made: gives new ids; now: gives the true time in ms."""

    def __init__(self, disk: Disk, ids: random.Random, now_ms: Any, drift_ms: int = 0) -> None:
        self.disk = disk
        self.ids = ids
        self.now_ms = now_ms
        self.drift_ms = drift_ms

    def clone(self) -> PythonPhone:
        return PythonPhone(self.disk.copied(), self.ids, self.now_ms, self.drift_ms)

    def wipe(self, device: str) -> None:
        self.disk = Disk(dev=device, token=None)

    def set_drift(self, drift_ms: int) -> None:
        self.drift_ms = drift_ms

    @property
    def paired_as(self) -> str:
        return self.disk.paired_as

    def photos(self) -> set[str]:
        return set(self.disk.photos)

    def journal(self) -> dict[Name, tuple[Op, bool, str | None]]:
        return {name: (row.op, row.suspect, row.held) for name, row in self.disk.rows.items()}

    def state(self) -> dict[str, Any]:
        """Where this phone stands: it moves as long as anything is on its way."""
        disk = self.disk
        unsent = sum(seq > disk.have.get(dev, 0) for dev, seq in disk.rows)
        waiting = unsent + len(disk.photos.keys() - disk.at_home)
        return {"dev": disk.dev, "epoch": disk.epoch, "cursor": disk.cursor, "rows": len(disk.rows), "waiting": waiting}

    def new_id(self) -> str:
        return str(uuid.UUID(int=self.ids.getrandbits(128), version=4))

    def clock_ms(self) -> int:
        return max(0, self.now_ms() + self.drift_ms)

    # --- what its owner does ----------------------------------------------------------------------------------------

    def merged(self, rec: str) -> dict[str, Any] | None:
        rows = [row for row in self.disk.rows.values() if row.op.get("rec") == rec and row.held is None]
        return merge_record(Entry(row.op, row.suspect) for row in rows)

    def edit(self, kind: str, rec: str, values: dict[str, Any], photo: bytes | None = None) -> None:
        disk = self.disk.copied()
        now = self.clock_ms()
        disk.seq += 1
        disk.clock = tick(disk.clock, now)
        op = {
            "dev": disk.dev,
            "seq": disk.seq,
            "hlc": write_stamp(disk.clock, disk.dev),
            "wall": wall_text(now),
            "tz": "+00:00",
            "rec": rec,
            "type": kind,
            "set": values,
            "base": base_for(self.merged(rec), values),
            "v": 1,
        }
        disk.rows[disk.dev, disk.seq] = Row(op)
        if photo is not None:
            disk.photos[hashlib.sha256(photo).hexdigest()] = photo
        self.disk = disk

    # --- the exchange -----------------------------------------------------------------------------------------------

    def sync(self, line: Line, chance: Chance | None) -> str:
        """Sync until neither has anything for the other, or until something breaks; return how it ended."""
        try:
            self._exchange(line, chance)
            self._send_photos(line, chance)
        except Died:
            return "home died"
        except (NoAnswer, PhoneDied) as fault:
            return str(fault)
        except Fork:
            return "forks again and again"
        return "unpaired" if self.disk.token is None else "done"

    def _exchange(self, line: Line, chance: Chance | None) -> None:
        have: dict[str, int] | None = None
        if chance is not None and chance.random() < chance.rash:
            have = self.disk.have  # one that does not look first: what it believes may be long out of date
        sent: dict[str, int] = {}
        more, forks = True, 0
        for _ in range(MOST_TURNS):
            if self.disk.token is None:
                return
            looks_first = have is None or (forks > 0 and more)
            ops = [] if looks_first else self._lacking({**have, **_higher(sent, have)}, chance)
            if have is not None and not ops and not more:
                return
            try:
                answer, renewed = self._turn(line, ops, chance)
            except Fork:
                forks += 1
                if forks > 2:
                    raise
                self._step_aside(forks)
                have, sent, more = None, {}, True
                continue
            if answer is None:
                return
            sent = {} if renewed else sent
            for op in ops:
                sent[op["dev"]] = max(op["seq"], sent.get(op["dev"], 0))
            have, more = answer["have"], answer["more"]
        raise AssertionError("a sync does not come to its end")

    def _lacking(self, have: dict[str, int], chance: Chance | None) -> list[Op]:
        """The next changes that home lacks, own ones first, in the order of their numbers."""
        most = 200 if chance is None else chance.choice((1, 2, 3, 200))
        names = [name for name in self.disk.rows if name[1] > have.get(name[0], 0)]
        names.sort(key=lambda name: (name[0] != self.disk.dev, name))
        return [self.disk.rows[name].op for name in names[:most]]

    def _turn(self, line: Line, ops: list[Op], chance: Chance | None) -> tuple[dict[str, Any] | None, bool]:
        disk = self.disk
        body = {
            "proto": 1,
            "device": disk.dev,
            "epoch": disk.epoch,
            "cursor": disk.cursor,
            "have": self.known(),
            "ops": ops,
            "want": 500 if chance is None else chance.choice((1, 2, 4, 500)),
        }
        self._may_die(chance)
        got = self._ask(line, "POST", "/api/sync", json.dumps(body).encode(), "application/json", {}, chance)
        if got.status == 401:
            self.disk = _with(self.disk, token=None)
            return None, False
        if got.status == 409 and got.is_json and got.json()["error"]["code"] == "device-fork":
            raise Fork
        assert got.status == 200, (got.status, got.body[:500])
        answer = got.json() if got.is_json else None
        if not isinstance(answer, dict) or "epoch" not in answer:
            raise NoAnswer("something else answers")
        self._may_die(chance)
        disk = self._taken_in(answer)
        renewed = self.disk.epoch is not None and self.disk.epoch != answer["epoch"]
        self.disk = disk
        self._may_die(chance)
        return {**answer, "more": answer["more"] or disk.epoch is None}, renewed

    def _ask(
        self, line: Line, method: str, path: str, body: bytes, kind: str, more: dict[str, str], chance: Any
    ) -> Answer:
        headers = {"Authorization": f"Bearer {self.disk.token}", "Content-Type": kind, **more}
        spoils = chance is not None and chance.random() < chance.spoils
        try:
            answer = line.ask(method, path, headers, body, chance if spoils else None)
        except CutAnswer as cut:
            raise NoAnswer(str(cut)) from None
        if answer.status >= 500:
            raise AssertionError((answer.status, path, answer.body[:300]))
        return answer

    def _may_die(self, chance: Chance | None) -> None:
        if chance is not None and chance.random() < chance.dies:
            raise PhoneDied("its battery is empty")

    def known(self) -> dict[str, int]:
        """For every device the number up to which nothing is missing."""
        numbers: dict[str, set[int]] = {}
        for dev, seq in self.disk.rows:
            numbers.setdefault(dev, set()).add(seq)
        return {dev: next(n for n in range(len(seqs) + 1) if n + 1 not in seqs) for dev, seqs in numbers.items()}

    # --- what an answer changes -------------------------------------------------------------------------------------

    def _taken_in(self, answer: dict[str, Any]) -> Disk:
        """Return the disk as it is after an answer; it takes its place in one step."""
        disk = self.disk.copied()
        for one in answer["results"]:
            row = disk.rows.get((one["dev"], one["seq"]))
            if row is not None:
                why = one["why"] or ("Home could not apply it." if one["s"] in ("held", "bad") else None)
                disk.rows[one["dev"], one["seq"]] = Row(row.op, one["clock_suspect"], why)
        arrived = {(entry["op"]["dev"], entry["op"]["seq"]): entry for entry in answer["ops"]}
        taken = sorted(
            name for name, entry in arrived.items() if name in disk.rows and disk.rows[name].op != entry["op"]
        )
        for dev in sorted({dev for dev, _ in taken}):
            first = min(seq for one, seq in taken if one == dev)
            if dev == disk.dev:
                disk.dev, disk.seq = self.new_id(), 0
            self._issue_anew(
                disk,
                [
                    name
                    for name in sorted(disk.rows)
                    if name[0] == dev
                    and name[1] >= first
                    and (name not in arrived or arrived[name]["op"] != disk.rows[name].op)
                ],
            )
        now = self.clock_ms()
        for name, entry in arrived.items():
            stamp = find_stamp(entry["op"].get("hlc"))
            if stamp is not None and not entry["clock_suspect"] and not is_suspect(stamp.clock, now):
                disk.clock = receive(disk.clock, stamp.clock, now)
            if name not in disk.rows and name[0] == disk.dev:
                disk.dev, disk.seq = self.new_id(), 0  # another writes under this name
            disk.rows[name] = Row(entry["op"], entry["clock_suspect"], entry["held"])
        disk.at_home -= set(answer["blobs_missing"])
        disk.epoch, disk.cursor, disk.have = answer["epoch"], answer["cursor"], answer["have"]
        if taken:
            disk.epoch, disk.cursor = None, 0  # what left its old name here may stand under it at home all the same
        return disk

    def _issue_anew(self, disk: Disk, names: list[Name]) -> None:
        """Give changes whose name another change holds new names of this phone, in their order."""
        stamps: dict[str, str] = {}
        for name in names:
            op = disk.rows.pop(name).op
            disk.seq += 1
            disk.clock = tick(disk.clock, self.clock_ms())
            stamp = write_stamp(disk.clock, disk.dev)
            stamps[op["hlc"]] = stamp
            base = {key: [stamps.get(one, one) for one in seen] for key, seen in op["base"].items()}
            anew = {**op, "dev": disk.dev, "seq": disk.seq, "hlc": stamp, "base": base}
            disk.rows[disk.dev, disk.seq] = Row(anew)

    def _step_aside(self, forks: int) -> None:
        """Home refused this phone's name: look at everything first, so that what is really its own is known."""
        disk = self.disk.copied()
        if forks == 1:
            disk.epoch, disk.cursor = None, 0
        else:
            old, has = disk.dev, disk.have.get(disk.dev, 0)
            disk.dev, disk.seq = self.new_id(), 0
            self._issue_anew(disk, [name for name in sorted(disk.rows) if name[0] == old and name[1] > has])
        self.disk = disk

    # --- photos -----------------------------------------------------------------------------------------------------

    def _send_photos(self, line: Line, chance: Chance | None) -> None:
        if self.disk.token is None:
            return
        for sha256 in sorted(self.disk.photos.keys() - self.disk.at_home):
            self._send_photo(line, sha256, chance)
            self._may_die(chance)
            self.disk = _with(self.disk, at_home=self.disk.at_home | {sha256})

    def _send_photo(self, line: Line, sha256: str, chance: Chance | None) -> None:
        data, path = self.disk.photos[sha256], f"/api/blob/{sha256}"
        size = len(data) if chance is None else chance.choice((len(data), len(data) // 2 + 1, 700))
        for _ in range(MOST_TURNS):
            here = self._ask(line, "HEAD", path, b"", "", {}, chance)
            if here.headers.get("upload-complete") == "?1":
                return
            if here.status == 200 and "upload-offset" not in here.headers:
                raise NoAnswer("something else answers")
            offset = int(here.headers.get("upload-offset", 0))
            more = {"Upload-Offset": str(offset), "Upload-Length": str(len(data))}
            piece = data[offset : offset + size]
            took = self._ask(line, "PATCH", path, piece, "application/partial-upload", more, chance)
            assert took.status in (200, 204, 409, 422), (took.status, took.body)
        raise AssertionError("a photo does not get on")

    def pair(self, line: Line, code: str) -> None:
        """Pair anew, under a new name: a copy of this phone may be paired under the old one."""
        self.disk = _with(self.disk, dev=self.new_id(), seq=0)
        body = json.dumps({"code": code, "device": self.disk.dev, "name": "A phone"}).encode()
        answer = line.ask("POST", "/api/pair", {"Content-Type": "application/json"}, body, None)
        assert answer.status == 200, answer.body
        self.disk = _with(self.disk, token=answer.json()["token"], paired_as=self.disk.dev)


def _with(disk: Disk, **parts: Any) -> Disk:
    changed = disk.copied()
    for name, value in parts.items():
        setattr(changed, name, value)
    return changed


def _higher(sent: dict[str, int], have: dict[str, int]) -> dict[str, int]:
    return {dev: max(seq, have.get(dev, 0)) for dev, seq in sent.items()}


def wall_text(ms: int) -> str:
    import datetime as dt

    return dt.datetime.fromtimestamp(ms / 1000, dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
