"""Windows by the heat so far: they narrow to the sure days, give way to what was seen, and never shut altogether."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from field.core.expected import expected_events, gather_expected
from field.core.signs import Expected, Signs
from field.core.species import load_cards
from field.core.weather import Day
from field.core.windows import climate_at, event_date, find_windows, yearly_parts

CARDS = load_cards()
HERE = climate_at(52.0, 0.0)
FIRST, LAST = dt.date(2027, 1, 1), dt.date(2027, 12, 31)


def warm(first: dt.date, days: int, above_5: float) -> list[Day]:
    """Return days of so many day-degrees above 5 °C each."""
    return [Day(first + dt.timedelta(days=n), 5 + above_5, 5 + above_5) for n in range(days)]


def years(*means: tuple[int, float]) -> list[Day]:
    return [day for year, mean in means for day in warm(dt.date(year, 1, 1), 241, mean)]


def test_bud_break_is_expected_between_the_days_of_the_least_and_the_most_heat() -> None:
    # Hawthorn wants 60 to 100 (from memory): 20 so far on 10 January, then 2 a day as in 2025 or 1 a day as in 2026.
    days = years((2025, 2.0), (2026, 1.0)) + warm(FIRST, 10, 2.0)
    got = expected_events(CARDS["hawthorn"], days, dt.date(2027, 1, 10), HERE)["bud_break"]
    assert (got.season, got.earliest_on, got.latest_on) == (2027, dt.date(2027, 1, 30), dt.date(2027, 3, 31))
    assert "20 of 60 to 100 day-degrees above 5 °C so far and 2 earlier springs" in got.words


def test_bud_swell_keeps_its_distance_to_bud_break() -> None:
    card = CARDS["hawthorn"]
    got = expected_events(card, years((2027, 2.0)), dt.date(2027, 3, 1), HERE)
    distance = event_date(card, "bud_break", 2027, HERE)[0] - event_date(card, "bud_swell", 2027, HERE)[0]
    assert got["bud_break"].earliest_on - got["bud_swell"].earliest_on == distance
    assert f"usual ({distance.days})" in got["bud_swell"].words


@pytest.mark.parametrize("kind", ["beech", "oak"])
def test_what_heat_foretells_badly_moves_nothing(kind: str) -> None:
    assert expected_events(CARDS[kind], years((2026, 3.0), (2027, 3.0)), dt.date(2027, 5, 1), HERE) == {}


@pytest.mark.parametrize("kind", ["yew", "juniper", "scots-pine", "default"])
def test_a_kind_without_a_figure_is_not_foretold(kind: str) -> None:
    assert gather_expected([CARDS[kind]], years((2027, 3.0)), dt.date(2027, 5, 1), HERE) == {}


def test_nothing_logged_foretells_nothing() -> None:
    assert gather_expected(CARDS.values(), [], dt.date(2027, 3, 1), HERE) == {}


def test_a_log_without_an_earlier_spring_says_nothing_before_the_heat_is_there() -> None:
    assert expected_events(CARDS["birch"], warm(FIRST, 20, 2.0), dt.date(2027, 1, 20), HERE) == {}


def test_in_the_south_the_heat_counts_from_july() -> None:
    days = warm(dt.date(2027, 7, 1), 100, 2.0)
    got = expected_events(CARDS["birch"], days, dt.date(2027, 10, 8), climate_at(-52.0, 0.0))["bud_break"]
    assert (got.season, got.earliest_on, got.latest_on) == (2027, dt.date(2027, 8, 19), dt.date(2027, 9, 18))


def signs(event: str, first: dt.date, last: dt.date, **seen: tuple[dt.date, ...]) -> Signs:
    return Signs(seen, {event: Expected(2027, first, last, "by the heat")})


def test_a_window_that_closes_with_the_buds_closes_with_the_earliest_expected_day() -> None:
    card = CARDS["birch"]
    usual = event_date(card, "bud_swell", 2027, HERE)[0]
    closing = [rule for rule in card.windows["lift"] if rule.closes.event == "bud_swell"]
    assert closing, "the lift of birch closes with the swelling buds"
    first, last = usual - dt.timedelta(days=9), usual + dt.timedelta(days=5)
    spring = find_windows(card, "lift", HERE, FIRST, usual, signs("bud_swell", first, last))[0]
    assert spring.closes_on == first + dt.timedelta(days=closing[0].closes.days)
    assert "bud swell expected between" in spring.why_closes
    assert "by the heat" in spring.why_closes


def test_what_was_seen_beats_what_is_expected_and_next_year_is_as_usual() -> None:
    card, seen = CARDS["birch"], dt.date(2027, 3, 20)
    told = signs("bud_swell", dt.date(2027, 2, 1), dt.date(2027, 2, 9), bud_swell=(seen,))
    assert event_date(card, "bud_swell", 2027, HERE, told) == (seen, True)
    assert event_date(card, "bud_swell", 2028, HERE, told) == event_date(card, "bud_swell", 2028, HERE)


def test_a_part_of_the_year_begins_with_the_earliest_expected_day() -> None:
    card = CARDS["birch"]
    step = next(one for one in card.care if one.between and one.between[0].event == "bud_swell")
    assert step.between is not None
    told = signs("bud_swell", dt.date(2027, 3, 1), dt.date(2027, 3, 21))
    parts = yearly_parts(card, FIRST, LAST, *step.between, HERE, told)
    assert [opens for opens, _ in parts if opens.year == 2027] == [dt.date(2027, 3, 1)]


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(sorted(CARDS)),
    event=st.sampled_from(["bud_swell", "bud_break"]),
    moved=st.integers(-60, 60),
    wide=st.integers(0, 60),
)
def test_no_window_is_shut_that_the_earliest_expected_day_would_leave_open(
    kind: str, event: str, moved: int, wide: int
) -> None:
    card = CARDS[kind]
    first = event_date(card, event, 2027, HERE)[0] + dt.timedelta(days=moved)
    told = signs(event, first, first + dt.timedelta(days=wide))
    until = LAST + dt.timedelta(days=200)
    for work in card.windows:
        kept = find_windows(card, work, HERE, FIRST, until, told)
        as_seen = find_windows(card, work, HERE, FIRST, until, {event: (first,)})
        open_then = {(one.season, one.rule) for one in as_seen if one.season == 2027}
        assert open_then <= {(one.season, one.rule) for one in kept}
        assert [one for one in kept if one.opens_on > one.closes_on] == []
