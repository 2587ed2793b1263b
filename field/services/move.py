"""Moves the whole log from SQLite into PostgreSQL or back: all of it verified, or nothing changed.

The order is what makes a kill at any moment harmless. The target is marked as unfinished before the first row goes in;
everything is written and verified in one transaction; then the old store is closed, and only then the new one opened.
So at no moment can both be used: they would go on as two logs under one name. The same call again goes on from
wherever it was stopped.
"""

from __future__ import annotations

import datetime as dt
import shutil
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from field.core.errors import BadInput, StoreTrouble
from field.store import among, closed, db, epoch, files, lock, moving, photos
from field.store.engine import FILE_NAME
from field.store.moving import Link, Place, Told, find_place, in_words

__all__ = ["Place", "find_place", "move", "undo"]


def move(
    data: Path, source: Place, target: Place, now: dt.datetime, told: Told = lambda count, of: None
) -> dict[str, Any]:
    """Move everything that is kept from one store into another, empty one; the old one is closed and left as it was.

    Phones notice nothing: tokens, positions and epoch stay. Photos are copied only where their folder is another.

    Args:
        data: the data folder; neither it nor one of the databases may be served.
        now: aware; noted with the old store.
        told: called with how much is carried over, of how much.
    Returns: {"ok", "from", "to", "changes", "phones", "photos", "photos_missing": [hashes that the log has and the disk
        has not], "use": what to set now}. "ok" is whether no photo is missing.
    Raises: BadInput when the target holds something, or the source nothing or something damaged; StoreTrouble when one
        of them is in use or cannot be reached: nothing was changed then.
    """
    if source.told == target.told:
        raise BadInput(f"The log is in {target.told} already.", "Name another place to move it to.")
    target_is_file = target.url.get_backend_name() == "sqlite"
    if not target_is_file and not target.photos.is_dir():
        raise StoreTrouble(f"There is no folder {target.photos} for the photos.", "Make it, if its disk is there.")
    with lock.hold(data), ExitStack() as stack, in_words(target):
        with in_words(source):
            _check_source(source, target)
            from_ = stack.enter_context(moving.reached(source.url))
            stack.enter_context(among.no_server(from_))
        if target_is_file:
            _set_aside(target, now)
        to = stack.enter_context(moving.reached(target.url))
        stack.enter_context(among.no_server(to))
        with moving.alone_in(from_) as reading:
            mark = closed.find(reading)
            if mark is None:
                missing = _carry_all(reading, source, to, target, told)
                on = f"{now.astimezone():%d %B %Y}".lstrip("0")
                closed.write(reading, {"why": closed.MOVED, "to": target.told, "on": on, "use": target.use})
            else:
                missing = _list_missing(reading, target)  # it was all done but the last step
        with moving.alone_in(to) as opening:
            closed.write(opening, None)
            counts = moving.count(opening)
            standing = moving.read_epoch(opening)
        epoch.write_file(target.photos, *standing)
    return {
        "ok": not missing,
        "from": source.told,
        "to": target.told,
        **counts,
        "photos_missing": missing,
        "use": target.use,
    }


def undo(data: Path, source: Place) -> dict[str, Any]:
    """Open a store again that was closed by a move: as it was then, as another life of the log.

    Returns: {"ok", "opened", "moved_to"}.
    Raises: BadInput when it was not moved.
    """
    with lock.hold(data), in_words(source), moving.reached(source.url) as engine, among.no_server(engine):
        with moving.alone_in(engine) as connection:
            mark = closed.find(connection)
            if mark is None:
                raise BadInput(f"The log in {source.told} was not moved.", "It can be used as it is.")
            if mark["why"] != closed.MOVED:
                raise closed.refuse(mark)
            standing = moving.begin_anew(connection)
        epoch.write_file(source.photos, *standing)
    return {"ok": True, "opened": source.told, "moved_to": mark["to"]}


def _check_source(source: Place, target: Place) -> None:
    """Bring the source up to this version; refuse one that holds no log, or was moved elsewhere."""
    with moving.reached(source.url) as engine, engine.connect() as connection:
        if not moving.has_tables(connection):
            raise BadInput(f"There is no log in {source.told}.", "FELLSIDE_DATABASE or --data names another.")
        mark = closed.find(connection)
    if mark is not None:
        if mark["why"] == closed.MOVED and mark["to"] == target.told and _is_whole(target):
            return
        raise closed.refuse(mark)
    is_file = source.url.get_backend_name() == "sqlite"
    address = source.url.render_as_string(hide_password=False)
    with db.alone(address, source.photos, None if is_file else source.photos):
        pass


