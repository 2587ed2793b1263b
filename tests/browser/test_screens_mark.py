"""Mark: the kinds offered first, kinds typed, what May I? hands over, whose site is taken, whose tag it is."""

from __future__ import annotations

import hill_kit as kit
import phone_kit
import pytest
from home_server import RunningServer, wait_for
from playwright.sync_api import Page, expect

NEXT_FIELD = {
    "type": "Polygon",
    "coordinates": [[[-3.30, 55.40], [-3.29, 55.40], [-3.29, 55.405], [-3.30, 55.405], [-3.30, 55.40]]],
}


@pytest.fixture(scope="module")
def ground():
    return kit.Ground(species=["rowan", "larch"])


@pytest.fixture(scope="module")
def server(tmp_path_factory, ground):
    with RunningServer(tmp_path_factory.mktemp("mark") / "data") as running:
        ground.one = ground.add("tree", site=ground.site, tag="K1", species="birch", marked_on=kit.day(-3))
        # Another phone walked this site today.
        ground.walk = ground.add("visit", site=ground.site, visited_on=kit.day(), zone="UTC")
        ground.next_site = ground.add("site", name="Far Hirsel", zone="UTC", boundary=NEXT_FIELD)
        ground.ended = ground.add(
            "leave", site=ground.site, starts_on=kit.day(-90), ends_on=kit.day(-1), species=["yew"], form="signed"
        )
        kit.seed(running, ground)
        yield running


def draft(page: Page, key: str) -> object:
    return page.evaluate("async (key) => (await import('/static/js/store.js')).getDraft(key)", key)


def put_draft(page: Page, key: str, value: object) -> None:
    page.evaluate("async ([key, value]) => (await import('/static/js/store.js')).saveDraft(key, value)", [key, value])


def save_tree(page: Page) -> None:
    page.get_by_role("button", name="Save tree").click()
    expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()


def marked_today(page: Page) -> list[dict[str, object]]:
    return [one["fields"] for one in kit.records(page, "tree") if one["fields"]["marked_on"] == kit.day()]


def ago(page: Page, minutes: int) -> str:
    """Return an instant before now by the page's own clock."""
    return page.evaluate("(minutes) => new Date(Date.now() - minutes * 60000).toISOString()", minutes)


# --- kinds -----------------------------------------------------------------------------------------------------------


def first_kinds(page: Page) -> list[str]:
    return page.locator("fieldset", has_text="Kind").first.locator(".chip").all_inner_texts()


def test_the_kinds_its_leaves_name_come_first_then_those_marked_here(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-site-line]")).to_have_text("On Kettle Brae")
        wait_for(lambda: first_kinds(page)[:3] == ["rowan", "larch", "birch"], "the kinds of the leave are not first")
        assert "yew" not in first_kinds(page)  # its leave has ended


def test_the_kinds_stay_where_they_are_once_a_finger_was_among_them(browser, server):
    with kit.phone(browser, server, where=None) as page:
        kit.go(page, "#/mark")
        before = first_kinds(page)
        page.get_by_label("not known").dispatch_event("pointerdown")
        page.get_by_label("Site").select_option(label="Kettle Brae")
        expect(page.locator("[data-site-line]")).to_contain_text("Kettle Brae, chosen by you")
        assert first_kinds(page) == before


