"""The deciding parts of the hill's screens, in a real Chromium, without a server."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from phone_kit import call

from field.core import care
from field.core.site_task import TO_TELL

HERE = Path(__file__).resolve().parent
STAGES = json.loads((HERE.parent / "vectors" / "stage.json").read_text(encoding="utf-8"))["cases"]
LIFT_TERMS = json.loads((HERE.parent / "vectors" / "lift_terms.json").read_text(encoding="utf-8"))
FILES = HERE.parent / "files" / "exif"


@pytest.mark.parametrize("case", STAGES, ids=[case["name"] for case in STAGES])
def test_the_phone_tells_the_stage_as_home_does(blank, case):
    assert call(blank, "core/stage", "stage", case["tree"], case["lifts"], case["today"], None) == case["expect"]
    assert care.stage(case["tree"], case["lifts"], case["today"]) == case["expect"]


def test_the_phone_finds_the_terms_of_a_lift_as_home_does(blank):
    script = """async (cases) => {
      const { isHoleOpen, termsNotTicked, termsOfLift } = await import('/static/js/core/lift_terms.js');
      return cases.map(({ lift, leave_id, leave }) => [
        termsOfLift(lift, leave_id, leave), termsNotTicked(lift, leave_id, leave), isHoleOpen(lift)]);
    }"""
    want = [[case["terms"], case["not_ticked"], case["hole_open"]] for case in LIFT_TERMS]
    assert blank.evaluate(script, LIFT_TERMS) == want


def test_the_kind_s_own_years_set_when_work_begins(blank):
    lifts = [{"id": "a", "lifted_on": "2021-11-26"}]
    assert call(blank, "core/stage", "stage", {}, lifts, "2026-11-25", 5) == "gaining"
    assert call(blank, "core/stage", "stage", {}, lifts, "2026-11-26", 5) == "working"


def tree(tag: str | None, **fields: object) -> dict[str, object]:
    return {"id": str(tag), "fields": {"tag": tag, **fields}}


@pytest.mark.parametrize(
    ("tags", "site", "want"),
    [
        ([], "Kettle Brae", "K1"),
        (["K1", "K9", "K10"], "Kettle Brae", "K11"),
        (["k2"], "Kettle Brae", "K3"),
        (["B7", None, "old one"], "Kettle Brae", "K1"),
        ([], "Årdal", "A1"),
        ([], None, "T1"),
        ([], "1200 m", "M1"),
    ],
)
def test_the_tag_proposed_is_the_site_s_letter_and_the_next_number(blank, tags, site, want):
    place = None if site is None else {"id": "s", "fields": {"name": site}}
    assert call(blank, "hill/ground_facts", "proposeTag", [tree(tag) for tag in tags], place) == want


def test_kinds_marked_latest_on_this_site_are_offered_first(blank):
    trees = [
        tree("1", species="larch", site="here", marked_on="2026-01-01"),
        tree("2", species="birch", site="here", marked_on="2026-05-01"),
        tree("3", species="yew", site="there", marked_on="2026-06-01"),
    ]
    pack = {
        "species": [
            {"kind": "default", "name": "Any"},
            {"kind": "alder", "name": "Alder"},
            {"kind": "birch", "name": "Birch"},
        ]
    }
    assert call(blank, "hill/ground_facts", "recentKinds", trees, "here", pack) == ["birch", "larch", "yew", "alder"]


def fix_record(name, lat, accuracy_m):
    return {"id": name, "fields": {"lat": lat, "lon": 1, "accuracy_m": accuracy_m}}


def test_a_tree_stands_at_the_mean_of_its_fixes_and_those_without_a_position_say_nothing(blank):
    """Two fixes as sure as each other: the middle, by 1 / accuracy²; 6 / √2 = 4.243 m, not below half of 6 m."""
    fixes = [fix_record("a", 1.0, 6), fix_record("b", 1.00004, 6), fix_record("c", None, 1)]
    place = call(blank, "hill/tree_place", "treePlace", fixes)
    assert (place["lat"], place["lon"]) == (pytest.approx(1.00002, abs=1e-9), 1)
    assert place["accuracy_m"] == pytest.approx(4.2426, abs=0.001)
    assert call(blank, "hill/tree_place", "treePlace", fixes[:1]) == {"lat": 1, "lon": 1, "accuracy_m": 6}
    assert call(blank, "hill/tree_place", "treePlace", fixes[2:]) is None


def test_where_two_fixes_contradict_each_other_the_accuracy_reaches_both(blank):
    """0.001° of latitude at the equator are 110.6 m : each lies 55.3 m from the middle, though both say ± 5 m."""
    place = call(blank, "hill/tree_place", "treePlace", [fix_record("a", 1.0, 5), fix_record("b", 1.001, 5)])
    assert place["lat"] == pytest.approx(1.0005, abs=1e-9)
    assert place["accuracy_m"] == pytest.approx(55.3, abs=0.1)


@pytest.mark.parametrize(
    ("task", "want"),
    [
        ({"from": "2026-11-01", "by": "2026-11-24"}, "overdue"),
        ({"from": "2026-11-01", "by": "2026-11-25"}, "today"),  # the last day still counts
        ({"from": "2026-11-25", "by": "2026-12-20"}, "today"),  # so does the first
        ({"from": "2026-11-01", "by": "2026-12-02"}, "days"),
        ({"from": "2026-11-01", "by": "2026-12-03"}, "open"),
        ({"from": "2026-12-02", "by": "2026-12-20"}, "days"),
        ({"from": "2026-12-03", "by": "2026-12-20"}, "second"),
        ({"from": "2026-12-09", "by": "2026-12-20"}, "second"),
        ({"from": "2026-12-10", "by": "2026-12-20"}, "later"),
        ({"from": "2027-01-24", "by": "2027-02-20"}, "later"),
        ({"from": "2027-01-25", "by": "2027-02-20"}, "far"),
        ({"from": "2026-11-01", "by": "2026-11-20", "lapses_on": None}, "overdue"),
        ({"from": "2026-11-01", "by": "2026-11-20", "lapses_on": "2026-11-25"}, "overdue"),
        ({"from": "2026-11-01", "by": "2026-11-25", "lapses_on": "2026-11-25"}, "today"),
    ],
)
def test_tasks_stand_under_the_time_they_are_due(blank, task, want):
    script = """async (task) => {
      const { groupTasks } = await import('/static/js/screens/due_groups.js');
      const groups = groupTasks([{ rec: 'r', ...task }], new Map(), '2026-11-25');
      return Object.keys(groups).filter((name) => groups[name].length > 0);
    }"""
    assert blank.evaluate(script, task) == [want]


@pytest.mark.parametrize(("state", "want"), [(None, []), ("done", ["settled"])])
def test_advice_whose_time_is_over_stands_nowhere_unless_it_was_settled(blank, state, want):
    script = """async (state) => {
      const { groupTasks } = await import('/static/js/screens/due_groups.js');
      const task = { rec: 'r', from: '2026-11-01', by: '2026-11-24', lapses_on: '2026-11-24' };
      const groups = groupTasks([task], new Map([['r', { state }]]), '2026-11-25');
      return Object.keys(groups).filter((name) => groups[name].length > 0);
    }"""
    assert blank.evaluate(script, state) == want


@pytest.mark.parametrize(("lapses_on", "want"), [(None, 1), ("2026-11-25", 1), ("2026-11-24", 0)])
def test_the_page_of_a_tree_leaves_out_advice_whose_time_is_over(blank, lapses_on, want):
    script = """async (lapses_on) => {
      const { openTasks } = await import('/static/js/hill/tree_facts.js');
      return openTasks([{ rec: 'r', from: '2026-11-01', by: '2026-11-24', lapses_on }], new Map(), '2026-11-25').length;
    }"""
    assert blank.evaluate(script, lapses_on) == want


def test_a_fresh_lift_stands_above_what_else_is_for_today(blank):
    script = """async () => {
      const { freshTrees, groupTasks } = await import('/static/js/screens/due_groups.js');
      const days = [['old', '2026-11-23'], ['new', '2026-11-24']];
      const lifts = days.map(([tree, lifted_on]) => ({ fields: { tree, lifted_on } }));
      const task = (rec, tree, by) => ({ rec, tree, from: '2026-11-24', by });
      const tasks = [
        task('a', 'old', '2026-11-25'), task('b', 'new', '2026-11-26'), task('c', 'old', '2026-11-26'),
        task('d', 'new', '2026-11-24'), task('e', 'old', '2026-11-24'), task('f', 'new', '2026-11-27'),
      ];
      const groups = groupTasks(tasks, new Map(), '2026-11-25', { fresh: freshTrees(lifts, '2026-11-25') });
      const recs = (some) => some.map((one) => one.rec);
      const top = Object.keys(groups).filter((name) => name !== 'days' && groups[name].length > 0);
      return [top.map((name) => [name, recs(groups[name])]), groups.days.map((day) => [day.on, recs(day.tasks)])];
    }"""
    # lifted yesterday: what was to be done that evening or is by tomorrow; then what is late; then today
    top = [["tonight", ["d", "b"]], ["overdue", ["e"]], ["today", ["a"]]]
    assert blank.evaluate(script) == [top, [["2026-11-26", ["c"]], ["2026-11-27", ["f"]]]]


def test_what_a_landholder_is_owed_stands_above_a_fresh_lift_however_late(blank):
    script = """async () => {
      const { groupTasks } = await import('/static/js/screens/due_groups.js');
      const task = (id, by, from = '2026-11-20') => ({ id, rec: id, tree: null, site: 's', from, by });
      const tasks = [
        { id: 't:birch:box:0', rec: 'box', tree: 't', site: 's', from: '2026-11-25', by: '2026-11-25' },
        task('site:s:terms:l:2026-11-24-2', '2026-11-25'), task('site:s:over:l:4-of-3', '2026-11-25'),
        task('site:s:kinds:l:2026-11-10-1', '2026-11-20'), task('site:s:writing:l', '2026-11-20'),
        task('site:s:report:l:2026-11-11-1', '2026-11-25', '2026-11-11'),
        { id: 't:birch:look:0', rec: 'look', tree: 'u', site: 's', from: '2026-11-25', by: '2026-11-25' },
        task('site:s:report:l:2026-11-25-1', '2026-12-09', '2026-11-25'),
        task('site:s:girth:l:2026-11-28-1', '2026-11-28', '2026-11-28'),
      ];
      const groups = groupTasks(tasks, new Map(), '2026-11-25', { fresh: new Set(['t']) });
      return ['owed', 'tonight', 'overdue', 'today'].map((name) => groups[name].map((one) => one.id.split(':')[2]));
    }"""
    assert blank.evaluate(script) == [["kinds", "over", "terms", "report"], ["box"], ["writing"], ["report", "look"]]


def test_the_phone_knows_what_is_to_be_told_as_home_does(blank):
    script = """async (whats) => {
      const { owedRank } = await import('/static/js/hill/site_tasks.js');
      return whats.filter((what) => owedRank({ id: `site:s:${what}:l:1`, by: '2026-11-25' }, '2026-11-24') === 0);
    }"""
    others = ["terms", "report", "writing", "number", "ending", "consent-needed"]
    assert blank.evaluate(script, [*TO_TELL, *others]) == list(TO_TELL)


@pytest.mark.parametrize(
    ("what", "more", "want"),
    [
        ("report", {}, [["#/papers?leave=l&kind=report", "Write the report"]]),
        ("ending", {}, [["#/leave/l", "Renew the leave"]]),
        ("over", {}, [["#/leave/l", "See the leave"]]),
        ("terms", {"trees": ["b", "a", "gone"]},
         [["#/tree/a?lift=1", "Note it: B1"], ["#/tree/b?lift=1", "Note it: B10"]]),
        ("terms", {"trees": ["gone"]}, [["#/leave/l", "See the leave"]]),
    ],
)  # fmt: skip
def test_a_task_of_a_site_leads_to_where_it_is_seen_to(blank, what, more, want):
    script = """async (task) => {
      const { pagesOfTask } = await import('/static/js/hill/site_tasks.js');
      return pagesOfTask(task, (tree) => ({ a: 'B1', b: 'B10' })[tree] ?? null).map(({ href, words }) => [href, words]);
    }"""
    assert blank.evaluate(script, {"id": f"site:s:{what}:l:1", **more}) == want


def test_only_what_is_open_is_counted_and_what_has_time_left_is_not_of_today(blank):
    script = """async () => {
      const { countOpen } = await import('/static/js/screens/due_groups.js');
      const bys = { a: '2026-11-24', b: '2026-11-25', c: '2026-11-25', d: '2026-11-25', e: '2026-12-09', f: null };
      const tasks = Object.entries(bys).map(([rec, by]) => ({ rec, by }));
      const states = new Map([['b', { state: 'done' }], ['c', { state: 'skipped' }], ['d', { state: null }]]);
      return countOpen(tasks, states, '2026-11-25');
    }"""
    assert blank.evaluate(script) == {"late": 1, "today": 1, "left": 2}


@pytest.mark.parametrize(("state", "want"), [("done", "settled"), ("skipped", "settled"), (None, "days")])
def test_a_settled_task_is_due_no_more_and_an_opened_one_is_again(blank, state, want):
    script = """async (state) => {
      const { groupTasks } = await import('/static/js/screens/due_groups.js');
      const task = { rec: 'r', from: '2026-11-20', by: '2026-11-30' };
      const groups = groupTasks([task], new Map([['r', { state }]]), '2026-11-25');
      return Object.keys(groups).filter((name) => groups[name].length > 0);
    }"""
    assert blank.evaluate(script, state) == [want]


@pytest.mark.parametrize(
    ("name", "want"),
    [
        ("everything.jpg", "image/jpeg"),
        ("everything.png", "image/png"),
        ("everything.webp", "image/webp"),
        ("everything.heic", "image/heic"),
    ],
)
def test_a_picture_is_known_by_its_bytes(blank, name, want):
    head = list((FILES / name).read_bytes()[:64])
    script = (
        "async (head) => (await import('/static/js/core/picture_kind.js')).pictureKind(new Uint8Array(head).buffer)"
    )
    assert blank.evaluate(script, head) == want


@pytest.mark.parametrize(
    "head", [b"", b"\xff\xd8", b"words, and no picture", b"\x00\x00\x00\x18ftypqt  \x00\x00\x00\x00"]
)
def test_what_is_no_picture_is_none(blank, head):
    script = (
        "async (head) => (await import('/static/js/core/picture_kind.js')).pictureKind(new Uint8Array(head).buffer)"
    )
    assert blank.evaluate(script, list(head)) is None


@pytest.mark.parametrize(
    ("near", "want"),
    [
        ([], None),
        ([{"tree": "a", "distance_m": 3}], "a"),
        ([{"tree": "a", "distance_m": 3}, {"tree": "b", "distance_m": 30}], None),  # two are possible: a person says
        ([{"tree": "a", "distance_m": 80}], None),
    ],
)
def test_a_photo_is_plain_only_with_one_tree_near(blank, near, want):
    assert call(blank, "screens/intake_rows", "plainTree", near) == want


@pytest.mark.parametrize(
    ("seconds", "want"),
    [(0, "+0 s"), (63, "+1 min 3 s"), (-3600, "−1 h 0 s"), (3725, "+1 h 2 min 5 s"), (-0.4, "+0 s")],
)
def test_a_clock_offset_is_said_in_words(blank, seconds, want):
    assert call(blank, "screens/intake_clock", "showSeconds", seconds) == want


def test_found_by_tag_kind_and_stage(blank):
    rows = [
        {"id": "a", "stage": "marked", "site": "s", "kind": "birch", "text": "k1 birch kettle brae"},
        {"id": "b", "stage": "lost", "site": "s", "kind": "birch", "text": "k2 birch kettle brae"},
        {"id": "c", "stage": "settling", "site": "t", "kind": "yew", "text": "t1 yew quarry"},
    ]
    every = {"text": "", "stage": "alive", "site": None, "kind": None}

    def found(**wanted: object) -> list[str]:
        return [row["id"] for row in call(blank, "screens/trees", "filterTrees", rows, every | wanted)]

    assert found() == ["a", "c"]
    assert found(stage="all") == ["a", "b", "c"]
    assert found(stage="lost") == ["b"]
    assert found(text="BIRCH brae") == ["a"]
    assert found(site="t") == ["c"]
    assert found(kind="yew", site="s") == []


def test_a_notice_with_the_only_way_back_is_not_pushed_out_by_the_next(blank):
    script = """async (calls) => {
      const { notice } = await import('/static/js/ui/notice.js');
      const place = document.createElement('div');
      place.id = 'notices';
      document.body.append(place);
      const stops = calls.map(([text, undo, backOnPage]) => notice(text, { undo: undo ? () => {} : null, backOnPage }));
      const left = [...place.querySelectorAll('.notice p')].map((one) => one.textContent);
      stops.forEach((stop) => stop());
      place.remove();
      return left;
    }"""
    assert blank.evaluate(
        script, [["A deleted.", True, False], ["Copied.", False, False], ["B deleted.", True, False]]
    ) == [
        "A deleted.",
        "B deleted.",
    ]
    assert blank.evaluate(script, [["A ticked.", True, True], ["B ticked.", True, True]]) == ["B ticked."]
    # Two acts may be told in the same words, and each has its own way back; what has none stands once.
    assert blank.evaluate(script, [["Deleted.", True, False]] * 2) == ["Deleted."] * 2
    assert blank.evaluate(script, [["Copied.", False, False]] * 2) == ["Copied."]


def square(west: float, south: float) -> dict[str, object]:
    """A square of a hundredth of a degree."""
    east, north = west + 0.01, south + 0.01
    return {
        "type": "Polygon",
        "coordinates": [[[west, south], [east, south], [east, north], [west, north], [west, south]]],
    }


def test_new_ground_goes_by_the_season_of_the_nearest_known_ground_and_says_so(blank):
    window = {"opens": "2026-10-10", "closes": "2027-03-20", "why_opens": "a", "why_closes": "b", "source": "c"}
    autumn = {**window, "opens": "2026-11-20", "closes": "2026-12-01"}
    pack = {
        "made_on": "2026-11-01",
        "windows": {"near": {"birch": {"lift": [window]}}, "far": {"birch": {"lift": [autumn]}}},
        "windows_anywhere": {"birch": {"lift": [autumn]}},
    }
    sites = [
        {"id": name, "fields": {"name": name.title(), "boundary": square(-3.4, south)}}
        for name, south in [("new", 55.4), ("far", 57.0), ("near", 55.5)]
    ]
    at = {"lat": 55.405, "lon": -3.395}

    def season(on: str, known: list[dict[str, object]], got: dict[str, object] = pack) -> dict[str, object]:
        other = call(blank, "hill/season", "windowsElsewhere", got, known, at)
        return call(blank, "hill/season", "seasonOf", got, "new", "birch", on, other)

    near = season("2026-11-05", sites)
    assert (near["state"], near["elsewhere"], near["opens"]) == ("open", True, "2026-10-10")
    # 0.095 degrees of latitude are 10.6 km, said as 11, at 55 degrees north (a degree there: 111.3 km)
    assert near["text"].startswith(
        "Season of Near, 11 km away: safe to lift birch, 10 Oct 2026 to 20 Mar 2027. Home has not"
    )
    general = season("2026-11-05", sites[:1])
    assert (general["state"], general["text"].split(". ")[0]) == (
        "closed",
        "Season in general: outside the safe time to lift birch",
    )
    older = {name: value for name, value in pack.items() if name != "windows_anywhere"}
    assert season("2026-11-05", [], older)["state"] == "unknown"
    assert call(blank, "hill/season", "seasonOf", pack, "near", "birch", "2026-11-05").get("elsewhere") is None
