"""The species cards held against the trade calendar, kind by kind.

species_calendar.csv: the project's own collection of the trade's months, days and lines for about 52 N, lowland, one
row a kind, one for each leaf type without a card. Common practice, no source, unless a test below names one. A blank
means not applicable or not known, never zero. Where a card goes another way on purpose, DIFFERENT tells the reason.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from field.core.card import Card, Edge
from field.core.species import load_cards

CARDS = load_cards()
TABLE = Path(__file__).with_name("species_calendar.csv")
ROWS = {row["kind"]: row for row in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines())}

NUMBERS = {
    "bleeding_0_3": "bleeding_0_3",
    "risk_dieback_0_3": "dieback_0_3",
    "moisture_1_5": "moisture_1_5",
    "root_kill_c": "root_kill_c",
    "protect_below_c_year1": "protect_below_c_year1",
    "protect_below_c_later": "protect_below_c_later",
    "shade_weeks": "shade_weeks",
    **{
        same: same
        for same in (
            "first_prune_min_days_after_flush_hardened",
            "first_prune_min_months_after_lift",
            "repot_years_between",
            "ball_to_stem_ratio",
            "first_styling_years_min",
            "first_styling_years_max",
            "decorative_pot_years_min",
            "decorative_pot_years_max",
            "wire_weeks_min",
            "wire_weeks_max",
        )
    },
}
WORDS = (
    "leaf_type",
    "first_prune_after",
    "back_buds_on_old_wood",
    "bare_root_tolerated",
    "keep_native_soil_core",
    "suckers_to_watch",
    "plant_health_check",
)

# (kind, cell): why the card does not follow the calendar.
DIFFERENT = {
    ("birch", "hard_prune_until_month"): "it closes on 1 August, the calendar's last day for any cut on birch",
    ("blackthorn", "prune_from_month"): "firm leaf is waited for; the society's April stands beside it",
    ("willow", "prune_from_month"): "on a lifted tree firm leaf is waited for; the habit stands beside it",
    ("privet", "prune_from_month"): "firm leaf is waited for, and birds nest in hedges in April",
    ("olive", "prune_from_month"): "Mediterranean months: at 52 N its shoots are firm in June",
    ("juniper", "prune_from_month"): "new growth must run freely for 30 days, which it does not by April",
    ("yew", "prune_from_month"): "a month for the pale shoots to darken; the larger cuts open in May",
    ("box", "prune_from_month"): "tips must have hardened for a fortnight",
    ("any-evergreen", "prune_from_month"): "leathery leaf is waited for",
    ("any-evergreen", "wire_from_month"): "of a kind not known, firm shoots are waited for",
    ("privet", "wire_from_month"): "buds are knocked off while they swell",
}


def month_of(card: Card, edge: Edge) -> int:
    """Return the month of an edge in the reference climate, by hand: days of a common year."""
    if edge.event is None:
        return edge.month
    at = card.events[edge.event]
    starts = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
    day = (starts[at.month - 1] + at.day + edge.days - 1) % 365
    return max(month for month in range(1, 13) if starts[month - 1] <= day)


def same(kind: str, cell: str, got: object, want: object) -> None:
    """Check one cell; one that differs on purpose must really differ, or its excuse is stale."""
    if (kind, cell) in DIFFERENT:
        assert got != want, f"{kind} {cell} follows the calendar: take it out of DIFFERENT"
    else:
        assert got == want, f"{kind} {cell}"


def test_every_row_of_the_calendar_has_a_card_and_every_card_a_row() -> None:
    own = {kind for kind, card in CARDS.items() if not card.stands_in}
    assert own - {"default"} == set(ROWS)
    assert len(ROWS) == 25


@pytest.mark.parametrize("kind", ROWS)
def test_numbers_and_words_are_those_of_the_calendar(kind: str) -> None:
    row, traits = ROWS[kind], CARDS[kind].traits
    for cell, trait in NUMBERS.items():
        if row[cell] == "":
            assert trait not in traits, (kind, cell)  # missing is not zero
        else:
            same(kind, cell, traits[trait].value, float(row[cell]))
    for cell in WORDS:
        same(kind, cell, traits[cell].value, row[cell])
    assert traits["mist_after_lift"].value is row["mist_after_lift"].startswith("yes")


@pytest.mark.parametrize("kind", ROWS)
def test_events_stand_in_the_months_of_the_calendar(kind: str) -> None:
    events = CARDS[kind].events
    same(kind, "bud_swell_month", events["bud_swell"].month, int(ROWS[kind]["bud_swell_month"]))
    same(kind, "bud_break_month", events["bud_break"].month, int(ROWS[kind]["bud_break_month"]))
    order = [events[name] for name in ("bud_swell", "bud_break", "flush_hardened", "leaf_colour", "leaf_fall")]
    days = [(edge.month, edge.day) for edge in order]
    assert days == sorted(days)


@pytest.mark.parametrize("kind", ROWS)
def test_lift_and_repot_lie_the_days_of_the_calendar_from_bud_swell(kind: str) -> None:
    row, card = ROWS[kind], CARDS[kind]
    for work in ("lift", "repot"):
        rule = card.windows[work][0]
        for edge, cell, sign in (
            (rule.opens, f"{work}_from_days_before_bud_swell", -1),
            (rule.closes, f"{work}_until_days_after_bud_swell", 1),
        ):
            same(kind, cell, (edge.event, edge.days), ("bud_swell", sign * int(row[cell])))


@pytest.mark.parametrize("kind", ROWS)
def test_kind_with_two_lift_seasons_has_two_rules_in_the_months_of_the_calendar(kind: str) -> None:
    row, rules = ROWS[kind], CARDS[kind].windows["lift"]
    if row["lift_alt_from_month"] == "":
        assert len(rules) == 1
        return
    assert len(rules) == 2
    same(kind, "lift_alt_from_month", month_of(CARDS[kind], rules[1].opens), int(row["lift_alt_from_month"]))
    same(kind, "lift_alt_until_month", month_of(CARDS[kind], rules[1].closes), int(row["lift_alt_until_month"]))


@pytest.mark.parametrize("kind", ROWS)
def test_trim_and_wire_open_and_close_by_the_calendar(kind: str) -> None:
    row, card = ROWS[kind], CARDS[kind]
    for work, closes in (("trim", "last_prune_mmdd"), ("wire", "last_wire_mmdd")):
        edge = card.windows[work][-1].closes
        same(kind, closes, f"{edge.month:02}-{edge.day:02}", row[closes])
    same(kind, "prune_from_month", month_of(card, card.windows["trim"][0].opens), int(row["prune_from_month"]))
    same(kind, "wire_from_month", month_of(card, card.windows["wire"][0].opens), int(row["wire_from_month"]))
    trim = card.windows["trim"][-1].opens
    wait = int(row["first_prune_min_days_after_flush_hardened"])
    assert (trim.event, trim.days) == ("flush_hardened", wait)


@pytest.mark.parametrize("kind", ROWS)
def test_hard_cuts_lie_in_the_months_of_the_calendar(kind: str) -> None:
    row, card = ROWS[kind], CARDS[kind]
    (rule,) = card.windows["hard-prune"]
    same(kind, "hard_prune_from_month", month_of(card, rule.opens), int(row["hard_prune_from_month"]))
    same(kind, "hard_prune_until_month", month_of(card, rule.closes), int(row["hard_prune_until_month"]))


@pytest.mark.parametrize("kind", ROWS)
def test_leaf_is_taken_only_where_and_when_the_calendar_has_it(kind: str) -> None:
    row, card = ROWS[kind], CARDS[kind]
    if row["defoliation"] == "no":
        assert "defoliate" in card.never
        return
    (rule,) = card.windows["defoliate"]
    same(kind, "defoliation_from_month", month_of(card, rule.opens), int(row["defoliation_from_month"]))
    same(kind, "defoliation_until_month", month_of(card, rule.closes), int(row["defoliation_until_month"]))


# Growers' autumn-lift hazard lists [seen], genus on how many of the three: Betula 3, Quercus 3, Salix 3, Crataegus 2,
# Prunus 2, Fagus 2, Carpinus 2, Malus in leaf and fruit trees 2, Larix 1, Juniperus virginiana 1; Acer campestre,
# Taxus, Picea, Ulmus, Sorbus none. Other genera were not looked up: the card says nothing.
HAZARD = {
    "birch": 3, "oak": 3, "willow": 3, "hawthorn": 2, "blackthorn": 2, "beech": 2, "hornbeam": 2, "crab-apple": 2,
    "larch": 1, "juniper": 1, "field-maple": 0, "yew": 0, "spruce": 0, "elm": 0, "rowan": 0,
}  # fmt: skip


def test_autumn_hazard_is_as_the_growers_lists_have_it() -> None:
    told = {
        kind: card.traits["autumn_hazard_lists_0_3"].value
        for kind, card in CARDS.items()
        if "autumn_hazard_lists_0_3" in card.traits
    }
    assert told == HAZARD


# Root-killing temperatures: Havis 1976 [memory]: box -9.4, yew -12.2, creeping juniper -17.8, white and Serbian spruce
# -23.3; Studer and others 1978 [memory]: young roots of yew near -8; a horticulture professor's column [seen]: some of
# the group with boxwood at 24 F (-4.4), birch and Pfitzer juniper bear 0 F (-17.8); Lindström and Stattin 1994 [seen:
# abstract]: over half of Scots pine seedlings live through 2 h at -20 in January. None was found for any other kind.
def test_root_killing_temperatures_are_the_published_ones_and_none_is_invented() -> None:
    told = {
        (kind, name): card.traits[name].value
        for kind, card in CARDS.items()
        for name in ("root_kill_c", "root_kill_young_c")
        if name in card.traits
    }
    assert told == {
        ("birch", "root_kill_c"): -17.8,
        ("scots-pine", "root_kill_c"): -20,
        ("juniper", "root_kill_c"): -17.8,
        ("yew", "root_kill_c"): -12.2,
        ("yew", "root_kill_young_c"): -8,
        ("box", "root_kill_c"): -9.4,
        ("box", "root_kill_young_c"): -4.4,
        ("spruce", "root_kill_c"): -23.3,
    }
    for (kind, name), value in told.items():
        assert float(CARDS[kind].number("protect_below_c_year1")) > float(value), (kind, name)
        assert "common practice" not in CARDS[kind].traits[name].source


# Dujesiefken, Liese, Shortle and Minocha 2005, Eur. J. For. Res. [seen: abstract]: beech and oak wounds of December and
# February close slower than those of April and October; no pruning in winter.
@pytest.mark.parametrize("kind", ["beech", "oak"])
def test_beech_and_oak_are_not_cut_from_december_to_february(kind: str) -> None:
    for work in ("trim", "hard-prune"):
        for rule in CARDS[kind].windows[work]:
            opens, closes = month_of(CARDS[kind], rule.opens), month_of(CARDS[kind], rule.closes)
            assert 3 <= opens <= closes <= 11
            assert rule.hard_close


# Royal Horticultural Society pruning guide [seen]: stone fruit April to July against silver leaf.
def test_blackthorn_is_cut_only_in_the_months_safe_from_silver_leaf() -> None:
    for work in ("trim", "hard-prune"):
        (rule,) = CARDS["blackthorn"].windows[work]
        assert 4 <= month_of(CARDS["blackthorn"], rule.opens) <= month_of(CARDS["blackthorn"], rule.closes) <= 7
        assert (rule.hard_open, rule.hard_close) == (True, True)


# Topiary society and pruning pages [seen]: yew buds on old wood, hard cut late May to June, trimming done by the end of
# August.
def test_yew_is_cut_hard_in_early_summer_and_trimmed_by_the_end_of_august() -> None:
    hard, trim = CARDS["yew"].windows["hard-prune"][0], CARDS["yew"].windows["trim"][0]
    assert [(edge.month, edge.day) for edge in (hard.opens, hard.closes, trim.closes)] == [(5, 20), (6, 30), (8, 31)]
    assert CARDS["yew"].traits["back_buds_on_old_wood"].value == "yes"


# Murray, Cannell and Smith 1989 [seen: abstract]: from most heat needed to least: beech; rowan, birch, hazel; larch;
# hawthorn. Beech breaks last, hawthorn first.
def test_beech_breaks_last_and_hawthorn_first_of_those_measured() -> None:
    day = {kind: (CARDS[kind].events["bud_break"].month, CARDS[kind].events["bud_break"].day) for kind in CARDS}
    assert day["hawthorn"] < min(day[kind] for kind in ("rowan", "birch", "hazel", "larch"))
    assert day["beech"] > max(day[kind] for kind in ("rowan", "birch", "hazel", "larch"))
