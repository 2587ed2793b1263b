"""Intake over HTTP on a made walk: the clock off a photo of a clock, places by hand, what is kept, and one way back.

The walk leads due north, 10 m in 10 s, so that the place of every moment is known by counting.
"""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from builders import PHONE, a_change, an_id
from intake_kit import LAT, LON, at, on_walk, photo, walk

BEHIND = dt.timedelta(hours=7, minutes=3)  # what the camera's clock lacks
HAND = {"lat": 55.41, "lon": -3.41, "accuracy_m": 12}


def send(client, name: str, data: bytes) -> dict[str, str]:
    """Send a file up and return how a request names it."""
    sha256 = hashlib.sha256(data).hexdigest()
    headers = {"Upload-Offset": "0", "Upload-Length": str(len(data)), "Content-Type": "application/partial-upload"}
    assert client.patch(f"/api/blob/{sha256}", data=data, headers=headers).headers["Upload-Complete"] == "?1"
    return {"sha256": sha256, "name": name}


def post(client, what: str, status: int = 200, **body: object):
    answer = client.post(f"/api/intake/{what}", json=body)
    assert answer.status_code == status, answer.get_json()
    return answer.get_json()


def ops(client) -> list[dict]:
    question = {"proto": 1, "device": PHONE, "epoch": None, "cursor": 0, "have": {}, "ops": [], "want": 500}
    return [row["op"] for row in client.post("/api/sync", json=question).get_json()["ops"]]


def by_name(told: dict) -> dict[str, dict]:
    return {one["file"]: one for one in told["photos"]}


@pytest.fixture
def tree(paired_client) -> str:
    tree = an_id()
    question = {
        "proto": 1,
        "device": PHONE,
        "epoch": None,
        "cursor": 0,
        "have": {},
        "ops": [a_change({"tag": "B7"}, rec=tree, seq=1)],
    }
    assert [one["s"] for one in paired_client.post("/api/sync", json=question).get_json()["results"]] == ["ok"]
    return tree


@pytest.fixture
def card(paired_client) -> list[dict[str, str]]:
    """A photo of a clock, two photos by the same slow camera, and the walk."""
    return [
        send(paired_client, "clock.jpg", photo(at(0) - BEHIND, colour="white")),
        send(paired_client, "p4.jpg", photo(at(4) - BEHIND, colour="red")),
        send(paired_client, "p9.jpg", photo(at(9) - BEHIND, colour="blue")),
        send(paired_client, "walk.gpx", walk(12)),
    ]


def test_what_the_cameras_clock_showed_is_told_also_where_no_zone_is_known(paired_client, card) -> None:
    told = by_name(post(paired_client, "read", files=card))
    assert told["p4.jpg"]["camera_at"] == "2027-02-14T01:57:40"  # 09:00:40 less 7 h 3 min
    assert told["p4.jpg"]["taken_at"] is None
    assert told["p4.jpg"]["placed_by"] is None


def test_a_walk_is_drawn_from_end_to_end(paired_client, card) -> None:
    (track,) = post(paired_client, "read", files=card)["tracks"]
    first, last = track["line"][0], track["line"][-1]
    assert abs(first[0] - LON) < 1e-6
    assert abs(first[1] - LAT) < 1e-6
    assert abs(last[1] - on_walk(12)[0]) < 1e-6


@pytest.mark.parametrize("shown", ["2027-02-14T09:00:00", "2027-02-14T10:00:00"])
def test_a_clock_read_off_a_photo_places_the_others(paired_client, card, shown: str) -> None:
    """The same instant, told by a clock in UTC and by one in Paris, an hour ahead in February."""
    zone = "UTC" if shown.endswith("09:00:00") else "Europe/Paris"
    told = post(paired_client, "read", files=card, clock_photo={**card[0], "shown": shown, "zone": zone})
    assert told["clock"]["offset_s"] == 7 * 3600 + 3 * 60
    assert told["clock"]["from"] == "hand"
    for name, steps in (("p4.jpg", 4), ("p9.jpg", 9)):
        one = by_name(told)[name]
        assert one["placed_by"] == "track"
        assert abs(one["lat"] - on_walk(steps)[0]) < 1e-6
        assert abs(one["lon"] - LON) < 1e-6


@pytest.mark.parametrize(
    "clock_photo",
    [
        5,
        {"sha256": None, "shown": "2027-02-14T09:00:00", "zone": "UTC"},
        {"sha256": "0" * 64, "shown": "2027-02-14T09:00:00", "zone": "UTC"},
        {"shown": None, "zone": "UTC"},
        {"shown": "2027-02-14T09:00:00", "zone": None},
        {"shown": "9 o'clock", "zone": "UTC"},
        {"shown": "2027-02-30T09:00:00", "zone": "UTC"},
        {"shown": "2027-02-14T09:00:00", "zone": "Nowhere/Land"},
    ],
)
def test_a_clock_that_was_not_read_is_refused_in_words(paired_client, card, clock_photo: object) -> None:
    told = {"sha256": card[0]["sha256"], **clock_photo} if isinstance(clock_photo, dict) else clock_photo
    error = post(paired_client, "read", 400, files=card, clock_photo=told)["error"]
    assert error["message"].endswith(".")


