/** Wire: which one a branch wants, when to look at it, what a look found, and that it is off. Works with no signal. */

import { BITES, GAUGES_MM, planWire, planWireDates } from '../core/wire.js';
import { recentKinds, todayOn } from '../hill/ground_facts.js';
import { cardOfKind } from '../hill/kind_card.js';
import { LOOK, readWire, UNWIRE, WIRE, wireOn } from '../hill/wire_facts.js';
import { dropDraft, getDraft, getPack, listRecords, newId, onStoreChange, saveChange, saveChanges, saveDraft } from '../store.js';
import { chips, dateField, findFault, FormFault, noteField, numberField, readDraft, readForm } from '../ui/form.js';
import { keepFolds } from '../ui/folds.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { treeTitle } from '../ui/tree_sheets.js';
import { plainSources, showDate, speciesName, tagName } from '../ui/words.js';
import { gaugeWords, gramWords, lengthWords, wireWords, wiringRow } from '../ui/wire_words.js';

const ASKED = ['branch_mm', 'length_mm', 'anchor_mm', 'done_on'];
const KINDS_SHOWN = 8;
const FRESH = { material: 'aluminium', branch_mm: null, length_mm: null, anchor_mm: null, kind: null, gauge_mm: null, done_on: null, note: null, gauge_by_hand: false };
const MATERIALS = [{ value: 'aluminium', label: 'Aluminium' }, { value: 'copper', label: 'Copper' }];

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id: of the tree; without one it only answers
 */
