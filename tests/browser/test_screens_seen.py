"""One event noted for many trees: tapped, saved and undone once, kept while half done, seen beside other years."""

from __future__ import annotations

import hill_kit as kit
import pytest
from home_server import RunningServer
from playwright.sync_api import Page, expect


@pytest.fixture(scope="module")
def ground():
    return kit.Ground()


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("seen") / "data") as running:
        birch = {"site": ground.site, "species": "birch"}
        ground.trees = [ground.add("tree", tag=tag, **birch) for tag in ("K1", "K2", "K3")]
        ground.thorn = ground.add("tree", tag="H1", site=ground.site, species="hawthorn")
        ground.dead = ground.add("tree", tag="K9", ended_as="lost", ended_on=kit.day(-9), **birch)
        ground.add("event", tree=ground.trees[0], site=ground.site, kind="bud_swell", happened_on=kit.day(-366))
        ground.add("event", tree=ground.trees[1], site=ground.site, kind="bud_swell", happened_on=kit.day())
        ground.yard = ground.add("garden", name="The back yard", is_main=True)
        kit.seed(running, ground)
        yield running


def noted(page: Page, kind: str) -> list[tuple[str, str]]:
    return sorted(
        (one["fields"]["tree"], one["fields"]["happened_on"])
        for one in kit.records(page, "event")
        if one["fields"]["kind"] == kind and not one["fields"].get("deleted")
    )


