/** Trees: every tree kept, to be found by its tag, kind, site or stage, the nearest first when a position is known. */

import { watchFix } from '../device.js';
import { showCm } from '../core/lengths.js';
import { metresBetween, readTrees, todayOn } from '../hill/ground_facts.js';
import { Thumbs } from '../hill/shots.js';
import { nextTasks } from '../hill/tree_facts.js';
import { listRecords, onStoreChange } from '../store.js';
import { chips, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { dueShort, tagLabel } from '../ui/tree_sheets.js';
import { count, showDistance, speciesName, stageMeaning, stageWord } from '../ui/words.js';

const STAGES = ['marked', 'lifted', 'settling', 'gaining', 'working'];
const ENDS = ['lost', 'parted', 'left_standing'];
const STEP_M = 10; // moved so far, the nearest may be others
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

/** Tags in the order a person counts: R2 before R10. */
function byTag(a, b) {
  return String(a.tag ?? '~').localeCompare(String(b.tag ?? '~'), 'en', { numeric: true });
}

/** The trees, and of each what is due next. */
async function readAll(fix) {
  const [facts, states] = await Promise.all([readTrees(fix), listRecords('task_state')]);
  return { ...facts, next: nextTasks(facts.pack?.tasks ?? [], states, todayOn()) };
}

/** Open the screen. */
export async function open(root) {
  let fix = null;
  let facts = await readAll(fix);
  let atMost = AT_ONCE;
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

  function drawList() {
    const rows = filterTrees(facts.rows, kept);
    rows.sort(kept.order === 'near' && fix ? (a, b) => (a.distance_m ?? Infinity) - (b.distance_m ?? Infinity) : byTag);
    const place = root.querySelector('[data-list]');
    render(place, html`<p role="status" class="muted">${rows.length === facts.rows.length ? count(rows.length, 'tree', 'trees') : `${rows.length} of ${count(facts.rows.length, 'tree', 'trees')}`}</p>
      ${rows.length === 0
        ? html`<div class="empty">${icon('trees')}<p>${facts.rows.length === 0 ? 'No tree is kept yet. Mark the first one where it stands.' : 'No tree is like that.'}</p>
            ${facts.rows.length === 0 ? html`<a class="button primary hill" href="#/mark">${icon('mark')}Mark a tree</a>` : html`<button type="button" class="button hill" data-clear>Show them all</button>`}</div>`
        : html`<ul class="entries">${rows.slice(0, atMost).map(row)}</ul>`}
      ${rows.length > atMost && html`<button type="button" class="button wide hill" data-more>Show ${rows.length - atMost} more</button>`}`);
    thumbs.show(place).catch((fault) => notice(fault.message, { kind: 'trouble' }));
  }

  function draw() {
    const kinds = [...new Set(facts.rows.map((one) => one.kind).filter(Boolean))].sort();
    const sites = [...new Set(facts.rows.map((one) => one.site).filter(Boolean))];
    const stages = [...STAGES, ...ENDS].filter((stage) => facts.rows.some((one) => one.stage === stage));
    const narrowed = kept.site || kept.kind || kept.stage !== 'alive' || kept.order !== 'tag';
    render(root, html`<div class="page trees">
      <div class="page-head"><h1>Trees</h1></div>
      <div class="tree-list-and-filter">
      <form role="search" data-filter>
        ${textField({ name: 'text', label: 'Find by tag, kind, site or note', value: kept.text, type: 'search', inputmode: 'search' })}
        <details class="fold" ${narrowed ? html`open` : ''}><summary>Narrow it down</summary><div class="stack">
          ${chips({ name: 'stage', label: 'Stage', value: kept.stage, options: [{ value: 'alive', label: 'all still here' }, ...stages.map((stage) => ({ value: stage, label: stageWord(stage), icon: `stage_${stage}` })), { value: 'all', label: 'all, ended too' }] })}
          ${sites.length > 0 && chips({ name: 'site', label: 'Site', value: kept.site, options: [{ value: null, label: 'any' }, ...sites.map((id) => ({ value: id, label: facts.sites.get(id) ?? 'unnamed' }))] })}
          ${kinds.length > 0 && chips({ name: 'kind', label: 'Kind', value: kept.kind, options: [{ value: null, label: 'any' }, ...kinds.map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) }))] })}
          ${chips({ name: 'order', label: 'Order', value: kept.order, options: [{ value: 'tag', label: 'by tag' }, { value: 'near', label: 'nearest first' }] })}
          <details class="fold"><summary>What the stages mean</summary><dl class="facts">${[...STAGES, ...ENDS].map((stage) => html`<dt><span class="state">${icon(`stage_${stage}`)}${stageWord(stage)}</span></dt><dd>${stageMeaning(stage)}</dd>`)}</dl></details>
        </div></details>
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
  }

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
    on(root, 'click', '[data-clear]', () => { kept = { text: '', stage: 'all', site: null, kind: null, order: 'tag' }; draw(); followIfNear(); }),
  ];
  return () => {
    stops.forEach((stop) => stop());
    stopWatch?.();
    thumbs.close();
  };
}
