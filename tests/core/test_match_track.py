"""Placing by time, and the camera's clock, on walks whose answers are known because they are made here."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core.geodesy import distance_m
from field.core.match_track import (
    LEAST_PHOTOS,
    ClockGuess,
    Placed,
    Sighting,
    TimedLine,
    Unplaced,
    clock_from_reading,
    estimate_clock,
    make_timed_line,
    place_photo,
)

NAN = float("nan")
START = 1_800_000_000.0
METRE = 1 / 111_319.491  # degrees of longitude on the equator: a * pi / 180, a = 6,378,137 m


def a_line(*tracks: list[tuple], unsure: frozenset[int] = frozenset()) -> TimedLine:
    """Return tracks made ready; a point is (seconds after START, metres east on the equator[, height])."""
    columns = [
        (
            [START + point[0] for point in track],
            [0.0 for _ in track],
            [point[1] * METRE for point in track],
            [point[2] if len(point) > 2 else NAN for point in track],
        )
        for track in tracks
    ]
    return make_timed_line(columns, [unsure for _ in tracks])


def place(line: TimedLine, seconds: float) -> tuple[float, float] | str:
    """Return (metres east, stated accuracy) or the reason of no place."""
    got = place_photo(line, START + seconds)
    return got.code if isinstance(got, Unplaced) else (got.lon / METRE, got.accuracy_m)


def east(line: TimedLine, seconds: float) -> float:
    got = place_photo(line, START + seconds)
    assert isinstance(got, Placed)
    return got.lon / METRE


def test_between_two_points_the_place_is_in_proportion_to_time() -> None:
    line = a_line([(0, 0.0, 100.0), (100, 50.0, 110.0)])
    got = place_photo(line, START + 25)
    assert isinstance(got, Placed)
    assert abs(got.lon / METRE - 12.5) < 1e-6
    assert got.height_m == pytest.approx(102.5, abs=1e-9)
    assert (got.gap_s, round(got.gap_m, 3)) == (100.0, 50.0)


@pytest.mark.parametrize(
    ("gap_s", "gap_m", "reason"),
    [(120, 60.0, None), (121, 60.0, "gap-time"), (120, 60.1, "gap-distance"), (6 * 3600 + 1, 0.0, "no-track-then")],
)
def test_gap_is_bridged_up_to_its_limits(gap_s: int, gap_m: float, reason: str | None) -> None:
    got = place(a_line([(0, 0.0), (gap_s, gap_m)]), 60)
    assert (got if isinstance(got, str) else None) == reason


@pytest.mark.parametrize(("seconds", "metres"), [(0, 0.0), (10, 10.0), (20, 500.0)])
def test_on_a_point_its_own_place_counts_whatever_the_gaps(seconds: float, metres: float) -> None:
    assert abs(east(a_line([(0, 0.0), (10, 10.0), (20, 500.0)]), seconds) - metres) < 1e-6


@pytest.mark.parametrize("seconds", [-0.001, 20.001])
def test_before_and_after_the_track_nothing_is_known(seconds: float) -> None:
    assert place(a_line([(0, 0.0), (20, 20.0)]), seconds) == "no-track-then"


def test_without_any_track_nothing_is_known() -> None:
    assert place(a_line(), 0) == "no-track-then"
    assert place(a_line([]), 0) == "no-track-then"


def test_accuracy_is_least_at_the_points_and_grows_with_the_gap() -> None:
    # hypot of 10 m for the receiver and of the way to the nearer point: 0, 25 and 5 m
    line = a_line([(0, 0.0), (100, 50.0)])
    assert [place(line, at)[1] for at in (0, 50, 10)] == [
        10.0,
        pytest.approx(math.hypot(10, 25), abs=1e-6),
        pytest.approx(math.hypot(10, 5), abs=1e-6),
    ]


def test_accuracy_knows_how_unsure_the_clock_is() -> None:
    got = place_photo(a_line([(0, 0.0), (100, 50.0)]), START + 50, clock_spread_s=20.0)
    assert isinstance(got, Placed)
    # 20 s at half a metre a second are 10 m more
    assert got.accuracy_m == pytest.approx(math.sqrt(10**2 + 25**2 + 10**2), abs=1e-6)


def test_repeated_times_divide_by_nothing() -> None:
    line = a_line([(0, 0.0), (10, 10.0), (10, 12.0), (10, 14.0), (20, 24.0)])
    assert east(line, 10) == pytest.approx(14.0, abs=1e-6)
    assert east(line, 15) == pytest.approx(19.0, abs=1e-6)


def test_points_without_time_or_with_a_wrong_clock_are_passed_over() -> None:
    assert east(a_line([(0, 0.0), (NAN, 999.0), (20, 20.0)]), 10) == pytest.approx(10.0, abs=1e-6)
    assert east(a_line([(0, 0.0), (5, 999.0), (20, 20.0)], unsure=frozenset({1})), 10) == pytest.approx(10.0, abs=1e-6)


def test_clock_that_steps_back_begins_anew() -> None:
    # the first stretch ends at 30 s, the second begins at 100 s less an hour
    line = a_line([(0, 0.0), (30, 30.0), (-3500, 40.0), (-3490, 50.0)])
    assert east(line, 15) == pytest.approx(15.0, abs=1e-6)
    assert east(line, -3495) == pytest.approx(45.0, abs=1e-6)
    assert place(line, -1000) == "no-track-then"


def test_of_two_tracks_that_agree_the_closer_one_counts() -> None:
    line = a_line([(0, 0.0), (100, 50.0)], [(49, 24.0), (51, 26.0)])
    got = place_photo(line, START + 50)
    assert isinstance(got, Placed)
    assert got.gap_s == 2.0


def test_two_tracks_far_apart_leave_the_photo_unplaced() -> None:
    line = a_line([(0, 0.0), (10, 10.0)], [(0, 500.0), (10, 510.0)])
    got = place_photo(line, START + 5)
    assert isinstance(got, Unplaced)
    assert (got.code, round(got.value or 0)) == ("two-places", 500)


def test_place_over_the_180th_meridian_is_in_between() -> None:
    line = make_timed_line([([0.0, 10.0], [0.0, 0.0], [179.9999, -179.9998], [NAN, NAN])], [frozenset()])
    got = place_photo(line, 5.0)
    assert isinstance(got, Placed)
    assert got.lon == pytest.approx(-179.99995, abs=1e-9)


@given(st.lists(st.tuples(st.integers(0, 300), st.floats(0, 200)), min_size=1, max_size=20), st.integers(-10, 310))
def test_place_is_never_outside_its_two_points(points: list[tuple[int, float]], at: int) -> None:
    got = place(a_line(sorted(points)), at)
    if not isinstance(got, str):
        before = [metres for seconds, metres in sorted(points) if seconds <= at]
        after = [metres for seconds, metres in sorted(points) if seconds >= at]
        assert min(before + after) - 1e-6 <= got[0] <= max(before + after) + 1e-6


# --- the camera's clock ----------------------------------------------------------------------------------------------


def a_walk(seed: int, noise_m: float = 3.0) -> tuple[TimedLine, list[tuple[float, float, float]]]:
    """Return a walk of two hours with stays as it was recorded, and the true (time, lat, lon) of every 5 seconds."""
    rng = random.Random(seed)
    lat, lon, heading, at = 55.3, -3.2, rng.uniform(0, 6), START
    true: list[tuple[float, float, float]] = []
    for step in range(1500):
        heading += rng.gauss(0, 0.25)
        for stay in range(30 if step % 100 == 50 else 1):
            if stay == 0:
                lat, lon = lat + math.cos(heading) * 5 / 111_200, lon + math.sin(heading) * 5 / 63_300
            at += 5
            true.append((at, lat, lon))
    seen = [(t, la + rng.gauss(0, noise_m) / 111_200, lo + rng.gauss(0, noise_m) / 63_300) for t, la, lo in true]
    columns = ([t for t, _, _ in seen], [la for _, la, _ in seen], [lo for _, _, lo in seen], [NAN for _ in seen])
    return make_timed_line([columns], [frozenset()]), true


def sightings(true: list[tuple[float, float, float]], count: int, wrong_s: float, seed: int = 1, noise_m: float = 3.0):
    """Return photos with their own position, taken along a walk by a camera whose clock is ahead."""
    rng = random.Random(seed)
    return [
        Sighting(
            float(round(at + wrong_s)),
            lat + rng.gauss(0, noise_m) / 111_200,
            lon + rng.gauss(0, noise_m) / 63_300,
            None,
        )
        for at, lat, lon in rng.sample(true, count)
    ]


@pytest.mark.parametrize("seed", range(5))
def test_clock_wrong_by_seven_hours_and_three_minutes_is_found_within_two_seconds(seed: int) -> None:
    line, true = a_walk(seed)
    guess = estimate_clock(sightings(true, 40, wrong_s=25_380.0), line)
    assert guess.code == "found"
    assert guess.offset_s is not None
    assert abs(guess.offset_s + 25_380.0) < 2.0
    assert guess.spread_s is not None
    assert guess.spread_s < 10.0
    assert guess.photos >= 30


def test_clock_slow_by_days_is_found_as_well() -> None:
    line, true = a_walk(9)
    guess = estimate_clock(sightings(true, 40, wrong_s=-3_000_000.0), line)
    assert guess.offset_s is not None
    assert abs(guess.offset_s - 3_000_000.0) < 2.0


def test_a_quarter_of_photos_from_elsewhere_do_not_matter() -> None:
    line, true = a_walk(3)
    right = sightings(true, 30, wrong_s=25_380.0)
    wrong = [
        Sighting(s.camera_s + 4000 + 300 * n, s.lat, s.lon, None) for n, s in enumerate(sightings(true, 10, 0.0, 2))
    ]
    guess = estimate_clock(right + wrong, line)
    assert guess.offset_s is not None
    assert abs(guess.offset_s + 25_380.0) < 3.0


def test_photos_that_contradict_each_other_tell_nothing() -> None:
    line, true = a_walk(4)
    rng = random.Random(5)
    mixed = [Sighting(s.camera_s + rng.uniform(-9000, 9000), s.lat, s.lon, None) for s in sightings(true, 40, 0.0)]
    assert estimate_clock(mixed, line).code == "contradicting"


@pytest.mark.parametrize("count", range(LEAST_PHOTOS))
def test_too_few_photos_tell_nothing(count: int) -> None:
    line, true = a_walk(6)
    guess = estimate_clock(sightings(true, count, 100.0), line)
    assert guess == ClockGuess(None, None, 0, count, None, "too-few")


def test_one_burst_of_photos_is_one_piece_of_evidence() -> None:
    line, true = a_walk(6)
    one = sightings(true, 1, 100.0)[0]
    burst = [Sighting(one.camera_s // 10 * 10 + n, one.lat, one.lon, None) for n in range(8)]
    assert estimate_clock(burst, line).code == "too-few"


def test_photos_away_from_the_track_tell_nothing() -> None:
    line, true = a_walk(6)
    away = [Sighting(s.camera_s, s.lat + 0.1, s.lon, None) for s in sightings(true, 40, 100.0)]
    assert estimate_clock(away, line).code == "too-few"


def test_photos_of_one_long_stay_tell_nothing() -> None:
    line = make_timed_line(
        [([START + 10 * n for n in range(720)], [55.3] * 720, [-3.2] * 720, [NAN] * 720)], [frozenset()]
    )
    there = [Sighting(START + 3600 + 60 * n, 55.3, -3.2, None) for n in range(20)]
    assert estimate_clock(there, line).code == "contradicting"


def test_satellite_times_tell_the_clock_directly() -> None:
    line, true = a_walk(7)
    taken = [Sighting(at + 3600.0 + n % 2, lat, lon, at) for n, (at, lat, lon) in enumerate(true[100:150:10])]
    guess = estimate_clock(taken, line)
    # by hand: errors of 3600, 3601, 3600, 3601, 3600 s: median 3600, MAD 0
    assert (guess.offset_s, guess.spread_s, guess.photos, guess.source) == (-3600.0, 0.0, 5, "gps-times")


def test_satellite_times_of_another_day_are_no_evidence() -> None:
    line, _ = a_walk(7)
    taken = [Sighting(3600.0 * n, 10.0, 10.0, 3600.0 * n) for n in range(10)]
    assert estimate_clock(taken, line).code == "too-few"


def test_photo_of_a_clock_tells_the_offset() -> None:
    assert clock_from_reading(camera_s=START + 25_380.0, shown_s=START) == -25_380.0


def test_found_clock_puts_photos_where_they_were_taken() -> None:
    line, true = a_walk(8)
    guess = estimate_clock(sightings(true, 40, wrong_s=25_380.0), line)
    assert guess.offset_s is not None
    assert guess.spread_s is not None
    for at, lat, lon in true[5:-5:50]:
        got = place_photo(line, at + 25_380.0 + guess.offset_s, guess.spread_s)
        assert isinstance(got, Placed)
        # three times the stated 68 % radius: more than that would belie it
        assert distance_m(lat, lon, got.lat, got.lon) < 3 * got.accuracy_m