def _is_whole(target: Place) -> bool:
    """Whether the move was stopped when all was carried over and the old store closed."""
    with moving.reached(target.url) as engine, engine.connect() as connection:
        mark = closed.find(connection)
    return mark is not None and mark["why"] == closed.UNFINISHED and bool(mark.get("whole"))


def _set_aside(target: Place, now: dt.datetime) -> None:
    """Give a closed SQLite file of an earlier move another name: it would stand in the way."""
    file = Path(str(target.url.database))
    if not file.exists():
        return
    with moving.reached(target.url) as engine, engine.connect() as connection:
        mark = closed.find(connection)
    if mark is None or mark["why"] != closed.MOVED:
        return
    aside = file.with_name(f"{FILE_NAME}.before-{now.astimezone():%Y-%m-%d-%H%M%S}")
    if aside.exists():
        raise BadInput(f"{aside} is there already, and is left as it is.", "Move it elsewhere, then try again.")
    for ending in ("-wal", "-shm", ""):  # the file itself last: it is looked for by its name
        part = file.with_name(file.name + ending)
        if part.exists():
            files.move(part, aside.with_name(aside.name + ending))


def _carry_all(reading: Link, source: Place, to: Any, target: Place, told: Told) -> list[str]:
    bad = moving.find_bad(reading)
    if bad:
        raise BadInput(
            f"The log is damaged: {len(bad)} of its changes are not what was taken in; nothing was moved.",
            "'fellside check' says which. A backup that is put back leaves them out, and phones send them again.",
        )
    unfinished = {"why": closed.UNFINISHED, "from": source.told, "whole": False}
    with moving.alone_in(to) as beginning:
        mark = closed.find(beginning)
        if mark is not None and mark["why"] != closed.UNFINISHED:
            raise BadInput(f"{target.told} holds a log that was moved away from there.", "Name a new, empty database.")
        if mark is None and moving.has_tables(beginning) and moving.holds_anything(beginning):
            raise BadInput(f"{target.told} holds a log already, and is left as it is.", "Name an empty database.")
        moving.make_ready(beginning, unfinished)
    missing = _carry_photos(reading, source, target, told)
    with moving.alone_in(to) as writing:
        moving.carry(reading, writing, told)
        faults = moving.list_faults(reading, writing)
        if faults:
            raise StoreTrouble(
                f"What was carried over is not the same: {faults[0]}. The old store goes on as it was.",
                "'fellside check' and 'fellside rebuild' look after the old one; then try again.",
            )
        closed.write(writing, {**unfinished, "whole": True})
    return missing


def _carry_photos(reading: Link, source: Place, target: Place, told: Told) -> list[str]:
    """Give every photo its place in the target's folder, if that is another; return those that are not there."""
    rows = moving.list_photos(reading)
    if source.photos.resolve() == target.photos.resolve():
        return _list_missing(reading, target)
    needed = sum(size for sha256, size in rows if photos.length(photos.blob_path(target.photos, sha256)) != size)
    free = shutil.disk_usage(target.photos).free
    if needed > free:
        raise BadInput(
            f"The photos need {needed / 1e6:.0f} MB and the disk of {target.photos} has {free / 1e6:.0f} MB free.",
            "Make room; nothing was moved.",
        )
    for count, (sha256, size) in enumerate(rows):
        told(count, len(rows))
        place, old = photos.blob_path(target.photos, sha256), photos.blob_path(source.photos, sha256)
        if photos.length(old) is None:
            continue
        if photos.length(place) == size and photos.hash_file(place) == sha256:
            continue  # of an earlier try
        with old.open("rb") as file, files.replacing(place) as out:
            for piece in photos.read_pieces(file, 256 * 1024):
                out.write(piece)
        if photos.hash_file(place) != sha256:
            place.unlink()
    return _list_missing(reading, target)


def _list_missing(reading: Link, target: Place) -> list[str]:
    rows = moving.list_photos(reading)
    return [sha256 for sha256, size in rows if photos.length(photos.blob_path(target.photos, sha256)) != size]
