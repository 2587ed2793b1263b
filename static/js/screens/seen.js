/** What they show today: one event noted for many trees at once, with a look back at other years. Works with no signal. */

import { plusDays } from '../core/dates.js';
import { readTrees, todayOn } from '../hill/ground_facts.js';
import { dropDraft, getDraft, listRecords, onStoreChange, saveChanges, saveDraft } from '../store.js';
import { chips, dateField, FormFault, readDraft, readForm } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, showDate, speciesName, tagName } from '../ui/words.js';

const KEY = 'seen';
const EVENTS = [
  { value: 'bud_swell', label: 'Buds swelling' }, { value: 'bud_break', label: 'Green showing' }, { value: 'flush_hardened', label: 'First flush hardened' },
  { value: 'leaf_colour', label: 'Leaf colour' }, { value: 'leaf_fall', label: 'Bare' },
];
const SAME_SEASON_DAYS = 150; // noted closer than this it is the same spring or autumn; common practice
const YEARS_SHOWN = 3;
const ENDED = ['lost', 'parted', 'left_standing'];

/** Of one kind of event, tree id -> the days on which it was noted, the latest first. */
function datesOf(events, kind) {
  const found = new Map();
  for (const { fields } of events) {
    if (fields.kind === kind && fields.tree && fields.happened_on) found.set(fields.tree, [...(found.get(fields.tree) ?? []), fields.happened_on]);
  }
  for (const days of found.values()) days.sort().reverse();
  return found;
}

/** Open the screen. @param {Element} root */
export async function open(root) {
  let facts = null;
  let closed = false;
  const kept = { kind: null, happened_on: null, trees: [], ...(await getDraft(KEY)) };

  async function read() {
    const [{ rows, pack }, events] = await Promise.all([readTrees(null), listRecords('event')]);
    facts = { pack, events, rows: rows.filter(({ stage }) => !ENDED.includes(stage)) };
  }

  /** Whether it was noted of the tree in this season already. */
  const isNoted = (days, on) => days.some((day) => plusDays(day, SAME_SEASON_DAYS) > on && plusDays(day, -SAME_SEASON_DAYS) < on);

  function groups() {
    const found = new Map();
    for (const row of facts.rows) {
      const key = `${row.siteName ?? 'On no site'}, ${speciesName(facts.pack, row.kind)}`;
      found.set(key, [...(found.get(key) ?? []), row]);
    }
    return [...found].sort(([a], [b]) => a.localeCompare(b));
  }

  function treeLine(row, dates, day) {
    const days = dates.get(row.id) ?? [];
    const back = days.slice(0, YEARS_SHOWN).map(showDate).join(', ');
    const noted = isNoted(days, day);
    return html`<li><label class="toggle"><input type="checkbox" data-tree="${row.id}" ${kept.trees.includes(row.id) ? html`checked` : ''}><span class="toggle-mark" aria-hidden="true"></span>
      <span><span class="strong">${tagName(row.tag, 'no tag')}</span>${back && html` <span class="muted">${noted ? 'noted already: ' : 'before: '}${back}</span>`}</span></label></li>`;
  }

  function listPart() {
    if (kept.kind === null) return html`<p class="muted">Choose what they show; then tap the trees that show it.</p>`;
    const dates = datesOf(facts.events, kept.kind);
    const day = kept.happened_on ?? todayOn();
    const open = (row) => !isNoted(dates.get(row.id) ?? [], day);
    return html`${groups().map(([name, rows], number) => html`<section class="sheet"><div class="sheet-head"><h2>${name}</h2><button type="button" class="button" data-all="${number}" aria-label="All of ${name}">All</button></div>
      <ul class="terms">${[...rows].sort((a, b) => Number(open(b)) - Number(open(a)) || tagName(a.tag, '~').localeCompare(tagName(b.tag, '~'), 'en', { numeric: true })).map((row) => treeLine(row, dates, day))}</ul></section>`)}`;
  }

  function draw() {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>What do they show?</h1><p class="under">What is due moves with what the trees themselves show.</p></div>
      ${facts.rows.length === 0 ? html`<div class="empty">${icon('trees')}<p>No tree is kept here yet.</p></div>` : html`<form novalidate id="seen">
        ${chips({ name: 'kind', label: 'Seen', options: EVENTS, value: kept.kind, required: true })}
        ${dateField({ name: 'happened_on', label: 'On', value: kept.happened_on, hint: 'left empty: today', today: true, past: true })}
        <div data-list>${listPart()}</div>
        <div class="actions stuck"><button type="submit" class="button primary hill">${icon('leafbud')}<span data-save-words>${saveWords()}</span></button></div></form>`}</div>`);
  }

  const saveWords = () => (kept.trees.length === 0 ? 'Tap the trees first' : `Note it for ${count(kept.trees.length, 'tree', 'trees')}`);

  const redrawList = () => {
    render(root.querySelector('[data-list]'), listPart());
    sayCount();
  };

  function sayCount() {
    root.querySelector('[data-save-words]').textContent = saveWords();
    return saveDraft(KEY, kept);
  }

  function pick(id, isOn) {
    kept.trees = isOn ? [...new Set([...kept.trees, id])] : kept.trees.filter((one) => one !== id);
    return sayCount();
  }

  function pickAll(number) {
    const ids = groups()[number][1].map((row) => row.id);
    const all = ids.every((id) => kept.trees.includes(id));
    kept.trees = all ? kept.trees.filter((id) => !ids.includes(id)) : [...new Set([...kept.trees, ...ids])];
    redrawList();
  }

  async function save(form) {
    try {
      const { kind, happened_on: day } = readForm(form);
      if (kept.trees.length === 0) {
        notice('Tap the trees that show it first.', { kind: 'plain' });
        return;
      }
      const sites = new Map(facts.rows.map((row) => [row.id, row.site]));
      const on = day ?? todayOn();
      const recs = await saveChanges(kept.trees.map((tree) => ({ type: 'event', set: { tree, site: sites.get(tree) ?? null, kind, happened_on: on } })));
      const label = EVENTS.find(({ value }) => value === kind).label.toLowerCase();
      notice(`${count(recs.length, 'tree', 'trees')}: ${label}, ${showDate(on)}. Saved on this phone.`, {
        undo: () => saveChanges(recs.map((rec) => ({ rec, type: 'event', set: { deleted: true } }))),
      });
      kept.trees = [];
      await dropDraft(KEY);
      await read();
      if (!closed) draw();
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  await read();
  kept.trees = kept.trees.filter((id) => facts.rows.some((row) => row.id === id));
  draw();
  const stops = [
    on(root, 'change', '[data-tree]', (ev, box) => pick(box.dataset.tree, box.checked)),
    on(root, 'click', '[data-all]', (ev, button) => pickAll(Number(button.dataset.all))),
    on(root, 'change', '[name="kind"], [name="happened_on"]', () => {
      const { kind, happened_on: day } = readDraft(root.querySelector('#seen'));
      Object.assign(kept, { kind, happened_on: day });
      redrawList();
    }),
    on(root, 'submit', '#seen', (ev, form) => {
      ev.preventDefault();
      return save(form);
    }),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'event', 'site', 'lift'].includes(type))) return;
      await read();
      if (!closed && root.querySelector('[data-list]')) redrawList();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