def test_an_event_is_noted_for_all_of_a_kind_in_one_go_and_taken_back_in_one(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/trees")
        page.get_by_text("Seasons, gardens, weather, boxes, wire").click()
        page.get_by_role("link", name="What do they show?").click()
        page.locator(".chip", has_text="Green showing").click()
        page.get_by_role("button", name="All of").first.click()
        expect(page.get_by_role("button", name="Note it for 3 trees")).to_be_visible()
        page.get_by_role("button", name="Note it for 3 trees").click()
        expect(page.locator(".notice")).to_contain_text("3 trees: green showing")
        assert noted(page, "bud_break") == sorted((tree, kit.day()) for tree in ground.trees)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        kit.wait_until(
            page,
            "async () => (await (await import('/static/js/store.js')).listRecords('event'))"
            ".every(({ fields }) => fields.kind !== 'bud_break')",
        )
        expect(page.locator(".notice")).to_contain_text("Undone")
        kit.wait_until(page, "() => document.getAnimations().length === 0")  # a notice half risen is half see-through
        assert kit.hindrances(page) == []


def test_other_years_stand_beside_and_what_is_noted_already_comes_last(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        page.locator(".chip", has_text="Buds swelling").click()
        lines = page.locator("section", has_text="birch").locator("li").all_inner_texts()
        assert [line.split()[0] for line in lines] == ["K1", "K3", "K2"]
        assert lines[0].split()[1] == f"{kit.day(-366)[:4]}:"
        assert "noted already" in lines[2]
        assert "the first counts" in lines[2]
        assert not any("K9" in line for line in page.locator("li").all_inner_texts())


def test_what_was_tapped_outlives_the_page_and_nothing_is_saved_without_a_tree(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        page.locator(".chip", has_text="Bare").click()
        page.locator("form").get_by_role("button", name="Tap the trees first").click()
        expect(page.locator(".notice")).to_contain_text("Tap the trees")
        page.locator("label", has_text="H1").click()
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        page.reload()
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        page.locator('[name="happened_on"]').fill(kit.day(3))
        page.reload()
        expect(page.locator('[name="happened_on"]')).to_have_value(kit.day(3))
        expect(page.locator(".chip", has_text="Bare").locator("input")).to_be_checked()
        page.get_by_role("button", name="Note it for 1 tree").click()
        assert noted(page, "leaf_fall") == []
        page.locator('[name="happened_on"]').fill(kit.day(-1))
        page.get_by_role("button", name="Note it for 1 tree").click()
        expect(page.locator(".notice", has_text="1 tree: bare")).to_be_visible()
        assert noted(page, "leaf_fall") == [(ground.thorn, kit.day(-1))]


def test_what_was_tapped_is_not_lost_to_another_window_that_hears_of_a_change(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        other = page.context.new_page()
        other.goto(f"{server.url}/#/seen")
        other.locator(".chip", has_text="Buds swelling").click()
        expect(other.locator("label", has_text="H1")).to_be_visible()
        page.locator(".chip", has_text="Bare").click()
        page.locator("label", has_text="H1").click()
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        kit.go(page, "#/ground")
        other.evaluate(
            """async (tree) => {
              const store = await import('/static/js/store.js');
              const set = { tree, kind: 'bud_swell', happened_on: '2020-04-01' };
              await store.saveChange({ rec: store.newId(), type: 'event', set });
            }""",
            ground.thorn,
        )
        expect(other.locator("label", has_text="H1")).to_contain_text("2020: 1 Apr")
        other.evaluate("async () => (await import('/static/js/store.js')).getDraft('seen')")
        other.close()
        kit.go(page, "#/seen")
        expect(page.get_by_role("button", name="Note it for 1 tree")).to_be_visible()
        expect(page.locator("label", has_text="H1").locator("input")).to_be_checked()


def test_first_frost_is_noted_for_the_garden_from_due_with_no_signal(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/due")
        page.get_by_role("link", name="What do they show today?").click()
        page.locator(".chip", has_text="First frost").click()
        expect(page.locator(".terms li")).to_contain_text(["The back yard", "Kettle Brae"])
        page.locator("label", has_text="The back yard").click()
        page.get_by_role("button", name="Note it for 1 place").click()
        expect(page.locator(".notice")).to_contain_text("1 place: first frost")
        page.reload()
        (frost,) = [one["fields"] for one in kit.records(page, "event") if one["fields"]["kind"] == "frost"]
        assert (frost.get("tree"), frost["site"], frost["happened_on"]) == (None, ground.yard, kit.day())
        expect(page.get_by_role("link", name="Due").first).to_have_attribute("href", "#/due")


def test_a_photo_goes_with_one_tree_and_outlives_the_page_until_it_is_saved(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, "#/seen")
        page.locator(".chip", has_text="Leaf colour").click()
        page.locator("label", has_text="K1").click()
        page.locator("input[type=file]").set_input_files(kit.a_photo("red"))
        expect(page.locator("[data-shot] img")).to_be_visible()
        page.reload()
        expect(page.locator("[data-shot] img")).to_be_visible()
        page.locator("label", has_text="K3").click()
        page.get_by_role("button", name="Note it for 2 trees").click()
        expect(page.locator(".notice")).to_contain_text("The photo goes with one tree")
        assert noted(page, "leaf_colour") == []
        page.locator("label", has_text="K3").click()
        page.get_by_role("button", name="Note it for 1 tree").click()
        expect(page.locator(".notice", has_text="with its photo")).to_be_visible()
        (event,) = [one for one in kit.records(page, "event") if one["fields"]["kind"] == "leaf_colour"]
        (photo,) = kit.records(page, "photo")
        assert (photo["fields"]["event"], photo["fields"]["tree"]) == (event["id"], ground.trees[0])
        expect(page.locator("[data-shot]")).to_have_count(0)


def test_kinds_that_are_expected_come_first_and_gardens_in_them_and_of_two_sightings_it_is_said_which_counts(
    blank,
) -> None:
    def card(event: str, day: str) -> dict[str, object]:
        return {"events": {event: [{"usual": day, "from": day, "until": day}]}}

    names = {"y": "The yard", "b": "Kettle Brae"}
    facts = {
        "pack": {
            "species": [
                {"kind": "birch", "name": "Birch"},
                {"kind": "oak", "name": "Oak"},
                {"kind": "pine", "name": "Pine"},
            ],
            "ask": {
                "at": {"y": {"birch": card("bud_break", "2026-04-08"), "pine": {"events": {}}}},
                "anywhere": {"birch": card("bud_break", "2026-04-20"), "oak": card("bud_break", "2026-05-15")},
            },
        },
        "rows": [
            {"id": "a", "tag": "A", "kind": "pine", "place": "y"},
            {"id": "c", "tag": "C", "kind": "oak", "place": "y"},
            {"id": "d", "tag": "D", "kind": "birch", "place": "b"},
            {"id": "e", "tag": "E", "kind": "birch", "place": "y"},
            {"id": "f", "tag": "F", "kind": "birch", "place": "y"},
        ],
        "events": [
            {"tree": "e", "kind": "bud_break", "happened_on": day}
            for day in ("2026-04-06", "2026-04-02", "2025-04-14", "2025-04-11", "2025-04-20", "2024-04-09")
        ],
        "gardens": ["y"],
    }
    told = blank.evaluate(
        """async ([facts, names]) => {
          const { groupsFor, notedWords, yearsWords } = await import('/static/js/hill/sightings.js');
          const groups = groupsFor({ ...facts, places: new Map(Object.entries(names)) }, 'bud_break', '2026-04-10');
          const line = (row) => [row.name, notedWords('bud_break', row), yearsWords(row.before)];
          const at = ({ name, words, about, rows }) => [name, words, about, rows.map(line)];
          return groups.map(({ name, places }) => [name, places.map(at)]);
        }""",
        [facts, names],
    )
    seen = ["E", "noted 2 Apr and 6 Apr: 2 Apr counts, the first", "2025: 11 Apr, 2024: 9 Apr"]
    assert told == [
        [
            "Birch",
            [
                ["The yard", "expected about 8 Apr", True, [["F", None, ""], seen]],
                ["Kettle Brae", "expected about 20 Apr", True, [["D", None, ""]]],
            ],
        ],
        ["Oak", [["The yard", "expected about 15 May", False, [["C", None, ""]]]]],
        ["Pine", [["The yard", "this kind keeps its leaves: seldom seen on it", False, [["A", None, ""]]]]],
    ]
