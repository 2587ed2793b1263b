"""The sun: which day, which height, and what is left of the light. Against figures from outside: tests/reference."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.core.errors import BadInput
from field.core.sun import daylight_left, elevation_deg, solar_date, sun_times

FELL = (54.4609, -3.0886)
# Figures of that place on 2024-06-20 in vectors/sun.json: sunrise 03:36:35, sunset 20:51:33, civil dusk 21:47:45.
MIDSUMMER = date(2024, 6, 20)
TROMSO = (69.6492, 18.9553)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_height_lowers_the_horizon() -> None:
    # By hand: 1.76' x sqrt(400) = 35.2', so the sun sets at -50' - 35.2' = -1.42 degrees; the same dusk.
    low, high = sun_times(MIDSUMMER, *FELL), sun_times(MIDSUMMER, *FELL, 400)
    assert high.sunset is not None
    since_2000 = (high.sunset - at("2000-01-01T12:00Z")).total_seconds()
    assert abs(elevation_deg(since_2000, *FELL) - -1.42) < 0.005
    assert high.sunrise < low.sunrise < high.solar_noon == low.solar_noon < low.sunset < high.sunset
    assert high.civil_dusk == low.civil_dusk


@pytest.mark.parametrize("height_m", [-1, 9001, float("nan"), None, "high"])
def test_what_is_no_height_is_refused(height_m: object) -> None:
    with pytest.raises(BadInput):
        sun_times(MIDSUMMER, *FELL, height_m)


@pytest.mark.parametrize("year", [1, 999, 3001, 9999])
def test_years_far_off_are_refused(year: int) -> None:
    with pytest.raises(BadInput, match=str(year)):
        sun_times(date(year, 1, 1), *FELL)


@given(st.dates(date(1000, 1, 1), date(3000, 12, 31)), st.floats(-90, 90), st.floats(-180, 180))
def test_events_are_in_order_and_within_half_a_day_of_noon(on: date, lat: float, lon: float) -> None:
    got = sun_times(on, lat, lon)
    in_order = [t for t in (got.sunrise, got.solar_noon, got.sunset, got.civil_dusk) if t is not None]
    assert in_order == sorted(in_order)
    assert all(abs(t - got.solar_noon) <= timedelta(hours=12, seconds=1) for t in in_order)


@pytest.mark.parametrize(
    ("now", "state", "to_sunset_min", "to_dusk_min"),
    [
        # By hand from the figures above, rounded down; a minute after each event, for those are good to a minute.
        ("2024-06-20T01:00:00Z", "night", None, None),
        ("2024-06-20T03:30:00Z", "dawn", 1041, 1097),
        ("2024-06-20T12:00:00Z", "day", 531, 587),
        ("2024-06-20T20:51:00Z", "day", 0, 56),
        ("2024-06-20T20:53:00Z", "dusk", None, 54),
        ("2024-06-20T21:50:00Z", "night", None, None),
    ],
)
def test_daylight_left(now: str, state: str, to_sunset_min: int | None, to_dusk_min: int | None) -> None:
    got = daylight_left(at(now), *FELL)
    assert (got.state, got.to_sunset_min, got.to_dusk_min) == (state, to_sunset_min, to_dusk_min)


def test_under_the_midnight_sun_there_is_no_end_to_count_to() -> None:
    got = daylight_left(at("2024-06-21T22:00Z"), *TROMSO)
    assert (got.state, got.sunset, got.to_sunset_min, got.to_dusk_min) == ("day", None, None, None)


def test_a_polar_noon_without_sun_is_twilight_with_its_end() -> None:
    # vectors/sun.json: solar noon 10:42:26, civil dusk 12:53:21.
    got = daylight_left(at("2024-12-21T11:00Z"), *TROMSO)
    assert (got.state, got.to_sunset_min, got.to_dusk_min) == ("dusk", None, 113)


@pytest.mark.parametrize(
    ("now", "lon", "on"),
    [
        ("2024-07-01T18:00Z", 179.99, date(2024, 7, 2)),  # there 06:00 of the next day
        ("2024-07-01T18:00Z", -179.99, date(2024, 7, 1)),
        ("2024-06-22T07:00Z", -149.9, date(2024, 6, 21)),  # 21:00 of the day before
    ],
)
def test_the_day_is_the_places_own(now: str, lon: float, on: date) -> None:
    assert solar_date(at(now), lon) == on


def test_an_evening_after_midnight_utc_still_counts_to_its_own_sunset() -> None:
    # vectors/sun.json, Anchorage 2024-06-21: sunset 2024-06-22T07:42:44Z.
    assert daylight_left(at("2024-06-22T07:00Z"), 61.2181, -149.9003).to_sunset_min == 42


def test_other_zones_of_the_clock_change_nothing() -> None:
    now = at("2024-06-20T20:00Z")
    assert daylight_left(now.astimezone(), *FELL) == daylight_left(now, *FELL)


@given(st.integers(0, 4_000_000_000), st.floats(-90, 90), st.floats(-180, 180))
def test_minutes_left_are_never_negative(now_s: int, lat: float, lon: float) -> None:
    got = daylight_left(datetime.fromtimestamp(now_s, UTC), lat, lon)
    assert all(left is None or left >= 0 for left in (got.to_sunset_min, got.to_dusk_min))
