"""A copy over HTTP: sent up like any file, taken in once, and not kept itself."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

from backup_kit import NOW, fill, picture
from builders import PHONE, a_change
from copy_kit import write_copy
from flask import Flask

from field.services import keep_blob
from field.services.backup import back_up
from field.store import db, photos

PIECE = 256 * 1024


def send(client, data: bytes) -> str:
    sha256 = hashlib.sha256(data).hexdigest()
    for begin in range(0, len(data), PIECE):
        headers = {
            "Upload-Offset": str(begin),
            "Upload-Length": str(len(data)),
            "Content-Type": "application/partial-upload",
        }
        assert client.patch(f"/api/blob/{sha256}", data=data[begin : begin + PIECE], headers=headers).status_code == 204
    return sha256


def test_a_copy_comes_home_and_its_file_is_not_kept(paired_client, tmp_path: Path) -> None:
    photo = picture(1, 400_000)
    name = hashlib.sha256(photo).hexdigest()
    data = write_copy(tmp_path / "c.zip", [a_change()], {name: photo}).read_bytes()
    for new in (1, 0):
        sha256 = send(paired_client, data)
        answer = paired_client.post(f"/api/copy/{sha256}", json={})
        assert answer.status_code == 200
        assert (answer.json["changes_new"], answer.json["photos_new"]) == (new, new)
        assert paired_client.head(f"/api/blob/{sha256}").status_code == 404
    assert paired_client.get(f"/api/blob/{name}", buffered=True).data == photo


def test_a_copy_of_another_home_is_asked_about_and_then_taken_in(app: Flask, paired_client, tmp_path: Path) -> None:
    with app.app_context():
        fill(1)
    data = write_copy(tmp_path / "c.zip", [a_change()], epoch="theirs", have={"somebody": 1}).read_bytes()
    answer = paired_client.post(f"/api/copy/{send(paired_client, data)}", json={})
    assert (answer.status_code, answer.json["error"]["code"]) == (409, "other-house")
    answer = paired_client.post(f"/api/copy/{send(paired_client, data)}", json={"anyway": True})
    assert answer.json["changes_new"] == 1


def test_a_photo_sent_as_a_copy_is_said_to_be_none_and_stays(paired_client) -> None:
    photo = picture(1)
    sha256 = send(paired_client, photo)
    answer = paired_client.post(f"/api/copy/{sha256}", json={})
    assert (answer.status_code, answer.json["error"]["code"]) == (400, "no-copy")
    assert paired_client.get(f"/api/blob/{sha256}", buffered=True).data == photo


def test_a_damaged_copy_is_refused_and_gone(paired_client, tmp_path: Path) -> None:
    data = write_copy(tmp_path / "c.zip", [a_change()]).read_bytes()
    sha256 = send(paired_client, data[:-5])
    answer = paired_client.post(f"/api/copy/{sha256}", json={})
    assert (answer.status_code, answer.json["error"]["code"]) == (400, "copy-damaged")
    assert paired_client.head(f"/api/blob/{sha256}").status_code == 404
    assert paired_client.get("/api/held").json == {"held": []}


def test_a_copy_that_was_sent_and_never_taken_in_does_not_stay(app: Flask, paired_client, tmp_path: Path) -> None:
    left = send(paired_client, write_copy(tmp_path / "a.zip", [a_change()]).read_bytes())
    photo = send(paired_client, picture(1))
    now = dt.datetime.now(dt.UTC)
    with app.app_context():
        back_up(tmp_path / "b.zip", now + dt.timedelta(hours=23))
        assert keep_blob.is_here(left)  # its phone may be about to say so
        back_up(tmp_path / "c.zip", now + dt.timedelta(hours=25))
        assert (keep_blob.is_here(left), keep_blob.is_here(photo)) == (False, True)


def test_only_what_a_good_backup_has_is_kept_twice(app: Flask, paired_client, tmp_path: Path) -> None:
    first, second = (send(paired_client, picture(number)) for number in (1, 2))
    missing = "0" * 64

    def told() -> list[str]:
        asked = {"sha256": [first, second, missing, "../epoch", PHONE]}
        return paired_client.post("/api/kept-twice", json=asked).json["kept_twice"]

    assert told() == []
    with app.app_context():
        back_up(tmp_path / "b.zip", NOW)
        third = send(paired_client, picture(3))
        assert paired_client.post("/api/kept-twice", json={"sha256": [third]}).json == {"kept_twice": []}
        photos.blob_path(db.data_dir(), first).unlink()
    assert told() == [second]
