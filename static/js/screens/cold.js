/** Cold: which boxes to shelter in a night of that cold, place by place, and that it was done. Works with no signal. */

import { COLDEST_C, degreesWords, HOTTEST_C } from '../core/cold.js';
import { judgeAll, keepTonight, readFrost, SHELTER, UNSHELTER } from '../hill/frost.js';
import { todayOn } from '../hill/ground_facts.js';
import { onStoreChange, saveChanges } from '../store.js';
import { degreeField, turnSigns } from '../ui/degree_field.js';
import { findFault, readDraft } from '../ui/form.js';
import { keepFolds } from '../ui/folds.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { count, plainSources, showDate, tagName } from '../ui/words.js';

const SAFE_SHOWN = 200;

const placeName = (place) => place?.fields.name ?? 'At no place that is noted';

/** Open the screen. @param {Element} root */
export async function open(root) {
  const today = todayOn();
  let facts = await readFrost(today);
  let tmin = facts.typed;
  let closed = false;

  const night = () => (tmin === null ? null : { tmin_c: tmin, on: today });
  const judged = () => judgeAll(facts, night);

  function draw() {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>Cold tonight</h1><p class="under">Roots in a box meet the cold of the air within hours. Each kind has its line; a forecast errs by some degrees, and a hollow is colder.</p></div>
      <form novalidate id="cold" class="sheet"><h2>The night</h2>
        ${degreeField({ name: 'tmin_c', label: 'Coldest expected', value: tmin, step: 1, start: -3, min: COLDEST_C, max: HOTTEST_C })}
        <div data-logged>${loggedPart()}</div></form>
      <div class="cold-places" data-places></div><div data-in></div></div>`);
    drawPlaces();
    drawSheltered();
  }

  function loggedPart() {
    const names = new Map(facts.rows.map(({ place }) => [place?.id, placeName(place)]));
    const known = [...facts.logged].filter(([place]) => names.has(place));
    return known.length > 0 && html`<div class="pick-row">${known.map(([place, last]) => html`<button type="button" class="button hill" data-take="${last.tmin_c}">As last noted in ${names.get(place)}: ${degreesWords(last.tmin_c)}, ${showDate(last.on)}</button>`)}</div>`;
  }

  function drawPlaces() {
    const place = root.querySelector('[data-places]');
    const fault = findFault(root.querySelector('#cold'), ['tmin_c']);
    if (fault) render(place, html`<p class="state ask" role="alert">${icon('warn')}<span>${fault}</span></p>`);
    else if (!facts.pack?.care) render(place, html`<div class="empty">${icon('sync')}<p>Home has not sent the lines of the kinds yet. Sync once at home; then this works with no signal.</p></div>`);
    else if (facts.rows.length === 0) render(place, html`<div class="empty">${icon('box')}<p>No lifted tree is kept here yet: what stands in the ground needs no shelter from you.</p></div>`);
    else if (tmin === null) render(place, html`<p class="muted">Write what the forecast says for the night.</p>`);
    else render(place, html`<div class="stack" aria-live="polite">${sumLine()}</div>${judged().map(placePart)}${cautions()}`);
  }

  function sumLine() {
    const all = judged();
    const open = all.flatMap(({ shelter }) => shelter).filter((row) => !row.is_sheltered).length;
    const done = all.flatMap(({ shelter }) => shelter).length - open;
    const near = all.flatMap(({ near: some }) => some).length;
    if (open > 0) return html`<div class="verdict no" data-sum="shelter">${icon('no')}<p class="verdict-word">Shelter ${count(open, 'tree', 'trees')}</p>${done > 0 && html`<p>${count(done, 'is', 'are')} sheltered already.</p>`}</div>`;
    if (done > 0) return html`<div class="verdict yes" data-sum="done">${icon('yes')}<p class="verdict-word">All sheltered</p></div>`;
    return near > 0
      ? html`<div class="verdict ask" data-sum="near">${icon('ask')}<p class="verdict-word">Near the line</p><p>${count(near, 'tree is', 'trees are')} less than 3 degrees above it.</p></div>`
      : html`<div class="verdict yes" data-sum="safe">${icon('yes')}<p class="verdict-word">All stand it</p></div>`;
  }

  function placePart({ place, shelter, near, safe }) {
    const open = shelter.filter((row) => !row.is_sheltered);
    return html`<section class="sheet" data-place="${place?.id ?? ''}"><h2>${placeName(place)}</h2>
      ${shelter.length > 0 && html`<ul class="entries" aria-label="To shelter">${shelter.map((row) => treeRow(row, open.length === 1))}</ul>`}
      ${open.length > 1 && html`<p><button type="button" class="button primary hill wide" data-all="${place?.id ?? ''}">${icon('done')}All ${open.length} sheltered</button></p>`}
      ${near.length > 0 && html`<h3>Near the line</h3><ul class="entries" aria-label="Near the line">${near.map((row) => treeRow(row, false))}</ul>`}
      ${safe.length > 0 && html`<details class="fold" data-fold="safe-${place?.id ?? ''}"><summary>${count(safe.length, 'tree stands', 'trees stand')} it</summary><p>${safe.slice(0, SAFE_SHOWN).map((row, n) => html`${n > 0 && ', '}<a href="#/tree/${row.id}">${tagName(row.tag, 'no tag')}</a> ${row.card.name}`)}${safe.length > SAFE_SHOWN && html` and ${safe.length - SAFE_SHOWN} more`}.</p></details>`}</section>`;
  }

  /** What stands in its shelter, whatever the night: in the mild days it wants out. */
  function drawSheltered() {
    const inside = facts.rows.filter((row) => row.shelters.length > 0);
    const row = ({ id, tag, card, sheltered_on: since }) => html`<li class="cold-tree" data-in-tree="${id}"><p><a class="tag" href="#/tree/${id}" aria-label="Tree ${tagName(tag, 'without a tag')}">${tagName(tag, 'no tag')}</a> <span class="strong">${card.name}</span> <span class="muted">since ${showDate(since)}</span>
      <button type="button" class="button hill" data-out="${id}" aria-label="Out again: ${tagName(tag, 'no tag')}">${icon('undo')}Out again</button></p></li>`;
    render(root.querySelector('[data-in]'), html`${inside.length > 0 && html`<section class="sheet"><details class="fold" data-fold="inside"><summary>${count(inside.length, 'tree is', 'trees are')} in shelter</summary><ul class="entries" aria-label="In shelter">${inside.map(row)}</ul>
      ${inside.length > 1 && html`<p><button type="button" class="button hill wide" data-all-out>${icon('undo')}All ${inside.length} are out again</button></p>`}</details></section>`}`);
  }

  function rowAct({ id, tag, shelters, is_sheltered: isDone }, isOnly) {
    const name = tagName(tag, 'no tag');
    if (isDone) return shelters.length > 0 && html`<button type="button" class="button hill" data-out="${id}" aria-label="Out again: ${name}">${icon('undo')}Out again</button>`;
    return html`<button type="button" class="button hill ${isOnly ? 'primary' : ''}" data-one="${id}" aria-label="It is sheltered: ${name}">${icon('done')}It is sheltered</button>`;
  }

  function treeRow(row, isOnly) {
    const { id, tag, card, night: told, is_sheltered: isDone } = row;
    const face = isDone ? ['good', 'done', 'sheltered'] : told.answer === 'shelter' ? ['bad', 'no', 'to shelter'] : ['ask', 'ask', 'near the line'];
    const [line, ...more] = told.reasons;
    return html`<li class="cold-tree" data-tree="${id}" data-answer="${told.answer}"><p><a class="tag" href="#/tree/${id}" aria-label="Tree ${tagName(tag, 'without a tag')}">${tagName(tag, 'no tag')}</a> <span class="strong">${card.name}</span> <span class="state ${face[0]}">${icon(face[1])}${face[2]}</span></p>
      <p>${line.text}</p><div class="pick-row">${rowAct(row, isOnly)}</div><details class="fold" data-fold="why-${id}"><summary>Why this line<span class="unseen">: ${tagName(tag, 'no tag')}</span></summary>${more.map((one) => html`<p class="muted">${plainSources(one.text)}</p>`)}</details></li>`;
  }

  function cautions() {
    const said = new Map(judged().flatMap(({ shelter, near }) => [...shelter, ...near]).flatMap((row) => row.night.cautions).map((one) => [one.code, one.text]));
    return said.size > 0 && html`<ul class="reasons" aria-label="Mind">${[...said].map(([code, text]) => html`<li class="ask" data-code="${code}">${icon('ask')}<p>${text}</p></li>`)}</ul>`;
  }

  /** Draw the answer anew with what was folded open still open. */
  function again() {
    keepFolds(root, () => {
      drawPlaces();
      drawSheltered();
    });
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function shelterAll(place) {
    const { shelter } = judged().find((one) => (one.place?.id ?? '') === place);
    await note(shelter.filter((row) => !row.is_sheltered).map(({ id }) => id));
  }

  async function note(trees) {
    const recs = await saveChanges(trees.map((id) => ({ type: 'work', set: { tree: id, kind: SHELTER, done_on: today, detail: { tmin_c: tmin } } })));
    notice(`${count(recs.length, 'tree is', 'trees are')} noted as sheltered. Saved on this phone.`, { undo: () => saveChanges(recs.map((rec) => ({ rec, type: 'work', set: { deleted: true } }))) });
  }

  async function out(rows) {
    const recs = await saveChanges(rows.map(({ id, shelters }) => ({ type: 'work', set: { tree: id, kind: UNSHELTER, done_on: today, detail: { shelters } } })));
    notice(`${count(recs.length, 'tree is', 'trees are')} noted as out again. Saved on this phone.`, { undo: () => saveChanges(recs.map((rec) => ({ rec, type: 'work', set: { deleted: true } }))) });
  }

  draw();
  const tap = oneTap();
  const follow = trying(async () => {
    const { tmin_c: read } = readDraft(root.querySelector('#cold'));
    tmin = typeof read === 'number' && read >= COLDEST_C && read <= HOTTEST_C ? read : null;
    again();
    await keepTonight(today, tmin);
  });
  const stops = [
    on(root, 'input', '#cold', follow),
    on(root, 'submit', '#cold', (ev) => ev.preventDefault()),
    on(root, 'click', '[data-take]', trying(async (ev, button) => {
      root.querySelector('[name="tmin_c"]').value = button.dataset.take;
      await follow();
    })),
    on(root, 'click', '[data-all]', tap((ev, button) => shelterAll(button.dataset.all))),
    on(root, 'click', '[data-one]', tap((ev, button) => note([button.dataset.one]))),
    on(root, 'click', '[data-out]', tap((ev, button) => out(facts.rows.filter((row) => row.id === button.dataset.out)))),
    on(root, 'click', '[data-all-out]', tap(() => out(facts.rows.filter((row) => row.shelters.length > 0)))),
    turnSigns(root),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'lift', 'work', 'box', 'garden', 'site', 'weather_day'].includes(type))) return;
      const fresh = await readFrost(today);
      if (closed) return;
      facts = fresh;
      render(root.querySelector('[data-logged]'), html`${loggedPart()}`);
      again();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
