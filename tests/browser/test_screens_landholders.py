"""Landholders of a site, what they are to it, and the consents of others: written down, reached, changed, taken off."""

from __future__ import annotations

import hill_kit as kit
import pytest
from home_server import wait_for
from playwright.sync_api import expect


@pytest.fixture(scope="module")
def ground() -> kit.Ground:
    """A second site, whose owner is written down there with a telephone."""
    own = kit.Ground()
    own.moor = own.add("site", name="Skelf Moor", zone="UTC")
    own.estate = own.add("landholder", name="Skelf Estate", phone="00 0000 0404", email="office@skelf.invalid")
    own.holding = own.add("holding", site=own.moor, landholder=own.estate, role="owner", by_right="owns it")
    own.other = own.add("leave", site=own.moor, landholder=own.estate, form="signed", starts_on=kit.day(-9))
    return own


def test_landholders_of_a_site_are_added_new_or_known_and_taken_off_again(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/site/{ground.site}")
        holders = page.locator(".holder")
        expect(holders).to_have_count(1)
        expect(holders).to_contain_text("owner · gave a leave here")  # an older log: the leave names them, nothing else
        kit.go(page, f"#/landholder/new?site={ground.site}")
        page.get_by_role("radio", name="Skelf Estate").check()
        page.get_by_role("radio", name="agent").check()
        page.get_by_label("By what right").fill("acts for the farm, letter of 3 May")
        page.get_by_role("button", name="Save the landholder").click()
        agent = holders.filter(has_text="Skelf Estate")
        expect(agent).to_contain_text("agent · acts for the farm, letter of 3 May")
        expect(agent.get_by_role("link", name="00 0000 0404")).to_have_attribute("href", "tel:0000000404")
        kit.go(page, f"#/landholder/new?site={ground.site}")
        page.get_by_role("radio", name="someone new").check()
        page.get_by_role("button", name="Save the landholder").click()
        expect(page.locator(".fault:visible")).to_have_text("Name is needed.")
        page.get_by_label("Name", exact=True).fill("Isla Invented")
        page.get_by_role("radio", name="occupier").check()
        kept = "async (key) => (await (await import('/static/js/store.js')).getDraft(key))?.role"
        wait_for(lambda: page.evaluate(kept, f"landholder-new-{ground.site}") == "occupier", "the draft is kept")
        page.reload()
        expect(page.get_by_label("Name", exact=True)).to_have_value("Isla Invented")
        page.get_by_role("button", name="Save the landholder").click()
        expect(holders).to_have_count(3)
        page.get_by_role("link", name="Change what Skelf Estate is to this site").click()
        page.get_by_role("button", name="Take them off this site").click()
        page.get_by_role("button", name="Put them back").click()
        expect(page.get_by_text("Undone.")).to_be_visible()
        kept_here = [one["fields"] for one in kit.records(page, "holding") if one["fields"]["site"] == ground.site]
        assert sorted(one["role"] for one in kept_here) == ["agent", "occupier"]


def test_a_landholder_has_a_page_with_their_ground_and_is_not_removed_unawares(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/landholder/{ground.estate}")
        expect(page.get_by_role("link", name="office@skelf.invalid")).to_have_attribute(
            "href", "mailto:office@skelf.invalid"
        )
        expect(page.locator(".sheet", has_text="Their ground")).to_contain_text("Skelf Moor")
        expect(page.locator(".sheet", has_text="Leaves they gave").locator("li")).to_have_count(1)
        page.get_by_role("button", name="Change", exact=True).click()
        page.get_by_label("Telephone").fill("00 0000 0505")
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.get_by_role("link", name="00 0000 0505")).to_be_visible()
        page.get_by_role("button", name="Remove this landholder").click()
        expect(page.get_by_role("dialog")).to_contain_text("1 leave and 1 site name them.")
        page.get_by_role("button", name="Keep them").click()
        assert ground.estate in [one["id"] for one in kit.records(page, "landholder")]
        page.get_by_role("button", name="Remove this landholder").click()
        page.get_by_role("button", name="Remove them all the same").click()
        expect(page.get_by_role("heading", name="Skelf Moor")).to_be_visible()
        expect(page.locator(".holder")).to_have_count(0)
        page.get_by_role("button", name="Undo the removal").click()
        expect(page.locator(".holder")).to_have_count(1)


def test_a_consent_of_any_kind_has_its_days_its_authority_and_its_papers(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/consent/new?site={ground.moor}")
        page.get_by_role("radio", name="other consent").check()
        page.get_by_role("radio", name="held", exact=True).check()
        page.get_by_role("button", name="Save the consent").click()
        expect(page.locator(".fault:visible")).to_contain_text("What it is called is needed")
        page.get_by_label("What it is called").fill("Commoners’ say")
        page.get_by_label("Held from").fill(kit.day(4))
        page.get_by_label("Held until").fill(kit.day(3))
        page.get_by_role("button", name="Save the consent").click()
        expect(page.locator(".fault:visible")).to_contain_text("The last day lies before the first.")
        page.get_by_label("Held until").fill(kit.day(30))
        page.get_by_label("Who gives it").fill("the grazing committee")
        page.get_by_label("Their telephone").fill("00 0000 0606")
        page.get_by_role("button", name="Save the consent").click()
        expect(page.get_by_role("heading", name="Commoners’ say")).to_be_visible()
        expect(page.locator(".page-head .state")).to_contain_text("not begun before")
        expect(page.get_by_role("link", name="00 0000 0606")).to_have_attribute("href", "tel:0000000606")
        page.set_input_files("input[name=choose]", kit.a_photo("red"))
        expect(page.get_by_role("button", name="See it large: red.jpg")).to_be_visible()
        [consent] = kit.records(page, "consent")
        [paper] = kit.records(page, "paper")
        assert (paper["fields"]["consent"], paper["fields"].get("leave")) == (consent["id"], None)
        kit.go(page, f"#/site/{ground.moor}")
        expect(page.locator("a.entry", has_text="Commoners’ say")).to_contain_text("the grazing committee")
        page.get_by_role("button", name="Change", exact=True).click()
        page.get_by_role("button", name="Remove the site").click()
        expect(page.get_by_role("dialog")).to_contain_text("1 leave, 1 consent hang on it.")
        page.get_by_role("button", name="Keep it").click()
        assert ground.moor in [one["id"] for one in kit.records(page, "site")]
