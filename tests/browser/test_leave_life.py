"""The life of a leave: asked, given, signed, changed, withdrawn, its giver removed; and the headline of its site."""

from __future__ import annotations

from typing import Any

import hill_kit as kit
from home_server import wait_for
from phone_kit import call
from playwright.sync_api import Page, expect

from field.core.signing import content_sha256, terms_of

ON = "2027-02-14"
LEAVE = {"starts_on": "2026-11-01", "ends_on": "2027-03-31", "allowance": 3, "form": "signed", "entitled": True}
MISSING = {"kind": "felling_licence", "state": "needed"}


def told(state: dict[str, Any]) -> list[str]:
    return [state["word"], *([state["also"]["word"]] if "also" in state else [])]


def test_the_headline_of_a_site_is_the_worst_that_matters_and_hides_no_second(blank: Page) -> None:
    later = {**LEAVE, "starts_on": "2027-04-01", "ends_on": None}
    over, missing, asked = "1 over the number agreed", "consent missing", "asked, no answer yet"
    for leaves, consents, words in (
        ([(LEAVE, 2)], [], ["good"]),
        ([(LEAVE, 4)], [], [over]),
        ([(LEAVE, 4), ({**later, "form": "spoken"}, 0)], [], [over, "not begun"]),
        ([({**LEAVE, "form": "spoken"}, 0)], [MISSING], [missing, "spoken only"]),
        ([(LEAVE, 4)], [MISSING], [over, missing]),
        ([(LEAVE, 2)], [MISSING], [missing]),
        ([({**later, "form": "spoken"}, 0)], [], ["not begun", "spoken only"]),
        ([({**later, "form": "asked"}, 0)], [], [asked]),
        ([({**LEAVE, "ends_on": "2027-02-13"}, 4), ({**later, "form": "asked"}, 0)], [], [asked]),
        ([({**LEAVE, "form": "asked"}, 0), (LEAVE, 1)], [], ["good"]),
    ):
        of_site = [{"fields": fields, "lifted": lifted} for fields, lifted in leaves]
        assert told(call(blank, "core/leave_state", "siteState", {}, of_site, consents, ON)) == words


def test_a_leave_that_is_not_what_was_signed_says_so_in_its_state(blank: Page) -> None:
    for form in ("signed", "spoken"):
        got = call(blank, "core/leave_state", "leaveState", {**LEAVE, "form": form}, 0, ON, True)
        assert (got["word"], got["kind"]) == ("changed since it was signed", "ask")


def test_what_stands_against_the_word_of_the_signer_is_said_before_the_phone_is_handed_over(blank: Page) -> None:
    sure = {"name": "Ida", "role": "owner", "right": None, "entitled": True, "owners": [], "asked": False}
    for change, sentences in (
        ({}, []),
        ({"entitled": None}, ["Whether Ida may give leave here is not recorded."]),
        ({"entitled": False}, ["It is recorded that Ida may not give leave here."]),
        ({"owners": ["Bo"]}, ["Bo owns this ground as well, and no word of theirs is recorded."]),
        (
            {"role": "occupier", "owners": ["Bo"]},
            [
                "Ida is an occupier, and by what right they give leave is not recorded.",
                "Bo owns this ground, and no word of theirs is recorded.",
            ],
        ),
        ({"role": "occupier", "right": "grazing", "asked": True}, []),
        (
            {"role": "agent", "right": "letter of 3 May"},
            ["Who owns this ground is not recorded. Ask, and have the owner say yes as well."],
        ),
    ):
        assert call(blank, "core/leave_terms", "signerDoubts", {**sure, **change}) == sentences


def test_a_signed_leave_that_is_changed_keeps_its_days_and_says_what_is_not_signed(browser, server) -> None:
    own = kit.Ground(given_on=kit.day(-6), allowance=2, signed_by="Ida")
    fields = own.records[-1][2]
    signing = {
        "leave": own.leave,
        "version": 1,
        "letter": {"v": 1, "terms": terms_of(fields, {"boundary": kit.FIELD})},
        "name": "Ida",
        "signed_on": kit.day(-2),
    }
    own.add("signing", **signing, content_sha256=content_sha256(signing))
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{own.leave}")
        state = page.locator(".page-head .state")
        expect(state).to_contain_text("good until")
        expect(page.locator("[data-agreed]")).to_contain_text("on the glass, version 1")
        page.get_by_role("button", name="Change", exact=True).click()
        page.get_by_role("textbox", name="Number of trees agreed").fill("3")
        page.get_by_role("button", name="Save the leave").click()
        page.get_by_role("button", name="Make a new version").click()
        expect(state).to_have_text("changed since it was signed")
        expect(page.locator("[data-agreed] .caution")).to_contain_text(
            "(version 1: 2 trees). The change is not signed."
        )
        wait_for(lambda: page.evaluate("scrollY") == 0, "the page stands at its head")
        leave = next(one for one in kit.records(page, "leave") if one["id"] == own.leave)["fields"]
        assert (leave["given_on"], leave["signed_by"]) == (kit.day(-6), "Ida")
        page.get_by_role("button", name="Change", exact=True).click()
        page.get_by_role("textbox", name="Number of trees agreed").fill("2")
        page.get_by_role("button", name="Save the leave").click()
        expect(state).to_contain_text("good until")  # it is again what was signed


