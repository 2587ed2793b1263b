"""The lists of questions held against the outside: each fact with a number, and that nothing claims a permission.

Each was read on 26 November 2026 in the public text named beside it; the laws change, and the authority's word stands
above them.
"""

from __future__ import annotations

import re

import pytest

from field.core.ground_questions import Question, list_countries, questions_for

ALL = {one.id: one for country in list_countries() for one in questions_for(country["code"]).questions}

# What stands in the question or its reason, and where it is published.
FACTS = [
    # Havant Borough Council, "Trees in conservation areas": stem of 75 mm or more at 1.5 m, six weeks' notice
    ("england-conservation-area", "75 mm", "Havant"),
    ("england-conservation-area", "1.5 m", "Havant"),
    ("england-conservation-area", "6 weeks", "Pendle Borough Council, section 211 notice"),
    ("wales-conservation-area", "75 mm", "Wyre Forest District Council, the same section 211"),
    ("wales-conservation-area", "1.5 m", "Wyre Forest District Council, the same section 211"),
    ("wales-conservation-area", "6 weeks", "Wyre Forest District Council, the same section 211"),
    # Scottish Government, Planning Circular 1/2011, paragraphs 73 and 74
    ("scotland-conservation-area", "75 mm", "paragraph 74"),
    ("scotland-conservation-area", "6 weeks", "paragraph 73"),
    # Forestry Act 1967, section 9, as printed in the Scottish Government's consultation of 2018
    ("england-felling-licence", "8 cm at 1.3 m", "section 9(2)"),
    ("wales-felling-licence", "8 cm at 1.3 m", "section 9(2)"),
    # South Downs authority, "Felling licence": five cubic metres in a calendar quarter; two of them sold: section 9(3)
    ("england-felling-licence", "5 m³", "South Downs"),
    ("england-felling-licence", "2 m³", "section 9(3)"),
    ("wales-felling-licence", "5 m³", "section 9(3)"),
    # A legal register's summary of the Forestry (Exemptions) (Scotland) Regulations 2019 as amended in November 2021:
    # 10 cm or less; 5 m3 a quarter, not in native woods of 0.1 to 0.5 ha nor in Caledonian pinewoods. The consultation
    # of 2018 still proposed 8 cm.
    ("scotland-felling-permission", "10 cm", "regulations as amended"),
    ("scotland-felling-permission", "5 m³", "regulations as amended"),
    ("scotland-felling-permission", "0.1 to 0.5 ha", "regulations as amended"),
    # Agriculture department of Northern Ireland, "Felling licences": private woodlands of 0.2 ha or more since 17 June
    # 2013; no licence for young trees of up to 8 cm, nor for up to 5 m3 in a calendar quarter
    ("northern-ireland-felling-licence", "0.2 ha", "Felling licences"),
    ("northern-ireland-felling-licence", "8 cm", "Felling licences"),
    ("northern-ireland-felling-licence", "5 m³", "Felling licences"),
    ("northern-ireland-felling-licence", "17 June 2013", "Felling licences"),
    # Norwegian police, 20 May 2020, "Protected areas in Norwegian nature"
    ("norway-protected-area", "3000", "police"),
    # Halsbury's Laws of England, "Protected hedgerows": 20 metres, or meeting others at each end
    ("england-hedge", "20 m", "Halsbury"),
    ("wales-hedge", "20 m", "Halsbury"),
    # Practical Lawyer, November 2007, on the Hedgerows Regulations 1997
    ("england-hedge", "42 days", "Practical Lawyer"),
    ("wales-hedge", "42 days", "Practical Lawyer"),
    # Oak processionary moth: the rules of 2018, read in a government notice (girth at 1.2 m above the root collar)
    ("england-plant-health", "8 cm girth", "notice of 2018"),
    # Forestry Act 2014 (Ireland), section 19(1)(b) and (h), Law Reform Commission
    ("ireland-felling-licence", "30 m", "section 19(1)(b)"),
    ("ireland-felling-licence", "under 5 years", "section 19(1)(h)"),
    # Irish Independent, 9 March 2018, on the Forest Service's guidance: hedgerow tree, 20 cm at 1.3 m
    ("ireland-felling-licence", "20 cm at 1.3 m", "Irish Independent"),
    # Wexford County Council, "Hedgecutting and tree felling"; the act of 1976 as passed began on 15 April
    ("ireland-season", "1 March and 31 August", "Wexford"),
    # National Monuments (Amendment) Act 1994 (Ireland), section 12(3)
    ("ireland-monument", "2 months", "section 12(3)"),
    # Federal Nature Conservation Act (Germany), section 39(5)
    ("eu-season", "1 March to 30 September", "section 39"),
    # legislation.gov.uk, Historic Environment (Wales) Act 2023, commencement note of section 11: 4.11.2024
    ("wales-monument", "4 November 2024", "S.I. 2024/860"),
    # A national guide to burial grounds on the Cultural Heritage Act (Norway): before 1537, a zone of five metres
    ("norway-heritage", "1537", "section 4"),
    ("norway-heritage", "5 m", "section 6"),
    # Pages of the Medicine Bow-Routt (at least 100 ft) and Mt. Baker-Snoqualmie (within 50 ft) national forests
    ("usa-federal-district-terms", "100 ft", "Medicine Bow-Routt"),
    ("usa-federal-district-terms", "50 ft", "Mt. Baker-Snoqualmie"),
    # Pages of the towns of Stanwood and East Grand Forks, and of three utilities: the number, and some days ahead
    ("usa-federal-call-811", "811", "Stanwood"),
    # Federal plant inspection service, questions and answers on the Lacey Act, 28 April 2016: effective 22 May 2008
    ("usa-federal-state-line", "22 May 2008", "Lacey Act"),
]


