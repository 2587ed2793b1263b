"""A backup put back: all that was kept, on either database; what stood there stays; phones bring what is lacking."""

from __future__ import annotations

import datetime as dt
import json
import zipfile
from pathlib import Path

import pytest
from backup_kit import NOW, Phone, all_kept, fill, kept_in, picture
from flask import Flask
from sqlalchemy import text

from field.core.errors import BadInput, StoreTrouble
from field.services import owner, pair
from field.services.backup import back_up
from field.services.check import check
from field.services.rebuild import rebuild
from field.services.restore import READY, finish, restore
from field.store import archive, db, devices, epoch, lock, photos

LATER = NOW + dt.timedelta(days=1)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "backup.zip"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder for homes: what is moved aside lies in it."""
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


def back_up_a_filled(file: Path, folder: Path, trees: int = 3) -> tuple[Phone, dict]:
    """Fill a data folder and back it up; return the phone that filled it, and all that is kept."""
    with db.alone(None, folder):
        phone = fill(trees)
        assert back_up(file, NOW)["ok"]
        return phone, all_kept()


def epoch_of(folder: Path) -> str:
    with db.alone(None, folder):
        return epoch.read(db.db.session())


# --- what comes back -----------------------------------------------------------------------------------------------


def test_all_comes_back_on_a_new_machine(tmp_path: Path, home: Path, file: Path) -> None:
    _, before = back_up_a_filled(file, tmp_path / "old")
    told = restore(file, home / "data", None, LATER)
    assert told == {
        "ok": True,
        "data": str(home / "data"),
        "kept_as": None,
        "made_at": "2027-03-01T09:00:00.000Z",
        "changes": 6,
        "phones": 1,
        "photos": 3,
        "photos_missing": [],
        "changes_left_out": [],
        "forgotten_again": 0,
    }
    assert [path.name for path in home.iterdir()] == ["data"]
    assert kept_in(home / "data") == before
    with db.alone(None, home / "data"):
        assert check()["ok"]
        assert rebuild()["ok"]


def test_from_either_database_into_either(store: Flask, postgres, database_url, tmp_path: Path, file: Path) -> None:
    fill()
    before = all_kept()
    back_up(file, NOW)
    db.db.session.remove()
    # Onto the other kind: a database for what came out of a file, a file for what came out of a database.
    if database_url is None:
        postgres.run("; ".join(f'DELETE FROM "{table.name}"' for table in db.db.metadata.sorted_tables))
    other = postgres.address if database_url is None else None
    told = restore(file, tmp_path / "other", other, LATER)
    assert (told["ok"], told["kept_as"]) == (True, None)
    assert kept_in(tmp_path / "other", other) == before
    with db.alone(other, tmp_path / "other"):
        assert check()["ok"]


def test_a_new_epoch_begins_and_the_house_writes_under_a_new_name(tmp_path: Path, home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    before = epoch_of(home / "data")
    with db.alone(None, home / "data"), db.writing() as session:
        own = devices.own_device(session)
    restore(file, home / "data", None, LATER)
    after = epoch_of(home / "data")
    assert after != before
    assert epoch_of(home / "data") == after
    with db.alone(None, home / "data"), db.writing() as session:
        assert devices.own_device(session) != own


def test_phones_send_again_what_the_backup_lacks(tmp_path: Path, home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        one, other = Phone("One"), Phone("Other")
        one.pair()
        other.pair()
        one.mark("B1", picture(1))
        one.sync()
        back_up(file, NOW)
        one.mark("B2", picture(2, 700_000))  # in three pieces
        other.mark("B3", picture(3))
        one.sync()
        other.sync()
        other.mark("B4", picture(4))
        other.sync()
        one.sync()
        before = all_kept()
        assert one.backed_up_to == 2
    restore(file, data, None, LATER)
    with db.alone(None, data):
        assert len(all_kept()["changes"]) == 2
        for phone in (one, other, one):  # a photo asked for at the first may be the other's
            phone.sync(LATER)
        after = all_kept()
        assert {name: after[name] for name in after if name != "phones"} == {
            name: before[name] for name in before if name != "phones"
        }
        assert len(after["bytes"]) == 4
        assert one.ops == other.ops
        # Nothing of this life is in a backup yet: phones must not let go of anything.
        assert (one.backed_up_to, other.backed_up_to) == (0, 0)
        assert check()["ok"]


def test_a_paired_phone_stays_paired_and_one_shut_out_since_stays_out(home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        tokens = {}
        for number in (1, 2):
            name = f"{number}1111111-1111-4111-8111-111111111111"
            tokens[name] = pair.pair(pair.make_code()["code"], name, f"Phone {number}")["token"]
        back_up(file, NOW)
        pair.revoke(name)
    restore(file, data, None, LATER)
    with db.alone(None, data):
        assert [pair.find_device(token) is not None for token in tokens.values()] == [True, False]


@pytest.mark.parametrize("name", ["50% #1? log", "a&b=c;d", "mode=rw"])
def test_a_phone_shut_out_since_stays_out_whatever_the_folder_is_called(home: Path, file: Path, name: str) -> None:
    phone, _ = back_up_a_filled(file, home / name)
    with db.alone(None, home / name), db.writing() as session:
        devices.find_device(session, phone.dev).revoked_at = LATER
    restore(file, home / name, None, LATER)
    with db.alone(None, home / name):
        assert devices.find_device(db.db.session(), phone.dev).revoked_at == LATER


def test_a_phone_shut_out_since_stays_out_of_another_database_too(store: Flask, database_url, data_dir, file) -> None:
    if database_url is None:
        database_url = str(db.db.engine.url)
    phone = fill()
    back_up(file, NOW)
    pair.revoke(phone.dev)
    db.db.session.remove()
    restore(file, data_dir, database_url, LATER)
    assert devices.count_paired(db.db.session()) == 0


def test_role_and_passphrase_stay_as_decided_since(store: Flask, database_url, data_dir, file) -> None:
    if database_url is None:
        database_url = str(db.db.engine.url)
    phone = fill()
    owner.set_passphrase("the old good words")
    back_up(file, NOW)
    owner.set_passphrase("the new good words")
    pair.set_role(phone.dev, "record")
    db.db.session.remove()
    restore(file, data_dir, database_url, LATER)
    assert [one["role"] for one in pair.list_devices()] == ["record"]
    assert owner.check_passphrase("the new good words")


def test_the_passphrase_comes_back_with_a_backup_where_nothing_stood(home: Path, file: Path) -> None:
    with db.alone(None, home / "data"):
        owner.set_passphrase("wet boots by the stove")
        back_up(file, NOW)
    restore(file, home / "other", None, LATER)
    with db.alone(None, home / "other"):
        assert owner.check_passphrase("wet boots by the stove")


# --- what stood there ----------------------------------------------------------------------------------------------


def test_what_stood_there_is_kept_whole_beside_it(home: Path, file: Path) -> None:
    data = home / "data"
    phone, _ = back_up_a_filled(file, data)
    with db.alone(None, data):
        phone.mark("B9", picture(9))
        phone.sync()
        standing = all_kept()
    told = restore(file, data, None, dt.datetime(2027, 3, 2, 8, 30, 5).astimezone())
    assert told["kept_as"] == str(home / "data-before-2027-03-02-083005")
    assert sorted(path.name for path in home.iterdir()) == ["data", "data-before-2027-03-02-083005"]
    assert kept_in(home / "data-before-2027-03-02-083005") == standing
    assert len(kept_in(data)["changes"]) == len(standing["changes"]) - 2
    again = restore(file, data, None, dt.datetime(2027, 3, 2, 8, 30, 5).astimezone())
    assert again["kept_as"] == str(home / "data-before-2027-03-02-083005-2")


def test_what_stood_in_another_database_is_written_to_a_backup_first(
    store: Flask, database_url, data_dir, file
) -> None:
    if database_url is None:
        database_url = str(db.db.engine.url)
    phone = fill()
    back_up(file, NOW)
    phone.mark("B9", picture(9))
    phone.sync()
    standing, before = all_kept(), epoch.read(db.db.session())
    db.db.session.remove()
    told = restore(file, data_dir, database_url, LATER)
    assert len(all_kept()["changes"]) == 6
    assert epoch.read(db.db.session()) != before
    assert told["kept_as"].endswith(".zip")
    db.db.session.remove()
    restore(Path(told["kept_as"]), data_dir, database_url, LATER)
    assert all_kept() == standing


def test_a_database_that_is_damaged_is_no_hindrance(home: Path, file: Path) -> None:
    data = home / "data"
    _, before = back_up_a_filled(file, data)
    for name in ("fellside.sqlite-wal", "fellside.sqlite-shm"):
        (data / name).unlink(missing_ok=True)
    (data / "fellside.sqlite").write_bytes(b"damaged" * 1000)
    told = restore(file, data, None, LATER)
    assert kept_in(data) == before
    assert (Path(told["kept_as"]) / "fellside.sqlite").read_bytes() == b"damaged" * 1000


def test_the_house_keeps_its_name_and_its_certificates(tmp_path: Path, home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        fill(1)
        (data / "home.json").write_text('{"name": "one"}')
        back_up(file, NOW)
    (data / "home.json").write_text('{"name": "two"}')
    (data / "tls").mkdir()
    (data / "tls" / "server.pem").write_text("a key")
    (data / "tls" / "server.pem").chmod(0o600)
    restore(file, data, None, LATER)
    assert (data / "home.json").read_text() == '{"name": "two"}'
    assert (data / "tls" / "server.pem").read_text() == "a key"
    assert (data / "tls" / "server.pem").stat().st_mode & 0o777 == 0o600
    # On a new machine the name comes along; a key never does.
    restore(file, tmp_path / "new", None, LATER)
    assert (tmp_path / "new" / "home.json").read_text() == '{"name": "one"}'
    assert not (tmp_path / "new" / "tls").exists()


def test_an_empty_folder_is_filled_and_none_is_set_aside(tmp_path: Path, home: Path, file: Path) -> None:
    _, before = back_up_a_filled(file, tmp_path / "old")
    (home / "data").mkdir(mode=0o700)
    assert restore(file, home / "data", None, LATER)["kept_as"] is None
    assert [path.name for path in home.iterdir()] == ["data"]
    assert (home / "data").stat().st_mode & 0o777 == 0o700
    assert kept_in(home / "data") == before


# --- what is refused, and changes nothing --------------------------------------------------------------------------


def refused_and_unchanged(file: Path, data: Path, **which: str) -> str:
    names = sorted(path.name for path in data.parent.iterdir())
    standing = kept_in(data)
    life = epoch_of(data)
    with pytest.raises((BadInput, StoreTrouble), **which) as refused:
        restore(file, data, None, LATER)
    assert sorted(path.name for path in data.parent.iterdir()) == names
    assert kept_in(data) == standing
    assert epoch_of(data) == life
    return refused.value.code


def test_a_damaged_one_is_refused(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    whole = file.read_bytes()
    at = whole.index(b"picture 1 ")
    file.write_bytes(whole[:at] + b"PICTURE" + whole[at + 7 :])
    assert refused_and_unchanged(file, home / "data", match="damaged") == "backup-damaged"
    file.write_bytes(whole[:-1])
    assert refused_and_unchanged(file, home / "data", match="damaged") == "backup-damaged"


def test_while_a_server_runs_on_the_folder_it_is_refused(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    with lock.hold(home / "data"):
        assert refused_and_unchanged(file, home / "data", match="Another Fellside") == "in-use"


def test_a_folder_of_other_things_is_left_alone(tmp_path: Path, home: Path, file: Path) -> None:
    back_up_a_filled(file, tmp_path / "old")
    (home / "data").mkdir()
    (home / "data" / "mine.txt").write_text("mine")
    with pytest.raises(BadInput, match="other things"):
        restore(file, home / "data", None, LATER)
    assert [path.name for path in (home / "data").iterdir()] == ["mine.txt"]


def test_a_folder_that_cannot_be_moved_is_refused_at_once(tmp_path: Path, file: Path) -> None:
    back_up_a_filled(file, tmp_path / "old")
    with pytest.raises(BadInput, match="disk of its own"):
        restore(file, Path("/"), None, LATER)


def test_a_stop_before_the_end_changes_nothing(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    standing = kept_in(home / "data")
    calls = iter(range(100))

    def stop(count: int, of: int) -> None:
        if next(calls) == 9:  # verified are 8 files; this is while photos get their places
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        restore(file, home / "data", None, LATER, stop)
    assert [path.name for path in home.iterdir()] == ["data"]
    assert kept_in(home / "data") == standing


# --- what is damaged inside ----------------------------------------------------------------------------------------


def test_a_change_that_was_damaged_before_is_left_out_and_comes_again(home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        phone = fill()
        before = all_kept()
        with db.writing() as session:
            session.execute(text("UPDATE journal SET op = replace(op, 'B1', 'B2')"))
        assert back_up(file, NOW)["ok"] is False
    told = restore(file, data, None, LATER)
    assert (told["ok"], told["changes"]) == (False, 5)
    assert [(bad["dev"], bad["seq"]) for bad in told["changes_left_out"]] == [(phone.dev, 3)]
    with db.alone(None, data):
        assert check()["ok"]
        phone.sync(LATER)
        after = all_kept()
        assert after["changes"] == before["changes"]
        assert after["records"] == before["records"]


def test_a_photo_that_was_damaged_before_comes_again(home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        phone = fill()
        before = all_kept()
        bad = min(phone.photos)
        photos.blob_path(data, bad).write_bytes(b"other")
        back_up(file, NOW)
    told = restore(file, data, None, LATER)
    assert (told["photos"], told["photos_missing"]) == (2, [bad])
    with db.alone(None, data):
        phone.sync(LATER)
        assert all_kept() == before


def test_a_change_of_a_newer_fellside_is_held(home: Path, file: Path) -> None:
    data = home / "data"
    with db.alone(None, data):
        phone = fill(1)
        op = dict(phone.ops[phone.dev, 1], v=2, seq=9)
        with db.writing() as session:
            from field.store import journal
            from field.sync.change import op_hash

            journal.append(session, [op], NOW)
            # As the newer one had kept it: applied.
            session.execute(
                text("UPDATE journal SET held = NULL, type = 'tree', stamp = :stamp WHERE seq = 9"),
                {"stamp": op["hlc"]},
            )
            assert session.execute(text("SELECT hash FROM journal WHERE seq = 9")).scalar_one() == op_hash(op)
        back_up(file, NOW)
    assert restore(file, data, None, LATER)["changes"] == 3
    with db.alone(None, data):
        assert (
            db.db.session.execute(text("SELECT held FROM journal WHERE seq = 9"))
            .scalar_one()
            .startswith("It was written")
        )
        assert check()["ok"]


@pytest.mark.parametrize(
    ("book", "row"),
    [
        ("device", {"device": "x", "name": None, "token_hash": None, "paired_at": "2027-03-01T09:00:00+00:00"}),
        ("device", {"device": "x", "name": "y", "token_hash": None, "paired_at": "yesterday"}),
        ("device", {"device": ["x"], "name": "y", "token_hash": None, "paired_at": "2027-03-01T09:00:00+00:00"}),
        ("blob", {"sha256": "0" * 64, "size_bytes": 1, "media_type": "x", "stored_at": "2027-03-01T09:00:00+00:00"}),
        ("blob", {"sha256": "../../x", "size_bytes": 1, "media_type": "x", "stored_at": "2027-03-01T09:00:00+00:00"}),
        ("meta", {"key": 5}),
        ("journal", {"dev": 5, "seq": "x"}),
    ],
    ids=lambda one: one if isinstance(one, str) else "",
)
def test_a_book_made_by_nobodys_backup_is_refused(home: Path, file: Path, book: str, row: dict) -> None:
    with db.alone(None, home / "data"):
        fill(1)
    with file.open("xb") as out, archive.writing(out) as writer:
        writer.add_lines(f"books/{book}.jsonl", [row])
        writer.finish({})
    assert refused_and_unchanged(file, home / "data") == "backup-damaged"


# --- cut off between the two moves ---------------------------------------------------------------------------------


def test_one_killed_between_the_moves_is_brought_to_its_end(tmp_path: Path, home: Path, file: Path) -> None:
    _, before = back_up_a_filled(file, tmp_path / "old")
    restore(file, home / "data", None, LATER)
    (home / "data").rename(home / f"data{READY}")  # as it lies there in that moment
    finish(home / "data")
    assert [path.name for path in home.iterdir()] == ["data"]
    assert kept_in(home / "data") == before


def test_one_killed_before_the_moves_is_forgotten(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    standing = kept_in(home / "data")
    (home / f"data{READY}").mkdir()
    with lock.hold(home / "data"):
        finish(home / "data")
        assert (home / f"data{READY}").exists()  # it may be in the middle of its work
    finish(home / "data")
    assert [path.name for path in home.iterdir()] == ["data"]
    assert kept_in(home / "data") == standing


def test_what_a_killed_one_had_built_is_cleared_away_at_the_next_start(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    (home / ".data.restoring-0123" / "blobs").mkdir(parents=True)
    (home / ".data.restoring-4567").mkdir()
    with lock.hold(home / ".data.restoring-4567"):  # one that is at its work has its folder locked
        finish(home / "data")
        assert sorted(path.name for path in home.iterdir()) == [".data.restoring-4567", "data"]
    finish(home / "data")
    assert [path.name for path in home.iterdir()] == ["data"]


def test_one_at_its_work_has_its_folder_locked_and_none_is_left(home: Path, file: Path) -> None:
    back_up_a_filled(file, home / "data")
    seen: list[str] = []

    def look(count: int, of: int) -> None:
        for building in home.glob(".data.restoring-*"):
            finish(home / "data")  # as a server that starts meanwhile
            with pytest.raises(StoreTrouble), lock.hold(building):
                pass
            seen.append(building.name)

    restore(file, home / "data", None, LATER, look)
    assert seen
    assert not list(home.glob(".*"))


def test_manifest_names_each_photo_by_its_content(home: Path, file: Path) -> None:
    phone, _ = back_up_a_filled(file, home / "data")
    with zipfile.ZipFile(file) as zip_:
        members = json.loads(zip_.read("manifest.json"))["members"]
    assert {member["sha256"] for name, member in members.items() if name.startswith("photos/")} == set(phone.photos)
