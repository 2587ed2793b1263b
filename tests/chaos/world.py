"""Runs one schedule: phones, a home, and what befalls them; then all faults end, and everything is held against all."""

from __future__ import annotations

import hashlib
import json
import random
import time
import uuid
from collections.abc import Callable
from typing import Any

from home import Home
from moments import Kill
from python_phone import Disk, PythonPhone
from schedule import FIELDS, Chance, Schedule, Step, picture
from wire import NoAnswer

from field.sync.change import canonical_bytes

MOST_ROUNDS = 12
MOST_PHONES = 5
Told = Callable[[str], None]


class World:
    """One schedule while it runs.

    Args:
        browser: gives a phone in a browser; None where there is none.
        told: hears every step and how it ended.
    """

    def __init__(self, home: Home, schedule: Schedule, browser: Any = None, told: Told = lambda _: None) -> None:
        self.home, self.schedule, self.browser, self.told = home, schedule, browser, told
        home.begin()
        if browser is not None:
            browser.begin()
        self.ids = random.Random(schedule.seed)
        self.phones: list[Any] = []
        self.photos: dict[str, bytes] = {}
        self.written: dict[tuple[str, str, Any], set[Any]] = {}  # (record, field, value) -> the values its writer saw
        self.forks = False  # there is a copy of a phone: what it saw cannot be told by names any longer
        self.wiped: list[str] = []
        self.number = 0
        for number, drift_ms in enumerate(schedule.drifts):
            device = str(uuid.UUID(int=number + 1, version=4))
            disk = Disk(dev=device, token=device)
            in_browser = browser is not None and schedule.browsers[number]
            made = browser.new_phone(disk, drift_ms, schedule.seed) if in_browser else self._phone(disk, drift_ms)
            self.phones.append(made)

    def _phone(self, disk: Disk, drift_ms: int) -> PythonPhone:
        return PythonPhone(disk, self.ids, lambda: time.time_ns() // 1_000_000, drift_ms)

    def run(self) -> None:
        """Run all steps, end all faults, and judge.

        Raises: AssertionError when anything is lost or does not agree.
        """
        for number, step in enumerate(self.schedule.steps):
            self.number = number
            self.told(f"{number:3} {json.dumps(step)}: {getattr(self, '_' + step[0])(*step[1:]) or ''}")
        self.judge()

    def _who(self, who: int) -> Any:
        return self.phones[who % len(self.phones)]

    # --- steps ------------------------------------------------------------------------------------------------------

    def _edit(self, who: int, rec: str, field: str, token: int) -> None:
        value = f"T{token}" if field == "tag" else token
        seen = self._who(who).merged(rec)
        self._who(who).edit("tree", rec, {field: value})
        self._note(rec, field, value, seen)

    def _note(self, rec: str, field: str, value: Any, seen: dict[str, Any] | None) -> None:
        self.written[rec, field, value] = standing(seen, field)

    def _remove(self, who: int, rec: str, removed: bool) -> str | None:
        if self._who(who).merged(rec) is None:
            return "there is none"
        self._who(who).edit("tree", rec, {"deleted": removed})
        return None

    def _bad(self, who: int, rec: str) -> None:
        self._who(who).edit("tree", rec, {"girth_mm": "thick"})

    def _photo(self, who: int, rec: str, number: int, token: int) -> None:
        photo = picture(number)
        sha256 = hashlib.sha256(photo).hexdigest()
        self.photos[sha256] = photo
        fields = {"tree": rec, "sha256": sha256, "size_bytes": len(photo)}
        self._who(who).edit("photo", str(uuid.UUID(int=token << 64, version=4)), fields, photo)

    def _sync(self, who: int, seed: int | None, mood: str = "") -> str:
        """Sync once; without a seed nothing goes wrong on the way."""
        self.home.start()
        phone = self._who(who)
        ended = self._synced(phone, None if seed is None else Chance(seed, mood))
        if ended == "unpaired":
            self._pair(phone)
            ended = f"paired anew, {self._synced(phone, None if seed is None else Chance(seed, mood))}"
        return ended

    def _synced(self, phone: Any, chance: Chance | None) -> str:
        ended = phone.sync(self.home.line, chance)
        if self.home.line.died:
            self.home.died()
        return str(ended)

    def _pair(self, phone: Any) -> None:
        for _ in range(2):
            self.home.start()
            try:
                phone.pair(self.home.line, self.home.code())
            except NoAnswer:
                self.home.died()
            else:
                return
        raise AssertionError("a phone cannot be paired")

    def _kill(self, moment: Kill, power: bool) -> None:
        self.home.kill_at(moment, power)

    def _stop(self) -> None:
        self.home.stop()

    def _backup(self, kill_at: Kill) -> str:
        return "made" if self.home.back_up(kill_at) else "cut off"

    def _restore(self, which: int, kill_at: Kill) -> str:
        return "put back" if self.home.restore(which, kill_at) else "there is none"

    def _rebuild(self, kill_at: Kill) -> None:
        self.home.rebuild(kill_at)

    def _desk(self, rec: str, field: str, token: int) -> None:
        value = f"T{token}" if field == "tag" else token
        seen = self.home.desk(rec, field, value)
        self._note(rec, field, value, seen)

    def _clock(self, who: int, drift_ms: int) -> None:
        self._who(who).set_drift(drift_ms)

    def _clone(self, who: int) -> str | None:
        if len(self.phones) == MOST_PHONES:
            return "there are enough"
        copied = self._who(who).clone()
        if copied is None:
            return "no browser is free"
        self.forks = True
        self.phones.append(copied)
        return None

    def _wipe(self, who: int) -> None:
        phone = self._who(who)
        phone.wipe(str(uuid.UUID(int=self.ids.getrandbits(128), version=4)))
        self._pair(phone)

    def _revoke(self, who: int) -> str | None:
        device = self._who(who).paired_as
        return None if self.home.revoke(device) else "it is not paired here"

    # --- the end ----------------------------------------------------------------------------------------------------

    def judge(self) -> None:
        """End all faults, let every phone sync until nothing moves any more, and compare everything with everything."""
        self.home.disarm()
        self.home.line.late = None
        self.home.start()
        expected = {content(op) for phone in self.phones for op, _, _ in phone.journal().values()}
        kept_photos = {sha256 for phone in self.phones for sha256 in phone.photos()}
        self._settle()
        look = self.home.look()
        at_home = {(op["dev"], op["seq"]): (op, suspect, held) for op, suspect, held in look["ops"]}
        assert look["check"]["ok"], look["check"]
        assert look["rebuild"]["ok"], look["rebuild"]
        lost = expected - {content(op) for op, _, _ in at_home.values()}
        assert not lost, f"lost: {sorted(lost)}"
        assert kept_photos <= look["kept"]["blobs"].keys(), "a photo that a phone keeps is not at home"
        assert not kept_photos & set(look["missing"])
        for number, phone in enumerate(self.phones):
            self._compare(f"phone {number}", phone, at_home, look)
        self._judge_values(look, at_home)

    def _settle(self) -> None:
        """Let the phones sync in turn until all have read to the same place and none has anything to bring."""
        for turn in range(MOST_ROUNDS):
            ended = []
            for phone in self.ids.sample(self.phones, len(self.phones)):
                ended.append(self._synced(phone, None))
                if ended[-1] == "unpaired":
                    self._pair(phone)
                    ended[-1] = f"paired anew, {self._synced(phone, None)}"
            places = {(place["epoch"], place["cursor"], place["waiting"]) for place in map(_state, self.phones)}
            self.told(f"    round {turn}: {ended}")
            if set(ended) == {"done"} and len(places) == 1 and next(iter(places))[2] == 0:
                return
        raise AssertionError(f"it does not come to rest in {MOST_ROUNDS} rounds: {ended}, {places}")

    def _compare(self, called: str, phone: Any, at_home: dict[Any, Any], look: dict[str, Any]) -> None:
        journal = phone.journal()
        names = sorted(journal.keys() | at_home.keys())
        pairs = [(name, journal.get(name), at_home.get(name)) for name in names]
        differs = [pair for pair in pairs if plain(pair[1]) != plain(pair[2])]
        assert not differs, f"{called} and home differ in {differs}"
        place = phone.state()
        assert (place["epoch"], place["cursor"]) == (look["epoch"], look["end"]), f"{called} has not caught up: {place}"
        assert place["waiting"] == 0, f"{called} still has something waiting: {place}"
        for rec, record in look["records"].items():
            got = phone.merged(rec)
            assert plain(got) == plain(record), f"{called} shows {got}, home shows {record}"

    def _judge_values(self, look: dict[str, Any], at_home: dict[Any, Any]) -> None:
        """What stands of a field is what nobody who wrote after it had seen, whatever any clock said."""
        if self.forks:
            return
        trees = [op for op, _, held in at_home.values() if held is None and op["type"] == "tree"]
        alive = {(op["rec"], name, op["set"][name]) for op in trees for name in FIELDS if name in op["set"]}
        for rec, record in look["records"].items():
            for field in FIELDS:
                values = {value for one, name, value in alive if (one, name) == (rec, field)}
                seen = set().union(*(self.written.get((rec, field, value), set()) for value in values), set())
                got = standing(record, field)
                assert got == values - seen, f"of {field} stands {got}; unseen by any later hand are {values - seen}"


def _state(phone: Any) -> dict[str, Any]:
    place: dict[str, Any] = phone.state()
    return place


def standing(record: dict[str, Any] | None, field: str) -> set[Any]:
    """The values of a field that stand in a merged record: one, or all that are in dispute."""
    if record is None:
        return set()
    if field in record["conflicts"]:
        return {one["value"] for one in record["conflicts"][field]}
    return {record["fields"][field]} if field in record["fields"] else set()


def content(op: dict[str, Any]) -> tuple[str, ...]:
    """What a change says, whatever name it goes by."""
    return op["rec"], op["type"], str(op["wall"]), canonical_bytes(op["set"]).decode()


def plain(value: Any) -> str:
    """One text for one value."""
    return canonical_bytes(list(value) if isinstance(value, tuple) else value).decode()


__all__ = ["Step", "World"]
