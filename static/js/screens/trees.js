/** Trees: every tree kept, to be found by its tag, kind, site or stage, the nearest first when a position is known. */

import { watchFix } from '../device.js';
import { showCm } from '../core/lengths.js';
import { metresBetween, readTrees, todayOn } from '../hill/ground_facts.js';
import { Thumbs } from '../hill/shots.js';
import { putTreeBack, treesTakenAway } from '../hill/taken_away.js';
import { nextTasks } from '../hill/tree_facts.js';
import { ofOthers } from '../hill/whose.js';
import { getMeta, listRecords, onStoreChange, setMeta } from '../store.js';
import { chips, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { dueShort, tagLabel } from '../ui/tree_sheets.js';
import { count, showDate, showDistance, speciesName, stageMeaning, stageWord, tagName } from '../ui/words.js';

const STAGES = ['marked', 'lifted', 'settling', 'gaining', 'working'];
const ENDS = ['lost', 'parted', 'left_standing'];
const STEP_M = 10; // moved so far, the nearest may be others
const ORDER = 'trees-order'; // kept on this phone: "nearest first" is for the moment, and not
const TWINS_AT_ONCE = 3;
const AT_ONCE = 60; // rows drawn before "show more": a phone draws these without a pause

let kept = { text: '', stage: 'alive', site: null, kind: null, order: 'tag' }; // lives as long as the page, not longer

/**
 * The trees a filter lets through.
 * @param {object[]} rows of readTrees
 * @param {{text: string, stage: string, site: string|null, kind: string|null}} filter stage: 'alive', 'all' or a stage
 */
export function filterTrees(rows, filter) {
  const words = filter.text.toLowerCase().split(/\s+/).filter(Boolean);
  return rows.filter((row) => {
    if (filter.stage === 'alive' && ENDS.includes(row.stage)) return false;
    if (!['alive', 'all'].includes(filter.stage) && row.stage !== filter.stage) return false;
    if (filter.site && row.site !== filter.site) return false;
    if (filter.kind && row.kind !== filter.kind) return false;
    return words.every((word) => row.text.includes(word));
  });
}

/**
 * The tags that more than one tree of the list bears, as two phones give them out of each other's sight.
 * @param {object[]} rows of readTrees
 * @returns {{tag: string, count: number}[]}
 */
export function twinTags(rows) {
  const all = new Map();
  for (const { tag } of rows) if (tag) all.set(tag.trim().toLowerCase(), [...(all.get(tag.trim().toLowerCase()) ?? []), tag]);
  return [...all.values()].filter((tags) => tags.length > 1).map((tags) => ({ tag: tags[0], count: tags.length }));
}

/** Tags in the order a person counts: R2 before R10; trees without one come last. */
function byTag(a, b) {
  if (!a.tag || !b.tag) return Number(!a.tag) - Number(!b.tag);
  return String(a.tag).localeCompare(String(b.tag), 'en', { numeric: true });
}

/**
 * What is due first stands first; trees with nothing due follow by their tag.
 * @param {Map<string, object>} next what nextTasks gave
 */
function byDue(next) {
  const day = (row) => {
    const task = ENDS.includes(row.stage) ? null : next.get(row.id);
    return task ? String(task.by ?? task.from ?? '9') : '~';
  };
  return (a, b) => (day(a) < day(b) ? -1 : day(a) > day(b) ? 1 : byTag(a, b));
}

/** The trees, of each what is due next, and those that were taken away and can be put back here. */
async function readAll(fix) {
  const [facts, states, gone] = await Promise.all([readTrees(fix), listRecords('task_state'), treesTakenAway()]);
  const others = await ofOthers(gone);
  return { ...facts, away: gone.filter(({ id }) => !others.has(id)), next: nextTasks(facts.pack?.tasks ?? [], states, todayOn()) };
}

/** Open the screen. */
export async function open(root) {
  let fix = null;
  let facts = await readAll(fix);
  let atMost = AT_ONCE;
  if (kept.order !== 'near') kept.order = (await getMeta(ORDER)) ?? 'tag';
  const thumbs = new Thumbs();

  function row(one) {
    const next = ENDS.includes(one.stage) ? undefined : facts.next.get(one.id);
    const about = [one.siteName ?? 'no site', one.girth_mm === null ? null : `girth ${showCm(one.girth_mm)}`].filter(Boolean).join(', ');
    return html`<li><a class="entry tree-row" href="#/tree/${one.id}">
      <span class="entry-icon tree-thumb" data-thumb="${one.thumb ?? ''}">${icon('trees')}</span>
      <span class="entry-title">${tagLabel(one.tag)} <span>${speciesName(facts.pack, one.kind)}</span></span>
      <span class="state ${ENDS.includes(one.stage) ? 'quiet' : ''}">${icon(`stage_${one.stage}`)}${stageWord(one.stage)}</span>
      <span class="entry-under" data-next>${next ? dueShort(next, todayOn()) : about}</span>
      ${one.distance_m !== null && html`<span class="muted nowrap tree-away">${showDistance(one.distance_m)} away</span>`}
      ${next && html`<span class="muted tree-about">${about}</span>`}</a></li>`;
  }

  /** Trees taken away by mistake have their way back here, long after the notice is gone. */
  function takenAway() {
    const { away, pack, sites } = facts;
    return away.length > 0 && html`<details class="fold" data-fold="away"><summary>Taken away: ${count(away.length, 'tree', 'trees')}</summary>
      <ul class="entries">${away.map(({ id, fields }) => html`<li><div class="entry"><span class="entry-icon">${icon('bin')}</span>
        <span class="entry-main"><span class="entry-title">${tagLabel(fields.tag)} ${speciesName(pack, fields.species)}</span>
          <span class="entry-under">${[sites.get(fields.site) ?? 'no site', fields.marked_on && `marked ${showDate(fields.marked_on)}`].filter(Boolean).join(', ')}</span></span>
        <button type="button" class="button hill" data-put-back="${id}" data-name="${tagName(fields.tag, 'The tree without a tag')}">${icon('undo')}Put back</button></div></li>`)}</ul></details>`;
  }

  async function putBack({ putBack: id, name }) {
    await putTreeBack(id);
    notice(`${name} is back.`, { kind: 'plain', act: { label: 'Open it', run: () => { globalThis.location.hash = `#/tree/${id}`; } } });
  }

  function drawList() {
    const rows = filterTrees(facts.rows, kept);
    const nearest = (a, b) => (a.distance_m ?? Infinity) - (b.distance_m ?? Infinity);
    rows.sort(kept.order === 'near' && fix ? nearest : kept.order === 'due' ? byDue(facts.next) : byTag);
    const ended = kept.stage === 'alive' ? filterTrees(facts.rows, { ...kept, stage: 'all' }).length - rows.length : 0;
    const place = root.querySelector('[data-list]');
    const openFolds = place.querySelectorAll('details[open][data-fold]');
    render(place, html`<div class="trees-count"><p role="status" class="muted">${rows.length === facts.rows.length ? count(rows.length, 'tree', 'trees') : `${rows.length} of ${count(facts.rows.length, 'tree', 'trees')}`}${ended > 0 && `; ${ended} that ended ${ended === 1 ? 'is' : 'are'} not shown`}</p>
        ${ended > 0 && html`<button type="button" class="button" data-ended>Show ${ended === 1 ? 'it' : 'them'}</button>`}</div>
      ${twinTags(facts.rows).slice(0, TWINS_AT_ONCE).map(({ tag, count: n }) => html`<p class="state ask" data-twins>${icon('ask')}<span>${n} trees have the tag ${tag}. Give each its own: open it, then Change.</span></p>`)}
      ${rows.length === 0
        ? html`<div class="empty">${icon('trees')}<p>${facts.rows.length === 0 ? 'No tree is kept yet. Mark the first one where it stands.' : 'No tree is like that.'}</p>
            ${facts.rows.length === 0 ? html`<a class="button primary hill" href="#/mark">${icon('mark')}Mark a tree</a>` : html`<button type="button" class="button hill" data-clear>Show them all</button>`}</div>`
        : html`<ul class="entries">${rows.slice(0, atMost).map(row)}</ul>`}
      ${facts.pack?.card_trouble?.length > 0 && html`<p class="caution">${icon('warn')}<span>${count(facts.pack.card_trouble.length, 'change of yours in a card', 'changes of yours in cards')} cannot be used. <a href="#/card">See which, and why</a></span></p>`}
      ${rows.length > atMost && html`<button type="button" class="button wide hill" data-more>Show ${rows.length - atMost} more</button>`}
      ${takenAway()}`);
    if (openFolds.length > 0) place.querySelector('[data-fold="away"]')?.setAttribute('open', '');
    thumbs.show(place).catch((fault) => notice(fault.message, { kind: 'trouble' }));
  }

  function draw() {
    const kinds = [...new Set(facts.rows.map((one) => one.kind).filter(Boolean))].sort();
    const sites = [...new Set(facts.rows.map((one) => one.site).filter(Boolean))];
    const stages = [...STAGES, ...ENDS].filter((stage) => facts.rows.some((one) => one.stage === stage));
    const narrowed = kept.site || kept.kind || kept.stage !== 'alive';
    render(root, html`<div class="page trees">
      <div class="page-head"><h1>Trees</h1></div>
      <div class="tree-list-and-filter">
      <form role="search" data-filter>
        ${textField({ name: 'text', label: 'Find by tag, kind, site or note', value: kept.text, type: 'search', inputmode: 'search' })}
        ${chips({ name: 'order', label: 'Order', value: kept.order, options: [{ value: 'tag', label: 'by tag' }, { value: 'due', label: 'due first' }, { value: 'near', label: 'nearest' }] })}
        <details class="fold" ${narrowed ? html`open` : ''}><summary>Narrow it down</summary><div class="stack">
          ${chips({ name: 'stage', label: 'Stage', value: kept.stage, options: [{ value: 'alive', label: 'all still here' }, ...stages.map((stage) => ({ value: stage, label: stageWord(stage), icon: `stage_${stage}` })), { value: 'all', label: 'all, ended too' }] })}
          ${sites.length > 0 && chips({ name: 'site', label: 'Site', value: kept.site, options: [{ value: null, label: 'any' }, ...sites.map((id) => ({ value: id, label: facts.sites.get(id) ?? 'unnamed' }))] })}
          ${kinds.length > 0 && chips({ name: 'kind', label: 'Kind', value: kept.kind, options: [{ value: null, label: 'any' }, ...kinds.map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) }))] })}
          <details class="fold"><summary>What the stages mean</summary><dl class="facts">${[...STAGES, ...ENDS].map((stage) => html`<dt><span class="state">${icon(`stage_${stage}`)}${stageWord(stage)}</span></dt><dd>${stageMeaning(stage)}</dd>`)}</dl></details>
        </div></details>
        <details class="fold" data-fold="more"><summary>Seasons, gardens, weather, boxes, wire</summary><div class="pick-row"><a class="button hill" href="#/seen">${icon('leafbud')}What do they show?</a><a class="button hill" href="#/card">${icon('list')}Kinds and their seasons</a><a class="button hill" href="#/garden">${icon('house')}Gardens</a><a class="button hill" href="#/weather">${icon('weather')}Weather</a><a class="button hill" href="#/cold">${icon('frost')}Cold tonight</a><a class="button hill" href="#/wire">${icon('wire')}Which wire?</a><a class="button hill" href="#/mix">${icon('box')}Mix for a box</a></div></details>
      </form>
      <div data-list class="stack"></div></div></div>`);
    drawList();
  }

  async function again() {
    facts = await readAll(fix);
    drawList();
  }

  function readFilter() {
    const form = root.querySelector('[data-filter]');
    const chosen = (name) => {
      const on = form.querySelector(`[name="${name}"]:checked`);
      return on ? JSON.parse(on.value) : null;
    };
    kept = { text: form.elements.text.value, stage: chosen('stage') ?? 'alive', site: chosen('site'), kind: chosen('kind'), order: chosen('order') ?? 'tag' };
    atMost = AT_ONCE;
    drawList();
    followIfNear();
    if (kept.order !== 'near') trying(() => setMeta(ORDER, kept.order), 'The order is not remembered')();
  }

  const trying = (work, words) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`${words}: ${fault.message}`, { kind: 'trouble' });
    }
  };

  let moved = null; // the list is not shuffled under the finger by every wobble of the receiver
  let stopWatch = null;

  /** The receiver runs only for "nearest first". */
  function followIfNear() {
    if (kept.order !== 'near') {
      stopWatch?.();
      stopWatch = null;
    } else if (!stopWatch) {
      stopWatch = watchFix((got) => {
        fix = got;
        if (moved && metresBetween(got, moved) < STEP_M) return;
        moved = got;
        again().catch((fault) => notice(fault.message, { kind: 'trouble' }));
      }, (said) => { if (!fix) notice(said.message, { kind: 'plain' }); });
    }
  }

  draw();
  followIfNear();
  const stops = [
    onStoreChange(() => again().catch((fault) => notice(fault.message, { kind: 'trouble' }))),
    on(root, 'input', '[data-filter]', readFilter),
    on(root, 'submit', '[data-filter]', (ev) => ev.preventDefault()),
    on(root, 'click', '[data-more]', () => {
      const before = atMost;
      atMost += AT_ONCE;
      drawList();
      root.querySelectorAll('[data-list] a.entry')[before]?.focus({ preventScroll: true }); // the keyboard goes on where the list did
    }),
    on(root, 'click', '[data-clear]', () => { kept = { ...kept, text: '', stage: 'all', site: null, kind: null }; draw(); }),
    on(root, 'click', '[data-ended]', () => {
      kept.stage = 'all';
      draw();
      root.querySelector('[name="stage"]:checked').focus({ preventScroll: true }); // where it can be taken back
    }),
    on(root, 'click', '[data-put-back]', trying((ev, button) => putBack(button.dataset), 'It could not be put back')),
  ];
  return () => {
    stops.forEach((stop) => stop());
    stopWatch?.();
    thumbs.close();
  };
}
