"""What a backup holds of the store, and how it is put back: the books as rows that are the same for every database.

In it: the journal, the paired phones (of each token only the hash that the database has), the house's clock, and each
photo, track and paper. Not in it: the record tables, which the journal makes; previews and packs, which are made again;
pairing codes; what is still arriving; and whatever tells one life of the store from another, its epoch and its own
device: a store that was put back is another one.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from sqlalchemy import Connection, Table, create_engine, delete, insert, select, update
from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError
from sqlalchemy.orm import Session
from sqlalchemy.pool import NullPool

from field.core.who_sees import REFUSALS
from field.store import anew, calendar_link, devices, epoch, files, forgotten, journal, photos, projection, sign_ins
from field.store.archive import Backup, Told, Writer
from field.store.engine import FILE_NAME, Utc
from field.store.tables import METADATA, BlobRow, DeviceRow, JournalRow, MetaRow
from field.sync.protocol import OK

JOURNAL, DEVICES, PHOTOS, META = (f"books/{name}.jsonl" for name in ("journal", "device", "blob", "meta"))
BACKED_UP_TO = "backed_up_to"
LAST_GOOD = "last_good_backup"
LAST_TRY = "last_backup_try"
OF_ONE_LIFE = frozenset(
    {epoch.KEY, devices.OWN, journal.JUDGED_BY, BACKED_UP_TO, LAST_GOOD, LAST_TRY, calendar_link.KEY}
)
AT_ONCE = 500  # rows read or written together

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Decided:
    """What was decided about who gets in and who was forgotten: a backup from before it must not undo that."""

    revoked: dict[str, dt.datetime]  # phone -> when it was shut out
    roles: dict[str, str]  # phone -> full or record
    passphrase: str | None  # the hash; None: none is set
    calendar: str | None  # the private address that is good now: one that was ended is not good again
    forgettings: tuple[Row, ...]  # the changes by which people were forgotten
    seals: forgotten.Seals


@dataclass(frozen=True, slots=True)
class Written:
    """What went into the books of a backup."""

    end: int  # of the journal
    phones: int
    changes_bad: list[dict[str, Any]]  # as `journal.find_bad_rows`


@dataclass(frozen=True, slots=True)
class PutBack:
    """What a backup gave back, and what of it was not put back."""

    changes: int
    phones: int
    photos: int
    changes_left_out: list[dict[str, Any]]  # {"dev", "seq", "why"}
    forgotten_again: int  # people the backup still named, who had been forgotten since


def write_books(session: Session, out: Writer) -> tuple[Written, list[Row]]:
    """Write the books of one moment into a backup; return what they hold, and the rows of the photos to write next.

    Args:
        session: of a snapshot.
    """
    changes_bad = list(journal.find_bad_rows(session))
    out.add_lines(JOURNAL, _rows_of(session, JournalRow, JournalRow.pos))
    phones = out.add_lines(DEVICES, _rows_of(session, DeviceRow, DeviceRow.device))
    meta = (row for row in _rows_of(session, MetaRow, MetaRow.key) if row["key"] not in OF_ONE_LIFE)
    out.add_lines(META, meta)
    rows = list(_rows_of(session, BlobRow, BlobRow.sha256))
    return Written(journal.end(session), phones, changes_bad), rows


def write_photos(out: Writer, data_dir: Path, rows: list[Row], told: Told) -> tuple[list[str], list[str]]:
    """Write the photos of rows into a backup, then their book; return those that are damaged and those that are gone.

    A photo that is damaged goes in as it is, but not into the book: whoever puts the backup back is then told that it
    is missing, and a phone that still has it sends it again.
    """
    good: list[Row] = []
    bad: list[str] = []
    gone: list[str] = []
    for count, row in enumerate(rows):
        told(count, len(rows))
        sha256 = row["sha256"]
        try:
            file = photos.blob_path(data_dir, sha256).open("rb")
        except OSError:
            gone.append(sha256)
            continue
        with file:
            found = out.add(_member_of(sha256), _readable_pieces(file))
        if found == sha256:
            good.append(row)
        else:
            bad.append(sha256)
    told(len(rows), len(rows))
    out.add_lines(PHOTOS, good)
    return bad, gone


def put_photos(backup: Backup, data_dir: Path, told: Told) -> list[Row]:
    """Give the photos of a backup their places in a data folder; return their rows. They are not flushed yet.

    One that lies there already in its full length is left: it has its place by its content.
    """
    rows = [_to_row(backup, BlobRow, plain) for plain in backup.rows(PHOTOS)]
    for count, row in enumerate(rows):
        told(count, len(rows))
        sha256 = str(row["sha256"])
        with backup.damage_in_words():
            member = backup.members[_member_of(sha256)]
            if member["sha256"] != sha256:
                raise ValueError("a photo under the name of another")
        place = photos.blob_path(data_dir, sha256)
        if photos.length(place) == member["size_bytes"] and photos.hash_file(place) == sha256:
            continue
        with files.replacing(place) as out:
            for piece in backup.pieces(_member_of(sha256)):
                out.write(piece)
    told(len(rows), len(rows))
    return rows


def put_books(session: Session, backup: Backup, photo_rows: list[Row], since: Decided, now: dt.datetime) -> PutBack:
    """Put the books of a backup into the empty tables of a writing transaction, and make the records from them.

    A change that is not what was once taken in is left out and told: a phone that has it sends it again. Positions are
    given anew, for they belong to the life of the store that has just begun.

    Args:
        photo_rows: of the photos that have their places.
        since: what was decided after the backup was made; it stays so.
        now: aware; the clock's.
    """
    left_out: list[dict[str, Any]] = []
    names: set[tuple[str, int]] = set()
    rows: list[Row] = []
    unsealed: list[str] = []  # hashes of forgettings, where the backup is of a version without seals
    pos = 0
    for plain in backup.rows(JOURNAL):
        row = _to_row(backup, JournalRow, {**plain, "pos": 0})
        name = (sys.intern(str(row["dev"])), row["seq"])  # a few devices, each in thousands of rows
        why = journal.find_damage(*name, row["hash"], row["op"])
        if why is None and name in names:
            why = "Two changes have the same name."
        if why is not None:
            left_out.append({"dev": name[0], "seq": name[1], "why": why})
            continue
        names.add(name)
        pos += 1
        if row["type"] == forgotten.TYPE and row["held"] is None:
            unsealed.append(row["hash"])
        # Judged below, all together: it may be of another version, and only the change itself was sealed.
        # But who brought it is told by nothing else: what a phone may not write stays held.
        held = row["held"] if row["held"] in REFUSALS else "not judged"
        unjudged = {"rec": journal.find_rec(json.loads(row["op"])), "type": None, "stamp": None, "held": held}
        rows.append({**row, **unjudged, "pos": pos})
        if len(rows) == AT_ONCE:
            _insert(session, backup, JournalRow, rows)
    _insert(session, backup, JournalRow, rows)
    _put_facts(session, backup, since, unsealed)  # the seals among them, by which changes are judged
    journal.judge_anew(session)
    journal.extend_known(session, {dev for dev, _ in names})
    phones = [_to_row(backup, DeviceRow, plain) for plain in backup.rows(DEVICES)]
    for phone in phones:
        phone["revoked_at"] = phone["revoked_at"] or since.revoked.get(phone["device"])
        phone["role"] = since.roles.get(phone["device"], phone.get("role", "full"))
    _insert(session, backup, DeviceRow, phones[:])
    _insert(session, backup, BlobRow, photo_rows[:])
    projection.remake(session)
    again, lost = _forget_again(session, since.forgettings, now)
    return PutBack(pos, len(phones), len(photo_rows), left_out + lost, again)


def _put_facts(session: Session, backup: Backup, since: Decided, unsealed: list[str]) -> None:
    """Put the facts of the house back, and beside them what was decided since."""
    was_sealing = False
    for plain in backup.rows(META):
        key = plain.get("key")
        was_sealing |= key == forgotten.SEALS
        if key not in OF_ONE_LIFE:
            session.merge(MetaRow(**_to_row(backup, MetaRow, plain)))
    if since.passphrase is not None:
        sign_ins.save_passphrase(session, since.passphrase)
    if since.calendar is not None:
        session.merge(MetaRow(key=calendar_link.KEY, value=since.calendar))
    session.flush()
    before = forgotten.Seals(before=frozenset() if was_sealing else frozenset(unsealed))
    with backup.damage_in_words():
        forgotten.save_seals(session, forgotten.read_seals(session).beside(since.seals).beside(before))
    forgotten.ensure_seals(session)


def _forget_again(session: Session, forgettings: tuple[Row, ...], now: dt.datetime) -> tuple[int, list[dict[str, Any]]]:
    """Forget those who were forgotten after the backup was made; return how many, and what could not be done.

    The changes come in as from any phone, under their own names: one that brings them once more changes nothing.
    """
    arrival = journal.append(session, forgettings, now)
    taken = [op for op, result in zip(forgettings, arrival.results, strict=True) if result.fork]
    renamed = journal.append(session, anew.issue_anew(session, taken, {}, now), now)
    projection.apply(session, arrival.touched | renamed.touched)
    came = [
        (op, result)
        for op, result in (*zip(forgettings, arrival.results, strict=True), *zip(taken, renamed.results, strict=True))
        if not result.fork
    ]
    lost = [{"dev": result.dev, "seq": result.seq, "why": result.why} for _, result in came if result.why is not None]
    return len({str(op["set"].get("about")) for op, result in came if result.state == OK}), lost


def empty(session: Session) -> None:
    """Empty every table, in a writing transaction."""
    for table in reversed(METADATA.sorted_tables):
        session.execute(delete(table))
    session.expunge_all()


def is_empty(session: Session) -> bool:
    """Return whether nothing is kept that a backup would hold."""
    return all(session.execute(select(table).limit(1)).first() is None for table in (JournalRow, DeviceRow, BlobRow))


def read_decided(session: Session) -> Decided:
    """Return what is decided now about who gets in."""
    return _decided(session.connection())


def read_decided_in(folder: Path) -> Decided:
    """Return the same for a folder that is not opened; nothing where its database cannot be read."""
    try:
        # As an address of its own: in one put together from parts, a # or % of a folder's name means something else.
        place = f"{(folder / FILE_NAME).absolute().as_uri()}?mode=ro"
        engine = create_engine("sqlite://", creator=lambda: sqlite3.connect(place, uri=True), poolclass=NullPool)
        with engine.connect() as connection:
            return _decided(connection)
    except (SQLAlchemyError, sqlite3.Error, ValueError):
        return Decided({}, {}, None, None, (), forgotten.Seals())


def _decided(connection: Connection) -> Decided:
    phones = list(connection.execute(select(DeviceRow.device, DeviceRow.revoked_at)))
    revoked = {device: at for device, at in phones if at is not None}
    passphrase = connection.scalar(select(MetaRow.value).where(MetaRow.key == sign_ins.PASSPHRASE))
    try:
        told = connection.execute(select(DeviceRow.device, DeviceRow.role)).all()
        roles = {row.device: row.role for row in told}
    except SQLAlchemyError:
        roles = {}  # of a time before there were any: whoever was shut out stays out all the same
    calendar = connection.scalar(select(MetaRow.value).where(MetaRow.key == calendar_link.KEY))
    return Decided(revoked, roles, passphrase, calendar, *_forgettings(Session(bind=connection)))


def _forgettings(session: Session) -> tuple[tuple[Row, ...], forgotten.Seals]:
    try:
        told = forgotten.list_told(session)
        seals = forgotten.read_seals(session)
    except (SQLAlchemyError, ValueError, TypeError, KeyError):
        return (), forgotten.Seals()  # damaged: the first phone that comes home brings them
    if not seals.keys:  # of a version without seals
        seals = forgotten.Seals(before=frozenset(forgotten.hashes_before(told)))
    return tuple(told), seals


def note_good(session: Session, at: dt.datetime, file: Path, end: int, photo_rows: list[Row]) -> None:
    """Write down, in a writing transaction, that a good backup of everything up to a journal position is there.

    Args:
        photo_rows: those that are in it. Each is marked by itself: a photo comes after the change that speaks of it, so
            that a position tells nothing of the photos.
    """
    before = backed_up_to(session)
    fresh = [str(row["sha256"]) for row in photo_rows if row["backed_up_at"] is None]
    for start in range(0, len(fresh), AT_ONCE):
        some = BlobRow.sha256.in_(fresh[start : start + AT_ONCE])
        session.execute(update(BlobRow).where(some).values(backed_up_at=at))
    session.merge(MetaRow(key=BACKED_UP_TO, value=str(max(before, end))))
    session.merge(MetaRow(key=LAST_GOOD, value=json.dumps({"at": at.isoformat(), "file": str(file)})))
    note_try(session, at, None)


def note_try(session: Session, at: dt.datetime, why_not: str | None) -> None:
    """Write down how the last try went, in a writing transaction."""
    session.merge(MetaRow(key=LAST_TRY, value=json.dumps({"at": at.isoformat(), "why_not": why_not})))


def backed_up_to(session: Session) -> int:
    """Return up to which journal position everything is in a good backup, 0 for nothing."""
    row = session.get(MetaRow, BACKED_UP_TO)
    return 0 if row is None else int(row.value)


def read_note(session: Session, key: str) -> dict[str, Any]:
    """Return what was written down under LAST_GOOD or LAST_TRY; empty when nothing was."""
    row = session.get(MetaRow, key)
    return {} if row is None else dict(json.loads(row.value))


def _member_of(sha256: str) -> str:
    return f"photos/{sha256[:2]}/{sha256}"


def _readable_pieces(file: Any) -> Iterator[bytes]:
    """Yield what can be read of a file: where the disk gives no more, the hash will tell."""
    try:
        yield from photos.read_pieces(file, 256 * 1024)
    except OSError:
        return


def _rows_of(session: Session, table: Any, order: Any) -> Iterator[Row]:
    columns = table.__table__.columns
    rows = session.execute(select(*columns).order_by(order).execution_options(yield_per=AT_ONCE))
    for row in rows.mappings():
        yield {column.name: _to_plain(row[column.name]) for column in columns}


def _to_plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, dt.datetime) else value


def _to_row(backup: Backup, table: Any, plain: Mapping[str, Any]) -> Row:
    """Return the columns of a row; what a later form of the table has besides, and the backup not, is not known."""
    row: Row = {}
    for column in table.__table__.columns:
        if column.name not in plain and column.server_default is not None:
            continue  # the database knows what held before there was such a column
        value = plain.get(column.name)
        with backup.damage_in_words():
            if value is None and not column.nullable:
                raise ValueError(column.name)
            read: Callable[[Any], Any] = dt.datetime.fromisoformat if isinstance(column.type, Utc) else _checked
            row[column.name] = value if value is None else read(value)
    return row


def _checked(value: Any) -> Any:
    if not isinstance(value, str | int | bool):
        raise TypeError("neither text, number nor truth")
    return value


def _insert(session: Session, backup: Backup, table: Any, rows: list[Row]) -> None:
    """Write rows as one batch, and take them off the list."""
    if not rows:
        return
    with backup.damage_in_words():
        try:
            session.connection().execute(insert(cast(Table, table.__table__)), rows)
        except (IntegrityError, DataError) as fault:
            raise ValueError("rows that contradict each other") from fault
    rows.clear()
