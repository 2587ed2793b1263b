"""When a photo was taken and where, by its own words, the walk and the camera's clock."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

import gpxpy.gpx
import pytest
from camera_card import LAT, LON, START, STEP_DEG, a_photo, a_track, codes, put

from field.core.errors import BadInput
from field.services.camera_clock import read_hand_setting, read_shown_time
from field.services.place_photos import (
    read_blobs,
    read_paths,
)


def one_photo(tmp_path: Path, photo: bytes, **hand: object) -> dict:
    put(tmp_path, a_jpg=photo, t_gpx=a_track())
    return read_paths([tmp_path], **hand)[0]["photos"][0]  # type: ignore[arg-type]


def test_photo_with_its_zone_is_placed_by_the_track(tmp_path: Path) -> None:
    photo = one_photo(tmp_path, a_photo("2027:02:14 10:00:35", "+01:00"))
    assert (photo["taken_at"], photo["taken_at_from"], photo["placed_by"]) == (
        "2027-02-14T09:00:35Z",
        "offset",
        "track",
    )
    # 35 s at a step of 1e-4 degrees in 10 s
    assert abs(photo["lat"] - (LAT + 3.5 * STEP_DEG)) < 1e-9
    assert photo["height_m"] == pytest.approx(303.5)
    assert codes(photo) == []


def test_own_position_stands_above_the_track(tmp_path: Path) -> None:
    photo = one_photo(tmp_path, a_photo("2027:02:14 10:00:35", "+01:00", at=(54.0, -3.0)))
    assert (photo["lat"], photo["lon"], photo["placed_by"]) == (54.0, -3.0, "photo")


def test_time_without_a_zone_is_no_moment(tmp_path: Path) -> None:
    photo = one_photo(tmp_path, a_photo("2027:02:14 09:00:35"))
    assert (photo["taken_at"], photo["taken_at_from"], photo["lat"]) == (None, None, None)
    assert {"no-zone", "no-time", "no-position"} <= set(codes(photo))


@pytest.mark.parametrize(
    ("clock", "hand"),
    [
        ("2027:02:14 09:00:35", {"zone": "Europe/London"}),
        ("2027:02:14 10:00:35", {"zone": "Europe/Berlin"}),
        ("2027:02:14 09:00:05", {"clock_offset_s": 30.0}),
        ("2027:02:14 16:03:35", {"clock_offset_s": -25_380.0}),
        ("2027:02:14 10:01:35", {"zone": "Europe/Berlin", "clock_offset_s": -60}),
    ],
)
def test_hand_setting_makes_it_one(tmp_path: Path, clock: str, hand: dict) -> None:
    photo = one_photo(tmp_path, a_photo(clock), **hand)
    assert (photo["taken_at"], photo["taken_at_from"], photo["placed_by"]) == ("2027-02-14T09:00:35Z", "zone", "track")


def test_hand_offset_also_mends_a_clock_that_knows_its_zone(tmp_path: Path) -> None:
    photo = one_photo(tmp_path, a_photo("2027:02:14 10:00:05", "+01:00"), clock_offset_s=30.0)
    assert (photo["taken_at"], photo["taken_at_from"]) == ("2027-02-14T09:00:35Z", "offset")


# The walk goes 1e-4 degrees of latitude, 11.13 m at 55.3 north (WGS 84), in 10 s: 1.113 m/s.
@pytest.mark.parametrize(
    ("clock", "hand", "metres"),
    [
        ("2027:02:14 10:00:30", {"zone": "Europe/Berlin"}, 34.9),  # on a point; a clock never checked: 30 s are 33.4 m
        ("2027:02:14 09:00:25", {"clock_offset_s": 5.0}, 10.1),  # on a point; 1 s is 1.1 m
    ],
)
def test_clock_that_is_not_sure_makes_the_place_unsure(tmp_path: Path, clock: str, hand: dict, metres: float) -> None:
    photo = one_photo(tmp_path, a_photo(clock), **hand)
    assert photo["accuracy_m"] == pytest.approx(metres, abs=0.15)


def test_halt_is_as_unsure_as_the_way_to_it(tmp_path: Path) -> None:
    """A walker stood from 100 s to 200 s; with 30 s of doubt a photo at 110 s may be from 80 s: 22.3 m away."""
    made = gpxpy.gpx.GPX()
    made.tracks.append(gpxpy.gpx.GPXTrack())
    segment = gpxpy.gpx.GPXTrackSegment()
    made.tracks[0].segments.append(segment)
    for n in range(30):
        at = START + timedelta(seconds=n * 10)
        segment.points.append(gpxpy.gpx.GPXTrackPoint(LAT + min(n, 10) * STEP_DEG, LON, 300.0, at))
    put(tmp_path, a_jpg=a_photo("2027:02:14 09:01:50"), t_gpx=made.to_xml().encode())
    (photo,) = read_paths([tmp_path], zone="UTC")[0]["photos"]
    # hypot(10, 22.26)
    assert photo["accuracy_m"] == pytest.approx(24.4, abs=0.15)


def read_clock(folder: Path, shown: str, clock_photo: bytes, **hand: object) -> dict:
    """Place a photo taken 25 s after the one that shows a clock."""
    later = a_photo("2027:02:14 16:03:35", seed=7)
    blobs = [(name, hashlib.sha256(data).hexdigest(), data) for name, data in
             (("clock.jpg", clock_photo), ("later.jpg", later), ("t.gpx", a_track()))]  # fmt: skip
    return read_blobs(blobs, reading=read_shown_time(blobs[0][1], shown, "Europe/Berlin"), **hand)[0]


def test_photo_of_a_clock_sets_the_camera_s(tmp_path: Path) -> None:
    """The camera said 16:03:10 when the clock showed 10:00:10 in Berlin, which is 09:00:10: 7 h 3 min ahead."""
    document = read_clock(tmp_path, "2027-02-14T10:00:10", a_photo("2027:02:14 16:03:10"))
    clock, photo = document["clock"], document["photos"][1]
    assert (clock["offset_s"], clock["from"], clock["photos"], clock["spread_s"]) == (-25_380.0, "hand", 1, 1.0)
    assert (photo["taken_at"], photo["placed_by"]) == ("2027-02-14T09:00:35Z", "track")


def test_clock_without_seconds_is_taken_at_the_middle_of_its_minute(tmp_path: Path) -> None:
    document = read_clock(tmp_path, "2027-02-14T10:00", a_photo("2027:02:14 16:03:10"))
    # 09:00:30 less 16:03:10
    assert (document["clock"]["offset_s"], document["clock"]["spread_s"]) == (-25_360.0, 20.0)


def test_photo_of_a_clock_without_a_camera_time_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="does not say what time"):
        read_clock(tmp_path, "2027-02-14T10:00:10", a_photo(None))


@pytest.mark.parametrize("shown", ["ten past ten", "2027-02-30T10:00:00", "2027-02-14", None, 3, "0000-01-01T00:00"])
def test_time_shown_that_is_none_is_refused(shown: object) -> None:
    with pytest.raises(BadInput):
        read_shown_time("0" * 64, shown, "UTC")


def test_offset_over_fifty_years_is_refused_and_forty_are_not() -> None:
    years = 366 * 86_400.0
    assert read_hand_setting(45 * years, None).offset == timedelta(days=45 * 366)
    with pytest.raises(BadInput, match="fifty years"):
        read_hand_setting(-51 * years, None)


def test_photo_of_another_hour_says_why_it_has_no_place(tmp_path: Path) -> None:
    photo = one_photo(tmp_path, a_photo("2027:02:14 12:00:00", "+01:00"))
    assert (photo["lat"], photo["placed_by"]) == (None, None)
    assert codes(photo) == ["no-position", "no-track-then"]


def test_photo_in_a_wide_gap_names_the_gap(tmp_path: Path) -> None:
    put(tmp_path, a_jpg=a_photo("2027:02:14 10:01:00", "+01:00"), t_gpx=a_track(points=3, step_s=130))
    photo = read_paths([tmp_path])[0]["photos"][0]
    assert codes(photo) == ["no-position", "gap-time"]
    assert "130 s" in photo["trouble"][1]["text"]


def camera_photos(folder: Path, count: int, wrong_s: int, model: str = "Model T") -> None:
    """Write photos that know their place on the walk, by a camera whose clock is ahead and says no zone."""
    for n in range(count):
        second = 30 + n * 13
        clock = START + timedelta(seconds=second + wrong_s)
        at = (LAT + second / 10 * STEP_DEG, LON)
        (folder / f"{model}{n:02}.jpg").write_bytes(a_photo(f"{clock:%Y:%m:%d %H:%M:%S}", at=at, model=model, seed=n))


def test_clock_wrong_by_seven_hours_and_three_minutes_is_found_and_used(tmp_path: Path) -> None:
    camera_photos(tmp_path, 40, wrong_s=25_380)
    lost = START + timedelta(seconds=205 + 25_380)
    put(tmp_path, z_jpg=a_photo(f"{lost:%Y:%m:%d %H:%M:%S}", seed=99), t_gpx=a_track())
    document, status = read_paths([tmp_path])
    clock, photo = document["clock"], document["photos"][-1]
    assert status == 0
    assert abs(clock["offset_s"] + 25_380) < 2.0
    assert (clock["from"], clock["photos"]) == ("track", 40)
    assert photo["placed_by"] == "track"
    # 2 s at 1.1 m/s
    assert abs(photo["lat"] - (LAT + 20.5 * STEP_DEG)) * 111_000 < 2.3
    assert "clock-estimated" in codes(photo)


def test_two_photos_are_too_few_to_tell_a_clock(tmp_path: Path) -> None:
    camera_photos(tmp_path, 2, wrong_s=25_380)
    put(tmp_path, t_gpx=a_track())
    document, _ = read_paths([tmp_path])
    assert document["clock"]["offset_s"] is None
    assert "there are 2" in document["clock"]["text"]
    assert all(one["taken_at"] is None for one in document["photos"])


def test_photos_with_a_place_that_tell_nothing_of_the_clock_are_told_with_the_reason(tmp_path: Path) -> None:
    """Seven know their place; two with a zone, one without a time, one 5 km off the walk, one of another camera."""
    camera_photos(tmp_path, 2, wrong_s=25_380)
    mine = {"model": "Model T"}
    put(
        tmp_path,
        a_jpg=a_photo("2027:02:14 10:00:05", "+01:00", at=(LAT, LON), seed=91, **mine),
        b_jpg=a_photo("2027:02:14 10:00:45", "+01:00", at=(LAT, LON), seed=92, **mine),
        c_jpg=a_photo(None, at=(LAT, LON), seed=93, **mine),
        d_jpg=a_photo("2027:02:14 16:33:00", at=(LAT + 0.045, LON), seed=94, **mine),
        e_jpg=a_photo("2027:02:14 10:00:05", "+01:00", at=(LAT, LON), seed=95, model="Model U"),
        t_gpx=a_track(),
    )
    text = read_paths([tmp_path])[0]["clock"]["text"]
    assert "there are 2" in text
    for said in (
        "2 tell their time with a zone",
        "1 carries no time",
        "1 lies off the walk",
        "1 was taken by another camera",
    ):
        assert said in text
    assert text.count(".") == 1  # one sentence


def test_one_camera_s_clock_says_nothing_of_another_s(tmp_path: Path) -> None:
    camera_photos(tmp_path, 20, wrong_s=25_380, model="Model T")
    put(tmp_path, z_jpg=a_photo("2027:02:14 16:05:00", model="Model U"), t_gpx=a_track())
    other = read_paths([tmp_path])[0]["photos"][-1]
    assert other["taken_at"] is None
    assert "no-zone" in codes(other)


def test_clock_is_not_guessed_without_a_track(tmp_path: Path) -> None:
    camera_photos(tmp_path, 20, wrong_s=25_380)
    document, _ = read_paths([tmp_path])
    assert document["clock"]["from"] is None
    assert all(one["taken_at"] is None for one in document["photos"])
