"""Two phones under one leave, both out of reach: nothing is refused or lost, and what went over is told to everyone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Browser, Page, expect

EAST = 0.02  # degrees: the second site lies more than a kilometre off
OTHER_FIELD = {
    "type": "Polygon",
    "coordinates": [[[lon + EAST, lat] for lon, lat in kit.FIELD["coordinates"][0]]],  # type: ignore[index]
}
THERE = {**kit.INSIDE, "longitude": kit.INSIDE["longitude"] + EAST}


class TwoSites(kit.Ground):
    """Kettle Brae, with leave for one tree; and Sike Bank, with leave for five."""

    def __init__(self) -> None:
        super().__init__(allowance=1)
        self.trees = {tag: self.add("tree", site=self.site, **a_tree(tag)) for tag in ("K1", "K2")}
        self.bank = self.add(
            "site", name="Sike Bank", zone="UTC", boundary=OTHER_FIELD, protected=False, services_checked_on=kit.day(-9)
        )
        terms = next(fields for _, rec, fields in self.records if rec == self.leave)
        self.bank_leave = self.add("leave", **{**terms, "site": self.bank, "allowance": 5})
        self.consent = self.add(
            "consent", site=self.bank, kind="monument", state="held", until=kit.day(20), phone="00 0000 0707"
        )
        self.trees["S1"] = self.add("tree", site=self.bank, **a_tree("S1"))


def a_tree(tag: str) -> dict[str, Any]:
    return {"tag": tag, "species": "birch", "girth_mm": 240, "marked_on": kit.day(-30), "origin": "lifted"}


@pytest.fixture(scope="module")
def ground() -> TwoSites:
    return TwoSites()


@pytest.fixture(scope="module")
def phones(browser: Browser, server: RunningServer) -> Iterator[tuple[Page, Page]]:
    """Two paired phones that know the ground, with their radios off."""
    with kit.phone(browser, server) as one, kit.phone(browser, server) as two:
        yield one, two


def lift(page: Page, tree: str) -> str:
    """Log the lift of a tree on the phone's own page, and return the answer it stood under."""
    kit.go(page, f"#/lift/{tree}")
    expect(page.locator(".verdict")).to_be_visible()
    answer = page.locator(".verdict").get_attribute("data-answer")
    page.get_by_label("close the gates").check()
    page.get_by_role("button", name="Save lift").click()
    expect(page.get_by_role("heading", name="Saved on this")).to_be_visible()
    return str(answer)


def sync(*pages: Page) -> None:
    """Let each phone reach home once, one after the other."""
    for page in pages:
        page.context.set_offline(False)
        kit.sync(page)
        page.context.set_offline(True)


def held(page: Page) -> list[Any]:
    return page.evaluate("async () => (await import('/static/js/store.js')).listHeld()")


def flags(page: Page) -> dict[str, list[dict[str, str]]]:
    return page.evaluate("async () => (await (await import('/static/js/store.js')).getPack()).flags")


def test_the_last_allowed_tree_taken_by_both_is_kept_twice_and_one_over_is_told(
    phones: tuple[Page, Page], ground: TwoSites
) -> None:
    one, two = phones
    answers = [lift(one, ground.trees["K1"]), lift(two, ground.trees["K2"])]
    assert "no" not in answers  # neither could know
    sync(one, two, one)
    for page in phones:
        lifts = {record["fields"]["tree"]: record["id"] for record in kit.records(page, "lift")}
        assert set(lifts) == {ground.trees["K1"], ground.trees["K2"]}
        assert held(page) == []
        assert kit.records(page, "lift")[0]["conflicts"] == {}
        (over,) = flags(page)
        assert over in lifts.values()
        assert flags(page)[over][0]["text"] == "Over the number agreed: tree 2 under a leave for 1."
        kit.go(page, f"#/leave/{ground.leave}")
        expect(page.locator(".page-head")).to_contain_text("1 over the number agreed")
        kit.go(page, "#/due")
        task = page.locator(f'[data-task^="site:{ground.site}:over:"]')
        expect(task.locator(".task-text")).to_have_text(
            "Tell the farm of 1 tree over the number agreed for Kettle Brae: 2 lifted where 1 was agreed."
        )
        flagged = next(tree for tree, rec in lifts.items() if rec == over)
        kit.go(page, f"#/tree/{flagged}")
        expect(page.locator('[data-flag="over-number"]')).to_have_count(1)


def test_a_leave_withdrawn_at_home_says_no_after_the_next_sync_and_a_lift_made_unaware_is_flagged(
    phones: tuple[Page, Page], server: RunningServer, ground: TwoSites
) -> None:
    one, two = phones
    for page in phones:
        kit.move(page.context, THERE)
    said_no = kit.Ground()
    said_no.records = [("leave", ground.bank_leave, {"withdrawn_on": kit.day()})]
    kit.seed(server, said_no)

    sync(one)
    kit.go(one, "#/ground")
    kit.go(one, "#/may-i")
    expect(one.locator(".verdict")).to_have_attribute("data-answer", "no")
    expect(one.locator('.reasons > [data-code="withdrawn"]')).to_have_count(1)

    assert lift(two, ground.trees["S1"]) != "no"  # it has not heard
    sync(two, one)
    for page in phones:
        (flagged,) = [rec["id"] for rec in kit.records(page, "lift") if rec["fields"]["tree"] == ground.trees["S1"]]
        assert [flag["code"] for flag in flags(page)[flagged]] == ["after-withdrawal"]
        assert held(page) == []
        kit.go(page, "#/due")
        task = page.locator(f'[data-task^="site:{ground.bank}:after-withdrawal:{ground.bank_leave}:"]')
        expect(task.locator(".task-text")).to_contain_text("Tell the farm of tree S1, lifted at Sike Bank on ")


def test_a_site_s_task_is_ticked_with_no_signal_and_stays_ticked_on_the_other_phone(
    phones: tuple[Page, Page], ground: TwoSites
) -> None:
    one, two = phones
    kit.go(one, "#/due")
    one.locator('[data-group="Begun, with time left"] > summary').click()
    task = f'[data-task^="site:{ground.bank}:consent-ending:{ground.consent}:"]'
    head = one.locator(".task-tree", has=one.locator(task)).get_by_role("link", name="Sike Bank")
    expect(head).to_have_attribute("href", f"#/site/{ground.bank}")
    expect(one.locator(task).get_by_role("link", name="See the consent")).to_have_attribute(
        "href", f"#/consent/{ground.consent}"
    )
    expect(one.locator(task).get_by_role("link", name="00 0000 0707")).to_have_attribute("href", "tel:0000000707")
    one.locator(task).locator("[data-done]").click()
    expect(one.locator(".notice")).to_contain_text("Sike Bank. Saved on this phone.")
    (state,) = kit.records(one, "task_state")
    assert (state["fields"]["tree"], state["fields"]["site"]) == (None, ground.bank)
    sync(one, two)
    kit.go(two, "#/trees")
    kit.go(two, "#/due")
    expect(two.locator("[data-settled]")).to_have_count(1)
    expect(two.locator(f'[data-group="Begun, with time left"] {task}')).to_have_count(0)
    expect(two.locator(f"[data-settled] {task}")).to_have_count(1)
