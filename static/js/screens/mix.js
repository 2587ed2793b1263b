/** The mix for a box: litres of each part, its mass, and the water and air it may hold; kept with the tree's box. */

import { BadInput } from '../core/errors.js';
import { planMix, readParts } from '../core/mix.js';
import { boxOfShape, readBox, shapeOf } from '../hill/box_facts.js';
import { todayOn } from '../hill/ground_facts.js';
import { ofOthers } from '../hill/whose.js';
import { dropDraft, getDraft, getPack, newId, onStoreChange, saveChange, saveDraft } from '../store.js';
import { dateField, findFault, readDraft } from '../ui/form.js';
import { keepFolds } from '../ui/folds.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { amountsOf, draftOfMix, litreWords, partFields, rangeWords, shapeFields, sourceRows } from '../ui/mix_words.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { treeTitle } from '../ui/tree_sheets.js';
import { showDate, speciesName, tagName } from '../ui/words.js';

const FRESH = { shape: 'box', length_cm: null, width_cm: null, height_cm: null, volume_l: null, chosen: [], boxed_on: null };
const SIZES = ['length_cm', 'width_cm', 'height_cm', 'volume_l', 'boxed_on'];

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id: of the tree; without one it only answers
 */
export async function open(root, params) {
  const id = params.id ?? null;
  const key = `mix-${id ?? 'any'}`;
  let closed = false;
  let facts = await read();
  let values = { ...FRESH, ...asKept(), ...(await getDraft(key)) };

  async function read() {
    if (id === null) return { tree: null, box: null, pack: await getPack() };
    const known = await readBox(id, todayOn());
    return known && { ...known, mayChange: !known.box || !(await ofOthers([known.box])).has(known.box.id) };
  }

  /** The form as the tree's box stands in the books. */
  function asKept() {
    const fields = facts?.box?.fields ?? null;
    return fields ? { ...shapeOf(fields), ...draftOfMix(fields.mix) } : {};
  }

  const materials = () => facts.pack?.care?.materials ?? {};

  function draw() {
    if (!facts) {
      render(root, html`<div class="page"><div class="page-head"><h1>Mix for a box</h1></div><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
      return;
    }
    const fields = facts.tree?.fields ?? null;
    const name = fields && treeTitle(fields.tag, speciesName(facts.pack, fields.species));
    render(root, html`<div class="page">
      <div class="page-head">${fields ? html`<a class="back" href="#/tree/${id}">${icon('back')}${name}</a>` : html`<a class="back" href="#/trees">${icon('back')}Trees</a>`}<h1>Mix for a box</h1></div>
      ${facts.pack?.care ? html`<form novalidate id="mix" class="cols wide-first"><div>
        <section class="sheet"><h2>The box</h2><div class="stack" data-shape>${shapeFields(values)}</div></section>
        <section class="sheet"><h2>The mix</h2><div class="stack" data-parts>${partFields(values.chosen, values, materials())}</div></section></div>
        <div><section class="sheet" data-answer-place></section>${fields && saveSheet()}</div></form>` : html`<div class="empty">${icon('sync')}<p>Home has not sent the materials yet. Sync once at home; then this works with no signal.</p></div>`}</div>`);
    drawAnswer();
  }

  function saveSheet() {
    const { box } = facts;
    return html`<section class="sheet"><h2>Its box</h2>
      ${!facts.mayChange ? html`<p class="state ask">${icon('ask')}<span>Somebody else noted its box: this phone may only reckon with it.</span></p>` : html`${box ? html`<p class="muted">Boxed ${box.fields.boxed_on ? showDate(box.fields.boxed_on) : 'on a day not noted'}. What is above takes the place of what was noted of it.</p>` : dateField({ name: 'boxed_on', label: 'Filled on', value: values.boxed_on, hint: 'left empty: today. Long after the lift it counts as a repotting.', today: true, past: true })}
      <div class="actions"><button type="submit" class="button primary hill">${icon('box')}${box ? 'Keep it with its box' : 'Note the box'}</button></div>`}</section>`;
  }

  const parts = () => readParts(amountsOf(values.chosen, values), materials());

  function drawAnswer() {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    const names = [...SIZES, ...values.chosen.map((name) => `part-${name}`)];
    const fault = findFault(root.querySelector('#mix'), names);
    const { litres, depth_cm: depth } = boxOfShape(values);
    const mixed = parts();
    const body = fault ? trouble(fault) : litres === null ? html`<p class="muted">Tell how large the box is inside.</p>` : mixed.length === 0 ? html`<p class="muted">It holds ${litreWords(litres)}. Tap what goes in, then how many parts of each.</p>` : answer(mixed, litres, depth);
    render(place, html`<h2>To mix</h2>${body}`);
  }

  const trouble = (sentence) => html`<p class="state ask" role="alert">${icon('warn')}<span>${sentence}</span></p>`;

  function answer(mixed, litres, depth) {
    let plan;
    try {
      plan = planMix(mixed, litres, depth);
    } catch (fault) {
      if (fault instanceof BadInput) return trouble([fault.message, fault.cure].filter(Boolean).join(' '));
      throw fault;
    }
    const whole = plan.litres.reduce((sum, [, one]) => sum + one, 0);
    const line = (range, unit, digits) => (range === null ? 'not known for all of it' : rangeWords(range, unit, digits));
    return html`<div aria-live="polite" aria-atomic="true"><p class="big-number" data-whole>${litreWords(whole)}</p><p class="muted">for a box of ${litreWords(litres)}</p>
      <dl class="facts" data-litres>${mixed.map(({ material, share }, n) => html`<dt>${material.words}</dt><dd><span class="strong">${litreWords(plan.litres[n][1])}</span> <span class="muted">${Math.round(share * 100)} %</span></dd>`)}</dl></div>
      <h3>The filled box, without the tree</h3>
      <dl class="facts"><dt>Dry</dt><dd data-dry>${line(plan.dry_kg, 'kg', 1)}</dd><dt>Wet</dt><dd data-wet>${line(plan.wet_kg, 'kg', 1)}</dd>
        <dt>Water, drained</dt><dd data-water>${line(plan.water_pct, '% of it')}</dd><dt>Air, drained</dt><dd data-air>${line(plan.air_pct, '% of it')}</dd></dl>
      <ul class="reasons" aria-label="Mind">${plan.cautions.map((one) => html`<li class="ask" data-code="${one.code}">${icon('ask')}<p>${one.text}</p></li>`)}</ul>
      <details class="fold" data-fold="sources"><summary>Where the figures are from</summary>${sourceRows(mixed.map(({ material }) => material))}</details>`;
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function save(form) {
    const fault = findFault(form, [...SIZES, ...values.chosen.map((name) => `part-${name}`)]);
    const { litres, fields } = boxOfShape(values);
    const mix = amountsOf(values.chosen, values);
    if (fault || (litres === null && Object.keys(mix).length === 0)) {
      notice(fault ?? 'Tell the box or the mix first.', { kind: 'plain' });
      return false;
    }
    const told = Object.fromEntries(Object.entries({ ...fields, ...(Object.keys(mix).length > 0 ? { mix } : {}) }).filter(([, value]) => value !== null));
    const { box } = facts;
    const tag = tagName(facts.tree.fields.tag, 'the tree');
    if (box) {
      const before = Object.fromEntries(Object.keys(told).map((name) => [name, box.fields[name] ?? null]));
      await saveChange({ rec: box.id, type: 'box', set: told, seen: box });
      notice(`The box of ${tag} is changed. Saved on this phone.`, { undo: () => saveChange({ rec: box.id, type: 'box', set: before }) });
    } else {
      const rec = newId();
      await saveChange({ rec, type: 'box', set: { tree: id, boxed_on: values.boxed_on ?? todayOn(), ...told } });
      notice(`The box of ${tag} is noted. Saved on this phone.`, { undo: () => saveChange({ rec, type: 'box', set: { deleted: true } }) });
    }
    await dropDraft(key);
    return true;
  }

  draw();
  const tap = oneTap();
  const follow = trying(async () => {
    const before = values;
    values = { ...values, ...readDraft(root.querySelector('#mix')) };
    values.chosen ??= [];
    if (before.shape !== values.shape) render(root.querySelector('[data-shape]'), html`${shapeFields(values)}`);
    if (before.chosen.join() !== values.chosen.join()) {
      render(root.querySelector('[data-parts]'), html`${partFields(values.chosen, values, materials())}`);
      const last = values.chosen.find((name) => !before.chosen.includes(name));
      if (last) root.querySelector(`[name="part-${CSS.escape(last)}"]`)?.focus();
    }
    keepFolds(root, drawAnswer);
    await saveDraft(key, values);
  });
  const stops = [
    on(root, 'input', '#mix', follow),
    on(root, 'submit', '#mix', tap((ev, form) => (facts.mayChange ? save(form) : false))),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'box'].includes(type))) return;
      const fresh = await read();
      if (closed) return;
      const seen = (some) => JSON.stringify([some?.tree?.fields ?? null, some?.box?.fields ?? null]);
      const isOther = seen(fresh) !== seen(facts) || !root.querySelector('#mix');
      facts = fresh;
      if (isOther && !(await getDraft(key))) values = { ...FRESH, ...asKept() };
      if (closed) return;
      if (isOther) draw();
      else drawAnswer();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
