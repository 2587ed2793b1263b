"""Due: a tick with a note is kept by the phone alone, through a reload with the server stopped, and goes home after."""

from __future__ import annotations

import uuid
from pathlib import Path

import hill_kit as kit
import pytest
from playwright.sync_api import expect

HERE = Path(__file__).resolve().parent


@pytest.fixture
def server(empty_home):
    ground = kit.Ground()
    tree = ground.add(
        "tree", site=ground.site, tag="K1", species="birch", girth_mm=240, marked_on=kit.day(-30), origin="lifted"
    )
    done = {"kept_conditions": ["close the gates"], "hole_filled": True}
    ground.add(
        "lift", tree=tree, site=ground.site, leave=ground.leave, lifted_on=kit.day(-4), roots_kept="half", **done
    )
    kit.seed(empty_home, ground)
    return empty_home


def test_a_tick_with_a_note_survives_a_reload_with_the_server_stopped(browser, server):
    with kit.phone(browser, server, signal=True) as page:
        server.kill()
        kit.go(page, "#/due")
        first = page.locator(".task").first
        text = first.locator(".task-text").inner_text()
        task = first.get_attribute("data-task")
        expect(page.locator(".task-tree").first.get_by_role("link", name="Tree K1")).to_be_visible()
        first.get_by_role("button", name="Done, with a note").click()
        page.get_by_label("What was seen and done").fill("dry on top, wet below")
        drafted = (
            "async (rec) => (await (await import('/static/js/store.js')).getDraft(`tick-${rec}`))?.values.note ?? null"
        )
        rec = first.locator("[data-skip]").get_attribute("data-skip")
        kit.wait_until(page, f"async (rec) => (await ({drafted})(rec)) !== null", rec)
        page.reload()  # the app was killed over a half-written note
        first.get_by_role("button", name="Done, with a note").click()
        expect(page.get_by_label("What was seen and done")).to_have_value("dry on top, wet below")
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(f'.tasks [data-task="{task}"] [data-done]')).to_have_count(0)
        page.reload()
        expect(page.locator("#app h1")).to_have_text("Due")
        page.get_by_text("Settled: 1").click()
        settled = page.locator("[data-settled] .task")
        expect(settled.locator(".task-text")).to_have_text(text)
        expect(settled.locator(".note")).to_have_text("dry on top, wet below")
        kit.wait_until(page, f"async (rec) => (await ({drafted})(rec)) === null", rec)
        server.start()
        kit.sync(page)
        state = kit.records(page, "task_state")
        assert [(one["fields"]["task"], one["fields"]["state"]) for one in state] == [(task, "done")]


def test_undo_opens_a_task_again(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        before = page.locator(".task [data-done]").count()
        assert before > 0
        first = page.locator(".task").first
        first.get_by_role("button", name="Skip").click()
        expect(page.locator(".task [data-done]")).to_have_count(before - 1)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator(".task [data-done]")).to_have_count(before)


