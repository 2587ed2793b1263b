"""From files on disk to the document of `place`, and from there into the log."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from camera_card import FILES, LAT, LON, STEP_DEG, a_photo, a_track, codes, put
from flask import Flask

from field.core.errors import BadInput
from field.services.place_photos import (
    plan_placed,
    read_blobs,
    read_paths,
    save_document,
    save_placed,
    track_fields,
)
from field.services.write_changes import write_changes
from field.store import db, queries

# --- the document ----------------------------------------------------------------------------------------------------


def test_document_has_exactly_the_fields_of_the_command(tmp_path: Path) -> None:
    put(tmp_path, a_jpg=a_photo(at=(LAT, LON)), t_gpx=a_track())
    document, status = read_paths([tmp_path])
    assert status == 0
    assert sorted(document) == ["clock", "photos", "tracks"]
    assert set(document["photos"][0]) == {
        "file", "sha256", "lat", "lon", "height_m", "accuracy_m", "direction_deg", "taken_at", "taken_at_from",
        "orientation", "placed_by", "trouble",
    }  # fmt: skip
    assert {"file", "version", "points", "segments", "waypoints", "routes", "length_m", "climb_m", "start", "end",
            "bounds", "trouble"} <= set(document["tracks"][0])  # fmt: skip
    assert {"offset_s", "spread_s", "from"} <= set(document["clock"])
    assert json.loads(json.dumps(document)) == document


def test_photo_is_named_by_its_hash(tmp_path: Path) -> None:
    data = a_photo()
    put(tmp_path, a_jpg=data)
    assert read_paths([tmp_path])[0]["photos"][0]["sha256"] == hashlib.sha256(data).hexdigest()


def test_kind_of_a_file_is_told_by_its_content(tmp_path: Path) -> None:
    put(tmp_path, a_gpx=a_photo(at=(LAT, LON)), b_jpg=a_track())
    document, status = read_paths([tmp_path])
    assert (len(document["photos"]), len(document["tracks"]), status) == (1, 1, 0)
    assert document["photos"][0]["file"].endswith("a.gpx")


@pytest.mark.parametrize(
    ("name", "data", "where", "code"),
    [
        ("text.jpg", b"not a picture", "photos", "not-photo-or-track"),
        ("empty.jpg", b"", "photos", "empty"),
        ("empty.gpx", b"", "tracks", "empty"),
        ("page.gpx", b"<html></html>", "tracks", "web-page"),
        ("drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "photos", "not-photo-or-track"),
        ("cut.gpx", a_track()[:2000], "tracks", "cut-off"),
        ("cut.jpg", a_photo(at=(LAT, LON))[:100], "photos", "cut-off-metadata"),
    ],
)
def test_bad_file_has_one_sentence_and_the_rest_is_done(
    tmp_path: Path, name: str, data: bytes, where: str, code: str
) -> None:
    (tmp_path / name).write_bytes(data)
    put(tmp_path, good_jpg=a_photo(at=(LAT, LON)))
    document, status = read_paths([tmp_path])
    assert status == 1
    entry = next(one for one in document[where] if one["file"].endswith(name))
    assert codes(entry) == [code]
    assert any(one["placed_by"] == "photo" for one in document["photos"])


@pytest.mark.parametrize("path", ["nowhere", "a\0b", "x" * 5000])
def test_path_that_is_not_there_is_a_wrong_call(tmp_path: Path, path: str) -> None:
    with pytest.raises(BadInput):
        read_paths([tmp_path / path])


@pytest.mark.parametrize("zone", ["Europe/Nowhere", "../etc/passwd", ""])
def test_unknown_zone_is_a_wrong_call(tmp_path: Path, zone: str) -> None:
    with pytest.raises(BadInput):
        read_paths([tmp_path], zone=zone)


@pytest.mark.parametrize("offset", [float("nan"), float("inf"), 1e12, True])
def test_impossible_offset_is_a_wrong_call(tmp_path: Path, offset: float) -> None:
    with pytest.raises(BadInput):
        read_paths([tmp_path], clock_offset_s=offset)


def test_file_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    document, status = read_paths([tmp_path])
    assert status == 1
    assert codes(document["photos"][0]) == ["unreadable"]


def test_folders_are_read_with_all_below_in_order_and_hidden_ones_are_not(tmp_path: Path) -> None:
    for name in ("b/2.jpg", "a/1.jpg", "c.jpg", ".trash/3.jpg", "a/.4.jpg"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(a_photo(seed=len(name)))
    document, _ = read_paths([tmp_path])
    names = [Path(one["file"]).relative_to(tmp_path).as_posix() for one in document["photos"]]
    assert names == ["c.jpg", "a/1.jpg", "b/2.jpg"]


def test_same_bytes_twice_are_told(tmp_path: Path) -> None:
    put(tmp_path, a_jpg=a_photo(at=(LAT, LON)), b_jpg=a_photo(at=(LAT, LON)))
    document, status = read_paths([tmp_path])
    assert status == 0
    assert ["same-bytes" in codes(one) for one in document["photos"]] == [False, True]


def test_progress_counts_every_file_to_the_last(tmp_path: Path) -> None:
    put(tmp_path, a_jpg=a_photo(seed=1), b_jpg=a_photo(seed=2))
    told: list[tuple[int, int]] = []
    read_paths([tmp_path], progress=lambda done, total: told.append((done, total)))
    assert told == [(0, 2), (1, 2), (2, 2)]


def test_zero_position_is_shown_as_read_and_never_placed() -> None:
    document, _ = read_paths([FILES / "exif" / "zero-zero.jpg"])
    photo = document["photos"][0]
    assert (photo["lat"], photo["lon"], photo["placed_by"]) == (0.0, 0.0, None)
    assert "zero-position" in codes(photo)
    data = (FILES / "exif" / "zero-zero.jpg").read_bytes()
    reviewed = read_blobs([("zero.jpg", hashlib.sha256(data).hexdigest(), data)])[0]["photos"][0]
    assert (reviewed["lat"], reviewed["lon"]) == (None, None)


def test_made_photos_all_give_their_moment_as_the_answers_say() -> None:
    cases = json.loads((FILES.parent / "vectors" / "exif_answers.json").read_text(encoding="utf-8"))["made"]
    document, _ = read_paths([FILES / "exif"])
    taken = {Path(one["file"]).name: one["taken_at"] for one in document["photos"]}
    asked = [case for case in cases if "taken_utc" in case["expected"]]
    assert len(asked) > 10
    assert {case["file"]: taken[Path(case["file"]).name] for case in asked} == {
        case["file"]: case["expected"]["taken_utc"] for case in asked
    }


# --- to which tree ---------------------------------------------------------------------------------------------------


def a_tree(name: str, north_m: float, accuracy_m: float | None = 3.0) -> dict:
    # one degree of latitude at 55.3 N is 111,342 m (WGS 84)
    return {"id": name, "tag": name.upper(), "species": "larch", "lat": LAT + north_m / 111_342, "lon": LON,
            "accuracy_m": accuracy_m}  # fmt: skip


def placed_at(accuracy_m: float | None) -> dict:
    return {"photos": [{"lat": LAT, "lon": LON, "accuracy_m": accuracy_m, "placed_by": "photo"}]}


def test_trees_within_the_uncertainty_are_offered_nearest_first() -> None:
    trees = [a_tree("far", 12), a_tree("near", 4), a_tree("away", 40)]
    plan = plan_placed(placed_at(4.0), trees)[0]
    assert [(one["tree"], one["tag"], one["species"], one["distance_m"]) for one in plan["near"]] == [
        ("near", "NEAR", "larch", 4.0),
        ("far", "FAR", "larch", 12.0),
    ]


@pytest.mark.parametrize(("north_m", "suggested"), [(14.9, "one"), (15.1, None)])
def test_only_tree_within_fifteen_metres_is_suggested(north_m: float, suggested: str | None) -> None:
    assert plan_placed(placed_at(4.0), [a_tree("one", north_m)])[0]["suggested"] == suggested


@pytest.mark.parametrize(("north_m", "suggested"), [(48.0, "one"), (49.0, None)])
def test_coarse_photo_reaches_as_far_as_its_accuracy(north_m: float, suggested: str | None) -> None:
    # 1.62 x hypot(30 m, 0 m counted as no better than 3 m) = 48.8 m
    assert plan_placed(placed_at(30.0), [a_tree("one", north_m)])[0]["suggested"] == suggested


def test_with_two_trees_possible_none_is_suggested() -> None:
    assert plan_placed(placed_at(4.0), [a_tree("one", 1), a_tree("two", 14)])[0]["suggested"] is None


def test_unplaced_photo_and_tree_without_fix_are_passed_over() -> None:
    unplaced = {"photos": [{"lat": 0.0, "lon": 0.0, "accuracy_m": None, "placed_by": None}]}
    assert plan_placed(unplaced, [a_tree("one", 0)])[0] == {"near": [], "suggested": None}
    nowhere = {"id": "x", "tag": "X", "species": None, "lat": None, "lon": None, "accuracy_m": None}
    assert plan_placed(placed_at(None), [nowhere])[0] == {"near": [], "suggested": None}


# --- keeping ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    """Open an empty log; return a folder for the files to be read."""
    app = Flask("log")
    db.init_app(app, None, tmp_path / "data")
    shots = tmp_path / "shots"
    shots.mkdir()
    with app.app_context():
        yield shots
    db.close(app)


def test_saved_photo_and_track_are_records_with_their_bytes(log: Path) -> None:
    put(log, a_jpg=a_photo("2027:02:14 10:00:35", "+01:00", at=(LAT, LON)), t_gpx=a_track())
    document, _ = read_paths([log])
    assert save_document(document) == 0
    (photo,), (track,) = queries.list_records("photo"), queries.list_records("track")
    assert (photo["lat"], photo["lon"], photo["placed_by"]) == (LAT, LON, "exif")
    assert (photo["taken_at"], photo["taken_at_from"]) == ("2027-02-14T09:00:35.000Z", "offset")
    assert (photo["media_type"], photo["file_name"], photo["tree"]) == ("image/jpeg", "a.jpg", None)
    assert photo["size_bytes"] == (log / "a.jpg").stat().st_size
    assert (track["name"], track["points"], track["started_at"]) == ("hill", 60, "2027-02-14T09:00:00.000Z")
    # a straight walk needs its two ends only; 59 steps of 1e-4 degrees
    assert track["line"] == [[LON, LAT], [LON, round(LAT + 59 * STEP_DEG, 6)]]
    assert (db.data_dir() / "blobs").exists()
    assert queries.list_missing_blobs(db.db.session()) == []


def test_same_bytes_never_make_a_second_record(log: Path) -> None:
    put(log, a_jpg=a_photo(), b_jpg=a_photo(), t_gpx=a_track())
    for _ in range(2):
        document, _ = read_paths([log])
        assert save_document(document) == 0
    assert (len(queries.list_records("photo")), len(queries.list_records("track"))) == (1, 1)
    # Same bytes under two names are one photo; each line of the document says so.
    told = [[t["code"] for t in one["trouble"]] for one in (*document["photos"], *document["tracks"])]
    assert all("kept-already" in codes for codes in told)


def test_only_what_was_accepted_is_kept_and_to_the_tree_that_was_named(log: Path) -> None:
    tree = write_changes([("tree", None, {"tag": "A1"})])[0]
    put(log, a_jpg=a_photo(at=(LAT, LON), seed=1), b_jpg=a_photo(at=(LAT, LON), seed=2))
    document, _ = read_paths([log])
    sha256 = document["photos"][1]["sha256"]
    result = save_placed(document, {"photos": [{"sha256": sha256, "tree": tree, "site": None}], "tracks": []})
    (photo,) = queries.list_records("photo")
    assert (photo["sha256"], photo["tree"], photo["id"]) == (sha256, tree, result["saved"][0]["rec"])


def test_unplaced_photo_is_kept_without_a_place(log: Path) -> None:
    document, _ = read_paths([FILES / "exif" / "zero-zero.jpg"])
    save_document(document)
    (photo,) = queries.list_records("photo")
    assert (photo["lat"], photo["lon"], photo["placed_by"]) == (None, None, None)
    assert "zero-position" in [t["code"] for t in photo["trouble"]]


def test_what_is_no_photo_is_not_kept(log: Path) -> None:
    put(log, a_jpg=b"text", b_gpx=b"")
    document, _ = read_paths([log])
    assert save_document(document) == 0
    assert queries.list_records("photo") == []
    assert queries.list_records("track") == []


def test_choice_of_something_not_read_is_told(log: Path) -> None:
    document, _ = read_paths([put(log, a_jpg=a_photo())])
    result = save_placed(document, {"photos": [{"sha256": "0" * 64}]})
    assert [one["code"] for one in result["trouble"]] == ["not-read"]


@pytest.mark.parametrize("choice", [{}, {"sha256": 5}, "a", None])
def test_choice_that_names_nothing_is_a_wrong_call(log: Path, choice: object) -> None:
    document, _ = read_paths([put(log, a_jpg=a_photo())])
    with pytest.raises(BadInput):
        save_placed(document, {"photos": [choice]})
    assert queries.list_records("photo") == []


def test_tree_that_is_none_keeps_everything_unwritten(log: Path) -> None:
    document, _ = read_paths([put(log, a_jpg=a_photo(seed=1), b_jpg=a_photo(seed=2))])
    first, second = (one["sha256"] for one in document["photos"])
    with pytest.raises(BadInput):
        save_placed(document, {"photos": [{"sha256": first}, {"sha256": second, "tree": "the big one"}]})
    assert queries.list_records("photo") == []


def test_file_that_changed_since_it_was_read_is_not_kept(log: Path) -> None:
    document, _ = read_paths([put(log, a_jpg=a_photo(seed=1))])
    put(log, a_jpg=a_photo(seed=2))
    assert save_document(document) == 1
    assert "changed" in [t["code"] for t in document["photos"][0]["trouble"]]
    assert queries.list_records("photo") == []


def test_track_fields_are_those_of_the_record_without_its_place_in_the_store() -> None:
    fields = track_fields(a_track(), "hill.gpx")
    assert "sha256" not in fields
    assert (fields["file_name"], fields["points"], fields["climb_m"]) == ("hill.gpx", 60, 59.0)