export async function open(root, params) {
  const id = params.id ?? null;
  const key = `wire-${id ?? 'any'}`;
  let closed = false;
  let facts = await read();
  let values = { ...FRESH, ...(await getDraft(key)) };

  async function read() {
    if (id !== null) return readWire(id);
    const [pack, trees] = await Promise.all([getPack(), listRecords('tree')]);
    return { tree: null, pack, kinds: recentKinds(trees, null, pack).slice(0, KINDS_SHOWN), south: false };
  }

  const card = () => (facts.tree ? facts.card : cardOfKind(facts.pack, values.kind));

  function drawMissing() {
    render(root, html`<div class="page"><div class="page-head"><h1>Wire</h1></div><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
  }

  function draw() {
    if (!facts) {
      drawMissing();
      return;
    }
    const fields = facts.tree?.fields ?? null;
    const name = fields && treeTitle(fields.tag, speciesName(facts.pack, fields.species));
    render(root, html`<div class="page">
      <div class="page-head">${fields ? html`<a class="back" href="#/tree/${id}">${icon('back')}${name}</a>` : html`<a class="back" href="#/trees">${icon('back')}Trees</a>`}<h1>Wire</h1></div>
      <div data-on-place>${onPart()}</div>
      <form novalidate id="wire" class="cols wide-first"><div><section class="sheet"><h2>Which wire?</h2>
        ${!fields && facts.kinds.length > 0 && chips({ name: 'kind', label: 'Kind of tree', value: values.kind, options: facts.kinds.map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) })), hint: 'for when to look at it' })}
        ${chips({ name: 'material', label: 'Wire', options: MATERIALS, value: values.material })}
        ${numberField({ name: 'branch_mm', label: 'Branch, thickness', unit: 'mm', value: values.branch_mm, step: 1, start: 5, min: 0.5, max: 100, whole: false, hint: 'where the bend will be' })}
        ${numberField({ name: 'length_mm', label: 'Branch, length', unit: 'mm', value: values.length_mm, step: 50, start: 200, min: 10, max: 20_000, hint: 'the part to be wired' })}
        ${numberField({ name: 'anchor_mm', label: 'Stem it is anchored on', unit: 'mm', value: values.anchor_mm, step: 5, start: 20, min: 1, max: 1000, whole: false, hint: 'thickness, if you know it' })}</section></div>
        <div><section class="sheet" data-answer-place></section>${fields && noteSheet()}</div></form></div>`);
    drawAnswer();
  }

  function noteSheet() {
    return html`<section class="sheet"><h2>It is on</h2>
      ${chips({ name: 'gauge_mm', label: 'Taken, mm', hint: 'the middle one of those that fit is chosen; tap another if you took that', options: GAUGES_MM.map((size) => ({ value: size, label: String(size) })), value: values.gauge_mm })}
      ${dateField({ name: 'done_on', label: 'Put on', value: values.done_on, hint: 'left empty: today', today: true, past: true })}
      ${noteField({ name: 'note', label: 'Which branch', value: values.note, rows: 2 })}
      <div class="actions"><button type="submit" class="button primary hill">${icon('wire')}Note the wire</button></div></section>`;
  }

  function onPart() {
    if (!facts.tree) return null;
    const there = wireOn(facts, todayOn());
    if (there.length === 0) return null;
    return html`<section class="sheet" data-on><h2>On the tree</h2><ul class="entries">${there.map(wiringRow)}</ul>
      ${there.length > 1 && html`<p><button type="button" class="button hill" data-all-off>${icon('cut')}All wire is off</button></p>`}</section>`;
  }

  function drawAnswer() {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    const fault = findFault(root.querySelector('#wire'), ASKED);
    const number = (value) => (typeof value === 'number' ? value : null);
    const [branch, length, anchor] = [values.branch_mm, values.length_mm, values.anchor_mm].map(number);
    if (fault || branch === null || length === null) {
      render(place, html`<h2>Take</h2>${fault ? html`<p class="state ask" role="alert">${icon('warn')}<span>${fault}</span></p>` : html`<p class="muted">Tell how thick and how long the branch is.</p>`}${datesPart()}`);
      return;
    }
    const wire = planWire(branch, length, values.material, anchor);
    recommend(wire.sizes_mm);
    render(place, html`<h2>Take</h2><div aria-live="polite" aria-atomic="true"><p class="big-number" data-gauge>${gaugeWords(wire.sizes_mm)} <span class="unit">${wire.material}</span></p>
      <p class="strong" data-length>${lengthWords(wire.length_mm)} of it, ${gramWords(wire.mass_g)}</p></div>
      <ul class="reasons" aria-label="Reasons">${wire.why.map((one) => html`<li data-code="${one.code}">${icon('info')}<p>${one.text}</p></li>`)}${wire.cautions.map((one) => html`<li class="ask" data-code="${one.code}">${icon('ask')}<p>${one.text}</p></li>`)}</ul>
      ${datesPart()}`);
  }

  /** The gauge that fits is chosen until a person chooses one. */
  function recommend(sizes) {
    if (values.gauge_by_hand) return;
    values.gauge_mm = sizes[Math.floor(sizes.length / 2)];
    for (const chip of root.querySelectorAll('[name="gauge_mm"]')) chip.checked = chip.value === String(values.gauge_mm);
  }

  function datesPart() {
    const known = card();
    if (!known) return html`<p class="state ask">${icon('ask')}<span>Home has not sent when to look at wire. Sync once at home.</span></p>`;
    const on = values.done_on ?? todayOn();
    const dates = planWireDates(known, on, facts.south);
    const isResting = dates.counts_from > on;
    return html`<p data-first-look><span class="strong">Put on ${on === todayOn() ? 'today' : showDate(on)}: first look ${showDate(dates.first_look_on)}.</span> Off between ${showDate(dates.off_from)} and ${showDate(dates.off_by)}, sooner where it touches.</p>
      ${isResting && html`<p class="state ask" data-resting>${icon('ask')}<span>Nothing grows now: growth begins the clock. The weeks are counted from ${showDate(dates.counts_from)}, before most buds break, and look all the same.</span></p>`}
      <details class="fold" data-fold="why"><summary>Why these days</summary><p>${dates.why}</p>${isResting && html`<p>That wire put on in the resting months counts from their end is common practice.</p>`}<p class="muted">How long it may stay on: ${plainSources(dates.source)}.${(known.stands_in || known.kind === 'default') && ' The kind is not told or has no card: the careful one is used.'}</p></details>`;
  }

  /** Save works and say so, with the way back. */
  async function keep(changes, words) {
    const recs = await saveChanges(changes);
    notice(`${words} Saved on this phone.`, { undo: () => saveChanges(recs.map((rec) => ({ rec, type: 'work', set: { deleted: true } }))) });
  }

  const aWork = (kind, more) => ({ type: 'work', set: { tree: id, kind, done_on: todayOn(), ...more } });
  const tag = () => tagName(facts.tree.fields.tag, 'The tree');

  async function found(rec, bites) {
    await keep([aWork(LOOK, { detail: { wire: rec, bites } })], BITES[bites].text);
  }

  async function isOff(recs) {
    await keep(recs.map((wire) => aWork(UNWIRE, { detail: { wire } })), recs.length === 1 ? 'The wire is off.' : `${tag()}: all wire is off.`);
  }

  async function save(form) {
    let told;
    try {
      told = readForm(form);
    } catch (fault) {
      if (fault instanceof FormFault) return false; // its sentence stands at the field
      throw fault;
    }
    const { material, gauge_mm, branch_mm, length_mm, done_on: day, note } = told;
    const rec = newId();
    await saveChange({ rec, type: 'work', set: { tree: id, kind: WIRE, done_on: day ?? todayOn(), detail: { material, gauge_mm, branch_mm, length_mm }, note } });
    notice(`${tag()}: ${wireWords({ material, gauge_mm })} is on. Saved on this phone.`, { undo: () => saveChange({ rec, type: 'work', set: { deleted: true } }) });
    values = { ...FRESH, material };
    await dropDraft(key);
    facts = await read();
    if (!closed) draw();
    return true;
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  draw();
  const tap = oneTap();
  const follow = trying(async (ev) => {
    values = { ...values, ...readDraft(root.querySelector('#wire')) };
    if (ev.target.name === 'gauge_mm') values.gauge_by_hand = true;
    keepFolds(root, drawAnswer);
    await saveDraft(key, values);
  });
  const stops = [
    on(root, 'input', '#wire', follow),
    on(root, 'change', '#wire', follow),
    on(root, 'submit', '#wire', tap((ev, form) => (id === null ? false : save(form)))),
    on(root, 'click', '[data-found]', tap((ev, button) => found(button.closest('[data-wiring]').dataset.wiring, button.dataset.found))),
    on(root, 'click', '[data-off]', tap((ev, button) => isOff([button.closest('[data-wiring]').dataset.wiring]))),
    on(root, 'click', '[data-all-off]', tap(() => isOff(wireOn(facts, todayOn()).map((one) => one.id)))),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'lift', 'work', 'garden'].includes(type))) return;
      const fresh = await read();
      if (closed) return;
      const wasThere = facts !== null;
      facts = fresh;
      if (!facts || !wasThere) {
        draw();
        return;
      }
      render(root.querySelector('[data-on-place]'), html`${onPart()}`);
      drawAnswer();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
