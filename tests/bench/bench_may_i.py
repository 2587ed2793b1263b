"""How long a phone takes to answer May I? on much ground: 2,000 sites of 200 corners, in a real Chromium.

The app's own modules are asked (`askLeave` of static/js/hill/ask_leave.js, from the call to the answer), on an
IndexedDB filled with sites, leaves, consents, landholders, holdings and lifts; once as fast as this machine is, and
once slowed to a quarter, as phones of some years' age are. First: nothing is ready, all ground is read once. Cold: the
app and the page that asks have just been opened, and the answer is wanted at once. Warm: 60 positions in turn, on sites
and beside them. Changed: the first answer after a leave was altered. Peers in the same run: reading all sites bare from
IndexedDB, reading the few records of one site bare, and a bare loop over all rings for inside, already in memory.

Needs playwright and Chromium (FELLSIDE_CHROMIUM). Goal: every answer but the very first within 100 ms, slowed
too. Times are of the clock on the wall: whatever else runs on the machine is in them.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, sync_playwright
from timing import tell_machine

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "browser")]
find_chromium = __import__("find_chromium")  # what tests share, found only now
phone_kit = __import__("phone_kit")

GOAL_MS = 100.0
SLOWED = 4

FILL = """async ({ sites, corners }) => {
  const { openStore } = await import('/static/js/store/db.js');
  const store = await import('/static/js/store.js');
  let seed = 20270214;
  const random = () => { seed = (seed * 1664525 + 1013904223) % 4294967296; return seed / 4294967296; };
  const rows = [];
  const put = (type, id, fields) => rows.push({ id, type, fields, stamps: {}, conflicts: {}, deleted: false });
  const side = Math.ceil(Math.sqrt(sites));
  for (let i = 0; i < 300; i += 1) put('landholder', `h${i}`, { name: `Farm ${i}`, phone: `01632 960${i}` });
  for (let i = 0; i < sites; i += 1) {
    const [lat, lon] = [54 + 0.01 * Math.floor(i / side), -4 + 0.02 * (i % side)];
    const ring = Array.from({ length: corners }, (_, k) => {
      const turn = (2 * Math.PI * k) / corners;
      const out = 0.004 * (1 + 0.2 * Math.sin(6 * turn + i) + 0.02 * random());
      return [lon + 1.7 * out * Math.cos(turn), lat + out * Math.sin(turn)];
    });
    const area = { type: 'Polygon', coordinates: [[...ring, ring[0]]] };
    put('site', `s${i}`, { name: `Ground ${i}`, zone: 'Europe/London', boundary: area, protected: false });
    put('leave', `l${i}`, { site: `s${i}`, landholder: `h${i % 300}`, form: 'signed', entitled: true,
      starts_on: '2020-01-01', allowance: 9, species: ['birch'], area: i % 10 === 0 ? area : null });
    if (i % 4 === 0) put('consent', `c${i}`, { site: `s${i}`, kind: 'tree_order', state: 'not_needed' });
    if (i % 2 === 0) put('holding', `g${i}`, { site: `s${i}`, landholder: `h${(i + 7) % 300}`, role: 'occupier' });
    if (i % 3 !== 0) put('lift', `x${i}`, { site: `s${i}`, leave: `l${i}`, lifted_on: '2026-02-01' });
  }
  const db = await openStore();
  const tx = db.transaction(['records'], 'readwrite');
  for (const row of rows) tx.objectStore('records').put(row);
  await new Promise((done, failed) => { tx.oncomplete = done; tx.onabort = () => failed(tx.error); });
  await store.setMeta('last_sync_at', new Date().toISOString());
  await store.putPack('0'.repeat(64), { v: 1, paired_phones: 1, made_on: '2026-11-26', sites: {}, windows: {} });
  return rows.length;
}"""

SPOTS = """const side = Math.ceil(Math.sqrt(sites));
  const spots = Array.from({ length: 60 }, (_, n) => {
    const i = (n * 811) % sites;
    return { lat: 54 + 0.01 * Math.floor(i / side) + (n % 3) * 0.003, lon: -4 + 0.02 * (i % side), accuracy_m: 6 };
  });"""

ASK = f"""async ({{ sites, times }}) => {{
  const {{ askLeave }} = await import('/static/js/hill/ask_leave.js');
  {SPOTS}
  const took = [];
  const answers = {{}};
  for (let n = 0; n < times; n += 1) {{
    const start = performance.now();
    const found = await askLeave({{ here: spots[n % spots.length], species: 'birch', girth_mm: 200 }});
    took.push(performance.now() - start);
    answers[found.verdict.answer] = (answers[found.verdict.answer] ?? 0) + 1;
  }}
  return {{ took, answers }};
}}"""

CHANGE = """async (note) => {
  const store = await import('/static/js/store.js');
  await store.saveChanges([{ type: 'leave', rec: 'l811', set: { note } }]);
}"""

BARE_ALL = """async () => {
  const { openStore } = await import('/static/js/store/db.js');
  const db = await openStore();
  const start = performance.now();
  const rows = await new Promise((done) => {
    const asked = db.transaction(['records']).objectStore('records').index('type').getAll('site');
    asked.onsuccess = () => done(asked.result);
  });
  return [performance.now() - start, rows.length];
}"""

BARE_FEW = """async () => {
  const { openStore } = await import('/static/js/store/db.js');
  const db = await openStore();
  const start = performance.now();
  const records = db.transaction(['records']).objectStore('records');
  const get = (id) => new Promise((done) => { records.get(id).onsuccess = done; });
  await Promise.all(['s811', 'l811', 'h211', 'x811'].map(get));
  return [performance.now() - start, 4];
}"""

BARE_RINGS = """async () => {
  const store = await import('/static/js/store.js');
  const rings = (await store.listRecords('site')).map((site) => site.fields.boundary.coordinates[0]);
  const [x, y] = [-3.71, 54.15];
  const start = performance.now();
  let on = 0;
  for (const ring of rings) {
    let inside = false;
    for (let i = 1; i < ring.length; i += 1) {
      const [[x1, y1], [x2, y2]] = [ring[i - 1], ring[i]];
      if ((y1 > y) !== (y2 > y) && x < x1 + ((y - y1) * (x2 - x1)) / (y2 - y1)) inside = !inside;
    }
    on += Number(inside);
  }
  return [performance.now() - start, on];
}"""


# What every screen has done before it asks: opened the store, and told today's date.
READY = """async () => {
  await import('/static/js/hill/ask_leave.js');
  (await import('/static/js/hill/ground_facts.js')).todayOn();
  await (await import('/static/js/store.js')).openStore();
}"""

KEPT = """async () => {
  const store = await import('/static/js/store.js');
  for (let kept = null; kept === null;) kept = await store.getMeta('ground_index');
}"""


def fresh(context: BrowserContext, line: Any, slowed: int) -> Page:
    """Return a page that was just opened, as after the app was started; nothing of it is in memory."""
    page = context.new_page()
    page.goto(line.url + phone_kit.BLANK)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    page.evaluate(READY)
    return page


def forget(context: BrowserContext, line: Any) -> None:
    """Have the phone keep no boxes."""
    page = context.new_page()
    page.goto(line.url + phone_kit.BLANK)
    page.evaluate("async () => (await import('/static/js/store.js')).setMeta('ground_index', null)")
    page.close()


def tell(name: str, took: list[float], goal: float | None = None) -> None:
    """Print the middle, the least and the most of some times, and whether the middle meets the goal."""
    middle = statistics.median(took)
    verdict = "" if goal is None else f"; goal {goal:.0f}: {'met' if middle <= goal else 'MISSED'}"
    print(f"  {name:52} {middle:8.1f} ms, {min(took):8.1f} to {max(took):8.1f} of {len(took)}{verdict}")


def measure(context: BrowserContext, line: Any, slowed: int, sites: int, rounds: int) -> None:
    print(f"\nProcessor {'as it is' if slowed == 1 else f'slowed {slowed} times'}")
    asked: dict[str, Any] = {"sites": sites, "times": 1}
    forget(context, line)
    page = fresh(context, line, slowed)
    tell("first: no boxes yet, all ground read once", page.evaluate(ASK, asked)["took"])
    page.evaluate(KEPT)
    page.close()
    cold = []
    for _ in range(rounds):
        page = fresh(context, line, slowed)
        cold += page.evaluate(ASK, asked)["took"]
        page.close()
    tell("cold: the app just started", cold, GOAL_MS)
    page = fresh(context, line, slowed)
    page.evaluate(ASK, asked)
    got = page.evaluate(ASK, {**asked, "times": 60})
    tell("warm: 60 positions", got["took"], GOAL_MS)
    changed = []
    for number in range(rounds):
        page.evaluate(CHANGE, f"change {number} of {slowed}")
        changed += page.evaluate(ASK, asked)["took"]
    tell("changed: the first answer after a change", changed, GOAL_MS)
    for name, script in (
        ("peer: all sites, bare from IndexedDB", BARE_ALL),
        ("peer: the records of one site, bare from IndexedDB", BARE_FEW),
        ("peer: all rings in memory, bare loop for inside", BARE_RINGS),
    ):
        tell(name, [page.evaluate(script)[0] for _ in range(rounds)])
    print(f"  answers of the 60: {json.dumps(got['answers'])}")
    page.close()


def main() -> None:
    """Fill the phone's store, then ask it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--sites", type=int, default=2000)
    parser.add_argument("--corners", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=7)
    given = parser.parse_args()
    tell_machine()
    with phone_kit.Line() as line, sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=find_chromium.find_chromium(), args=["--no-sandbox", "--disable-gpu"]
        )
        context = browser.new_context(timezone_id="Europe/London")
        page = context.new_page()
        page.goto(line.url + phone_kit.BLANK)
        kept = page.evaluate(FILL, {"sites": given.sites, "corners": given.corners})
        page.close()
        print(f"{given.sites:,} sites of {given.corners} corners, {kept:,} records in all")
        for slowed in (1, SLOWED):
            measure(context, line, slowed, given.sites, given.rounds)
        browser.close()


if __name__ == "__main__":
    main()
