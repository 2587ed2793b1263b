"""The cards' numbers held against the outside: a source beside each number.

"Trade calendar" is the project's own collection of the trade's months and lines for about 52 N, lowland (common
practice, no source, unless marked otherwise); it gives months, of which the cards take the first or last day, and
days before or after an event.
"""

from __future__ import annotations

import datetime as dt

import pytest

from field.core.species import load_cards
from field.core.windows import climate_at, dated_windows

CARDS = load_cards()

# Hopkins 1918, Periodical events and natural law as guides to agricultural research and practice, Monthly Weather
# Review Supplement 9: in the temperate part of North America 4 days for each degree of latitude, 5 degrees of longitude
# and 400 feet of height, later northward, eastward and upward in spring and early summer, the other way in autumn.
# Read second-hand, in a public gardening dictionary and in the papers of an American naturalist who tested the law.
HOPKINS_DAYS = 4
HOPKINS_FEET = 400
M_PER_FOOT = 0.3048  # exact


@pytest.mark.parametrize("degrees", [-3, -1, 0, 1, 2, 5])
def test_latitude_moves_by_hopkins_law(degrees: int) -> None:
    assert climate_at(52.0 + degrees, 0.0).later_days == HOPKINS_DAYS * degrees


@pytest.mark.parametrize("steps", [0, 1, 2, 5])
def test_height_moves_by_hopkins_law(steps: int) -> None:
    assert climate_at(52.0, steps * HOPKINS_FEET * M_PER_FOOT).later_days == HOPKINS_DAYS * steps


def test_spring_comes_later_and_autumn_earlier_by_hopkins_law() -> None:
    # hawthorn, second lifting season: 15 October to 30 November; birch lift: bud swell 15 March, -21 and +7 days
    autumn = dated_windows(CARDS["hawthorn"], "lift", 54.0, 0.0, "2026-10-20", 0)[0]
    assert (autumn["opens"], autumn["closes"]) == ("2026-10-07", "2026-11-22")
    spring = dated_windows(CARDS["birch"], "lift", 54.0, 0.0, "2026-03-20", 0)[0]
    assert (spring["opens"], spring["closes"]) == ("2026-03-02", "2026-03-30")


# Niemistö, Kilpeläinen and Heräjärvi 2019, Silva Fennica 53:10052 (abstract): silver birch, branches below 20 mm, 30 mm
# on fast-growing trees with living branches, closed within 5 years.
def test_birch_cuts_stay_below_the_published_size() -> None:
    birch = CARDS["birch"]
    assert birch.number("cut_below_mm") == 20
    assert birch.number("cut_below_strong_mm") == 30
    assert "53:10052" in birch.traits["cut_below_mm"].source
    assert "[seen: abstract]" in birch.traits["cut_below_mm"].source


# A horticulture professor's column: birch roots tolerate 0 F and below; 0 F is -17.8 C.
def test_birch_root_line_is_zero_fahrenheit() -> None:
    assert abs(CARDS["birch"].number("root_kill_c") - (0 - 32) / 1.8) < 0.03


# Root-killing temperatures were not found in print for hawthorn: none is invented.
def test_hawthorn_has_no_invented_root_killing_temperature() -> None:
    assert "root_kill_c" not in CARDS["hawthorn"].traits


# Trade calendar, rows birch and hawthorn; default: the most careful value of its three rows (deciduous broadleaf,
# evergreen conifer, evergreen broadleaf), written out in the comment.
@pytest.mark.parametrize(
    ("kind", "trait", "want"),
    [
        ("birch", "bleeding_0_3", 3),
        ("birch", "dieback_0_3", 3),
        ("birch", "moisture_1_5", 5),
        ("birch", "protect_below_c_year1", -5),
        ("birch", "protect_below_c_later", -10),
        ("birch", "shade_weeks", 4),
        ("birch", "mist_after_lift", True),
        ("birch", "first_prune_min_days_after_flush_hardened", 14),
        ("birch", "first_prune_min_months_after_lift", 12),
        ("birch", "first_styling_years_min", 2),
        ("birch", "repot_years_between", 2),
        ("birch", "wire_weeks_min", 6),
        ("birch", "wire_weeks_max", 10),
        ("birch", "ball_to_stem_ratio", 10),
        ("hawthorn", "bleeding_0_3", 0),
        ("hawthorn", "dieback_0_3", 1),
        ("hawthorn", "moisture_1_5", 3),
        ("hawthorn", "protect_below_c_year1", -6),
        ("hawthorn", "protect_below_c_later", -12),
        ("hawthorn", "shade_weeks", 3),
        ("hawthorn", "mist_after_lift", False),
        ("hawthorn", "first_prune_min_months_after_lift", 12),
        ("hawthorn", "first_styling_years_min", 2),
        ("hawthorn", "repot_years_between", 3),
        ("hawthorn", "wire_weeks_min", 12),
        ("hawthorn", "wire_weeks_max", 26),
        ("default", "bleeding_0_3", 1),  # 1, 0, 0
        ("default", "dieback_0_3", 2),  # 2, 2, 2
        ("default", "protect_below_c_year1", -2),  # -5, -6, -2: the warmest
        ("default", "protect_below_c_later", -5),  # -10, -12, -5: the warmest
        ("default", "shade_weeks", 8),  # 4, 8, 6: the longest
        ("default", "mist_after_lift", True),
        ("default", "first_prune_min_days_after_flush_hardened", 30),  # 21, 30, 21: the longest
        ("default", "first_prune_min_months_after_lift", 24),  # 18, 24, 18: the longest
        ("default", "first_styling_years_min", 4),  # 3, 4, 3: the longest
        ("default", "repot_years_between", 4),  # 3, 4, 3: the longest
        ("default", "wire_weeks_min", 8),  # 8, 40, 10: the soonest look
        ("default", "ball_to_stem_ratio", 15),  # 12, 15, 12: the largest
    ],
)
def test_traits_are_those_of_the_trade_calendar(kind: str, trait: str, want: object) -> None:
    assert CARDS[kind].traits[trait].value == want


