"""Files taken in at home: moved by hand, told where they are kept, and taken back as one."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from field.core.errors import BadInput
from field.services import keep_blob, take_in_files
from field.services.write_changes import write_changes
from field.store import db, queries

FILES = Path(__file__).resolve().parent.parent / "files"
ANSWERS = json.loads((FILES.parent / "vectors" / "exif_answers.json").read_text(encoding="utf-8"))["made"]
PHOTO = FILES / "exif" / "n-e.jpg"
TRACK = FILES / "gpx" / "control-good.gpx"
PLACE = next(answer["expected"] for answer in ANSWERS if answer["file"] == "made/n-e.jpg")
HAND = {"lat": 55.4, "lon": -3.4, "accuracy_m": 12}


@pytest.fixture(autouse=True)
def log(tmp_path: Path) -> Iterator[None]:
    app = Flask("log")
    db.init_app(app, None, tmp_path / "data")
    with app.app_context():
        yield
    db.close(app)


def kept(path: Path) -> dict[str, str]:
    """Keep a file's bytes and return how a request names it."""
    keep_blob.keep_bytes(path.read_bytes())
    return {"sha256": hashlib.sha256(path.read_bytes()).hexdigest(), "name": path.name}


def save(**body: object) -> dict:
    return take_in_files.save({"photos": [], "tracks": [], **body})


def test_photo_moved_by_hand_is_kept_there() -> None:
    save(photos=[{**kept(PHOTO), "place": HAND}])
    (photo,) = queries.list_records("photo")
    assert (photo["lat"], photo["lon"], photo["accuracy_m"], photo["placed_by"]) == (55.4, -3.4, 12, "hand")


def test_photo_not_moved_stays_where_it_was_taken() -> None:
    save(photos=[{**kept(PHOTO), "place": None}])
    (photo,) = queries.list_records("photo")
    assert abs(photo["lat"] - PLACE["lat"]) < 2e-7
    assert photo["placed_by"] == "exif"


@pytest.mark.parametrize(
    "place",
    [
        5,
        [],
        {},
        {"lat": 91, "lon": 0},
        {"lat": "55", "lon": 0},
        {"lat": 55, "lon": None},
        {**HAND, "accuracy_m": -1},
        {**HAND, "accuracy_m": "near"},
        {**HAND, "accuracy_m": float("inf")},
    ],
)
def test_place_that_is_none_keeps_all_of_it_out(place: object) -> None:
    with pytest.raises(BadInput):
        save(photos=[{**kept(PHOTO), "place": place}], tracks=[kept(TRACK)])
    assert queries.list_records("photo") == queries.list_records("track") == []


def test_what_is_kept_already_says_with_which_tree() -> None:
    (tree,) = write_changes([("tree", None, {"tag": "B7"})])
    photo, track = kept(PHOTO), kept(TRACK)
    saved = save(photos=[{**photo, "tree": tree}], tracks=[track])["saved"]
    told = take_in_files.read({"files": [photo, track]})
    assert told["photos"][0]["kept"] == {"rec": saved[0]["rec"], "tree": tree}
    assert told["tracks"][0]["kept"] == {"rec": saved[1]["rec"], "tree": None}


def test_what_is_new_is_kept_nowhere_and_its_walk_can_be_drawn() -> None:
    told = take_in_files.read({"files": [kept(PHOTO), kept(TRACK)]})
    assert (told["photos"][0]["kept"], told["tracks"][0]["kept"]) == (None, None)
    line = told["tracks"][0]["line"]
    west, south, east, north = told["tracks"][0]["bounds"]
    assert len(line) > 1
    assert all(west - 1e-6 <= lon <= east + 1e-6 and south - 1e-6 <= lat <= north + 1e-6 for lon, lat in line)


def test_whole_intake_is_taken_back_as_one_and_can_be_taken_in_again() -> None:
    photo, track = kept(PHOTO), kept(TRACK)
    saved = save(photos=[photo], tracks=[track])["saved"]
    assert take_in_files.undo({"saved": saved}) == {"deleted": 2}
    assert queries.list_records("photo") == queries.list_records("track") == []
    assert take_in_files.undo({"saved": saved}) == {"deleted": 0}
    assert len(save(photos=[photo], tracks=[track])["saved"]) == 2


@pytest.mark.parametrize("one", [{}, {"rec": 5, "type": "photo"}, {"rec": "x", "type": "tree"}])
def test_nothing_but_photos_and_tracks_can_be_taken_back(one: dict) -> None:
    saved = save(photos=[kept(PHOTO)])["saved"]
    with pytest.raises(BadInput):
        take_in_files.undo({"saved": [*saved, one]})
    assert len(queries.list_records("photo")) == 1
