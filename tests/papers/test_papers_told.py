"""What papers say: a signed letter out of what was signed alone, numbers as they are, and names that no font has."""

from __future__ import annotations

from typing import Any

from builders import SQUARE
from pdf_reader import text_of

from field.core.leave_letter import BLANK, leave_letter
from field.papers.html_page import make_html
from field.papers.letters import leave_paper, renewal_paper
from field.papers.map_sketch import draw_sketch
from field.papers.pdf_pages import make_pdf
from field.papers.signed_letter import signed_paper
from field.papers.unprintable import printable
from field.papers.visit_report import visit_report

SITE = {"name": "Hopehead Moss"}


def words_of(document: dict[str, Any]) -> str:
    """Return what a document says, as its PDF is read."""
    return text_of(make_pdf(printable(document), "a4"))


def a_signing(**terms: Any) -> dict[str, Any]:
    collector = {"name": "Zofia Wrzesień", "address": "3 Kiln Row\nAlderhope", "phone": "01632 960 114"}
    facts = {"collector": collector, "landholder": {"name": "Ann Orde"}, "site": SITE, "leave": {"allowance": 2}}
    return {"letter": {**leave_letter(facts), "terms": terms}, "name": "Ann Orde", "signed_on": "2027-01-05"}


def test_head_and_address_of_a_signed_letter_are_those_that_were_signed() -> None:
    document = signed_paper(a_signing())
    assert document["head"] == ["Zofia Wrzesień", "3 Kiln Row, Alderhope", "01632 960 114"]
    assert document["to"] == ["Ann Orde"]
    assert document["author"] == "Zofia Wrzesień"
    assert document["on"] == "5 January 2027"


def test_nothing_is_left_to_be_filled_in_on_a_signed_letter() -> None:
    document = signed_paper(a_signing())
    page = make_html(document, "a4", "")
    assert 'class="open"' not in page
    for said in (words_of(document), page):
        assert "__" not in said
        assert "no more than (left open) around the trunk" in said
    assert "Grid reference of its middle left open" in words_of(document)


def test_a_signed_letter_shows_the_ground_as_it_was_signed() -> None:
    for terms in ({"boundary": SQUARE, "area": None}, {"area": SQUARE, "boundary": None}):
        assert "Sketch of the ground as it was signed." in words_of(signed_paper(a_signing(**terms)))
    none_drawn, before_terms = a_signing(area=None, boundary=None), a_signing()
    before_terms["letter"].pop("terms")
    assert "No boundary of the ground was drawn when this was signed." in words_of(signed_paper(none_drawn))
    assert "boundary of the ground" not in words_of(signed_paper(before_terms))


def test_the_sketch_of_a_letter_says_where_its_ground_is() -> None:
    site = {**SITE, "grid_ref": "NT 335 024"}
    said = words_of(leave_paper({"site": site}, draw_sketch(SQUARE, None)))
    assert said.count("NT 335 024") == 2  # among the facts, and under the sketch, which is cut off and taken along
    assert "North is at the top." in words_of(leave_paper({"site": SITE}, draw_sketch(SQUARE, None)))


def lifts_on(*days: str, **more: Any) -> list[dict[str, Any]]:
    return [{"tag": f"B{at}", "lifted_on": day, "hole_filled": True, **more} for at, day in enumerate(days, 1)]


def report(lifts: list[dict[str, Any]], lifted: int | None = None, said: str = "", **leave: Any) -> str:
    count = len(lifts) if lifted is None else lifted
    return words_of(visit_report({"leave": leave, "site": SITE}, lifts, [], [], count, None, said))


def test_more_trees_than_agreed_stand_in_the_first_sentences_without_an_excuse() -> None:
    four = lifts_on(*["2027-02-14"] * 4)
    said = report(four, allowance=3)
    assert "On 14 February 2027, 4 trees were dug out; 3 were agreed: 1 more than agreed." in said
    assert "under it" not in said
    assert "With thanks" not in said
    later = report(four[:2], 4, allowance=3)
    assert "2 trees were dug out. In all 4 trees were dug out; 3 were agreed: 1 more than agreed." in later
    for text in (said, later):
        assert "sorry" not in text
        assert "None remains." in text


