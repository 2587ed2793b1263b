"""The phone's boxes of all ground: they hide nothing that is near, and no answer comes from ground as it was before."""

from __future__ import annotations

import copy
import random
import uuid
from typing import Any

import far_ground
import hill_kit as kit
import pytest
from phone_kit import run
from playwright.sync_api import Page

from field.core.ground_questions import ground_for_pack
from field.core.signing import content_sha256, terms_of

HERE = {"lat": 55.4025, "lon": -3.395, "accuracy_m": 6}
ASK = "const { askLeave } = await import('/static/js/hill/ask_leave.js');"
CODES = "(found) => [found.verdict.answer, ...found.verdict.reasons.map((one) => one.code)]"


def ask(page: Page, here: dict[str, Any] = HERE, before: str = "") -> list[str]:
    """Return the answer and the codes of its reasons; `before` runs first, on the page."""
    body = f"{ASK} {before} return ({CODES})(await askLeave({{ here: arg, species: 'birch', girth_mm: 200 }}));"
    return run(page, body, here)


def change(page: Page, record_type: str, rec: str, **fields: Any) -> None:
    run(page, "await store.saveChanges([arg]);", {"type": record_type, "rec": rec, "set": fields})


@pytest.fixture
def ground(page: Page) -> kit.Ground:
    """Ground with a signed leave, kept on this phone; home was heard of today, and no other phone is paired."""
    ground = kit.Ground()
    changes = [{"type": kind, "rec": rec, "set": fields} for kind, rec, fields in ground.records]
    run(page, "await store.saveChanges(arg); await store.setMeta('last_sync_at', new Date().toISOString());", changes)
    assert ask(page) == ["yes"]
    return ground


def test_every_change_that_bears_on_leave_is_in_the_next_answer(page: Page, ground: kit.Ground) -> None:
    change(page, "leave", ground.leave, withdrawn_on=kit.day(-1))
    assert ask(page) == ["no", "withdrawn"]
    change(page, "leave", ground.leave, withdrawn_on=None, allowance=1)
    assert ask(page) == ["yes"]
    lift = str(uuid.uuid4())
    change(page, "lift", lift, leave=ground.leave, site=ground.site)
    assert ask(page) == ["no", "used-up"]
    change(page, "lift", lift, deleted=True)
    assert ask(page) == ["yes"]
    consent = str(uuid.uuid4())
    change(page, "consent", consent, site=ground.site, kind="monument", state="needed")
    assert ask(page) == ["no", "consent-missing"]
    change(page, "consent", consent, deleted=True)
    moved = {"type": "Polygon", "coordinates": [[[x + 1, y] for x, y in kit.FIELD["coordinates"][0]]]}
    change(page, "site", ground.site, boundary=moved)
    assert ask(page)[:2] == ["no", "no-leave"]
    assert ask(page, {**HERE, "lon": HERE["lon"] + 1}) == ["yes"]
    change(page, "site", ground.site, boundary=kit.FIELD)
    change(page, "leave", ground.leave, deleted=True)
    assert ask(page)[:2] == ["no", "no-leave"]
    change(page, "leave", ground.leave, deleted=False)
    change(page, "site", ground.site, deleted=True)
    assert ask(page)[:2] == ["no", "no-leave"]


def test_what_was_answered_about_the_ground_is_in_the_next_answer(page: Page, ground: kit.Ground) -> None:
    pack = {"v": 1, "paired_phones": 1, "made_on": kit.day(), "ground": ground_for_pack()}
    run(page, "await store.putPack('0'.repeat(64), arg);", pack)
    change(page, "site", ground.site, country="scotland", protected=None, services_checked_on=None)
    assert ask(page) == ["ask", "consent-unknown"]
    park, order, pipes = (str(uuid.uuid4()) for _ in range(3))
    change(page, "ground_check", park, site=ground.site, question="scotland-protected-site", answer="no")
    assert ask(page) == ["yes"]
    change(page, "ground_check", order, site=ground.site, question="scotland-tree-order", answer="yes")
    change(page, "ground_check", pipes, site=ground.site, question="scotland-services", answer="no")
    assert ask(page) == ["ask", "ground-check", "ground-check"]
    change(page, "consent", str(uuid.uuid4()), site=ground.site, kind="tree_order", state="held")
    assert ask(page) == ["ask", "ground-check"]
    change(page, "site", ground.site, services_checked_on=kit.day())
    assert ask(page) == ["yes"]
    # The same ground drawn a second time, under another name: what was answered there counts here too.
    twice, graze = str(uuid.uuid4()), str(uuid.uuid4())
    change(page, "site", twice, name="Kettle Common", country="scotland", boundary=kit.FIELD, protected=False)
    change(page, "ground_check", graze, site=twice, question="scotland-who-may-say-yes", answer="no")
    assert ask(page) == ["ask", "ground-check"]
    change(page, "site", twice, deleted=True)
    change(page, "ground_check", park, answer="yes")
    assert ask(page) == ["no", "protected"]


