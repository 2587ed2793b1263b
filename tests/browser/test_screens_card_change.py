"""A person's own changes of a card on the phone: made, refused at the field, taken back, made offline, and disputed."""

from __future__ import annotations

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect

from field.core.card_edit import edit_id
from field.services import pair
from field.store import db


def an_edit(value: object, trait: str = "shade_weeks") -> dict[str, object]:
    return {"edit": {"traits": {trait: {"value": value, "why": "my yard is windy"}}}}


def faults(page: Page) -> list[str]:
    return [one for one in page.locator(".fault:visible").all_inner_texts() if one]


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("card-change") / "data") as running:
        ground.tree = ground.add("tree", tag="K1", site=ground.site, species="birch")
        ground.add("species_card", kind="larch", card=an_edit("long"))
        oak = edit_id("oak", "traits.shade_weeks")
        ground.records.append(("species_card", oak, {"kind": "oak", "card": an_edit(7)}))
        kit.seed(running, ground)
        other = kit.Ground()
        other.records = [("species_card", oak, {"kind": "oak", "card": an_edit(8)})]
        kit.seed(running, other)  # by another phone, which had not seen the first
        yield running


def test_a_window_is_changed_nonsense_stands_at_its_field_and_one_tap_goes_back(browser, server) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/card/birch")
        lift = page.locator('[data-work="lift"]')
        shipped = lift.locator("summary").inner_text()
        page.get_by_role("link", name="Change the card").click()
        page.get_by_role("link", name="Lift", exact=False).first.click()
        closes = page.locator('[data-end="closes"]')
        closes.get_by_label("a date").check()
        closes.locator("[name=closes_month]").select_option("2")
        closes.locator("[name=closes_day]").fill("30")
        page.get_by_role("button", name="Save").click()
        assert faults(page) == ["There is no such day in that month. Set it again."]
        closes.locator("[name=closes_day]").fill("1")
        page.get_by_role("button", name="Save").click()
        assert faults(page) == ["Say why: a date without its reason is only an opinion."]
        closes.locator("[name=why_closes]").fill("seen here six years")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".fault:visible")).to_have_text("It would close before it opens. Give a later closing.")
        assert kit.hindrances(page) == []
        closes.locator("[name=closes_month]").select_option("3")
        closes.locator("[name=closes_day]").fill("30")
        page.get_by_role("button", name="See it first").click()
        expect(page.locator("[data-tried]")).to_contain_text("30 Mar")
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_text("The dates follow at the next sync.")).to_be_visible()
        kit.sync(page)
        expect(lift.locator("summary")).to_contain_text("30 Mar")
        expect(lift.get_by_role("heading")).to_contain_text("yours")
        lift.locator("summary").click()
        expect(lift).to_contain_text("seen here six years")
        expect(lift.locator(".beside")).to_contain_text("closes 7 days after buds swelling, strictly")
        assert kit.hindrances(page, '[data-work="lift"]') == []
        lift.get_by_role("button", name="Back to the card’s own").click()
        expect(page.get_by_text("Back to the card’s own. It counts after the next sync.")).to_be_visible()
        kit.sync(page)
        expect(lift.locator("summary")).to_have_text(shipped)
        expect(lift.locator(".beside")).to_have_count(0)


def test_a_change_made_with_no_home_in_reach_waits_and_is_told_if_home_cannot_use_it(browser, server) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/card/hazel")
        expect(page.locator('[data-work="lift"] summary')).to_be_visible()
        page.context.set_offline(True)
        kit.go(page, "#/card-change/hazel?part=events.leaf_colour")
        page.locator("[name=day]").fill("7")
        kit.go(page, "#/card/hazel")  # called away: what was typed is there again, until it is given up
        kit.go(page, "#/card-change/hazel?part=events.leaf_colour")
        expect(page.locator("[name=day]")).to_have_value("7")
        page.get_by_role("button", name="Not now").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Hazel")
        kit.go(page, "#/card-change/hazel?part=events.leaf_colour")
        expect(page.locator("[name=day]")).not_to_have_value("7")
        kit.go(page, "#/card-change/hazel?part=traits.wire_weeks_min")
        page.locator("[name=value]").fill("300")
        page.locator("[name=why]").fill("slow growth up here")
        page.get_by_role("button", name="Save").click()
        waits = page.locator("[data-waiting]")
        expect(waits).to_contain_text("Weeks of wire, at least: 300. Slow growth up here.")
        expect(page.get_by_role("heading", name="Counts after the next sync")).to_be_visible()
        page.context.set_offline(False)
        kit.sync(page)
        expect(page.get_by_role("heading", name="This cannot be used")).to_be_visible()
        expect(waits).to_have_count(0)
        trouble = page.get_by_role("alert").filter(has_text="This cannot be used")
        expect(trouble).to_contain_text("The least, 300, lies over the most")
        kit.go(page, "#/trees")
        expect(page.get_by_text("2 changes of yours in cards cannot be used.")).to_be_visible()
        page.get_by_role("link", name="See which, and why").click()
        expect(trouble).to_contain_text("Give a number.")
        expect(trouble.get_by_role("button", name="Remove it")).to_have_count(2)
        kit.go(page, "#/card/hazel")
        trouble.get_by_role("button", name="Remove it").click()
        expect(trouble).to_have_count(0)


def test_a_kind_is_made_by_copying_and_what_two_people_changed_is_told(browser, server) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/card-copy/birch")
        page.get_by_label("Name", exact=True).fill("Yard birch")
        expect(page.get_by_label("Short name")).to_have_value("yard-birch")
        page.get_by_label("Botanical name").fill("betula")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".fault:visible")).to_contain_text("begins with its genus")
        page.get_by_label("Botanical name").fill("Betula ‘Yard’")
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Yard birch")
        expect(page.get_by_role("button", name="Remove this kind")).to_be_visible()
        kit.go(page, "#/card/oak")
        expect(page.get_by_text("until one of the two is chosen, the later one counts")).to_be_visible()
        page.get_by_role("link", name="Choose the right one").click()
        expect(page.get_by_text("Weeks of shade after the lift: 7")).to_be_visible()
        expect(page.get_by_text("Weeks of shade after the lift: 8")).to_be_visible()


def test_a_phone_that_may_only_record_reads_a_card_and_is_not_offered_to_change_it(browser, server) -> None:
    with db.alone(None, server.data):
        code = pair.make_code(role="record")["code"]
    with kit.phone(browser, server, signal=True, code=code) as page:
        kit.go(page, "#/card/oak")
        expect(page.get_by_role("heading", name="What it is like")).to_be_visible()
        expect(page.get_by_text("Yours.", exact=True)).to_be_visible()
        for offered in ("Change the card", "New kind from this card", "Back to the card’s own"):
            expect(page.get_by_text(offered)).to_be_hidden()
        kit.go(page, "#/card-change/oak")
        expect(page.get_by_role("heading", level=1)).to_have_text("Ground")
