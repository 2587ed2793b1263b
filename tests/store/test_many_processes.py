"""Several server processes on one PostgreSQL database and one folder of photos: nothing lost, skipped or done twice."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from backup_kit import fill
from builders import a_request, an_id
from cli_kit import refused
from flask import Flask
from home_server import ROOT, wait_for
from many_kit import Client, SharingServer, a_tag, pair_phones
from sqlalchemy import make_url, select, text

from field.core.errors import StoreTrouble
from field.services import backup, backup_daily, pair, restore, serve
from field.services.check import check
from field.services.take_in_changes import current_epoch
from field.store import among, db
from field.store.tables import METADATA, JournalRow, WrongTryRow

CLIENTS = 8
BATCHES = 8  # of each client
BATCH = 8
NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)


@dataclass
class Servers:
    """Two servers of two processes each, as on two machines: a data folder for each, the rest shared."""

    address: str
    photos: Path
    servers: list[SharingServer]
    folder: Path

    def clients(self, how_many: int) -> list[Client]:
        """Pair some phones; they use the servers in turn."""
        paired = pair_phones(self.address, self.folder / "desk", self.photos, how_many)
        ports = itertools.cycle(server.port for server in self.servers)
        return [Client(port, *one) for port, one in zip(ports, paired, strict=False)]

    def opened(self) -> Any:
        return db.alone(self.address, self.folder / "desk", self.photos)


@pytest.fixture(scope="module")
def servers(postgres, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Servers]:
    postgres.run("; ".join(f'DELETE FROM "{table.name}"' for table in METADATA.sorted_tables))
    folder = tmp_path_factory.mktemp("many")
    photos = folder / "photos"
    photos.mkdir()
    two = [SharingServer(folder / name, postgres.address, photos, "--processes", "2") for name in ("one", "two")]
    # At once, on a database that nobody has opened yet.
    with ThreadPoolExecutor() as pool:
        try:
            list(pool.map(lambda server: server.start(), two))
            yield Servers(postgres.address, photos, two, folder)
        finally:
            for server in two:
                if server.process is not None:
                    server.kill()


def all_at_once(jobs: list[Callable[[], Any]]) -> list[Any]:
    """Run jobs in threads that begin together; return what each gave."""
    line = threading.Barrier(len(jobs))

    def run(job: Callable[[], Any]) -> Any:
        line.wait(60)
        return job()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))


class Reader:
    """A client that brings its changes and reads on all the while, as phones do."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.seen: list[int] = []
        self.names: list[tuple[str, int]] = []
        self.cursor, self.epoch = 0, None

    def sync(self, ops: list[dict[str, Any]]) -> dict[str, Any]:
        asked = a_request(*ops, device=self.client.device, epoch=self.epoch, cursor=self.cursor, want=30)
        told = self.client.post("/api/sync", asked)
        assert self.epoch in (None, told["epoch"])
        assert [result["s"] for result in told["results"]] == ["ok"] * len(ops)
        self.seen += [entry["pos"] for entry in told["ops"]]
        self.names += [(entry["op"]["dev"], entry["op"]["seq"]) for entry in told["ops"]]
        self.cursor, self.epoch = told["cursor"], told["epoch"]
        return told

    def run(self, trees: list[str]) -> None:
        for first in range(1, BATCHES * BATCH, BATCH):
            device = self.client.device
            self.sync([a_tag(device, seq, trees[seq % len(trees)]) for seq in range(first, first + BATCH)])

    def read_to_the_end(self) -> None:
        while self.sync([])["more"]:
            pass


def test_each_client_sees_every_position_once_and_in_order_while_all_push(servers: Servers) -> None:
    readers = [Reader(client) for client in servers.clients(CLIENTS)]
    trees = [an_id() for _ in range(20)]
    all_at_once([lambda reader=reader: reader.run(trees) for reader in readers])
    for reader in readers:
        reader.read_to_the_end()
    every = CLIENTS * BATCHES * BATCH  # nothing else was written before: it is the first test of the file
    for reader in readers:
        assert reader.seen == list(range(1, every + 1))
        assert len(set(reader.names)) == every
    with servers.opened():
        rows = db.db.session().scalars(select(JournalRow.pos).order_by(JournalRow.pos)).all()
        assert list(rows) == list(range(1, every + 1))
        assert check()["ok"]


def test_four_processes_serve(servers: Servers) -> None:
    held = "SELECT count(DISTINCT pid) FROM pg_locks WHERE locktype = 'advisory' AND objid = :number AND granted"
    with servers.opened():
        assert db.db.session().execute(text(held), {"number": among.SERVING}).scalar() == 4


