"""After four lifts on one day: what was left undone or went over the number stands first on Due, and is put right."""

from __future__ import annotations

from collections.abc import Iterator

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, Page, expect

TERMS = ["Keep dogs away", "Close the gates"]


class AfterAVisit(kit.Ground):
    """A tenant's leave for three trees: three are lifted today, the first with a term not ticked; B4 is marked."""

    def __init__(self) -> None:
        super().__init__(allowance=3, conditions=TERMS, by_role="occupier")
        owner = self.add("landholder", name="Jan Soller", phone="00 0000 0808")
        self.add("holding", site=self.site, landholder=owner, role="owner")
        self.add("holding", site=self.site, landholder=self.landholder, role="occupier")
        self.trees = {
            tag: self.add("tree", site=self.site, tag=tag, species="birch", girth_mm=240, marked_on=kit.day(-9))
            for tag in ("B1", "B2", "B3", "B4")
        }
        for tag, kept in (("B1", TERMS[1:]), ("B2", TERMS), ("B3", TERMS)):
            self.add(
                "lift", tree=self.trees[tag], site=self.site, leave=self.leave, lifted_on=kit.day(),
                kept_conditions=kept, hole_filled=True,
            )  # fmt: skip


@pytest.fixture(scope="module")
def ground() -> AfterAVisit:
    return AfterAVisit()


@pytest.fixture(scope="module")
def page(browser: Browser, tmp_path_factory: pytest.TempPathFactory, ground: AfterAVisit) -> Iterator[Page]:
    with RunningServer(tmp_path_factory.mktemp("home") / "data") as home:
        kit.seed(home, ground)
        with kit.phone(browser, home, signal=True) as phone:
            yield phone


def test_a_lift_over_the_number_has_its_terms_to_tick_and_all_left_open_is_due_and_put_right(
    page: Page, ground: AfterAVisit
) -> None:
    kit.go(page, f"#/lift/{ground.trees['B4']}")
    expect(page.locator(".verdict")).to_have_attribute("data-answer", "no")
    page.get_by_label("Keep dogs away").check()
    page.get_by_label("Close the gates").check()
    page.get_by_text("I know this says no: log what was done").click()
    page.get_by_role("button", name="Save lift").click()
    expect(page.locator("[data-hole-open]")).to_be_visible()
    lift = next(one["fields"] for one in kit.records(page, "lift") if one["fields"]["tree"] == ground.trees["B4"])
    assert (lift["leave"], lift["kept_conditions"], lift["answer"]["keep"]) == (ground.leave, TERMS, TERMS)
    kit.sync(page)

    kit.go(page, "#/due")
    owed = page.locator("[data-lists] [data-group]").first
    expect(owed.locator("h2")).to_contain_text("Owed to the landholder")
    texts = owed.locator(".task-text")
    expect(texts).to_have_count(2)
    expect(texts.nth(0)).to_contain_text("Tell the farm, and the owner Jan Soller, of 1 tree over the number agreed")
    expect(owed.locator(".whose")).to_have_text("Jan Soller")
    expect(owed.get_by_role("link", name="00 0000 0808")).to_be_visible()
    expect(texts.nth(1)).to_contain_text("“Keep dogs away” with B1; the hole of B4 filled.")
    expect(page.locator(".page-head [role=status]")).to_contain_text("1 of them owed to a landholder")

    owed.get_by_role("link", name="Note it: B1").click()
    expect(page.locator("#tree-lift h3")).to_be_in_viewport()
    expect(page.locator("#tree-lift h3")).to_be_focused()
    expect(page.get_by_label("Close the gates")).to_be_checked()
    page.get_by_label("Keep dogs away").check()
    page.locator("#tree-lift").get_by_role("button", name="Save").click()
    expect(page.locator("[data-lift-open]")).to_have_count(0)
    kit.go(page, f"#/tree/{ground.trees['B4']}")
    expect(page.locator("[data-lift-open]")).to_have_text("The hole is not noted as filled.")
    page.get_by_role("button", name="Put it right").click()
    page.locator("#tree-lift").get_by_text("The hole is filled and trodden in").click()
    page.locator("#tree-lift").get_by_role("button", name="Save").click()
    expect(page.locator("[data-lift-open]")).to_have_count(0)
    kit.sync(page)
    kit.go(page, "#/due")
    expect(page.locator('[data-group="Owed to the landholder"] .task-text')).to_have_count(1)
    kept = {one["fields"]["tree"]: one["fields"] for one in kit.records(page, "lift")}
    assert sorted(kept[ground.trees["B1"]]["kept_conditions"]) == sorted(TERMS)
    assert kept[ground.trees["B4"]]["hole_filled"] is True
    assert kept[ground.trees["B4"]]["answer"]["verdict"]["answer"] == "no"