def test_a_change_that_was_not_signed_is_in_the_next_answer(page: Page, ground: kit.Ground) -> None:
    fields = {rec: one for _, rec, one in ground.records}
    terms = terms_of(fields[ground.leave], fields[ground.site])
    signing = {"leave": ground.leave, "version": 1, "letter": {"v": 1, "terms": terms}, "name": "Isla Invented"}
    change(page, "signing", str(uuid.uuid4()), **signing, content_sha256=content_sha256(signing))
    assert ask(page) == ["yes"]
    change(page, "leave", ground.leave, allowance=9)
    assert ask(page) == ["ask", "spoken"]
    # A letter that fits no seal proves nothing.
    forged = {**signing, "version": 2, "letter": {"v": 1, "terms": {**terms, "allowance": 9}}}
    change(page, "signing", str(uuid.uuid4()), **forged, content_sha256=content_sha256(signing))
    assert ask(page) == ["ask", "spoken"]
    again = str(uuid.uuid4())
    change(page, "signing", again, **forged, content_sha256=content_sha256(forged))
    assert ask(page) == ["yes"]
    change(page, "signing", again, deleted=True)
    assert ask(page) == ["ask", "spoken"]
    change(page, "leave", ground.leave, form="asked")
    assert ask(page)[:2] == ["no", "no-leave"]


def test_what_another_window_or_a_sync_changed_is_in_the_next_answer(page: Page, ground: kit.Ground) -> None:
    other = page.context.new_page()
    other.goto(page.url)
    change(other, "leave", ground.leave, withdrawn_on=kit.day(-1))
    assert ask(page) == ["no", "withdrawn"]
    change(other, "leave", ground.leave, withdrawn_on=None)
    assert ask(page) == ["yes"]
    # Home tells of a consent that is needed here.
    fields = {"site": ground.site, "kind": "monument", "state": "needed"}
    ops = kit.ops_of([("consent", str(uuid.uuid4()), fields)], str(uuid.uuid4()), {})
    answer = {"epoch": "e", "cursor": 1, "have": {}, "results": [], "ops": [{"op": op} for op in ops]}
    run(page, "await store.applyAnswer(arg);", answer)
    assert ask(page) == ["no", "consent-missing"]


def test_ground_that_moves_while_it_is_read_is_read_again(page: Page, ground: kit.Ground) -> None:
    body = """
      const { onStillGround } = await import('/static/js/hill/ground_index.js');
      let times = 0;
      const ended = await onStillGround(async (index, readSites) => {
        times += 1;
        if (times === 1) await store.saveChanges([{ type: 'leave', rec: arg.leave, set: { ends_on: '2030-01-01' } }]);
        return (await readSites([arg.site])).get(arg.leave).fields.ends_on;
      });
      return [times, ended];"""
    assert run(page, body, {"leave": ground.leave, "site": ground.site}) == [2, "2030-01-01"]


def test_ground_that_never_stands_still_is_answered_from_one_reading(page: Page, ground: kit.Ground) -> None:
    body = """
      const { onStillGround } = await import('/static/js/hill/ground_index.js');
      let times = 0;
      return onStillGround(async (index, readSites) => {
        times += 1;
        await store.saveChanges([{ type: 'leave', rec: arg.leave, set: { note: `${times}` } }]);
        return [times, (await readSites([arg.site])).get(arg.leave).fields.note];
      });"""
    times, note = run(page, body, {"leave": ground.leave, "site": ground.site})
    assert times == 21  # of the last reading it says what that reading found
    assert note == "20"