@pytest.mark.parametrize(("name", "fact"), [fact[:2] for fact in FACTS], ids=[" ".join(fact) for fact in FACTS])
def test_a_number_is_the_published_one(name: str, fact: str) -> None:
    one = ALL[name]
    assert re.search(rf"(?<![\w.]){re.escape(fact)}(?!\w)", f"{one.question} {one.why} {one.law}"), one


def test_juniper_is_named_where_the_list_of_protected_plants_names_it() -> None:
    # legislation.gov.uk, Wildlife and Natural Environment Act (Northern Ireland) 2011, Schedule 1, paragraph 8
    assert "juniper" in ALL["northern-ireland-protected-kinds"].question
    assert "2011" in ALL["northern-ireland-protected-kinds"].why


def numbers_of(one: Question) -> set[str]:
    """Return the figures a person would act on: those of the question and its reason, names with a number left out."""
    return set(re.findall(r"\d+(?:\.\d+)?", f"{one.question} {one.why}".replace("Natura 2000", "")))


def test_no_number_stands_in_a_list_without_a_published_one_beside_it() -> None:
    held: dict[str, str] = {}
    for name, fact, _ in FACTS:
        held[name] = f"{held.get(name, '')} {fact}"
    held["northern-ireland-protected-kinds"] = "2011"
    loose = {
        (name, number)
        for name, one in ALL.items()
        for number in numbers_of(one)
        if number not in re.findall(r"\d+(?:\.\d+)?", held.get(name, ""))
    }
    assert loose == set()


@pytest.mark.parametrize("one", ALL.values(), ids=lambda one: one.id)
def test_every_entry_asks_defers_and_says_where_it_is_from(one: Question) -> None:
    assert one.question.endswith("?")
    assert one.as_of == "2026-11-26"
    said = f"{one.question} {one.why} {one.ask}".lower()
    for claim in ("you may", "you can ", "is allowed", "are allowed", "is permitted", "no permission is needed"):
        assert claim not in said
    # what was not looked up says so by its mark; "not looked up" and "seen" do not go together
    assert not (one.mark == "seen" and ("not looked up" in one.source or one.source.startswith("common practice")))