def test_why_it_was_passed_over_is_said_after_the_tap_and_a_photo_goes_with_its_undo(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        first = page.locator(".task").first
        rec = first.locator("[data-skip]").get_attribute("data-skip")
        first.get_by_role("button", name="Skip").click()
        page.wait_for_function("(at) => performance.now() > at + 700", arg=page.evaluate("performance.now()"))
        first.get_by_role("button", name="Say why").click()
        expect(page.get_by_label("Skipped")).to_be_checked()
        page.get_by_label("What was seen and done, or why not").fill("no lime at hand")
        page.locator("dialog input[type=file]").set_input_files(kit.a_photo())
        page.get_by_role("button", name="Save", exact=True).click()
        expect(first.locator(".note")).to_have_text("no lime at hand")
        told = {one["id"]: one["fields"] for one in kit.records(page, "task_state")}
        assert (told[rec]["state"], told[rec]["note"]) == ("skipped", "no lime at hand")
        assert [one["fields"]["task_state"] for one in kit.records(page, "photo")] == [rec]
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(first.locator(".note")).to_have_count(0)
        assert kit.records(page, "photo") == []
        told = {one["id"]: one["fields"] for one in kit.records(page, "task_state")}
        assert (told[rec]["state"], told[rec]["note"]) == ("skipped", None)


def shown(page):
    """The tasks on the page, from the top."""
    return page.locator(".task").evaluate_all("(rows) => rows.map((row) => row.dataset.task)")


def test_a_double_tap_ticks_one_task_and_no_row_moves(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        before = shown(page)
        first = page.locator(".task").first
        first.locator("[data-done]").dblclick()
        expect(first.locator("s")).to_have_count(1)
        expect(first.get_by_role("button", name="Undo")).to_be_visible()
        states = [(one["fields"]["task"], one["fields"]["state"]) for one in kit.records(page, "task_state")]
        assert states == [(before[0], "done")]
        assert shown(page) == before


def test_a_second_tap_at_once_on_another_task_is_not_taken(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        page.locator("[data-lists]").evaluate(
            "(place) => [...place.querySelectorAll('[data-done]')].slice(0, 2).forEach((button) => button.click())"
        )
        expect(page.locator(".task s")).to_have_count(1)
        assert len(kit.records(page, "task_state")) == 1


def test_a_ticked_row_is_gone_when_the_page_is_opened_anew(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        ticked = page.locator(".task").first.get_attribute("data-task")
        page.locator(".task").first.locator("[data-done]").click()
        expect(page.locator(".task.ticked")).to_have_count(1)
        kit.go(page, "#/trees")
        kit.go(page, "#/due")
        expect(page.locator(f'[data-lists] > div > .sheet:not([data-settled]) [data-task="{ticked}"]')).to_have_count(0)


def test_a_lift_home_has_not_planned_yet_shows_its_first_evening(browser, server):
    with kit.phone(browser, server) as page:
        save = """async ([rec, on]) => {
          const { saveChange } = await import('/static/js/store.js');
          const tree = await saveChange({ rec, type: 'tree', set: { tag: 'K9', species: 'birch', marked_on: on } });
          await saveChange({ type: 'lift', set: { tree, lifted_on: on } });
        }"""
        tree = "0d7b6c1e-8a43-4f0b-9a55-3d0f1f0a1b2c"
        page.evaluate(save, [tree, kit.day()])
        kit.go(page, "#/due")
        tonight = page.locator(f'[data-unplanned="{tree}"]')
        expect(tonight).to_contain_text("The dated plan comes once home has it")
        expect(tonight).to_contain_text("Water in slowly from above until it runs clear from the box")
        expect(tonight.locator("button")).to_have_count(0)
        expect(page.locator("[data-lists] h2").first).to_have_text("Tonight")


@pytest.fixture
def busy(browser, empty_home):
    """The page Due of one birch lifted today, with eight tasks that are late and two that begin today."""
    ground = kit.Ground()
    fresh, old = (
        ground.add("tree", site=ground.site, tag=tag, species="birch", marked_on=kit.day(-90), origin="lifted")
        for tag in ("K1", "K2")
    )
    for tree, lifted_on in ((fresh, kit.day()), (old, kit.day(-80))):
        ground.add("lift", tree=tree, site=ground.site, leave=ground.leave, lifted_on=lifted_on, roots_kept="half")
    evening = [("box", 0, 0), ("water", 0, 0), ("shade", 0, 1), ("label", 0, 1), ("mist", 0, 14)]
    tasks = [
        *((fresh, name, starts, by) for name, starts, by in evening),
        *((old, f"late-{n}", -20, n - 10) for n in range(8)),
        (old, "look", -3, 0),
    ]
    pack_tasks = [
        {"id": f"{tree}:birch:{name}:0", "rec": str(uuid.uuid5(uuid.NAMESPACE_URL, name)), "tree": tree,
         "site": ground.site, "work": "look", "from": kit.day(starts), "by": kit.day(by), "lapses_on": None,
         "text": f"The {name}.", "why": "", "moved_from": None}
        for tree, name, starts, by in tasks
    ]  # fmt: skip
    kit.seed(empty_home, ground)
    with kit.phone(browser, empty_home) as page:
        page.evaluate(
            """async (tasks) => {
              const { getPack, putPack } = await import('/static/js/store.js');
              await putPack('0'.repeat(64), { ...(await getPack()), tasks });
            }""",
            pack_tasks,
        )
        kit.go(page, "#/due")
        yield page


def row(page, name):
    return page.locator(f'[data-lists] [data-task$=":birch:{name}:0"]')


def tick(page, button):
    """Press a button of a row; a tap sooner than 0.6 s after the one before is taken for the shake of a hand."""
    page.wait_for_function("() => performance.now() > (window.lastTick ?? -Infinity) + 700")
    button.click()
    page.evaluate("() => { window.lastTick = performance.now(); }")


def test_a_fresh_lift_comes_first_then_three_of_what_is_late_then_today(busy):
    groups = busy.locator("[data-lists] > div:first-child > [data-group]")
    titles = groups.evaluate_all("(groups) => groups.map((group) => group.querySelector('h2').innerText.trim())")
    assert titles == ["Tonight 2 today, and 2 by tomorrow", "Overdue 8", "Today 1, and 1 with time left"]
    expect(groups.nth(0).locator(".task-text")).to_have_text(["The box.", "The water.", "The shade.", "The label."])
    expect(groups.nth(1).locator(".task-text")).to_have_text(["The late-0.", "The late-1.", "The late-2."])
    expect(groups.nth(2).locator(".task-text")).to_have_text(["The look.", "The mist."])
    groups.nth(1).get_by_role("button", name="Show 5 more").click()
    expect(groups.nth(1).locator(".task")).to_have_count(8)


def test_what_is_overdue_is_one_tap_from_the_top_where_a_fresh_lift_stands_above_it(busy):
    late = busy.locator('[data-group="Overdue"] h2')
    expect(late).not_to_be_in_viewport()
    busy.get_by_role("button", name="See what is overdue").click()
    expect(late).to_be_in_viewport()
    expect(late).to_be_focused()


def test_the_count_of_today_leaves_out_what_has_time_left_and_what_is_struck_through(busy):
    line = busy.locator(".page-head [role=status]")
    expect(line).to_have_text("3 tasks today, 8 overdue, 2 more of tonight by tomorrow")
    tick(busy, row(busy, "box").locator("[data-done]"))
    expect(line).to_have_text("2 tasks today, 8 overdue, 2 more of tonight by tomorrow")
    expect(row(busy, "box").locator("s")).to_have_count(1)  # it keeps its place for a moment
    tick(busy, row(busy, "late-0").locator("[data-skip]"))
    expect(line).to_have_text("2 tasks today, 7 overdue, 2 more of tonight by tomorrow")
    expect(busy.locator('[data-group="Overdue"] h2')).to_have_text("Overdue 7")


def test_a_second_tick_replaces_the_first_notice_and_each_row_keeps_its_undo(busy):
    for n, name in enumerate(("box", "water"), 1):
        tick(busy, row(busy, name).locator("[data-done]"))
        expect(busy.locator(".task.ticked")).to_have_count(n)
    expect(busy.locator(".notice")).to_have_count(1)
    expect(busy.locator(".notice")).to_contain_text("Done: The water, K1.")
    tick(busy, row(busy, "box").get_by_role("button", name="Undo"))
    expect(row(busy, "box").locator("[data-done]")).to_have_count(1)
    expect(row(busy, "water").locator("s")).to_have_count(1)


def test_after_a_tick_the_keyboard_is_on_the_task_below(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        below = page.locator("[data-done]").nth(1).get_attribute("data-done")
        page.locator("[data-done]").first.focus()
        page.keyboard.press("Enter")
        expect(page.locator(f'[data-done="{below}"]')).to_be_focused()


def test_with_no_plan_it_says_so_and_what_to_do(browser, empty_home):
    with kit.phone(browser, empty_home) as page:
        kit.go(page, "#/due")
        expect(page.locator(".empty")).to_contain_text("No task is planned")
        expect(page.locator(".empty a")).to_be_visible()