def test_the_boxes_kept_over_a_restart_catch_up_with_what_changed_since(page: Page, ground: kit.Ground) -> None:
    keep = "while (!(await store.getMeta('ground_index'))) await new Promise((go) => setTimeout(go, 5));"
    run(page, keep)
    change(page, "leave", ground.leave, withdrawn_on=kit.day(-1))
    page.reload()
    assert ask(page) == ["no", "withdrawn"]
    # Farther behind than changes are remembered by name: all is read anew.
    many = [{"type": "landholder", "rec": str(uuid.uuid4()), "set": {"name": f"farm {i}"}} for i in range(450)]
    run(page, "await store.saveChanges(arg);", [{"type": "leave", "rec": ground.leave, "set": {"withdrawn_on": None}}])
    run(page, "await store.saveChanges(arg);", many)
    page.reload()
    assert ask(page) == ["yes"]


def test_ground_that_cannot_be_read_is_named_and_hides_no_other(page: Page, ground: kit.Ground) -> None:
    change(page, "site", str(uuid.uuid4()), name="Lower Sike", boundary={"type": "Polygon", "coordinates": [[]]})
    body = f"{ASK} const found = await askLeave({{ here: arg }}); return [found.verdict.answer, found.unread];"
    answer, unread = run(page, body, HERE)
    assert answer == "yes"
    assert len(unread) == 1
    assert unread[0].startswith("Lower Sike: A ring of the area has fewer than 4 positions.")


NEAREST = """
  const { onStillGround, sitesNear } = await import('/static/js/hill/ground_index.js');
  const { placeInArea } = await import('/static/js/core/area.js');
  const away = (record, here) => {
    const got = placeInArea(record.fields.boundary, here.lat, here.lon);
    return got.covers ? 0 : got.edge_m;
  };
  const sites = await store.listRecords('site');
  const answers = [];
  for (const here of arg) {
    const metres = (records, id) => away(records.get(id), here);
    const got = await onStillGround((index, readSites) => sitesNear(index, readSites, here, 500, metres));
    const all = sites.map((site) => [site.id, away(site, here)]).sort((a, b) => a[1] - b[1]);
    const within = all.filter(([, off]) => off <= 500);
    const want = within.length > 0 ? within : all.slice(0, 1);
    answers.push([got.near.map((one) => one.id), want.map(([id]) => id), got.records.size]);
  }
  return answers;"""


def test_the_nearest_ground_is_found_as_if_all_were_measured(page: Page) -> None:
    asked = far_ground.questions("near and far", 120)
    changes = [{"type": "site", "set": {"boundary": one.geometry}} for one in asked]
    run(page, "await store.saveChanges(arg);", changes)
    rng = random.Random(7)
    spots = [{"lat": one.lat, "lon": one.lon} for one in asked[:60]]
    spots += [{"lat": rng.uniform(-90, 90), "lon": rng.uniform(-180, 180)} for _ in range(30)]
    spots += [{"lat": 90, "lon": 0}, {"lat": -90, "lon": 77}, {"lat": 0, "lon": 180}, {"lat": 0, "lon": -180}]
    answers = run(page, NEAREST, spots)
    assert [got for got, _, _ in answers] == [want for _, want, _ in answers]
    assert sum(read for _, _, read in answers) < 0.3 * len(spots) * len(asked)  # and few had to be measured


def test_a_box_never_tells_more_than_the_true_distance(blank: Page) -> None:
    asked = far_ground.questions("boxes", 200)
    rng = random.Random(11)
    rows = [[one.geometry, one.lat, one.lon] for one in asked]
    rows += [[copy.copy(one.geometry), rng.uniform(-90, 90), rng.uniform(-180, 180)] for one in asked]
    body = """async (rows) => {
      const area = await import('/static/js/core/area.js');
      const boxes = await import('/static/js/core/ground_boxes.js');
      return rows.map(([geometry, lat, lon]) => {
        const read = area.readArea(geometry);
        const least = Math.min(...boxes.boxesOf(read).map((box) => boxes.leastMetres(box, lat, lon)));
        return [least, area.covers(read, lat, lon) === 'outside' ? area.boundaryDistanceM(read, lat, lon) : 0];
      });
    }"""
    pairs = blank.evaluate(body, rows)
    assert all(least <= true for least, true in pairs)
    assert sum(least > 0.5 * true for least, true in pairs) > 200  # a bound that says nothing would be no bound
