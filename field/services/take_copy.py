"""Takes in the copy that a phone kept: all verified first; changes by the way of any sync, photos by their hashes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from itertools import islice
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, Conflict, FellsideError, NoRoom, StoreTrouble
from field.services import forget, keep_blob, take_in_changes
from field.store import anew, archive, db, devices, journal, queries
from field.store.archive import Backup, Told
from field.sync.protocol import BAD, HELD, MOST_OPS, OK

JOURNAL = "journal/"
PHOTOS = "photos/"
MOST_TOLD = 100  # changes that could not be used, one by one; more are counted

Op = dict[str, Any]


class _ForkedError(Exception):
    """Names of a batch are held by other changes; nothing of it was written."""

    def __init__(self, first: Mapping[str, int]) -> None:
        self.first = first  # device -> the first such number


class _Came:
    """What became of the changes of a copy."""

    def __init__(self) -> None:
        self.new = self.known = self.anew = 0
        self.held: list[dict[str, Any]] = []
        self.bad: list[dict[str, Any]] = []

    def count(self, arrival: journal.Arrival) -> None:
        for result in arrival.results:
            told = {"dev": result.dev, "seq": result.seq, "why": result.why}
            if result.state == OK:
                self.new += 1
            elif result.state == HELD:
                self.new += 1
                self.held.append(told)
            elif result.state == BAD:
                self.bad.append(told)
            else:
                self.known += 1


def take_copy(
    path: Path,
    now: dt.datetime,
    *,
    name: str | None = None,
    anyway: bool = False,
    told: Told = lambda count, of: None,
) -> dict[str, Any]:
    """Take in all that a copy holds and that is not here yet; the same copy once more changes nothing.

    Every byte is verified before anything is taken. A change whose name is held by another one here, because the phone
    was put back or copied since, is written anew under this house's own name: nothing of it is lost.

    Args:
        path: the file; one part of a copy is a whole file of its own.
        now: aware.
        name: what the file is called in sentences; None: as on the disk.
        anyway: take it in though nothing in it is known here.
        told: called with how many members of how many are done; each is read twice.
    Returns: {"ok": whether all of it could be used, "made_at", "part", "parts", "changes_new", "changes_known",
        "changes_anew": of the new ones those under another name, "changes_held": [{"dev", "seq", "why"}] kept and not
        applied, "changes_bad": those that could not be kept, "photos_new", "photos_known", "photos_bad": [{"sha256",
        "why"}], "photos_missing": how many photos the log now speaks of that are not here}.
    Raises: BadInput (no-copy, copy-damaged); Conflict (other-house); NoRoom: what came in before that stays.
    """
    with archive.opened(path, archive.COPY, name) as copy:
        members = list(copy.members)
        of = 2 * len(members)
        for count, member in enumerate(members):
            told(count, of)
            for _ in copy.rows(member) if member.startswith(JOURNAL) else copy.pieces(member):
                pass
        if not anyway:
            _refuse_other_house(copy, name or path.name)
        came = _Came()
        forked: dict[str, int] = {}
        stamps: dict[str, str] = {}
        photos: dict[str, Any] = {"photos_new": 0, "photos_known": 0, "photos_bad": []}
        for count, member in enumerate(sorted(members)):  # the journal first
            told(len(members) + count, of)
            if member.startswith(JOURNAL):
                rows = copy.rows(member)
                while batch := list(islice(rows, MOST_OPS)):
                    _bring(batch, now, came, forked, stamps)
            elif member.startswith(PHOTOS):
                _keep_photo(copy, member, photos)
        forget.finish()  # one of these may say that a person was forgotten
        told(of, of)
        return {
            "ok": not (came.bad or photos["photos_bad"]),
            "made_at": _text(copy.facts.get("made_at")),
            "part": _number(copy.facts.get("part")),
            "parts": _number(copy.facts.get("parts")),
            "changes_new": came.new,
            "changes_known": came.known,
            "changes_anew": came.anew,
            "changes_held": came.held[:MOST_TOLD],
            "changes_bad": came.bad[:MOST_TOLD],
            **photos,
            "photos_missing": len(queries.list_missing_blobs(db.db.session())),
        }


def take_sent(sha256: str, now: dt.datetime, *, anyway: bool = False) -> dict[str, Any]:
    """Take in a copy that was sent up as a file before, as `take_copy`; the file itself is not kept.

    Raises: as `take_copy`; NotFound when no such file is here. A file that is no copy is left alone.
    """
    file = keep_blob.open_blob(sha256)
    try:
        document = take_copy(file.path, now, name="This file", anyway=anyway)
    except FellsideError as refusal:
        if refusal.code in ("copy-damaged", "other-house"):
            keep_blob.drop(sha256)
        raise
    keep_blob.drop(sha256)
    keep_blob.drop_left_copies(now)
    return document


def _refuse_other_house(copy: Backup, name: str) -> None:
    """Refuse a copy of a phone that synced with a home, when nothing of what it knew is known here."""
    knew = copy.facts.get("have")
    if copy.facts.get("epoch") is None or not isinstance(knew, dict) or not knew:
        return  # it never synced: it may belong anywhere
    with db.snapshot() as session:
        if journal.end(session) == 0:
            return
        known = {*journal.have(session), *(one.device for one in devices.list_devices(session))}
    if known.isdisjoint(knew):
        raise Conflict(
            f"{name} comes from a phone of another home: nothing that was known there is known here. "
            "Nothing was taken in.",
            "If it belongs here all the same, take it in anyway.",
            code="other-house",
        )


def _bring(ops: list[Op], now: dt.datetime, came: _Came, forked: dict[str, int], stamps: dict[str, str]) -> None:
    """Take in one batch, in one transaction; begun anew when names of it turn out to be held by others."""
    while True:
        try:
            with db.writing() as session:
                named = [op for op in ops if not _is_forked(op, forked)]
                arrival = take_in_changes.keep(session, named, now)
                _raise_forks(arrival)
                strays = [op for op in ops if _is_forked(op, forked)]
                found = anew.find_same(session, strays)
                stamps.update({str(op.get("hlc")): stamp for op, stamp in zip(strays, found, strict=True) if stamp})
                lacking = [op for op, stamp in zip(strays, found, strict=True) if stamp is None]
                arrival_anew = take_in_changes.keep(session, anew.issue_anew(session, lacking, stamps, now), now)
        except _ForkedError as fork:
            for dev, seq in fork.first.items():
                forked[dev] = min(seq, forked.get(dev, seq))
            continue
        came.count(arrival)
        came.count(arrival_anew)
        came.known += len(strays) - len(lacking)
        came.anew += len(lacking)
        return


def _is_forked(op: Mapping[str, Any], forked: Mapping[str, int]) -> bool:
    """Whether a change belongs to the part of its device's line that parted from the one known here."""
    dev, seq = op.get("dev"), op.get("seq")
    return isinstance(dev, str) and isinstance(seq, int) and dev in forked and seq >= forked[dev]


def _raise_forks(arrival: journal.Arrival) -> None:
    first: dict[str, int] = {}
    for result in arrival.results:
        if result.fork and result.dev is not None and result.seq is not None:
            first[result.dev] = min(result.seq, first.get(result.dev, result.seq))
    if first:
        raise _ForkedError(first)


def _keep_photo(copy: Backup, member: str, photos: dict[str, Any]) -> None:
    sha256 = member.rpartition("/")[2]
    try:
        if copy.members[member]["sha256"] != sha256:
            raise BadInput("It was damaged on the phone already.")
        if keep_blob.is_here(sha256):
            photos["photos_known"] += 1
            return
        keep_blob.keep_pieces(copy.pieces(member))
        photos["photos_new"] += 1
    except (NoRoom, StoreTrouble):
        raise
    except FellsideError as refusal:
        photos["photos_bad"].append({"sha256": sha256, "why": refusal.message})


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _number(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None
