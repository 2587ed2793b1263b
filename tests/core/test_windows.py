"""Dated windows. Expected dates are worked out by hand from the card's dates and Hopkins' law (reference test)."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.card import WORKS, Card, Edge
from field.core.errors import BadInput
from field.core.species import load_cards
from field.core.windows import (
    as_date,
    climate_at,
    dated_windows,
    gather_observed,
    lies_between,
    place_of_site,
    why_none,
)

CARDS = load_cards()
BIRCH = CARDS["birch"]
HAWTHORN = CARDS["hawthorn"]
FOOT_400_M = 121.92


def dates(
    card: Card, work: str, lat: float | None, height_m: float | None, from_on: str, days: int, **more: object
) -> list[tuple[object, object]]:
    found = dated_windows(card, work, lat, height_m, from_on, days, **more)  # type: ignore[arg-type]
    return [(window["opens"], window["closes"]) for window in found]


# Birch trim on the card: 14 days after the first flush has hardened (20 May: 3 June), closing 1 August.


def test_at_the_reference_place_the_card_stands_as_it_is() -> None:
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 364) == [("2026-06-03", "2026-08-01")]


def test_a_degree_north_opens_four_days_later_and_closes_four_days_earlier() -> None:
    assert dates(BIRCH, "trim", 53.0, 0.0, "2026-01-01", 364) == [("2026-06-07", "2026-07-28")]


def test_four_hundred_feet_up_is_as_a_degree_north() -> None:
    assert dates(BIRCH, "trim", 52.0, FOOT_400_M, "2026-01-01", 364) == [("2026-06-07", "2026-07-28")]


def test_latitude_and_height_add_up() -> None:
    # 2 degrees and 800 ft: 16 days
    assert dates(BIRCH, "trim", 54.0, 2 * FOOT_400_M, "2026-01-01", 364) == [("2026-06-19", "2026-07-16")]


def test_two_degrees_south_of_the_reference_opens_earlier_and_closes_later() -> None:
    assert dates(BIRCH, "trim", 50.0, 0.0, "2026-01-01", 364) == [("2026-05-26", "2026-08-09")]


def test_south_of_the_equator_all_falls_six_months_later() -> None:
    # flush hardened 20 November, 14 days on: 4 December; closes 1 February, over New Year
    assert dates(BIRCH, "trim", -52.0, 0.0, "2026-07-01", 364) == [("2026-12-04", "2027-02-01")]


def test_a_degree_nearer_the_south_pole_is_later_too() -> None:
    assert dates(BIRCH, "trim", -53.0, 0.0, "2026-07-01", 364) == [("2026-12-08", "2027-01-28")]


def test_last_day_of_august_turns_into_the_last_of_february() -> None:
    # hawthorn trim closes 31 August
    assert dates(HAWTHORN, "trim", -52.0, 0.0, "2027-02-28", 0) == [("2026-11-15", "2027-02-28")]
    assert dates(HAWTHORN, "trim", -52.0, 0.0, "2028-02-29", 0) == [("2027-11-15", "2028-02-29")]


def test_window_over_new_year_is_one_window() -> None:
    assert dates(HAWTHORN, "prepare", 52.0, 0.0, "2027-01-01", 0) == [("2026-11-01", "2027-02-28")]


def test_both_edges_are_inside() -> None:
    for day, inside in [("2026-06-02", 0), ("2026-06-03", 1), ("2026-08-01", 1), ("2026-08-02", 0)]:
        assert len(dates(BIRCH, "trim", 52.0, 0.0, day, 0)) == inside, day


def test_days_reach_to_the_day_that_opens() -> None:
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-06-01", 1) == []
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-06-01", 2) == [("2026-06-03", "2026-08-01")]


def test_four_hundred_days_hold_both_years() -> None:
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-06-15", 400) == [
        ("2026-06-03", "2026-08-01"),
        ("2027-06-03", "2027-08-01"),
    ]


def test_kind_with_a_second_season_shows_both() -> None:
    # hawthorn lift: 42 days before to 7 days after bud swell (15 February), and 15 October to 30 November
    assert dates(HAWTHORN, "lift", 52.0, 0.0, "2026-01-01", 364) == [
        ("2026-01-04", "2026-02-22"),
        ("2026-10-15", "2026-11-30"),
    ]


def test_edge_in_a_leap_year_counts_its_29th_of_february() -> None:
    # birch lift: 15 March less 21 days
    assert dates(BIRCH, "lift", 52.0, 0.0, "2026-03-01", 0) == [("2026-02-22", "2026-03-22")]
    assert dates(BIRCH, "lift", 52.0, 0.0, "2028-03-01", 0) == [("2028-02-23", "2028-03-22")]


def test_end_of_february_on_a_card_is_its_last_day_in_any_year() -> None:
    opens, closes = Edge(None, 0, 2, 1, "later"), Edge(None, 0, 2, 29, "later")
    here = climate_at(52.0, 0.0)
    assert lies_between(BIRCH, dt.date(2027, 2, 28), opens, closes, here)
    assert not lies_between(BIRCH, dt.date(2027, 3, 1), opens, closes, here)
    assert lies_between(BIRCH, dt.date(2028, 2, 29), opens, closes, here)


@pytest.mark.parametrize(
    ("day", "observed", "at_rest"),
    [
        # birch: leaf fall 31 October, bud swell 15 March
        ("2026-10-31", {}, False),
        ("2026-11-01", {}, True),
        ("2027-03-14", {}, True),
        ("2027-03-15", {}, False),
        ("2027-03-01", {"bud_swell": "2027-03-01"}, False),
        ("2026-10-23", {"leaf_fall": "2026-10-22"}, True),
        ("2026-11-09", {"leaf_fall": "2026-11-09"}, False),
        # before the usual leaf colour, 5 October, leaves fall from drought
        ("2026-08-20", {"leaf_fall": "2026-08-12"}, False),
    ],
)
def test_part_of_the_year_between_two_events_follows_what_was_seen(
    day: str, observed: dict[str, str], at_rest: bool
) -> None:
    seen = {kind: (dt.date.fromisoformat(on),) for kind, on in observed.items()}
    opens, closes = Edge("leaf_fall", 1, 0, 0, "no"), Edge("bud_swell", -1, 0, 0, "no")
    here = climate_at(52.0, 0.0)
    assert lies_between(BIRCH, dt.date.fromisoformat(day), opens, closes, here, seen) is at_rest


def test_place_not_known_moves_nothing_and_says_so() -> None:
    found = dated_windows(BIRCH, "trim", None, None, "2026-01-01", 364)
    assert [(one["opens"], one["closes"]) for one in found] == [("2026-06-03", "2026-08-01")]
    assert "place is not known" in str(found[0]["why_opens"])
    assert "place is not known" in str(found[0]["why_closes"])


def test_height_not_known_moves_by_latitude_and_says_so() -> None:
    found = dated_windows(BIRCH, "trim", 53.0, None, "2026-01-01", 364)
    assert found[0]["opens"] == "2026-06-07"
    assert "height not known" in str(found[0]["why_opens"])


def test_height_zero_is_known() -> None:
    found = dated_windows(BIRCH, "trim", 53.0, 0.0, "2026-01-01", 364)
    assert "not known" not in str(found[0]["why_opens"])


def test_own_days_replace_the_law() -> None:
    assert dates(BIRCH, "trim", 58.0, 900.0, "2026-01-01", 364, own_days=5) == [("2026-06-08", "2026-07-27")]


def test_law_and_trade_habit_are_both_said_where_they_disagree() -> None:
    found = dated_windows(BIRCH, "trim", 53.0, 0.0, "2026-01-01", 364)
    assert "Hopkins" in str(found[0]["why_closes"])
    assert "trade habit" in str(found[0]["why_closes"])


def test_every_window_tells_both_reasons_and_its_source() -> None:
    window = dated_windows(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 364)[0]
    assert set(window) == {
        "opens", "closes", "hard_open", "hard_close", "why_opens", "why_closes", "source", "other",
    }  # fmt: skip
    assert window["hard_close"] is True
    assert window["hard_open"] is False
    assert "autumn to early winter" in str(window["other"])
    assert "[seen]" in str(window["other"])
    assert "bleed" in str(window["why_opens"])
    assert "limb is given up" in str(window["why_closes"])
    assert "Silva Fennica 53:10052" in str(window["source"])


def seen(**events: list[str]) -> dict[str, tuple[dt.date, ...]]:
    return {kind: tuple(as_date(day) for day in days) for kind, days in events.items()}


def test_observed_event_moves_the_edge_that_hangs_on_it_and_only_that_year() -> None:
    observed = seen(flush_hardened=["2026-06-10"])
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 729, observed=observed) == [
        ("2026-06-24", "2026-08-01"),
        ("2027-06-03", "2027-08-01"),
    ]


def test_observed_event_is_named_in_the_reason() -> None:
    observed = seen(flush_hardened=["2026-06-10"])
    found = dated_windows(BIRCH, "trim", 55.0, 0.0, "2026-01-01", 364, observed=observed)
    assert "seen on 10 June 2026" in str(found[0]["why_opens"])


def test_observation_of_another_season_moves_nothing() -> None:
    # 20 May and 120 days: 17 September still belongs to this season's flush, 18 September to none
    usual = [("2026-06-03", "2026-08-01")]
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 364, observed=seen(flush_hardened=["2026-09-18"])) == usual
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 364, observed=seen(flush_hardened=["2026-09-17"])) == []


def test_of_two_observations_the_careful_one_counts() -> None:
    hardened = seen(flush_hardened=["2026-06-01", "2026-05-25"])
    assert dates(BIRCH, "trim", 52.0, 0.0, "2026-01-01", 364, observed=hardened) == [("2026-06-15", "2026-08-01")]
    swelling = seen(bud_swell=["2026-03-20", "2026-03-10"])
    assert dates(BIRCH, "lift", 52.0, 0.0, "2026-01-01", 364, observed=swelling) == [("2026-02-17", "2026-03-17")]


def test_edges_that_cross_leave_no_window_and_say_why() -> None:
    # 58.5 N and 400 ft: 30 days; opens 3 July, must close 2 July
    assert dates(BIRCH, "trim", 58.5, FOOT_400_M, "2026-01-01", 364) == []
    told = why_none(BIRCH, "trim", climate_at(58.5, FOOT_400_M))
    assert told is not None
    assert "3 July" in told
    assert "2 July" in told


def test_edges_that_meet_leave_one_day() -> None:
    # 4 degrees less a day each way: 29 days and a half would cross; 29 days meet on 2 and 3 July
    assert dates(BIRCH, "trim", 59.25, 0.0, "2026-01-01", 364) == [("2026-07-02", "2026-07-03")]


def test_law_is_not_stretched_beyond_sixty_days() -> None:
    at_limit, beyond = climate_at(67.0, 0.0), climate_at(68.0, 0.0)
    assert (at_limit.later_days, beyond.later_days) == (60, 60)
    assert "not trusted" not in at_limit.words
    assert "not trusted" in beyond.words
    assert climate_at(0.0, 0.0).later_days == -60


def test_work_the_card_does_not_allow_has_no_window_and_a_reason() -> None:
    default = CARDS["default"]
    assert dates(default, "hard-prune", 52.0, 0.0, "2026-01-01", 400) == []
    told = why_none(default, "hard-prune", climate_at(52.0, 0.0))
    assert told is not None
    assert "careful way" in told


def test_work_with_a_window_has_no_reason_against_it() -> None:
    assert why_none(BIRCH, "trim", climate_at(52.0, 0.0)) is None


def test_taking_wire_off_is_never_closed() -> None:
    assert dates(BIRCH, "unwire", 58.0, 600.0, "2026-01-01", 364) == [("2026-01-01", "2026-12-31")]


@pytest.mark.parametrize(
    ("work", "lat", "height_m", "from_on", "days", "where"),
    [
        ("trim", 91.0, 0.0, "2026-01-01", 1, "lat"),
        ("trim", -90.5, 0.0, "2026-01-01", 1, "lat"),
        ("trim", math.nan, 0.0, "2026-01-01", 1, "lat"),
        ("trim", 52.0, 9001.0, "2026-01-01", 1, "height_m"),
        ("chop", 52.0, 0.0, "2026-01-01", 1, "work"),
        ("trim", 52.0, 0.0, "2026-02-30", 1, "date"),
        ("trim", 52.0, 0.0, "20260230", 1, "date"),
        ("trim", 52.0, 0.0, "0001-01-01", 1, "date"),
        ("trim", 52.0, 0.0, "2026-01-01", -1, "days"),
        ("trim", 52.0, 0.0, "2026-01-01", 20001, "days"),
    ],
)
def test_bad_input_is_refused_with_its_place(
    work: str, lat: float, height_m: float, from_on: str, days: int, where: str
) -> None:
    with pytest.raises(BadInput) as told:
        dated_windows(BIRCH, work, lat, height_m, from_on, days)
    assert told.value.where == where


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(sorted(CARDS)),
    work=st.sampled_from(WORKS),
    lat=st.one_of(st.none(), st.floats(-90, 90)),
    height_m=st.one_of(st.none(), st.floats(-400, 4000)),
    first=st.dates(dt.date(1990, 1, 1), dt.date(2060, 1, 1)),
    days=st.integers(0, 800),
)
def test_windows_touch_the_days_asked_for_in_order_and_never_end_before_they_begin(
    kind: str, work: str, lat: float | None, height_m: float | None, first: dt.date, days: int
) -> None:
    found = dates(CARDS[kind], work, lat, height_m, first.isoformat(), days)
    last = (first + dt.timedelta(days=days)).isoformat()
    for opens, closes in found:
        assert str(opens) <= str(closes)
        assert str(opens) <= last
        assert str(closes) >= first.isoformat()
    assert found == sorted(found, key=str)
    # what is open on the first day is among what touches the whole span
    assert set(found) >= set(dates(CARDS[kind], work, lat, height_m, first.isoformat(), 0))


@given(lat=st.floats(40, 60), height_m=st.floats(0, 1500))
def test_shift_at_a_place_is_the_law_to_the_nearest_day(lat: float, height_m: float) -> None:
    law = 4 * (lat - 52) + 4 * height_m / FOOT_400_M
    if abs(law) <= 60:
        assert abs(climate_at(lat, height_m).later_days - law) <= 0.5


def test_events_are_gathered_in_any_order_without_deleted_undated_or_unknown_ones() -> None:
    events = [
        {"kind": "flush-hardened", "happened_on": "2026-06-10"},
        {"kind": "Flush hardened", "happened_on": "2026-06-08"},
        {"kind": "flush_hardened", "happened_on": "2026-05-01", "deleted": True},
        {"kind": "flush_hardened", "happened_on": None},
        {"kind": "flush_hardened", "happened_on": "0001-01-01"},
        {"kind": "hail", "happened_on": "2026-05-01"},
    ]
    want = {"flush_hardened": (dt.date(2026, 6, 8), dt.date(2026, 6, 10))}
    assert gather_observed(events) == want
    assert gather_observed(reversed(events)) == want


def test_place_of_a_site_is_the_middle_of_its_boundary_and_its_height() -> None:
    ring = [[-3.0, 55.0], [-2.9, 55.0], [-2.9, 55.4], [-3.0, 55.4], [-3.0, 55.0]]
    site = {"boundary": {"type": "MultiPolygon", "coordinates": [[ring]]}, "height_m": 310}
    place = place_of_site(site)
    assert abs((place["lat"] or 0.0) - 55.2) < 1e-9
    assert place["height_m"] == 310.0


@pytest.mark.parametrize("site", [None, {}, {"boundary": None, "height_m": None}])
def test_place_of_a_site_without_boundary_is_not_known(site: dict[str, object] | None) -> None:
    assert place_of_site(site) == {"lat": None, "height_m": None, "own_days": None}


@pytest.mark.parametrize(("height_m", "want"), [(-501, None), (-500, -500.0), (0, 0.0), (9000, 9000.0), (9001, None)])
def test_height_that_no_place_has_counts_as_not_known(height_m: float, want: float | None) -> None:
    assert place_of_site({"height_m": height_m})["height_m"] == want


def test_boundary_off_the_earth_counts_as_not_known() -> None:
    ring = [[0.0, 89.0], [1.0, 89.0], [1.0, 91.0], [0.0, 89.0]]
    assert place_of_site({"boundary": {"type": "Polygon", "coordinates": [ring]}})["lat"] is None