def test_one_life_of_the_store_whoever_answers(servers: Servers) -> None:
    told = {server.hello()["epoch"] for server in servers.servers for _ in range(8)}
    with servers.opened():
        assert told == {current_epoch()}


def test_of_two_phones_with_one_code_one_is_paired(servers: Servers) -> None:
    with servers.opened():
        code = pair.make_code()["code"]
    # Ten wrong codes in ten minutes are borne from one address, and those of the tests before count too.
    asking = [Client(server.port, an_id(), "") for server in servers.servers * 3]
    body = {"Content-Type": "application/json"}

    def try_it(client: Client) -> int:
        told = json.dumps({"code": code, "device": client.device, "name": "Phone"}).encode()
        return client.ask("POST", "/api/pair", told, **body)[0]

    statuses = all_at_once([lambda client=client: try_it(client) for client in asking])
    assert sorted(statuses) == [200, *[403] * 5]


def test_ten_wrong_codes_are_the_limit_whoever_is_asked(servers: Servers) -> None:
    with servers.opened(), db.writing() as session:
        session.query(WrongTryRow).delete()
    asking = [Client(server.port, an_id(), "") for server in servers.servers * 8]
    body = {"Content-Type": "application/json"}

    def try_it(client: Client) -> int:
        told = json.dumps({"code": "AAAAAAAA", "device": client.device, "name": "Phone"}).encode()
        return client.ask("POST", "/api/pair", told, **body)[0]

    statuses = all_at_once([lambda client=client: try_it(client) for client in asking])
    assert sorted(statuses) == [*[403] * 10, *[429] * 6]
    with servers.opened(), db.writing() as session:
        session.query(WrongTryRow).delete()


def test_of_a_phone_and_its_copy_that_write_one_number_one_is_told_to_take_a_new_name(servers: Servers) -> None:
    phone = servers.clients(1)[0]
    copies = [Client(server.port, phone.device, phone._token) for server in servers.servers * 3]
    ops = [a_tag(phone.device, 1, an_id()) for _ in copies]

    def bring(client: Client, op: dict[str, Any]) -> tuple[int, bytes]:
        told = json.dumps(a_request(op, device=client.device)).encode()
        status, _, answer = client.ask("POST", "/api/sync", told, **{"Content-Type": "application/json"})
        return status, answer

    jobs = [lambda client=client, op=op: bring(client, op) for client, op in zip(copies, ops, strict=True)]
    answers = all_at_once(jobs)
    assert sorted(status for status, _ in answers) == [200, *[409] * 5]
    assert all(b"device-fork" in answer for status, answer in answers if status == 409)


def test_pieces_of_one_photo_sent_to_all_at_once_make_the_photo(servers: Servers) -> None:
    data = bytes(range(256)) * 4000
    name = hashlib.sha256(data).hexdigest()
    ends = [*range(0, len(data), 100_000), len(data)]
    clients = servers.clients(8)

    def send(client: Client) -> int:
        tries = 0
        while True:
            tries += 1
            _, told, _ = client.ask("HEAD", f"/api/blob/{name}")
            if told.get("upload-complete") == "?1":
                return tries
            begin = int(told.get("upload-offset", 0))
            status, told, answer = client.send(data, begin, next(end for end in ends if end > begin))
            assert status in (204, 409), answer  # another one was faster: never spoilt, never dropped

    all_at_once([lambda client=client: send(client) for client in clients])
    for client in clients[:2]:
        assert client.ask("GET", f"/api/blob/{name}")[2] == data
    assert not (servers.photos / "parts" / name).exists()
    with servers.opened():
        assert check()["photos_bad"] == check()["photos_missing"] == []


def test_pack_that_one_server_built_is_had_from_the_other(servers: Servers) -> None:
    one, two = servers.clients(2)
    name = one.post("/api/sync", a_request(a_tag(one.device, 1, an_id()), device=one.device, want=0))["pack"]
    assert name is not None
    assert one.port != two.port
    assert two.ask("GET", f"/api/pack/{name}")[0] == 200


@pytest.fixture
def fresh_address(postgres) -> Iterator[str]:
    """A database in which nothing is yet, not even tables."""
    postgres.run("CREATE DATABASE fresh")
    yield make_url(postgres.address).set(database="fresh").render_as_string(hide_password=False)
    postgres.run("DROP DATABASE fresh WITH (FORCE)")


