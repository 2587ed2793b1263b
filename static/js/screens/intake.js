/** Intake, at the desk: photos and recorded walks come home, are placed, looked over, and saved with their trees. */

import { BadInput } from '../core/errors.js';
import { groupBy, listSites, ownZone, siteNames, treeWords } from '../hill/ground_facts.js';
import { nearTrees } from '../hill/near_trees.js';
import { pickTree } from '../hill/pick_tree.js';
import { treePlace } from '../hill/tree_place.js';
import { getPack, listRecords, onStoreChange } from '../store.js';
import { askHome, HomeError } from '../store/home.js';
import { ask } from '../ui/dialog.js';
import { FormFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { notice } from '../ui/notice.js';
import { count } from '../ui/words.js';
import { clockSheet, readClock, wayOf } from './intake_clock.js';
import { filesOfDrop } from './intake_files.js';
import {
  badFiles, choose, followKept, forgetBad, forgetLast, goodPhotos, goodTracks, goOnNow, goOnSending, intake, isToAccept, nameOf, onIntake, openIntake,
  placeOf, readThem, save, setClock, startAgain, stop, take, takeBack,
} from './intake_job.js';
import { account, lastSheet, readAccount } from './intake_last.js';
import { openLoose } from './intake_loose.js';
import { openPreviews } from './intake_previews.js';
import { FILTERS, listHead, listRows, numbered, PAGE, plainTree, rowInside } from './intake_rows.js';
import { badSheet, dropSheet, placeTools, runSheet, runWords, saveBar, typedPlace, unsentSheet, walkSheet } from './intake_sheets.js';
import { openSketch } from './intake_sketch.js';

const LARGE_WAIT_MS = 60_000;

/** The trees that are kept, with their best position. */
async function readGround() {
  const [sites, trees, fixes, pack, names] = await Promise.all([listSites(), listRecords('tree'), listRecords('fix'), getPack(), siteNames()]);
  const fixesOf = groupBy(fixes, 'tree');
  const kept = trees.map((tree) => ({
    id: tree.id, tag: tree.fields.tag ?? 'no tag', site: tree.fields.site ?? null, place: treePlace(fixesOf.get(tree.id) ?? []),
    words: [treeWords(pack, tree), names.get(tree.fields.site)].filter(Boolean).join(', '),
  })).sort((a, b) => a.tag.localeCompare(b.tag, 'en', { numeric: true }));
  return { sites, names, trees: kept, byId: new Map(kept.map((tree) => [tree.id, tree])) };
}

/** Open the screen. */
export async function open(root) {
  let [ground] = await Promise.all([readGround(), openIntake()]);
  let closed = false;
  let sketch = null;
  let closeLoose = null;
  let lastSeen = intake.last;
  let said = intake.last && await readAccount(intake.last);
  let moving = null; // hashes of the photos whose place is being told
  let clockForm = { open: false, way: wayOf(intake.clock), n: null };
  const previews = openPreviews();
  const larges = new Map(); // sha256 -> address of the whole picture, for the clock
  const view = {
    page: 0, filter: 'all', chosen: null, ticked: new Set(), nearOf, tagOf: (id) => ground.byId.get(id)?.tag ?? 'a tree not kept here',
    treeWord: (id) => { const tree = ground.byId.get(id); return tree ? `${tree.tag}, ${tree.words}` : 'a tree not kept here'; },
  };

  /** The trees near a photo: as home found them, or, where a person moved it, near where it is now. */
  function nearOf(one) {
    return intake.moved[one.sha256] ? nearTrees(intake.moved[one.sha256], ground.trees) : one.near ?? [];
  }

  const listed = () => numbered().filter(({ one }) => FILTERS.find(({ name }) => name === view.filter).has(one, nearOf));
  const spot = (name) => root.querySelector(`[data-part="${name}"]`);
  const rowOf = (sha256) => root.querySelector(`[data-photo="${sha256}"]`);
  const fill = (name, safe) => { if (spot(name)) render(spot(name), html`${safe}`); };

  // --- drawing ---

  function draw() {
    sketch?.close();
    closeLoose?.();
    sketch = closeLoose = null;
    const review = intake.found !== null;
    if (!clockForm.open) clockForm.way = wayOf(intake.clock);
    render(root, html`<div class="page intake">
      <div class="page-head"><h1>Intake</h1><p class="under">What the camera and the recorder brought back</p></div>
      <div data-part="run"></div><div data-part="last"></div><div data-part="bad"></div>
      ${review
        ? html`<div data-part="unsent"></div><div data-part="clock"></div>
            <div class="cols wide-first intake-review"><section class="sheet"><div class="stack" data-part="head"></div><div data-part="list"></div></section>
              <div class="intake-side"><section class="sheet intake-map"><h2>Where they lie</h2><div data-part="sketch"></div><div class="stack" data-part="tools"></div></section></div></div>
            <div data-part="walks"></div>${dropSheet('More to take in')}
            <div class="actions stuck" data-part="bar"></div>`
        : html`${dropSheet('Bring it home')}<div data-part="unsent"></div><div data-part="loose"></div>`}</div>`);
    if (review) {
      sketch = openSketch(spot('sketch'), { onChoose: (sha256) => showPhoto(sha256, true), onPlace: trying(placeThem), onHover: markRow });
      drawClock();
      drawList();
      fill('walks', walkSheet(goodTracks()));
    } else {
      closeLoose = openLoose(spot('loose'), { trees: ground.trees, siteName: (id) => ground.names.get(id) ?? null });
    }
    drawLast();
    fill('bad', badSheet(badFiles()));
    fill('unsent', unsentSheet());
    // At the inputs themselves: the page may be drawn anew while the picker stands open, and what is chosen must not be lost.
    for (const input of root.querySelectorAll('input[type="file"]')) {
      input.addEventListener('change', trying(async () => {
        const files = [...input.files];
        input.value = '';
        await take(files);
      }));
    }
    drawRun();
  }

  function drawLast() {
    if (said?.last !== intake.last) said = intake.last && account(intake.last);
    fill('last', lastSheet(said, view.tagOf));
  }

  /** Where the photos of the last intake and those kept before it are now, by their records. */
  async function follow() {
    const { last } = intake;
    const [now, some] = await Promise.all([last && readAccount(last), followKept()]);
    if (closed || last !== intake.last) return;
    said = now;
    drawLast();
    if (some && intake.found) drawList();
  }

  function drawRun() {
    const place = spot('run');
    if (!place) return;
    const { run } = intake;
    if (!run) {
      if (place.firstElementChild) render(place, html``);
      return;
    }
    const waits = run.waits === null ? 'goes' : 'waits';
    if (place.firstElementChild?.dataset.runStep !== `${run.step} ${waits}`) render(place, runSheet(run, `${run.step} ${waits}`));
    const bar = place.querySelector('progress');
    if (run.step === 'send') bar.value = run.bytes > 0 ? run.sent / run.bytes : 0;
    const line = place.querySelector('[data-run-words]');
    const words = runWords(run);
    if (line.textContent !== words) line.textContent = words;
  }

  function drawClock({ asItIs = false } = {}) {
    if (asItIs) clockForm.open = spot('clock')?.querySelector('details')?.open ?? clockForm.open;
    const zones = [...new Set([ownZone(), 'UTC', ...ground.sites.map((site) => site.fields.zone).filter(Boolean)])];
    fill('clock', clockSheet({ seen: intake.found.clock, clock: intake.clock, photos: goodPhotos(), said: intake.clockSaid, form: clockForm, zones, ownZone: ownZone() }));
    const large = spot('clock')?.querySelector('[data-large]');
    if (large) trying(showLarge)(large);
  }

  function drawList() {
    for (const sha256 of view.ticked) if (!intake.byHash.has(sha256)) view.ticked.delete(sha256);
    const all = listed();
    view.page = Math.max(0, Math.min(view.page, Math.ceil(all.length / PAGE) - 1));
    fill('head', listHead(view));
    fill('list', listRows(all, view));
    previews.watch(root);
    drawSketch(all);
    drawBar();
  }

  function drawSketch(all = listed()) {
    if (!sketch) return;
    const page = new Map(all.slice(view.page * PAGE, view.page * PAGE + PAGE).map(({ one, n }) => [one.sha256, n]));
    const photos = numbered().filter(({ one }) => !intake.left[one.sha256]).map(({ one, n }) => ({ one, n, place: placeOf(one) })).filter(({ place }) => place)
      .map(({ one, n, place }) => ({ sha256: one.sha256, n, lat: place.lat, lon: place.lon, accuracy_m: place.accuracy_m, state: intake.moved[one.sha256] ? 'by-hand' : intake.accepted[one.sha256] || one.known ? 'accepted' : 'open' }));
    sketch.show({
      photos, page, chosen: view.chosen, moving: moving !== null,
      lines: goodTracks().map((one) => one.line ?? []).filter((line) => line.length > 1),
      trees: ground.trees.filter((tree) => tree.place).map((tree) => ({ tag: tree.tag, lat: tree.place.lat, lon: tree.place.lon })),
    });
    const one = view.chosen ? intake.byHash.get(view.chosen) : null;
    fill('tools', placeTools({ one, n: numbered().find((row) => row.one === one)?.n, moving, place: one ? placeOf(one) : null }));
  }

  function drawBar() {
    const fresh = goodPhotos().filter((one) => !one.known && !intake.left[one.sha256]).length + goodTracks().filter((one) => !one.known).length;
    fill('bar', saveBar(fresh, intake.run !== null));
  }

  /** One photo's row anew, the head and the sketch; the other rows stay as they are. */
  function drawRows(hashes) {
    if (hashes.length > 8) {
      drawList();
      return;
    }
    const rows = numbered();
    for (const sha256 of hashes) {
      const row = rows.find(({ one }) => one.sha256 === sha256);
      const place = rowOf(sha256);
      if (!row || !place) continue;
      render(place, rowInside(row, view));
      place.classList.toggle('chosen', view.chosen === sha256);
    }
    fill('head', listHead(view));
    previews.watch(root);
    drawSketch();
    drawBar();
  }

  function markRow(sha256) {
    for (const row of root.querySelectorAll('.shot-row.hovered')) row.classList.remove('hovered');
    if (sha256) rowOf(sha256)?.classList.add('hovered');
  }

  /** Choose a photo: marked in the list and on the sketch; from the sketch its row is brought into sight. */
  function showPhoto(sha256, fromSketch) {
    const before = view.chosen;
    view.chosen = sha256;
    if (fromSketch && !rowOf(sha256)) {
      let at = listed().findIndex(({ one }) => one.sha256 === sha256);
      if (at < 0) {
        view.filter = 'all';
        at = listed().findIndex(({ one }) => one.sha256 === sha256);
      }
      view.page = Math.floor(at / PAGE);
      drawList();
    } else {
      for (const one of [before, sha256]) {
        if (!one || !rowOf(one)) continue;
        rowOf(one).classList.toggle('chosen', one === sha256);
        rowOf(one).querySelector('[data-show]').setAttribute('aria-pressed', one === sha256 ? 'true' : 'false');
      }
      drawSketch();
    }
    const place = placeOf(intake.byHash.get(sha256));
    if (fromSketch) rowOf(sha256)?.scrollIntoView({ block: 'nearest' });
    else if (place) sketch.reach(place);
  }

  // --- choosing ---

  async function chooseFor(hashes, what) {
    const focus = document.activeElement?.closest?.('[data-photo]') ? { sha256: hashes[0], like: likeThis(document.activeElement) } : null;
    await choose(hashes, what);
    if (closed) return;
    drawRows(hashes);
    if (focus?.like) rowOf(focus.sha256)?.querySelector(focus.like)?.focus({ preventScroll: true });
  }

  /** How a button of a row is found again after the row was drawn anew. */
  function likeThis(el) {
    const name = [...el.attributes].find((attribute) => attribute.name.startsWith('data-'));
    return name ? `[${name.name}${name.value ? `="${name.value}"` : ''}]` : null;
  }

  function beginMoving(hashes) {
    moving = hashes;
    if (hashes.length === 1) view.chosen = hashes[0];
    drawRows(hashes);
    root.querySelector('.intake-map').scrollIntoView({ block: 'nearest' });
    root.querySelector('#place-text')?.focus({ preventScroll: true });
  }

  async function placeThem(place) {
    const hashes = moving;
    if (!hashes) return;
    const before = hashes.map((sha256) => ({ sha256, place: intake.moved[sha256] ?? null, accepted: Boolean(intake.accepted[sha256]) }));
    moving = null;
    await chooseFor(hashes, { place });
    notice(hashes.length === 1 ? `${nameOf(intake.byHash.get(hashes[0]))} is placed by hand.` : `${hashes.length} photos are placed by hand.`, {
      undo: async () => {
        for (const one of before) await choose([one.sha256], { place: one.place, ...(one.accepted ? { accepted: true } : {}) });
        if (!closed && intake.found) drawRows(hashes);
      },
    });
  }

  function readTyped(form) {
    const fault = form.querySelector('.fault');
    fault.hidden = true;
    try {
      return typedPlace(form.elements.place.value);
    } catch (error) {
      if (!(error instanceof BadInput)) throw error;
      fault.textContent = [error.message, error.cure].filter(Boolean).join(' ');
      fault.hidden = false;
      form.elements.place.focus();
      return null;
    }
  }

  async function many(what) {
    const hashes = [...view.ticked];
    if (what === 'none') {
      view.ticked.clear();
    } else if (what === 'accept') {
      await chooseFor(hashes.filter((sha256) => placeOf(intake.byHash.get(sha256))), { accepted: true });
    } else if (what === 'move') {
      beginMoving(hashes);
    } else if (what === 'back') {
      await chooseFor(hashes, { place: null });
    } else if (what === 'leave') {
      await chooseFor(hashes, { left: true });
    } else if (what === 'tree') {
      const tree = await pickTree({ title: `Which tree do ${count(hashes.length, 'photo', 'photos')} show?`, trees: ground.trees, none: 'No tree' });
      if (tree !== undefined) await chooseFor(hashes, { tree: tree ?? '' });
    }
    if (!closed && intake.found) drawList();
  }

  // --- looking ---

  /** The whole picture as an address; home's small one where this browser cannot draw the kind. */
  async function wholePicture(sha256) {
    if (larges.has(sha256)) return larges.get(sha256);
    const fetched = async (path) => (await askHome(path, { waitMs: LARGE_WAIT_MS })).blob();
    let blob = await fetched(`/api/blob/${sha256}`);
    try {
      (await createImageBitmap(blob, { resizeWidth: 16 })).close();
    } catch {
      blob = await fetched(`/api/blob/${sha256}/preview`); // a kind this browser does not draw, as HEIC
    }
    for (const url of larges.values()) URL.revokeObjectURL(url); // one at a time: they are large
    larges.clear();
    larges.set(sha256, URL.createObjectURL(blob));
    return larges.get(sha256);
  }

  async function showLarge(place) {
    try {
      const url = await wholePicture(place.dataset.large);
      if (place.isConnected) render(place, html`<img src="${url}" alt="The photo of the clock">`);
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      if (place.isConnected) render(place, html`<p class="muted">Its picture cannot be shown here.</p>`);
    }
  }

  async function seeLarge(sha256) {
    const one = intake.byHash.get(sha256);
    const url = await wholePicture(sha256);
    const answer = await ask({
      title: nameOf(one), text: html`<img src="${url}" alt="${nameOf(one)}">`, no: 'Close',
      choices: one.camera_at ? [{ value: 'clock', label: 'It shows a clock' }] : [],
    });
    if (answer !== 'clock' || closed) return;
    clockForm = { open: true, way: 'photo', n: numbered().find((row) => row.one === one).n };
    drawClock();
    spot('clock').scrollIntoView({ block: 'start' });
  }

  // --- saving ---

  async function saveThem() {
    const fresh = goodPhotos().filter((one) => !one.known && !intake.left[one.sha256]);
    const open_ = fresh.filter(isToAccept);
    let some = fresh;
    if (open_.length > 0) {
      const rest = fresh.length - open_.length;
      const answer = await ask({
        title: open_.length === 1 ? 'One place is not accepted yet' : `${open_.length} places are not accepted yet`,
        text: html`<p>They are kept as the sketch shows them, or they wait here until they were looked at.</p>`,
        choices: [
          { value: 'all', label: open_.length === 1 ? 'Accept it and save' : 'Accept them and save', kind: 'primary' },
          ...(rest > 0 ? [{ value: 'some', label: `Save the other ${count(rest, 'photo', 'photos')}` }] : []),
        ],
      });
      if (answer === null || closed) return;
      if (answer === 'some') some = fresh.filter((one) => !isToAccept(one));
      else await choose(open_.map((one) => one.sha256), { accepted: true });
    }
    drawBar();
    try {
      await save(some, { sites: ground.sites, siteOfTree: (id) => ground.byId.get(id)?.site ?? null });
      notice('Kept at home. What went where stands at the top.');
    } finally {
      if (!closed) drawBar();
    }
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(fault.message, { kind: 'trouble' });
      // An answer that was lost may have been a yes: as soon as home answers, it is looked up.
      if (fault instanceof HomeError && intake.saving && !intake.run) trying(readThem)();
    }
  };

  const rowHash = (el) => el.closest('[data-photo]').dataset.photo;
  draw();
  const stops = [
    onIntake((what) => {
      if (closed) return;
      if (what === 'run') {
        drawRun();
        if (!intake.run && intake.found) drawBar();
      } else if (what === 'all') {
        moving = null;
        draw();
        if (intake.last !== lastSeen) globalThis.scrollTo(0, 0); // what went where is said at the top
        lastSeen = intake.last;
      }
    }),
    onStoreChange((what) => {
      if (!what.types || what.types.includes('photo') || what.types.includes('track')) trying(follow)();
      if (!what.types || !what.types.some((type) => ['tree', 'fix', 'site'].includes(type))) return;
      trying(async () => {
        ground = await readGround();
        if (!closed && intake.found) drawList();
      })();
    }),
    on(root, 'dragover', '[data-drop]', (ev, el) => { ev.preventDefault(); el.classList.add('over'); }),
    on(root, 'dragleave', '[data-drop]', (ev, el) => el.classList.remove('over')),
    on(root, 'drop', '[data-drop]', trying(async (ev, el) => {
      ev.preventDefault();
      el.classList.remove('over');
      await take(await filesOfDrop(ev.dataTransfer));
    })),
    on(root, 'click', '[data-stop]', () => stop()),
    on(root, 'click', '[data-go-on-now]', () => goOnNow()),
    on(root, 'click', '[data-send-rest]', trying(() => goOnSending())),
    on(root, 'click', '[data-read]', trying(() => readThem())),
    on(root, 'click', '[data-again]', trying(async () => {
      const sure = await ask({ title: 'Start again?', text: 'What was chosen here is let go. Nothing that is kept at home is touched.', choices: [{ value: true, label: 'Start again', kind: 'rust' }] });
      if (sure) await startAgain();
    })),
    on(root, 'click', '[data-save]', trying(saveThem)),
    on(root, 'click', '[data-take-back]', trying(async () => {
      const { saved } = intake.last;
      await takeBack();
      notice(`${count(saved.length, 'file is', 'files are')} taken back.`);
    })),
    on(root, 'click', '[data-forget]', trying(() => forgetLast())),
    on(root, 'click', '[data-forget-bad]', trying(() => forgetBad())),
    // the list
    on(root, 'click', '[data-filter]', (ev, el) => { Object.assign(view, { filter: el.dataset.filter, page: 0 }); drawList(); }),
    on(root, 'click', '[data-page]', (ev, el) => { view.page = Number(el.dataset.page); drawList(); spot('head').scrollIntoView({ block: 'start' }); }),
    on(root, 'click', '[data-accept]', trying((ev, el) => chooseFor([rowHash(el)], { tree: intake.trees[rowHash(el)] === el.dataset.accept ? '' : el.dataset.accept }))),
    on(root, 'click', '[data-other]', trying(async (ev, el) => {
      const sha256 = rowHash(el);
      const tree = await pickTree({ title: `Which tree does ${nameOf(intake.byHash.get(sha256))} show?`, trees: ground.trees, near: nearOf(intake.byHash.get(sha256)), none: 'No tree' });
      if (tree !== undefined) await chooseFor([sha256], { tree: tree ?? '' });
    })),
    on(root, 'click', '[data-place]', trying((ev, el) => chooseFor([rowHash(el)], { accepted: !intake.accepted[rowHash(el)] }))),
    on(root, 'click', '[data-put-back]', trying((ev, el) => chooseFor([rowHash(el)], { place: null }))),
    on(root, 'click', '[data-leave-out]', trying((ev, el) => chooseFor([rowHash(el)], { left: !intake.left[rowHash(el)] }))),
    on(root, 'click', '[data-move]', (ev, el) => beginMoving([rowHash(el)])),
    on(root, 'click', '[data-show]', (ev, el) => showPhoto(rowHash(el), false)),
    on(root, 'click', '[data-see]', trying((ev, el) => seeLarge(rowHash(el)))),
    on(root, 'pointerover', '[data-photo]', (ev, el) => sketch?.hover(el.dataset.photo)),
    on(root, 'pointerout', '[data-photo]', () => sketch?.hover(null)),
    on(root, 'focusin', '[data-photo]', (ev, el) => sketch?.hover(el.dataset.photo)),
    on(root, 'change', '[data-tick]', (ev, el) => {
      if (el.checked) view.ticked.add(rowHash(el));
      else view.ticked.delete(rowHash(el));
      fill('head', listHead(view));
    }),
    on(root, 'click', '[data-tick-all]', () => { for (const { one } of listed()) if (!one.known) view.ticked.add(one.sha256); drawList(); }),
    on(root, 'click', '[data-many]', trying((ev, el) => many(el.dataset.many))),
    on(root, 'click', '[data-accept-places]', trying(async () => { await choose(goodPhotos().filter(isToAccept).map((one) => one.sha256), { accepted: true }); drawList(); })),
    on(root, 'click', '[data-accept-plain]', trying(async () => {
      for (const one of goodPhotos()) {
        const tree = one.known || intake.left[one.sha256] || intake.trees[one.sha256] ? null : plainTree(nearOf(one));
        if (tree) intake.trees[one.sha256] = tree;
      }
      await choose(goodPhotos().filter((one) => intake.trees[one.sha256] && !one.known).map((one) => one.sha256), { accepted: true });
      drawList();
    })),
    // a place by hand
    on(root, 'submit', '#place-form', trying(async (ev, form) => {
      ev.preventDefault();
      const place = readTyped(form);
      if (place) await placeThem(place);
    })),
    on(root, 'click', '[data-stop-moving]', () => { moving = null; drawSketch(); }),
    on(root, 'keydown', '.page', (ev) => { if (ev.key === 'Escape' && moving) { moving = null; drawSketch(); } }),
    on(root, 'click', '[data-tool]', trying((ev, el) => {
      const { tool } = el.dataset;
      if (tool === 'move') return beginMoving([view.chosen]);
      return chooseFor([view.chosen], tool === 'back' ? { place: null } : { accepted: true });
    })),
    // the clock
    on(root, 'change', '#clock [name="way"]', (ev, el) => { clockForm = { ...clockForm, open: true, way: JSON.parse(el.value), n: clockForm.n ?? numbered().find(({ one }) => one.sha256 === view.chosen)?.n ?? null }; drawClock(); }),
    on(root, 'change', '#clock [name="n"]', (ev, el) => {
      const n = Number(el.value);
      clockForm = { ...clockForm, open: true, n: Number.isInteger(n) && goodPhotos()[n - 1] ? n : null };
      if (clockForm.n !== null) drawClock();
    }),
    on(root, 'submit', '#clock', trying(async (ev, form) => {
      ev.preventDefault();
      const clock = readClock(form, goodPhotos());
      clockForm = { ...clockForm, open: false };
      await setClock(clock);
    })),
    on(root, 'click', '[data-zone]', trying((ev, el) => setClock({ zone: el.dataset.zone }))),
  ];
  if (!intake.found && !intake.run && intake.sent.length > 0 && intake.rest.length === 0 && intake.sent.length >= intake.of) trying(readThem)();
  return () => {
    closed = true;
    stops.forEach((stopIt) => stopIt());
    sketch?.close();
    closeLoose?.();
    previews.close();
    for (const url of larges.values()) URL.revokeObjectURL(url);
  };
}