def test_a_leave_asked_for_is_none_until_they_said_yes_and_its_day_is_then_the_day_it_was_given(
    browser, server
) -> None:
    own = kit.Ground(form="asked", given_on=kit.day(-9))
    kit.seed(server, own)
    with kit.phone(browser, server) as page:

        def given() -> tuple[str, str]:
            leave = next(one for one in kit.records(page, "leave") if one["id"] == own.leave)["fields"]
            return leave["form"], leave["given_on"]

        kit.go(page, f"#/leave/{own.leave}")
        expect(page.locator(".page-head .state")).to_have_text("asked, no answer yet")
        page.get_by_role("button", name="They said yes today").click()
        expect(page.locator(".page-head .state")).to_have_text("spoken only")
        assert given() == ("spoken", kit.day())
        page.get_by_role("button", name="Undo that").click()
        expect(page.locator(".page-head .state")).to_have_text("asked, no answer yet")
        page.get_by_role("button", name="Change", exact=True).click()
        page.get_by_role("radio", name="spoken only").check()
        expect(page.get_by_label("Asked, said or signed on")).to_have_value("")
        page.get_by_role("button", name="Not now").click()
        assert given() == ("asked", kit.day(-9))


def test_the_same_ground_drawn_better_is_still_what_was_signed(browser, server) -> None:
    own = kit.Ground()
    terms = terms_of(own.records[-1][2], {"boundary": {**kit.FIELD, "coordinates": [kit.FIELD["coordinates"][0][:1]]}})
    signing = {"leave": own.leave, "version": 1, "letter": {"v": 1, "terms": terms}, "signed_on": kit.day(-2)}
    own.add("signing", **signing, content_sha256=content_sha256(signing))
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{own.leave}")
        expect(page.locator(".page-head .state")).to_contain_text("good until")


def test_a_withdrawal_before_lifts_is_asked_about_and_taken_back_with_its_words(browser, server) -> None:
    own = kit.Ground(note="ring first")
    for days in (-5, -3, -1):
        own.add("lift", tree=own.add("tree", site=own.site), leave=own.leave, lifted_on=kit.day(days))
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{own.leave}")
        page.get_by_role("button", name="It was withdrawn").click()
        page.get_by_label("Withdrawn on").fill(kit.day(-3))
        page.get_by_label("How you were told").fill("rang at noon")
        page.get_by_role("button", name="Save the withdrawal").click()
        expect(page.get_by_role("dialog")).to_contain_text("2 trees were lifted under it on that day or after it.")
        page.get_by_role("button", name="Yes, that day").click()
        expect(page.locator("[data-agreed]")).to_contain_text("rang at noon")
        page.get_by_role("button", name="It was not withdrawn").click()
        expect(page.locator("[data-agreed]")).not_to_contain_text("rang at noon")
        expect(page.locator("[data-agreed]")).to_contain_text("ring first")


def test_a_removed_landholder_is_still_named_and_put_back_and_another_one_takes_nothing_over(browser, server) -> None:
    own = kit.Ground(by_role="occupier", by_right="grazing tenancy", form="spoken")
    other = own.add("landholder", name="Bo Invented")
    own.add("holding", site=own.site, landholder=other)
    own.records.append(("landholder", own.landholder, {"deleted": True}))
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/sign/{own.leave}")
        expect(page.locator(".sign-check")).to_contain_text("the farm gave leave here, and was removed")
        page.get_by_role("button", name="Hand it over").click()
        expect(page.get_by_role("textbox", name="Your name")).to_have_value("")
        kit.go(page, f"#/leave/{own.leave}")
        expect(page.get_by_role("heading", name="Leave of the farm, removed")).to_be_visible()
        page.get_by_role("button", name="Change", exact=True).click()
        form = page.locator("[data-form]")
        expect(form.get_by_role("radio", name="the farm (removed)")).to_be_checked()
        form.get_by_role("radio", name="Bo Invented").check()
        for name in ("by_role", "entitled"):
            expect(form.locator(f'input[name={name}][value="null"]')).to_be_checked()
        expect(form.get_by_label("By what right")).to_have_value("")
        form.get_by_role("radio", name="the farm (removed)").check()
        expect(form.get_by_label("By what right")).to_have_value("grazing tenancy")
        page.get_by_role("button", name="Not now").click()
        kit.go(page, f"#/site/{own.site}")
        expect(page.locator("[data-side]")).to_contain_text("the farm, removed")
        page.get_by_role("button", name="Put back: the farm").click()
        expect(page.get_by_role("link", name="the farm, removed")).to_have_count(0)
        assert own.landholder in {one["id"] for one in kit.records(page, "landholder")}