def test_what_is_kept_is_what_was_shown(paired_client, card) -> None:
    """Saved alone, with the rest told as looked over together: the photo's place comes from the walk all the same."""
    clock = {"clock_photo": {**card[0], "shown": "2027-02-14T09:00:00", "zone": "UTC"}}
    post(paired_client, "save", photos=[card[2]], tracks=[], files=card, **clock)
    (kept,) = [op["set"] for op in ops(paired_client) if op["type"] == "photo"]
    assert kept["placed_by"] == "track"
    assert kept["taken_at"] == "2027-02-14T09:01:30.000Z"
    assert abs(kept["lat"] - on_walk(9)[0]) < 1e-6


def test_a_photo_moved_by_hand_is_kept_there_and_one_without_a_place_can_be_given_one(paired_client, tree) -> None:
    own = send(paired_client, "own.jpg", photo(place=on_walk(3)))
    none = send(paired_client, "none.jpg", photo(colour="black"))
    post(
        paired_client,
        "save",
        photos=[{**own, "tree": tree, "place": HAND}, {**none, "place": {**HAND, "accuracy_m": None}}],
        tracks=[],
    )
    kept = {op["set"]["file_name"]: op["set"] for op in ops(paired_client) if op["type"] == "photo"}
    assert [(one["lat"], one["lon"], one["placed_by"]) for one in kept.values()] == [(55.41, -3.41, "hand")] * 2
    assert (kept["own.jpg"]["accuracy_m"], kept["own.jpg"]["tree"]) == (12, tree)
    assert kept["none.jpg"].get("accuracy_m") is None


@pytest.mark.parametrize("place", [7, {}, {"lat": 95, "lon": 0}, {**HAND, "accuracy_m": -3}])
def test_a_place_that_is_none_keeps_all_of_it_out(paired_client, card, place: object) -> None:
    before = len(ops(paired_client))
    error = post(paired_client, "save", 400, photos=[{**card[1], "place": place}], tracks=[card[3]])["error"]
    assert error["message"].endswith(".")
    assert len(ops(paired_client)) == before


def test_what_is_kept_says_where_and_is_taken_back_as_one(paired_client, card, tree) -> None:
    saved = post(paired_client, "save", photos=[{**card[0], "tree": tree}, card[1]], tracks=[card[3]])["saved"]
    told = post(paired_client, "read", files=card)
    rec_of = {one["sha256"]: one["rec"] for one in saved}
    assert by_name(told)["clock.jpg"]["kept"] == {"rec": rec_of[card[0]["sha256"]], "tree": tree}
    assert by_name(told)["p4.jpg"]["kept"] == {"rec": rec_of[card[1]["sha256"]], "tree": None}
    assert by_name(told)["p9.jpg"]["kept"] is None
    assert post(paired_client, "undo", saved=saved) == {"deleted": 3}
    told = post(paired_client, "read", files=card)
    assert [one["known"] for one in (*told["photos"], *told["tracks"])] == [False] * 4
    assert post(paired_client, "undo", saved=saved) == {"deleted": 0}


@pytest.mark.parametrize("saved", [None, 5, [5], [{"rec": "x", "type": "tree"}], [{"rec": 5, "type": "photo"}]])
def test_only_what_an_intake_made_can_be_taken_back(paired_client, tree, saved: object) -> None:
    before = len(ops(paired_client))
    error = post(paired_client, "undo", 400, saved=saved)["error"]
    assert error["message"].endswith(".")
    assert len(ops(paired_client)) == before


@pytest.mark.parametrize("what", ["read", "save", "undo"])
def test_an_unpaired_caller_learns_nothing(client, what: str) -> None:
    assert post(client, what, 401)["error"]["code"] == "unpaired"


def test_five_thousand_photos_and_ten_walks_fit_in_one_call(paired_client) -> None:
    """None of them is here: each is told as such, and nothing of it is too much."""
    files = [{"sha256": f"{n:064x}", "name": f"camera_{n:05}.jpg"} for n in range(5010)]
    photos = [{**one, "tree": an_id(), "site": an_id(), "place": HAND} for one in files[:5000]]
    told = post(paired_client, "save", photos=photos, tracks=files[5000:], files=files)
    assert told["saved"] == []
    assert len(told["trouble"]) == 5010


def test_a_body_over_four_mebibytes_is_refused_in_words(paired_client) -> None:
    error = post(paired_client, "read", 413, files=[], zone="x" * (4 * 1024 * 1024))["error"]
    assert error["message"] == "What was sent is larger than 4096 KiB."