def test_a_report_after_a_withdrawal_tells_the_trees_before_and_after_it_apart() -> None:
    lifts = lifts_on("2026-10-30", "2026-11-01", "2026-11-02")
    said = report(lifts, allowance=5, withdrawn_on="2026-11-01")
    assert "You withdrew your leave to lift trees at Hopehead Moss on 1 November 2026." in said
    assert "B2 and B3 were dug out on the day of the withdrawal or after it." in said
    assert "Thank you" not in said
    assert "With thanks" not in said
    assert "remain." not in said
    assert "All of them were dug out before the withdrawal." in report(lifts[:1] * 2, withdrawn_on="2026-11-01")


def test_trees_dug_out_before_or_after_the_days_of_the_leave_are_named() -> None:
    lifts = lifts_on("2026-12-31", "2027-01-01", "2027-03-31", "2027-04-01")
    said = report(lifts, starts_on="2027-01-01", ends_on="2027-03-31")
    assert "B1 was dug out before the leave began on 1 January 2027." in said
    assert "B4 was dug out after the leave had ended on 31 March 2027." in said
    assert "under it" not in said


def test_what_was_not_asked_is_told_from_what_was_not_kept() -> None:
    gates, dogs = "Close the gates", "No dogs"
    lifts = lifts_on(*["2027-02-14"] * 4, kept_conditions=[gates, dogs])
    lifts[0]["kept_conditions"], lifts[3]["kept_conditions"] = [gates], None
    said = report(lifts, conditions=[gates, dogs])
    assert "Close the gates (not noted for B4)" in said
    assert "No dogs (noted with 2 of 3 trees, not with B1; not noted for B4)" in said


def test_a_hole_that_is_not_filled_is_named_and_nothing_is_promised() -> None:
    lifts = [*lifts_on("2027-02-14", "2027-02-14"), {"tag": "B4", "lifted_on": "2027-02-14", "hole_filled": None}]
    said = report(lifts)
    assert "Of 3 holes, 2 are noted as filled. Not noted as filled: B4." in said
    assert "I will" not in said


def test_own_words_stand_after_the_first_sentences_of_report_and_renewal() -> None:
    own = "I am sorry about the fourth tree.\n\nMay I bring you a bottle?"
    renewal = words_of(renewal_paper({"leave": {}, "site": SITE}, [], None, own))
    for said in (report(lifts_on("2027-02-14"), said=own), renewal):
        assert "I am sorry about the fourth tree. May I bring you a bottle?" in said


def test_a_renewal_gives_numbers_as_they_are_and_no_thanks_for_what_was_withdrawn() -> None:
    def asked(**leave: Any) -> str:
        return words_of(renewal_paper({"leave": leave, "site": SITE}, lifts_on(*["2027-02-14"] * 4), None))

    assert "4 trees were dug out; 3 were agreed: 1 more than agreed." in asked(allowance=3)
    withdrawn = asked(withdrawn_on="2027-02-14")
    assert "You withdrew your leave to lift trees at Hopehead Moss on 14 February 2027." in withdrawn
    assert "B1, B2, B3 and B4 were dug out on the day of the withdrawal or after it." in withdrawn
    assert "Thank you" not in withdrawn


def test_a_name_that_no_font_has_is_a_line_to_write_on_and_stays_on_the_page() -> None:
    name = "𒀀𒁁 𒂊"  # cuneiform
    letter = leave_paper({"landholder": {"name": name, "address": f"{name}, Hopehead"}, "role": "owner"}, None)
    said = words_of(letter)
    assert "\N{REPLACEMENT CHARACTER}" not in said
    assert f"Dear {BLANK}," in said
    assert f"I, {BLANK}, owner of the ground" in said
    assert f"{BLANK}, Hopehead" in said
    assert name in make_html(letter, "a4", "")
    made = printable(letter)
    assert made["blocks"][2]["rows"][0] == ["Landholder", ""]  # as any fact that is left open: a rule as wide as can be
    assert made["blocks"][-1]["parties"][0]["name"] == ""
    assert printable(leave_paper({}, None)) == leave_paper({}, None)


def test_a_signed_name_that_no_font_has_leaves_no_line_to_fill_in() -> None:
    signing = {**a_signing(), "name": "𒀀𒁁"}
    said = words_of(signed_paper(signing))
    assert "Signed by (in letters that this file cannot show)" in said
    assert "__" not in said
