"""Homes and phones that are broken on purpose: each of them has to be caught, or the schedules prove nothing.

python tests/chaos/run.py --broken all
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

SCRIPTS = Path(__file__).resolve().parents[2] / "static" / "js"


def break_home(name: str) -> None:
    """Break the home that is loaded in this process; "" and the names of PAGES leave it whole."""
    if name in PAGES:
        file, old, _ = PAGES[name]
        assert (SCRIPTS / file).read_text(encoding="utf-8").count(old) == 1, f"{file} is not as it is broken here"
    if name in HOMES:
        HOMES[name]()


def broken_text(name: str, path: Path, text: str) -> str:
    """Return a script of the phone as it is served: broken if it is the one meant."""
    if name not in PAGES:
        return text
    file, old, new = PAGES[name]
    if not path.as_posix().endswith(file):
        return text
    return text.replace(old, new)


def _forgets_names() -> None:
    from field.store import journal

    journal._kept_by_name = lambda session, ops: {}


def _last_one_wins() -> None:
    from sqlalchemy import delete

    from field.store import journal

    real = journal._kept_by_name

    def kept_by_name(session: Any, ops: Any) -> Any:
        kept = real(session, ops)
        for op in ops:
            name = (op["dev"], op["seq"])
            if name in kept and kept[name][0] != journal.op_hash(op):
                row = journal.JournalRow
                session.execute(delete(row).where(row.dev == name[0], row.seq == name[1]))
                del kept[name]
        return kept

    journal._kept_by_name = kept_by_name


def _cursor_runs_ahead() -> None:
    from field.services import take_in_changes
    from field.store import journal

    real = take_in_changes._news
    take_in_changes._news = lambda session, *words: {
        **real(session, *words), "cursor": journal.end(session), "more": False,
    }  # fmt: skip


def _epoch_stays() -> None:
    from field.store import epoch
    from field.store.tables import MetaRow

    def renew(session: Any) -> str:
        session.merge(MetaRow(key=epoch.KEY, value="00000000-0000-4000-8000-000000000000"))
        session.flush()
        return "00000000-0000-4000-8000-000000000000"

    epoch.renew = renew


def _own_name_stays() -> None:
    from field.store import devices
    from field.store.tables import MetaRow

    def renew_own(session: Any) -> str:
        session.merge(MetaRow(key=devices.OWN, value="11111111-0000-4000-8000-000000000000"))
        session.flush()
        return "11111111-0000-4000-8000-000000000000"

    devices.renew_own = renew_own


def _has_more_than_it_has() -> None:
    from field.store import journal

    real = journal.have
    journal.have = lambda session: {dev: seq + 1 for dev, seq in real(session).items()}


def _two_transactions() -> None:
    from field.services import take_in_changes
    from field.store import journal

    real = journal.append

    def append(session: Any, *words: Any) -> Any:
        arrival = real(session, *words)
        session.commit()
        return arrival

    take_in_changes.journal.append = append


def _answers_first() -> None:
    """What is answered is only written with the next request."""
    from field.store import photos

    def append_piece(path: Path, pieces: Any) -> int:
        with path.open("ab") as out:
            for piece in pieces:
                out.write(piece)
        return path.stat().st_size

    photos.append_piece = append_piece


def _row_before_file() -> None:
    from field.services import keep_blob
    from field.store import files, photos

    def complete(sha256: str, part: Path) -> None:
        place = photos.blob_path(keep_blob.db.data_dir(), sha256)
        keep_blob._write_row(sha256, part)
        files.move(part, place)

    keep_blob._complete = complete


def _half_moved() -> None:
    from field.services import restore

    restore.finish = lambda data: None


def _restores_less() -> None:
    from field.store import backup

    real = backup.put_books

    def put_books(session: Any, *words: Any) -> Any:
        done = real(session, *words)
        last = backup.journal.end(session)
        if last > 1:
            from sqlalchemy import delete

            from field.store.tables import JournalRow

            session.execute(delete(JournalRow).where(JournalRow.pos == last))
        return done

    backup.put_books = put_books


def _clock_decides() -> None:
    from field.store import projection, queries
    from field.sync import merge

    real = merge.merge_record

    def merge_record(changes: Any) -> Any:
        got = real(changes)
        return None if got is None else {**got, "conflicts": {}}

    projection.merge_record = merge_record
    queries.merge_record = merge_record


def _photos_not_missed() -> None:
    from field.store import queries

    queries.list_missing_blobs = lambda session: []


HOMES: dict[str, Callable[[], None]] = {
    "home forgets which changes it has": _forgets_names,
    "home lets another change of one name take the place of the first": _last_one_wins,
    "home's cursor runs ahead of what it gave": _cursor_runs_ahead,
    "home's epoch stays when it is put back": _epoch_stays,
    "home goes on under its own name when it is put back": _own_name_stays,
    "home says it has more than it has": _has_more_than_it_has,
    "journal and tables in two transactions": _two_transactions,
    "a piece of a photo is answered before it is flushed": _answers_first,
    "a photo's row is written before the photo is in its place": _row_before_file,
    "a restore that was killed is not brought to its end": _half_moved,
    "a restore leaves the last change out": _restores_less,
    "home shows no conflicts": _clock_decides,
    "home does not say which photos it lacks": _photos_not_missed,
}

PAGES: dict[str, tuple[str, str, str]] = {
    "phone sends its own changes only": (
        "store/journal.js", "const devices = Object.keys(await vectorIn(tx)).sort(", "const devices = [own].sort(",
    ),
    "phone lets another change of one name take the place of its own": (
        "store/journal.js", "const touched = await mendForks(tx, entries, rows, at);", "const touched = new Set();",
    ),
    "phone goes on under a name that another writes under": (
        "store/journal.js", "copied ||= op.dev === writer.dev;", "",
    ),
    "phone reads on before it has kept what it read": (
        "store/journal.js",
        "  const done = await write([...CHANGE_STORES, ...PHOTO_STORES, 'drafts', 'packs'], async (tx) => {",
        "  const early = { ...EMPTY_SYNC, epoch: answer.epoch, cursor: answer.cursor, have: answer.have };\n"
        "  await write(['meta'], async (tx) => putMetaIn(tx, 'sync', early));\n"
        "  await new Promise((resolve) => { setTimeout(resolve, 5); });\n"
        "  const done = await write([...CHANGE_STORES, ...PHOTO_STORES, 'drafts', 'packs'], async (tx) => {",
    ),
    "phone does not hear which photos home lacks": (
        "store/photos.js", "if (fact?.home) await", "if (false) await",
    ),
    "phone takes any JSON for home's answer": (
        "sync/exchange.js", "if (!good) throw new HomeError('not-home');", "",
    ),
    "phone notes a photo as sent before it is": (
        "upload.js", "    await uploadBlob(photo.sha256, bytes, {",
        "    await markAtHome(photo.sha256);\n    await uploadBlob(photo.sha256, bytes, {",
    ),
    "phone forgets what its edit had seen": (
        "core/merge.js", "[name, stamps[name] ?? []]", "[name, []]",
    ),
}  # fmt: skip
