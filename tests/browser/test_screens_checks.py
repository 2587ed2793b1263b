"""What to check for this ground: choosing a country, answering, what an answer leads to, and two phones that differ."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import hill_kit as kit
import phone_kit
from home_server import wait_for
from phone_kit import call
from playwright.sync_api import Locator, Page, expect

from field.core.ground_questions import check_record_id, questions_for

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
CASES = json.loads((VECTORS / "ground_checks.json").read_text(encoding="utf-8"))
ASK = {one.id: one.question for code in ("scotland", "wales", "general") for one in questions_for(code).questions}
OPEN = "async (site) => (await import('/static/js/hill/ground_checks.js')).openQuestions(site)"


def answer(page: Page, question: str, word: str) -> Locator:
    """Say yes or no to a question and return its row."""
    page.get_by_role("group", name=ASK[question]).get_by_role("radio", name=word, exact=True).click()
    return page.locator(f"[data-check={question}]")


def answers(page: Page) -> dict[str, Any]:
    return {one["fields"]["question"]: one["fields"].get("answer") for one in kit.records(page, "ground_check")}


def choose(page: Page, country: str) -> None:
    page.get_by_role("radio", name=country, exact=True).click()
    page.locator("[data-group=asking]").wait_for()


def test_both_sides_find_the_same_questions_open_under_the_same_ids(blank: Page) -> None:
    questions = [{"id": name} for name in CASES["questions"]]
    for case in CASES["open"]:
        checks = [{"site": CASES["site"], **one} for one in case["checks"]]
        got = call(blank, "core/ground_questions", "openOf", questions, CASES["site"], checks)
        assert [one["id"] for one in got] == case["expect"], case["name"]
    for case in CASES["ids"]:
        got = call(blank, "core/ground_questions", "checkRecordId", case["site"], case["key"])
        assert got == case["expect"], case["why"]
    lists = {"lists": [{"code": "norway"}, {"code": "general"}]}
    for code, want in (("norway", "norway"), ("atlantis", "general"), (None, "general")):
        assert call(blank, "core/ground_questions", "questionsFor", lists, code)["code"] == want


def test_what_to_do_first_stands_in_the_place_of_the_questions(page: Page) -> None:
    phone_kit.run(page, "await store.openStore();")
    [site] = phone_kit.save(page, {"type": "site", "set": {"name": "Kettle Brae"}})
    [first] = page.evaluate(OPEN, site)
    assert (first["id"], first["question"]) == (
        "choose-country",
        "Choose the country, so that the right questions are asked.",
    )
    phone_kit.save(page, {"rec": site, "type": "site", "set": {"country": "norway"}})
    [second] = page.evaluate(OPEN, site)
    assert second["id"] == "no-lists"
    assert "from home with the next sync" in second["text"]
    assert page.evaluate(OPEN, "5a1e0000-0000-4000-8000-000000000009") == []


def test_a_country_is_chosen_and_its_questions_answered_with_no_signal(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/checks/{ground.site}")
        expect(page.get_by_text("no legal advice")).to_be_visible()
        choose(page, "Scotland")
        every = len(questions_for("scotland").questions)
        expect(page.get_by_text(f"{every} of {every} open")).to_be_visible()

        row = answer(page, "scotland-who-may-say-yes", "yes")
        expect(row.get_by_text("settled")).to_be_visible()
        expect(page.get_by_text(f"{every - 1} of {every} open")).to_be_visible()
        open_now = page.evaluate(OPEN, ground.site)
        assert len(open_now) == every - 1
        assert {"id", "text", "why", "ask", "consent"} <= set(open_now[0])

        # what it leads to: a consent, in one tap, and back again
        row = answer(page, "scotland-felling-permission", "yes")
        expect(row.get_by_text("more to do")).to_be_visible()
        need_more = page.get_by_text(f"{every - 2} of {every} open, 1 needs more", exact=True)
        expect(need_more).to_be_visible()
        row.get_by_role("button", name="needed, not held").click()
        expect(row.get_by_role("link", name="felling licence: needed, not held")).to_be_visible()
        expect(need_more).to_be_visible()  # noted, and yet to be had
        [consent] = [one["fields"] for one in kit.records(page, "consent")]
        assert (consent["site"], consent["kind"], consent["state"]) == (ground.site, "felling_licence", "needed")
        assert consent["authority"] == "Scottish Forestry"
        page.get_by_role("button", name="Undo: felling licence").click()
        expect(row.get_by_role("button", name="needed, not held")).to_be_visible()
        assert kit.records(page, "consent") == []

        # who said so is saved as its field is left; what is still being typed outlives the app
        row.get_by_text("Note who said so").click()
        row.get_by_label("Told by").fill("Fen Invented, tree officer")
        row.get_by_label("Reference").fill("FPA-half")
        key = f"checks-{ground.site}"
        kept = "async (key) => JSON.stringify(await (await import('/static/js/store.js')).getDraft(key))"
        wait_for(lambda: "FPA-half" in (page.evaluate(kept, key) or ""), "the draft is kept")
        page.reload()
        row = page.locator("[data-check=scotland-felling-permission]")
        expect(row.get_by_label("Reference")).to_have_value("FPA-half")
        expect(row.get_by_label("Told by")).to_have_value("Fen Invented, tree officer")
        row.locator("details[data-fold^=told]").evaluate("fold => { fold.open = true; }")
        row.get_by_label("On").fill(kit.day(2))
        row.get_by_label("On").blur()
        expect(row.get_by_text("has not come yet")).to_be_visible()
        row.get_by_role("button", name="Today").click()
        wait_for(
            lambda: (
                {"told_by": "Fen Invented, tree officer", "reference": "FPA-half", "settled_on": kit.day()}.items()
                <= next(
                    one["fields"]
                    for one in kit.records(page, "ground_check")
                    if one["fields"]["question"] == "scotland-felling-permission"
                ).items()
            ),
            "all three fields are saved",
        )

        # a tap that leaves a field saves the field and counts itself, however long the finger stays
        row.get_by_label("Told by").fill("Rowan Invented")
        group = page.get_by_role("group", name=ASK["scotland-conservation-area"])
        group.get_by_role("radio", name="no", exact=True).click(delay=300)
        expect(row.get_by_text("told by Rowan Invented")).to_be_visible()
        expect(page.locator("[data-check=scotland-conservation-area]").get_by_text("settled")).to_be_visible()

        # another country asks anew and keeps what was said; nothing that is open is answered by it
        page.get_by_text("Scotland: change the country").click()
        choose(page, "Wales")
        every = len(questions_for("wales").questions)
        expect(page.get_by_text(f"{every} of {every} open")).to_be_visible()
        page.get_by_text("Kept from other lists: 3 answers").click()
        expect(page.locator("[data-fold=kept]").get_by_text(ASK["scotland-who-may-say-yes"])).to_be_visible()
        page.get_by_role("button", name="Undo the country").click()
        expect(page.get_by_text("11 of 14 open")).to_be_visible()

        page.set_viewport_size({"width": 320, "height": 568})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

        # an answer is taken back by its Undo
        answer(page, "scotland-peat", "no")
        expect(page.get_by_text("10 of 14 open")).to_be_visible()
        page.get_by_role("button", name="Undo the answer").click()
        expect(page.get_by_text("11 of 14 open")).to_be_visible()
        assert answers(page)["scotland-peat"] is None


def test_two_phones_that_answered_apart_show_both_until_one_is_tapped(browser, server, ground) -> None:
    question = "scotland-monument"
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/checks/{ground.site}")
        choose(page, "Scotland")
        answer(page, question, "yes")
        expect(page.locator(f"[data-check={question}]").get_by_text("more to do")).to_be_visible()
        # meanwhile the other phone, which had not seen that either, said no and sent it home
        other = kit.Ground()
        fields = {"site": ground.site, "question": question, "answer": "no", "settled_on": kit.day(-1)}
        other.records = [("ground_check", check_record_id(ground.site, question), fields)]
        kit.seed(server, other)
        page.context.set_offline(False)
        kit.sync(page)
        row = page.locator(f"[data-check={question}]")
        expect(row.get_by_text("two answers")).to_be_visible()
        assert question in {one["id"] for one in page.evaluate(OPEN, ground.site)}
        [record] = [one for one in kit.records(page, "ground_check") if one["fields"]["question"] == question]
        assert {one["value"] for one in record["conflicts"]["answer"]} == {"yes", "no"}
        answer(page, question, "no")
        expect(row.get_by_text("settled")).to_be_visible()
        [record] = [one for one in kit.records(page, "ground_check") if one["fields"]["question"] == question]
        assert (record["fields"]["answer"], record["conflicts"]) == ("no", {})

        # a list that is not known here (a newer phone chose it): the general one is shown, and that it is
        phone_kit.save(page, {"rec": ground.site, "type": "site", "set": {"country": "atlantis"}})
        expect(page.get_by_text("There is no list called “atlantis” here")).to_be_visible()
        phone_kit.save(page, {"rec": ground.site, "type": "site", "set": {"services_checked_on": None}})
        row = answer(page, "general-services", "yes")
        row.get_by_role("button", name="services checked").click()
        expect(row.get_by_role("button", name="services checked")).to_have_count(0)
        [site] = [one["fields"] for one in kit.records(page, "site") if one["id"] == ground.site]
        assert site["services_checked_on"] == kit.day()
        kit.go(page, "#/checks/5a1e0000-0000-4000-8000-000000000009")
        expect(page.get_by_text("This site is not on this phone.")).to_be_visible()
