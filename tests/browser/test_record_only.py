"""A phone that may only record: no one's contact data anywhere in it, and the hill works all the same."""

from __future__ import annotations

import json
from typing import Any

import hill_kit as kit
import phone_kit
import pytest
from playwright.sync_api import expect

from field.services import pair
from field.store import db

SECRETS = ("Morag Tennant", "01632 960 001", "Byre Cottage", "her brother signed", "nest in the fork")
# Every store of the phone as text; bytes are told by their size only.
EVERYTHING = """async () => {
  const { openStore } = await import('/static/js/store.js');
  const base = await openStore();
  const all = {};
  for (const name of base.objectStoreNames) {
    all[name] = await new Promise((done, failed) => {
      const asked = base.transaction(name).objectStore(name).getAll();
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
  }
  return JSON.stringify(all, (_key, value) => (value instanceof ArrayBuffer ? `${value.byteLength} bytes` : value));
}"""


@pytest.fixture(scope="module")
def ground() -> kit.Ground:
    name, phone, address, told, note = SECRETS
    ground = kit.Ground(signed_by=name, note=told)
    ground.records[1] = ("landholder", ground.landholder, {"name": name, "phone": phone, "address": address})
    ground.tree = ground.add("tree", site=ground.site, tag="K1", species="birch", girth_mm=240, note=note)
    ground.add("fix", tree=ground.tree, lat=55.4025, lon=-3.395, accuracy_m=5, source="web-geolocation")
    ground.add("photo", tree=ground.tree, sha256="ab" * 32, note=note)
    ground.add("event", tree=ground.tree, kind="bud_swell", happened_on=kit.day(-3), note=note)
    return ground


def leaks(page: Any) -> list[str]:
    said = page.evaluate(EVERYTHING)
    return [secret for secret in SECRETS if secret in said]


def give_role(server: Any, page: Any, role: str) -> None:
    device = page.evaluate("async () => (await (await import('/static/js/store.js')).getIdentity()).device")
    with db.alone(None, server.data):
        pair.set_role(device, role)


def test_it_holds_no_contact_data_and_the_hill_works(browser, server, ground) -> None:
    with db.alone(None, server.data):
        code = pair.make_code(role="record")["code"]
    with kit.phone(browser, server, signal=True, code=code) as page:
        assert leaks(page) == []
        page.context.set_offline(True)
        kit.go(page, f"#/may-i?tree={ground.tree}")
        expect(page.locator(".verdict")).to_have_attribute("data-answer", "yes")
        seen = [f"#/site/{ground.site}", f"#/leave/{ground.leave}", f"#/landholder/{ground.landholder}"]
        for place in seen:
            kit.go(page, place)
            offered = page.locator("#app .button:visible").evaluate_all(
                "all => all.map((one) => one.textContent.trim())"
            )
            assert set(offered) <= {"May I dig where I stand?", "Mark one", "What to check here: choose the country"}
        for place in ("#/ground", "#/trees", f"#/tree/{ground.tree}", "#/due", "#/sync", "#/house"):
            kit.go(page, place)
        kit.go(page, f"#/tree/{ground.tree}")
        expect(page.get_by_text("Photos without a tree")).to_have_count(0)  # those of others are none of its own
        # What home would not take from it is not offered; its own work it may take back.
        expect(page.locator("[data-entry-on=edit]")).to_be_visible()
        expect(page.locator("[data-take-away], [data-take-out]")).to_have_count(0)
        [own] = phone_kit.save(page, phone_kit.tree("Mine", site=ground.site))
        kit.go(page, f"#/tree/{own}")
        expect(page.locator("[data-take-away]")).to_be_visible()
        kit.go(page, f"#/checks/{ground.site}")
        expect(page.locator("#app h1")).to_have_text("What to check for this ground")
        expect(page.locator("#app :is(input, textarea, form button):visible")).to_have_count(0)
        kit.go(page, "#/ground")
        expect(page.get_by_role("link", name="Add a site")).to_have_count(0)
        kit.go(page, "#/copy")
        expect(page.locator("[data-keep-copy]")).to_contain_text("Hand it to the owner")
        expect(page.locator("[data-copy-home]")).to_have_count(0)
        page.goto(f"{server.url}/#/sign/{ground.leave}")
        page.wait_for_url("**/#/ground")
        kit.go(page, f"#/lift/{ground.tree}")
        page.get_by_role("button", name="Save lift").click()
        expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
        page.context.set_offline(False)
        kit.sync(page)
        [lift] = kit.records(page, "lift")
        assert (lift["fields"]["tree"], lift["fields"]["leave"]) == (ground.tree, ground.leave)


def test_a_phone_that_may_only_record_from_now_on_forgets_and_learns_again(browser, server, ground) -> None:
    with kit.phone(browser, server, signal=True) as page:
        assert leaks(page) == list(SECRETS)
        [own] = phone_kit.save(page, phone_kit.tree("Mine", site=ground.site, note="my own words"))
        kit.sync(page)
        give_role(server, page, "record")
        kit.sync(page)
        assert leaks(page) == []
        trees = {one["id"]: one["fields"] for one in kit.records(page, "tree")}
        assert (trees[own]["tag"], trees[own]["note"]) == ("Mine", "my own words")
        assert (trees[ground.tree]["tag"], trees[ground.tree]["note"]) == ("K1", None)
        state = page.evaluate("async () => (await import('/static/js/store.js')).counts()")
        assert (state["changes_unsent"], state["held"], state["conflicts"]) == (0, 0, 0)
        give_role(server, page, "full")
        kit.sync(page)
        assert leaks(page) == list(SECRETS)


def test_of_a_phone_that_may_only_record_a_record_is_its_own_until_another_writes_to_it(page: Any) -> None:
    [mine, both] = phone_kit.save(page, phone_kit.tree("A"), phone_kit.tree("B"))
    dev = "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d"
    op = {
        "dev": dev, "seq": 1, "hlc": f"01a4013ab180-0001-{dev}", "wall": "2027-03-01T09:00:00.000Z", "tz": "+00:00",
        "rec": both, "type": "tree", "set": {"girth_mm": 240}, "base": {"girth_mm": []}, "v": 1,
    }  # fmt: skip
    said = phone_kit.run(
        page,
        """await store.applyAnswer({epoch: 'e1', cursor: 1, have: {}, ops: [{pos: 1, op: arg}]});
           const {ofOthers} = await import('/static/js/hill/whose.js');
           const told = {};
           for (const role of ['record', 'full']) {
             await store.setIdentity({device: await store.deviceId(), token: 't', name: 'x', role});
             told[role] = [...await ofOthers(await store.listRecords('tree'))];
           }
           return told;""",
        op,
    )
    assert said == {"record": [both], "full": []}
    assert mine not in said["record"]


def test_copies_are_compared_as_home_compares_them(blank) -> None:
    path = kit.__file__.replace("browser/hill_kit.py", "vectors/blank.json")
    with open(path, encoding="utf-8") as file:
        cases = json.load(file)["same"]
    told = blank.evaluate(
        """async (cases) => {
          const { sameChange } = await import('/static/js/core/blank.js');
          return cases.map(({ one, other }) => [sameChange(one, other), sameChange(other, one)]);
        }""",
        cases,
    )
    assert told == [[case["same"]] * 2 for case in cases]