def test_three_that_start_at_once_on_a_new_database_make_its_tables_once(fresh_address: str, tmp_path: Path) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    settings = {**os.environ, "FELLSIDE_DATABASE": fresh_address, "FELLSIDE_PHOTOS": str(photos)}
    calls = [
        subprocess.Popen(
            [sys.executable, str(ROOT / "app.py"), "init", "--data", str(tmp_path / str(number))],
            env=settings, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for number in range(3)
    ]  # fmt: skip
    said = [call.communicate(timeout=60) for call in calls]
    assert [(call.returncode, err) for call, (_, err) in zip(calls, said, strict=True)] == [(0, "")] * 3
    with db.alone(fresh_address, tmp_path / "desk", photos):
        assert (photos / "epoch").read_text().split()[0] == current_epoch()
        assert check()["ok"]


def test_a_database_put_back_by_other_means_is_another_life_for_all(fresh_address: str, tmp_path: Path) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    with db.alone(fresh_address, tmp_path / "one", photos):
        fill()
        first = current_epoch()
        # As a dump that is put back does it: the same rows in a table that was made anew.
        with db.writing() as session:
            for statement in ("CREATE TABLE again (LIKE meta INCLUDING ALL)", "INSERT INTO again SELECT * FROM meta",
                              "DROP TABLE meta", "ALTER TABLE again RENAME TO meta"):  # fmt: skip
                session.execute(text(statement))
    with db.alone(fresh_address, tmp_path / "two", photos):
        second = current_epoch()
    assert second != first
    with db.alone(fresh_address, tmp_path / "one", photos):
        assert current_epoch() == second


def test_of_two_that_look_at_once_one_makes_the_backup_of_the_day(fresh_address: str, tmp_path: Path) -> None:
    with db.alone(fresh_address, tmp_path / "data"):
        fill()
        with among.try_alone(db.db.engine, among.DAILY_BACKUP) as alone:
            assert alone
            backup_daily.try_due(tmp_path / "shelf", NOW)  # as the other one, while this one is at it
            assert not (tmp_path / "shelf").exists()
        backup_daily.try_due(tmp_path / "shelf", NOW)
        assert len(list((tmp_path / "shelf").iterdir())) == 1


def test_several_processes_on_sqlite_are_refused_in_words(capsys, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.delenv("FELLSIDE_DATABASE", raising=False)
    said = refused(capsys, "--data", tmp_path / "data", "--plain", "--port", "0", "--processes", "2")
    assert "Several processes need PostgreSQL" in said
    assert not (tmp_path / "data").exists()
    assert "whole number from 1" in refused(capsys, "--processes", "0")
    serve.check_processes(4, "postgresql://user@host/name", tmp_path)


def test_a_folder_of_photos_beside_sqlite_is_refused_in_words(capsys, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.delenv("FELLSIDE_DATABASE", raising=False)
    monkeypatch.setenv("FELLSIDE_PHOTOS", str(tmp_path / "photos"))
    assert "photos lie in the data folder" in refused(capsys, "--data", tmp_path / "data", "init")


def test_a_folder_of_photos_that_is_not_there_is_not_made(postgres, tmp_path: Path) -> None:
    with pytest.raises(StoreTrouble, match="no folder"), db.alone(postgres.address, tmp_path / "d", tmp_path / "p"):
        pass
    assert not (tmp_path / "p").exists()


def test_a_server_with_other_photos_is_refused_and_disturbs_nobody(servers: Servers, tmp_path: Path) -> None:
    before = servers.servers[0].hello()["epoch"]
    with pytest.raises(StoreTrouble, match="Another Fellside serves this database") as told:
        db.init_app(Flask("house"), servers.address, tmp_path / "third")
    assert told.value.code == "other-photos"
    with db.alone(servers.address, tmp_path / "third", servers.photos):
        assert current_epoch() == before


def test_while_any_server_runs_nothing_is_put_back(servers: Servers, tmp_path: Path) -> None:
    with servers.opened():
        backup.back_up(tmp_path / "b.zip", NOW)
    with pytest.raises(StoreTrouble, match="running on that database") as told:
        restore.restore(tmp_path / "b.zip", tmp_path / "desk", servers.address, NOW, photos=servers.photos)
    assert told.value.code == "in-use"


def test_a_killed_server_is_no_server_any_more(servers: Servers) -> None:
    with servers.opened():
        with pytest.raises(StoreTrouble), among.no_server(db.db.engine):
            pass
        for server in servers.servers:
            server.kill()

        def is_free() -> bool:
            try:
                with among.no_server(db.db.engine):
                    return True
            except StoreTrouble:
                return False

        wait_for(is_free, "the database still counts a server that was killed")
    epoch = None
    for server in servers.servers:
        server.start()
        assert epoch in (None, server.hello()["epoch"])
        epoch = server.hello()["epoch"]