# Trade calendar, days before and after bud swell, days after the flush has hardened, and cut-off dates.
@pytest.mark.parametrize(
    ("kind", "work", "opens", "closes", "hard"),
    [
        ("birch", "lift", ("bud_swell", -21), ("bud_swell", 7), True),
        ("birch", "repot", ("bud_swell", -14), ("bud_swell", 10), False),
        ("birch", "trim", ("flush_hardened", 14), "08-01", True),
        ("birch", "hard-prune", ("flush_hardened", 14), "08-01", True),
        ("birch", "wire", ("flush_hardened", 14), "08-01", False),
        ("hawthorn", "lift", ("bud_swell", -42), ("bud_swell", 7), True),
        ("hawthorn", "repot", ("bud_swell", -28), ("bud_swell", 7), False),
        ("hawthorn", "trim", ("flush_hardened", 14), "08-31", True),
        ("hawthorn", "prepare", "11-01", "02-28", False),  # RHS, moving trees: trench November to February
        ("default", "lift", ("bud_swell", -14), ("bud_swell", 0), True),  # -28, -21, -14 and 5, 0, 7: the narrowest
        ("default", "repot", ("bud_swell", -14), ("bud_swell", 5), False),  # -21, -21, -14 and 5, 7, 14
        ("default", "trim", ("flush_hardened", 30), "08-15", True),  # 08-15, 10-15, 08-15: the earliest
    ],
)
def test_window_edges_are_those_of_the_trade_calendar(
    kind: str, work: str, opens: object, closes: object, hard: bool
) -> None:
    rule = CARDS[kind].windows[work][0]
    told = [
        f"{edge.month:02}-{edge.day:02}" if edge.event is None else (edge.event, edge.days)
        for edge in (rule.opens, rule.closes)
    ]
    assert told == [opens, closes]
    assert rule.hard_close is hard


# Trade calendar, months of bud swell and bud break: birch 3 and 4, hawthorn 2 and 3, default (deciduous row) 3 and 4.
# Murray, Cannell and Smith 1989, J. Appl. Ecol. 26:693 (abstract): hawthorn stands in the group that needs least heat.
def test_events_stand_in_the_months_of_the_trade_calendar() -> None:
    months = {kind: (CARDS[kind].events["bud_swell"].month, CARDS[kind].events["bud_break"].month) for kind in CARDS}
    assert (months["birch"], months["hawthorn"], months["default"]) == ((3, 4), (2, 3), (3, 4))


# Trade calendar: birch bleeds from January to May, first pruned from June; its hard close is 1 August at 52 N.
def test_birch_is_not_cut_while_it_bleeds_nor_in_late_summer() -> None:
    for work in ("trim", "hard-prune", "suckers"):
        for window in dated_windows(CARDS["birch"], work, 52.0, 0.0, "2026-01-01", 364):
            opens, closes = (dt.date.fromisoformat(str(window[edge])) for edge in ("opens", "closes"))
            assert opens >= dt.date(2026, 5, 20)
            assert closes <= dt.date(2026, 8, 1)


# Growers' autumn-lift hazard lists: Betula on 3 of 3, Crataegus on 2 of 3; a caution, not a ban.
def test_birch_is_lifted_in_spring_only_and_hawthorn_in_autumn_with_a_caution() -> None:
    assert len(CARDS["birch"].windows["lift"]) == 1
    assert "hazard" in CARDS["birch"].windows["lift"][0].source
    autumn = CARDS["hawthorn"].windows["lift"][1]
    assert "two of three" in autumn.source
    assert "poorly proven" in autumn.why_opens