def test_a_kind_without_a_card_is_typed_kept_and_offered_the_next_time(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_text("More kinds, or type one").click()
        page.get_by_label("Another kind").fill("Silver fir")
        save_tree(page)
        expect(page.locator(".sheet")).to_contain_text("silver fir")
        expect(page.locator("[data-card]")).to_contain_text("No species card is kept for silver fir")
        assert [tree["species"] for tree in marked_today(page)] == ["silver-fir"]
        page.get_by_role("button", name="Mark another").click()
        wait_for(lambda: "silver fir" in first_kinds(page), "what was typed is not offered")


@pytest.mark.parametrize("typed", ["Scots pine", "scots  PINE", "Pinus sylvestris", "scots-pine"])
def test_a_kind_that_has_a_card_is_known_by_any_of_its_names(browser, server, typed):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_text("More kinds, or type one").click()
        page.get_by_label("Another kind").fill(typed)
        save_tree(page)
        assert [tree["species"] for tree in marked_today(page)] == ["scots-pine"]


@pytest.mark.parametrize(
    ("typed", "words"), [("12", "write its name in letters"), ("Default", "“Default” is no kind. Write its name.")]
)
def test_what_is_no_name_of_a_kind_is_refused(browser, server, typed, words):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_text("More kinds, or type one").click()
        page.get_by_label("Another kind").fill(typed)
        page.get_by_role("button", name="Save tree").click()
        expect(page.locator(".fault:visible")).to_contain_text(words)
        assert marked_today(page) == []


def test_of_chip_and_typed_kind_the_one_touched_last_counts(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_label("birch", exact=True).check()
        page.get_by_text("More kinds, or type one").click()
        page.get_by_label("Another kind").fill("silver fir")
        expect(page.locator('[name="species"]:checked')).to_have_count(0)
        page.get_by_label("Another kind").fill("")
        expect(page.get_by_label("not known")).to_be_checked()
        page.get_by_label("Another kind").fill("silver fir")
        wait_for(lambda: (draft(page, "mark") or {}).get("species_typed") == "silver fir", "the draft is not kept")
        page.reload()
        expect(page.get_by_label("Another kind")).to_have_value("silver fir")
        expect(page.locator('[name="species"]:checked')).to_have_count(0)
        page.get_by_label("birch", exact=True).check()
        expect(page.get_by_label("Another kind")).to_have_value("")
        save_tree(page)
        assert [tree["species"] for tree in marked_today(page)] == ["birch"]


# --- from May I? -----------------------------------------------------------------------------------------------------

SLOT = "mark-from-may-i"


def test_what_may_i_was_asked_about_is_filled_in_once(browser, server):
    with kit.phone(browser, server) as page:
        put_draft(page, SLOT, {"species": "larch", "girth_cm": 31.5, "at": ago(page, 59)})
        kit.go(page, "#/mark")
        expect(page.get_by_label("larch", exact=True)).to_be_checked()
        expect(page.get_by_label("Girth cm")).to_have_value("31.5")
        assert draft(page, SLOT) is None
        page.reload()  # it is in Mark's own draft now
        expect(page.get_by_label("Girth cm")).to_have_value("31.5")


@pytest.mark.parametrize("minutes", [61, 24 * 60])
def test_an_hour_later_it_is_not(browser, server, minutes):
    with kit.phone(browser, server) as page:
        put_draft(page, SLOT, {"species": "larch", "girth_cm": 31.5, "at": ago(page, minutes)})
        kit.go(page, "#/mark")
        expect(page.get_by_label("not known")).to_be_checked()
        expect(page.get_by_label("Girth cm")).to_have_value("")
        assert draft(page, SLOT) is None


def test_a_tree_half_marked_is_not_overwritten_by_it(browser, server):
    with kit.phone(browser, server) as page:
        put_draft(page, "mark", {"species": "birch", "note": "by the burn"})
        put_draft(page, SLOT, {"species": "larch", "girth_cm": 31.5, "at": ago(page, 1)})
        kit.go(page, "#/mark")
        expect(page.get_by_label("birch", exact=True)).to_be_checked()
        expect(page.get_by_label("Girth cm")).to_have_value("")
        expect(page.get_by_role("textbox", name="Note")).to_have_value("by the burn")


def test_mark_a_tree_here_takes_kind_and_girth_along(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/may-i")
        page.locator('#question [name="species"][value=\'"birch"\']').check()
        page.locator('[name="girth_cm"]').fill("28")
        page.get_by_role("button", name="Mark a tree here").click()
        expect(page.get_by_role("heading", name="Mark a tree")).to_be_visible()
        expect(page.get_by_label("birch", exact=True)).to_be_checked()
        expect(page.get_by_label("Girth cm")).to_have_value("28")


# --- the site and the tag --------------------------------------------------------------------------------------------


def test_where_another_phone_walked_today_is_not_taken_for_where_this_one_is(browser, server):
    with kit.phone(browser, server, where=None) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-site-line]")).to_have_text("Site: known once the position is")
        save_tree(page)
        assert [tree["site"] for tree in marked_today(page)] == [None]


def test_without_a_position_the_site_marked_last_on_this_phone_is_taken(browser, server, ground):
    with kit.phone(browser, server, where=None) as page:
        for name in ("Kettle Brae", "Far Hirsel"):
            kit.go(page, "#/mark")
            page.get_by_label("Site").select_option(label=name)
            save_tree(page)
            page.get_by_role("button", name="Mark another").click()
        expect(page.locator("[data-site-line]")).to_have_text("On Far Hirsel, as last marked today")
        save_tree(page)
        sites = [tree["site"] for tree in marked_today(page)]
        assert sorted(sites) == sorted([ground.site, ground.next_site, ground.next_site])
        # A walk that another phone began is shared by day and site, and says nothing of where this one goes.
        assert [one["id"] for one in kit.records(page, "visit") if one["fields"]["site"] == ground.site] == [
            ground.walk
        ]


def test_a_tag_that_another_tree_has_is_refused_and_it_is_said_whose(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_label("Tag").fill("k1")
        said = "Tag: K1 is taken by the birch on Kettle Brae. Give this tree another."
        expect(page.locator(".fault:visible")).to_have_text(said)  # before anything is saved
        page.get_by_role("button", name="Save tree").click()
        expect(page.get_by_label("Tag")).to_be_focused()
        expect(page.locator(".fault:visible")).to_have_text(said)
        assert marked_today(page) == []
        page.get_by_label("Tag").fill("K7")
        save_tree(page)
        assert [tree["tag"] for tree in marked_today(page)] == ["K7"]


def test_a_proposed_tag_that_was_taken_meanwhile_gives_way_by_itself(browser, server, ground):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        expect(page.get_by_label("Tag")).to_have_value("K2")
        phone_kit.save(page, {"type": "tree", "set": {"tag": "K2", "site": ground.site, "marked_on": kit.day(-1)}})
        save_tree(page)
        assert [tree["tag"] for tree in marked_today(page)] == ["K3"]


def test_a_tag_of_seventeen_signs_is_too_long(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_label("Tag").fill("K" * 17)
        page.get_by_role("button", name="Save tree").click()
        expect(page.locator(".fault:visible")).to_contain_text("At most 16 fit")


def test_a_photo_is_told_by_its_picture_and_out_of_its_sight_by_a_notice_with_a_way_back(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.locator('input[name="photo"]').set_input_files(kit.a_photo())
        expect(page.locator(".mark figure img")).to_have_count(1)
        wait_for(lambda: draft(page, "mark-photos"), "the photo is not in the draft")
        expect(page.locator(".notice")).to_have_count(0)
        page.set_viewport_size({"width": 390, "height": 480})
        page.locator(".mark [data-photos]").evaluate("strip => scrollBy(0, strip.getBoundingClientRect().bottom + 200)")
        page.locator('input[name="photo"]').set_input_files(kit.a_photo("brown"))
        expect(page.locator(".notice")).to_contain_text("Photo taken: 2 photos in this form.")
        page.get_by_role("button", name="Undo the photo").click()
        expect(page.locator(".mark figure img")).to_have_count(1)
        wait_for(lambda: len(draft(page, "mark-photos")) == 1, "the photo is still in the draft")


def test_a_photo_taken_out_and_a_draft_put_away_can_be_had_back(browser, server):
    with kit.phone(browser, server) as page:
        put_draft(page, "mark", {"species": "birch", "note": "by the burn"})
        kit.go(page, "#/mark")
        page.locator('input[name="photo"]').set_input_files(kit.a_photo())
        photos = page.locator(".mark figure")
        expect(photos).to_have_count(1)
        page.get_by_role("button", name="Take photo 1 out").click()
        expect(photos).to_have_count(0)
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(photos).to_have_count(1)
        page.get_by_role("button", name="Put this draft away").click()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("")
        page.locator(".notice", has_text="put away").get_by_role("button", name="Undo").click()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("by the burn")
        expect(photos).to_have_count(1)
        assert draft(page, "mark")["note"] == "by the burn"


# --- what is saved ---------------------------------------------------------------------------------------------------


def test_a_tree_of_which_nothing_is_noted_is_said_to_be_so_and_can_be_gone_on_with(browser, server):
    with kit.phone(browser, server, where=None) as page:
        kit.go(page, "#/mark")
        expect(page.locator("[data-position]")).to_contain_text("not allowed")
        save_tree(page)
        expect(page.locator("[data-bare]")).to_have_text("Nothing is noted of this tree but its tag.")
        expect(page.locator(".done-page .sheet")).to_contain_text("Position is switched off for Fellside")
        page.get_by_role("link", name="Note what it is").click()
        expect(page.locator("#tree-edit")).to_be_visible()
        page.locator("#tree-edit").get_by_role("button", name="Leave it as it was").click()
        page.reload()
        expect(page.get_by_role("button", name="Change")).to_be_visible()


@pytest.mark.parametrize("what", ["place", "kind", "note"])
def test_with_a_place_a_kind_or_a_note_it_is_not(browser, server, what):
    with kit.phone(browser, server, where=kit.INSIDE if what == "place" else None) as page:
        kit.go(page, "#/mark")
        if what == "place":
            expect(page.locator("[data-site-line]")).to_have_text("On Kettle Brae")
        elif what == "kind":
            page.get_by_label("birch", exact=True).check()
        else:
            page.get_by_role("textbox", name="Note").fill("by the burn")
        save_tree(page)
        expect(page.get_by_role("link", name="Open the tree")).to_be_visible()
        expect(page.locator("[data-bare]")).to_have_count(0)


def test_the_place_mark_leads_on_to_the_next_tree(browser, server):
    with kit.phone(browser, server) as page:
        kit.go(page, "#/mark")
        page.get_by_role("textbox", name="Note").fill("by the burn")
        save_tree(page)
        page.locator("#nav").get_by_role("link", name="Mark").click()
        expect(page.get_by_role("heading", name="Mark a tree")).to_be_focused()
        expect(page.get_by_role("textbox", name="Note")).to_have_value("")
        page.get_by_role("textbox", name="Note").fill("a second one")
        page.locator("#nav").get_by_role("link", name="Mark").click()  # what is being typed stays
        expect(page.get_by_role("textbox", name="Note")).to_have_value("a second one")


@pytest.mark.parametrize("viewport", [kit.PHONE, kit.DESK])
def test_what_comes_next_stands_at_the_bottom_of_the_saved_page(browser, server, viewport):
    with kit.phone(browser, server, viewport=viewport) as page:
        kit.go(page, "#/mark")
        save_tree(page)
        bar = page.locator(".done-page .actions").bounding_box()
        nav = page.locator("#nav").bounding_box()
        bottom = nav["y"] if viewport is kit.PHONE else viewport["height"]
        assert abs(bar["y"] + bar["height"] - bottom) <= 24


# --- the pure parts --------------------------------------------------------------------------------------------------


def stamped(record: dict[str, object], ms: int, device: str) -> dict[str, object]:
    return {"fields": record, "stamps": {name: [f"{ms:012x}-0000-{device}"] for name in record}}


@pytest.mark.parametrize(
    ("trees", "visits", "want"),
    [
        ([], [], None),
        ([], [("a", "2026-05-01", 1, "me")], "a"),
        ([], [("a", "2026-05-01", 1, "other")], None),
        ([], [("a", "2026-04-30", 1, "me")], None),  # yesterday's walk
        ([("b", "2026-05-01", 3, "me")], [("a", "2026-05-01", 2, "me")], "b"),
        ([("b", "2026-05-01", 1, "me")], [("a", "2026-05-01", 2, "me")], "a"),
        ([(None, "2026-05-01", 3, "me")], [("a", "2026-05-01", 2, "me")], None),  # the last mark was on no site
        ([("b", "2026-05-01", 3, "other")], [("a", "2026-05-01", 2, "me")], "a"),
    ],
)
def test_the_site_of_the_last_mark_is_that_of_this_phone_and_day(blank, trees, visits, want):
    day = {
        "trees": [stamped({"site": site, "marked_on": on}, ms, dev) for site, on, ms, dev in trees],
        "visits": [stamped({"site": site, "visited_on": on}, ms, dev) for site, on, ms, dev in visits],
        "on": "2026-05-01",
        "device": "me",
    }
    assert phone_kit.call(blank, "hill/ground_facts", "siteOfLastMark", day) == want


@pytest.mark.parametrize(
    ("leave", "want"),
    [
        ({"species": ["Birch ", "larch"]}, ["birch", "larch"]),
        ({"species": ["birch"], "ends_on": "2026-05-01"}, ["birch"]),  # its last day still counts
        ({"species": ["birch"], "ends_on": "2026-04-30"}, []),
        ({"species": ["birch"], "withdrawn_on": "2026-05-01"}, []),  # from that very day on
        ({"species": ["birch"], "withdrawn_on": "2026-05-02"}, ["birch"]),
        ({"species": ["birch"], "starts_on": "2026-06-01"}, ["birch"]),  # trees are marked before it begins
        ({"species": None}, []),
        ({"species": ["birch"], "site": "there"}, []),
    ],
)
def test_kinds_of_leaves_are_those_of_this_ground_that_still_stand(blank, leave, want):
    leaves = [{"fields": {"site": "here", **leave}}]
    assert phone_kit.call(blank, "hill/ground_facts", "kindsOfLeaves", leaves, "here", "2026-05-01") == want


@pytest.mark.parametrize(
    ("task", "want"),
    [
        ({"from": "2026-04-01", "by": "2026-04-30"}, "overdue: look at K1."),
        ({"from": "2026-04-01", "by": "2026-05-01"}, "today: look at K1."),
        ({"from": "2026-04-01", "by": "2026-05-02"}, "by 2 May: look at K1."),
        ({"from": "2026-05-02", "by": "2026-05-09"}, "from 2 May: look at K1."),
        ({"from": "2027-04-02", "by": "2027-05-09"}, "from 2 Apr 2027: look at K1."),
        ({"from": "2026-04-01", "by": None}, "open: look at K1."),
        ({"from": "2026-05-02", "by": "2026-05-09", "id": "t:lift-window:2026"}, "safe to lift from 2 May to 9 May"),
    ],
)
def test_a_task_in_one_line_has_its_date_first(blank, task, want):
    assert phone_kit.call(blank, "ui/tree_sheets", "dueShort", {"text": "Look at K1.", **task}, "2026-05-01") == want


def test_the_next_task_of_a_tree_is_the_nearest_that_is_neither_settled_nor_over(blank):
    task = {"tree": "t", "from": "2026-04-01"}
    tasks = [
        {**task, "rec": "late", "by": "2026-06-01"},
        {**task, "rec": "done", "by": "2026-05-02"},
        {**task, "rec": "over", "by": "2026-04-02", "lapses_on": "2026-04-30"},
        {**task, "rec": "near", "by": "2026-05-20", "lapses_on": "2026-05-01"},  # its last day still counts
    ]
    script = """async ([tasks, states]) => {
      const { nextTasks } = await import('/static/js/hill/tree_facts.js');
      return nextTasks(tasks, states, '2026-05-01').get('t').rec;
    }"""
    assert blank.evaluate(script, [tasks, [{"id": "done", "fields": {"state": "done"}}]]) == "near"
