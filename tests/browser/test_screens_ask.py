"""What stands beside an answer of May I?: whom to call, what is open about the ground; and what a lift keeps of it."""

from __future__ import annotations

from collections.abc import Iterator

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, Page, expect

from field.core.may_dig import RULE


@pytest.fixture(scope="module")
def ground() -> kit.Ground:
    """A spoken leave of someone without a number, an occupier who has one, and a tree order nobody asked about."""
    ground = kit.Ground(form="spoken", methods=["hand_tools"])
    ground.records[0][2]["country"] = "scotland"
    occupier = ground.add("landholder", name="Netherby Farm", role="owner", phone="01632 960 117")
    ground.add("holding", site=ground.site, landholder=occupier, role="occupier")
    ground.add(
        "consent", site=ground.site, kind="tree_order", state="unknown", authority="the council", phone="01632 960 300"
    )
    ground.add("consent", site=ground.site, kind="monument", state="not_needed", phone="01632 960 301")
    ground.tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240)
    ground.add("fix", tree=ground.tree, lat=55.4025, lon=-3.395, accuracy_m=5, source="web-geolocation")
    return ground


@pytest.fixture(scope="module")
def page(browser: Browser, server: RunningServer) -> Iterator[Page]:
    with kit.phone(browser, server) as page:
        yield page


def test_whom_to_ask_and_what_is_open_stand_beside_the_answer_with_no_signal(page: Page, ground: kit.Ground) -> None:
    kit.go(page, f"#/may-i?tree={ground.tree}")
    expect(page.locator(".verdict")).to_have_attribute("data-answer", "ask")
    whom = page.locator(f'[data-leave="{ground.leave}"] [data-ask-whom] a')
    expect(whom).to_have_attribute("href", "tel:01632960117")
    expect(whom).to_have_text("Call Netherby Farm, occupier 01632 960 117")
    authority = page.locator("[data-ask-authority] a")  # one: a consent that is not needed is nobody's to ask
    expect(authority).to_have_attribute("href", "tel:01632960300")
    expect(authority).to_contain_text("Call the council about tree order")
    assert whom.bounding_box()["height"] >= 56
    assert authority.bounding_box()["height"] >= 56
    expect(page.locator('[data-fact="methods"]')).to_have_text("hand tools")
    opened = page.locator("[data-open-checks]")
    many = int(opened.get_attribute("data-open-checks"))
    assert many > 3
    expect(opened.locator(".state")).to_have_text(f"{many} questions about Kettle Brae are open")
    expect(opened.locator("li")).to_have_count(many)
    expect(opened.locator("a")).to_have_attribute("href", f"#/checks/{ground.site}")


def test_a_lift_keeps_the_rule_what_was_open_the_terms_and_the_photo_of_the_hole(
    page: Page, ground: kit.Ground
) -> None:
    kit.go(page, f"#/lift/{ground.tree}")
    expect(page.locator("[data-open-checks]")).to_be_visible()
    page.locator('.terms input[name="kept_conditions"]').nth(1).check()  # the first is the condition
    page.locator('input[name="hole_photo"]').set_input_files(kit.a_photo("brown"))
    expect(page.locator('[data-photos] [data-shows="hole"]')).to_have_count(1)
    page.locator("[data-save-lift]").click()
    expect(page.locator("[data-saved]")).to_be_visible()
    [lift] = kit.records(page, "lift")
    answer = lift["fields"]["answer"]
    assert answer["verdict"]["rule"] == RULE
    assert answer["verdict"]["keep"] == ["close the gates", "Hand tools only: no machine.", "No vehicle on the ground."]
    assert lift["fields"]["kept_conditions"] == ["Hand tools only: no machine."]
    assert answer["input"]["leaves"][0]["methods"] == ["hand_tools"]
    [open_then] = answer["open"]
    assert open_then["site"] == ground.site
    assert all(set(one) == {"id", "text"} for one in open_then["questions"])
    [photo] = kit.records(page, "photo")
    assert photo["fields"]["shows"] == "hole"
    kit.go(page, f"#/tree/{ground.tree}")
    expect(page.locator('[data-list="photos"] figcaption')).to_contain_text("the filled hole")
    page.get_by_text("The answer as it stood").click()
    expect(page.locator("[data-rule]")).to_have_text(f"Answered by the rule of version {RULE}.")
    expect(page.locator("[data-open-checks] .state")).to_have_text(
        f"{len(open_then['questions'])} questions about Kettle Brae were open"
    )
    kit.go(page, "#/trees")
    expect(page.locator(f'a[href="#/tree/{ground.tree}"]').first).to_be_visible()
    expect(page.locator(f'[data-thumb="{photo["fields"]["sha256"]}"]')).to_have_count(
        0
    )  # a hole is no picture of a tree
