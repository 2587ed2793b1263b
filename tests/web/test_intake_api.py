"""Intake over HTTP: files that are here are read and told of, and kept only when a person says so."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from builders import PHONE, a_change, an_id

FILES = Path(__file__).resolve().parent.parent / "files"
ANSWERS = json.loads((FILES.parent / "vectors" / "exif_answers.json").read_text(encoding="utf-8"))["made"]
PHOTO = FILES / "exif" / "n-e.jpg"
TRACK = FILES / "gpx" / "control-good.gpx"
PLACE = next(answer["expected"] for answer in ANSWERS if answer["file"] == "made/n-e.jpg")


def sha_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def send(client, data: bytes) -> str:
    """Send a file up and return its name."""
    headers = {"Upload-Offset": "0", "Upload-Length": str(len(data)), "Content-Type": "application/partial-upload"}
    assert client.patch(f"/api/blob/{sha_of(data)}", data=data, headers=headers).headers["Upload-Complete"] == "?1"
    return sha_of(data)


def file(client, path: Path) -> dict[str, str]:
    return {"sha256": send(client, path.read_bytes()), "name": path.name}


def read(client, files: list[dict[str, str]], **clock: object):
    return client.post("/api/intake/read", json={"files": files, "clock_offset_s": None, "zone": None, **clock})


def save(client, **body: object):
    return client.post(
        "/api/intake/save", json={"photos": [], "tracks": [], "clock_offset_s": None, "zone": None, **body}
    )


def journal_end(client) -> int:
    question = {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": []}
    return client.post("/api/sync", json=question).get_json()["cursor"]


@pytest.fixture
def tree(paired_client) -> str:
    """A tree at the place of the photo."""
    tree = an_id()
    fix = {"tree": tree, "lat": PLACE["lat"], "lon": PLACE["lon"], "accuracy_m": 4}
    ops = [a_change({"tag": "B7", "species": "birch"}, rec=tree, seq=1), a_change(fix, type="fix", seq=2)]
    question = {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": ops}
    assert [one["s"] for one in paired_client.post("/api/sync", json=question).get_json()["results"]] == ["ok", "ok"]
    return tree


def test_a_photo_is_placed_and_the_tree_near_it_offered(paired_client, tree: str) -> None:
    before = journal_end(paired_client)
    told = read(paired_client, [file(paired_client, PHOTO), file(paired_client, TRACK)]).get_json()
    assert set(told) == {"photos", "tracks", "clock", "trouble"}
    (photo,) = told["photos"]
    assert abs(photo["lat"] - PLACE["lat"]) < 2e-7
    assert abs(photo["lon"] - PLACE["lon"]) < 2e-7
    assert photo["placed_by"] == "photo"
    (near,) = photo["near"]
    assert (near["tree"], near["tag"], near["species"]) == (tree, "B7", "birch")
    assert near["distance_m"] < 0.1
    (track,) = told["tracks"]
    assert track["points"] > 0
    assert (photo["known"], track["known"]) == (False, False)
    assert told["trouble"] == []
    assert journal_end(paired_client) == before


def test_what_was_accepted_is_kept_and_known_from_then_on(paired_client, tree: str) -> None:
    photo, track = file(paired_client, PHOTO), file(paired_client, TRACK)
    told = save(paired_client, photos=[{**photo, "tree": tree, "site": None}], tracks=[track]).get_json()
    assert {(one["sha256"], one["type"]) for one in told["saved"]} == {
        (photo["sha256"], "photo"),
        (track["sha256"], "track"),
    }
    assert told["trouble"] == []
    again = read(paired_client, [photo, track]).get_json()
    assert [one["known"] for one in (*again["photos"], *again["tracks"])] == [True, True]
    question = {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": []}
    ops = [row["op"] for row in paired_client.post("/api/sync", json=question).get_json()["ops"]]
    (kept,) = [op["set"] for op in ops if op["type"] == "photo"]
    assert (kept["tree"], kept["sha256"], kept["placed_by"]) == (tree, photo["sha256"], "exif")


def test_the_same_bytes_are_kept_once(paired_client) -> None:
    photo = file(paired_client, PHOTO)
    save(paired_client, photos=[photo])
    before = journal_end(paired_client)
    told = save(paired_client, photos=[photo]).get_json()
    assert told["saved"] == []
    assert [one["code"] for one in told["trouble"]] == ["kept-already"]
    assert journal_end(paired_client) == before


def test_a_file_that_is_not_here_is_told_and_the_rest_read(paired_client) -> None:
    away = {"sha256": "0" * 64, "name": "away.jpg"}
    told = read(paired_client, [away, file(paired_client, PHOTO)]).get_json()
    assert len(told["photos"]) == 1
    assert [(one["file"], one["code"]) for one in told["trouble"]] == [("away.jpg", "no-blob")]
    saved = save(paired_client, photos=[away], tracks=[away]).get_json()
    assert saved["saved"] == []
    assert [one["code"] for one in saved["trouble"]] == ["no-blob", "no-blob"]


def test_what_is_no_photo_is_told_and_not_kept(paired_client) -> None:
    text = {"sha256": send(paired_client, b"a text that is called a photo"), "name": "photo.jpg"}
    before = journal_end(paired_client)
    told = read(paired_client, [text]).get_json()
    assert [one["code"] for one in told["photos"][0]["trouble"]] == ["not-photo-or-track"]
    assert save(paired_client, photos=[{**text, "tree": None}]).get_json()["saved"] == []
    assert journal_end(paired_client) == before


@pytest.mark.parametrize(
    "wrong",
    [
        {"files": [{"sha256": "x", "name": "a.jpg"}]},
        {"files": [{"sha256": "0" * 64}]},
        {"files": [{"name": "a.jpg"}]},
        {"files": "a.jpg"},
        {"files": [], "zone": "Nowhere/Land"},
        {"files": [], "zone": 3},
        {"files": [], "clock_offset_s": "3"},
        {"files": [], "clock_offset_s": True},
        {"files": [], "clock_offset_s": 1e300},
        {"files": [{"sha256": "0" * 64, "name": "a.jpg"}] * 10_001},
    ],
)
def test_a_wrong_question_is_refused(paired_client, wrong: dict) -> None:
    answer = paired_client.post("/api/intake/read", json=wrong)
    assert answer.status_code == 400
    assert answer.get_json()["error"]["message"].endswith(".")


@pytest.mark.parametrize("tree", [5, [], {}, "no id", "0" * 36])
def test_a_tree_that_is_none_keeps_all_of_it_out(paired_client, tree: object) -> None:
    photo, track = file(paired_client, PHOTO), file(paired_client, TRACK)
    before = journal_end(paired_client)
    answer = save(paired_client, photos=[{**photo, "tree": tree}], tracks=[track])
    assert answer.status_code == 400
    assert journal_end(paired_client) == before
