"""Rounds on Due: many trees in one row, ticked together or one by one, kept with no signal; and read by tree."""

from __future__ import annotations

import uuid

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect

TAGS = ("K1", "K2", "K10")


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("rounds") / "data") as running:
        ground.yard = ground.add("garden", name="The back yard", is_main=True)
        ground.trees = [
            ground.add("tree", site=ground.site, tag=tag, species="birch", marked_on=kit.day(-90), origin="lifted")
            for tag in TAGS
        ]
        kit.seed(running, ground)
        yield running


def a_task(ground: kit.Ground, n: int, step: str = "water-daily", **more: object) -> dict[str, object]:
    name = f"{ground.trees[n]}:birch:{step}:0"
    task = {"id": name, "rec": str(uuid.uuid5(uuid.NAMESPACE_URL, name)), "tree": ground.trees[n], "site": ground.yard}
    day = {"from": kit.day(), "by": kit.day(), "lapses_on": kit.day(), "moved_from": None}
    return {**task, "work": "water", "text": "Feel the mix.", "why": "It dries.", "round": "water", **day, **more}


def open_due(page: Page, tasks: list[dict[str, object]]) -> None:
    page.evaluate(
        """async ([tasks, hash]) => {
          const { getPack, putPack } = await import('/static/js/store.js');
          await putPack(hash, { ...(await getPack()), tasks });
        }""",
        [tasks, uuid.uuid4().hex * 2],
    )
    kit.go(page, "#/due")


def states(page: Page) -> dict[str, str | None]:
    return {one["id"]: one["fields"]["state"] for one in kit.records(page, "task_state")}


def test_all_trees_of_a_round_are_ticked_in_one_tap_and_taken_back_in_one(browser, server, ground) -> None:
    alone = a_task(ground, 0, "repot", round=None, text="Repot it.")
    with kit.phone(browser, server) as page:
        open_due(page, [*(a_task(ground, n) for n in range(3)), alone])
        expect(page.locator('[data-group="Today"] h2')).to_have_text("Today 2")
        row = page.locator(".task.round")
        expect(row.locator(".task-text")).to_have_text("Water look: 3 trees")
        row.locator(".round-trees > summary").click()
        assert row.locator(".tag").all_inner_texts() == list(TAGS)
        assert kit.hindrances(page) == []
        row.get_by_role("button", name="All looked at").click()
        expect(row.locator("s")).to_have_text("Water look: 3 trees")
        assert list(states(page).values()) == ["done"] * 3
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(row.get_by_role("button", name="All looked at")).to_be_visible()
        assert list(states(page).values()) == [None] * 3
        expect(page.locator('[data-group="Today"] h2')).to_have_text("Today 2")


def test_each_tree_is_ticked_by_itself_with_its_reason_and_photo_and_home_gets_them(browser, server, ground) -> None:
    tasks = [a_task(ground, n, "water-weekly") for n in range(3)]
    with kit.phone(browser, server) as page:
        open_due(page, tasks)
        page.locator(".round-trees > summary").click()
        page.get_by_role("button", name="Note or skip: K2").click()
        page.locator("dialog .chip", has_text="Skipped").click()
        page.get_by_label("What was seen and done, or why not").fill("still wet")
        page.locator("dialog input[type=file]").set_input_files(kit.a_photo("blue"))
        expect(page.locator("[data-shot]")).to_have_text("One photo taken.")
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(".round .state").first).to_contain_text("0 of 3 looked at, 1 skipped")
        page.wait_for_function("(at) => performance.now() > at + 700", arg=page.evaluate("performance.now()"))
        page.get_by_role("button", name="Done: K10").click()
        expect(page.locator(".round .state").first).to_contain_text("1 of 3 looked at, 1 skipped")
        page.reload()
        expect(page.get_by_role("button", name="The other 1 looked at")).to_be_visible()
        told = {one["id"]: one["fields"] for one in kit.records(page, "task_state")}
        assert [told.get(task["rec"], {}).get("state") for task in tasks] == [None, "skipped", "done"]
        assert told[tasks[1]["rec"]]["note"] == "still wet"
        (photo,) = kit.records(page, "photo")
        assert (photo["fields"]["task_state"], photo["fields"]["tree"]) == (tasks[1]["rec"], ground.trees[1])
        waiting = "async () => (await (await import('/static/js/store.js')).counts()).changes_unsent"
        assert page.evaluate(waiting) == 3  # two ticks and the photo's record, made with no signal
        page.context.set_offline(False)
        kit.sync(page)
        assert page.evaluate(waiting) == 0


def test_the_way_back_of_the_browser_closes_the_note_alone_and_what_was_typed_of_a_day_that_is_past_is_saved(
    browser, server, ground
) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/ground")
        open_due(page, [a_task(ground, n) for n in range(3)])
        page.locator(".round-trees > summary").click()
        before = states(page)
        page.get_by_role("button", name="Note or skip: K2").click()
        page.get_by_label("What was seen and done, or why not").fill("looked twice")
        page.evaluate("history.back()")
        expect(page.locator("dialog")).to_have_count(0)
        expect(page.locator("h1")).to_have_text("Due")
        page.wait_for_function("(at) => performance.now() > at + 700", arg=page.evaluate("performance.now()"))
        page.get_by_role("button", name="Note or skip: K2").click()
        expect(page.get_by_label("What was seen and done, or why not")).to_have_value("looked twice")
        page.locator('dialog [name="on"]').fill("2096-11-27")
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator("dialog .fault:visible")).to_contain_text("has not come yet")
        assert states(page) == before
        page.locator('dialog [name="on"]').fill(kit.day(-1))
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(".round .state").first).to_contain_text("1 of 3 looked at")
        # A dialog that was answered leaves no step behind.
        page.evaluate("history.back()")
        expect(page).to_have_url(f"{server.url}/#/ground")


def test_yesterdays_round_is_not_asked_beside_todays_and_by_tree_every_task_stands_alone(
    browser, server, ground
) -> None:
    gone = {"from": kit.day(-1), "by": kit.day(-1), "lapses_on": kit.day(-1)}
    late = {"from": kit.day(-3), "by": kit.day(-1), "lapses_on": kit.day(3)}
    with kit.phone(browser, server) as page:
        tasks = [*(a_task(ground, n, "water-rest") for n in range(2)), a_task(ground, 2, "water-winter", **late)]
        open_due(page, [*tasks, *(a_task(ground, n, "old", **gone) for n in range(3))])
        expect(page.locator(".round .task-text")).to_have_text(["Water look: 3 trees"])
        expect(page.locator('[data-group="Overdue"]')).to_have_count(0)
        kit.go(page, "#/ground")
        owed = a_task(ground, 0, "repot", round=None, text="Repot it.", **{"from": kit.day(-9), "by": kit.day(-2)})
        open_due(page, [*tasks, {**owed, "lapses_on": None}])
        head = page.locator('[data-group="Today"] h2')
        page.get_by_role("button", name="See today’s rounds").click()
        expect(head).to_be_focused()
        expect(head).to_be_in_viewport()
        kit.go(page, "#/ground")
        open_due(page, tasks)
        expect(page.get_by_role("button", name="See today’s rounds")).to_have_count(0)
        page.locator(".due-view .chip", has_text="By tree").click()
        expect(page.locator(".round")).to_have_count(0)
        expect(page.locator("[data-lists] .task")).to_have_count(3)
        expect(page.locator('[data-group="Overdue"] .tag')).to_have_text("K10")
        page.reload()
        expect(page.locator(".due-view input:checked + span")).to_have_text("By tree")
        expect(page.locator("[data-lists] .task")).to_have_count(3)
