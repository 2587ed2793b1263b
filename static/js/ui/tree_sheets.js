/** What stands on the page of a tree, sheet by sheet: markup only, from records that were read before. */

import { daysBetween } from '../core/dates.js';
import { showCm } from '../core/lengths.js';
import { isHoleOpen, termsNotTicked, termsOfLift } from '../core/lift_terms.js';
import { ANSWER_WORDS, keptAnswer, termsToTick } from './answer.js';
import { flagLines } from './flag_line.js';
import { toggle } from './form.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { workEntryWords } from './wire_words.js';
import { eventWord, plainSources, showDate, showInstant, speciesName, stageMeaning, stageWord } from './words.js';

const TASKS_AT_ONCE = 3; // the whole list stands on Due
const HISTORY_AT_ONCE = 10;
const NEAR_DAYS = 300; // further off a day and a month might be taken for the wrong year's
const ROOT_WORDS = { most: 'most', half: 'about half', few: 'few' };
const known = (value) => value !== null && value !== undefined;

/** '± 6 m', or that it is not known. */
export const sureWords = (accuracyM) => (known(accuracyM) ? `± ${Math.max(1, Math.round(accuracyM))} m` : 'accuracy not known');

/** The tag as the plant label it is; of a tree without one, that it has none. */
export function tagLabel(tag) {
  return tag ? html`<span class="tag">${tag}</span>` : html`<span class="no-tag">no tag</span>`;
}

/** A tree in a heading: 'K1 Birch', or 'Birch, no tag yet'. */
export function treeTitle(tag, kindName) {
  return tag ? html`<span class="tag big">${tag}</span> ${kindName}` : html`${kindName.charAt(0).toUpperCase()}${kindName.slice(1)}, no tag yet`;
}

/** A stage with what its word means at a tap. */
export function stageFold(stage) {
  return html`<details class="fold stage-fold" data-fold="stage"><summary title="${stageMeaning(stage)}"><span class="state">${icon(`stage_${stage}`)}${stageWord(stage)}</span></summary><p>${stageMeaning(stage)}</p></details>`;
}

/** By which card its care goes, where that is not plain; null where it is, or before home has told which cards there are. */
export function cardWords(pack, species) {
  if (!pack?.species?.length) return null;
  if (!species) return 'Until its kind is noted, its care follows the cautious card that fits any kind.';
  const card = pack.species.find(({ kind }) => kind === species);
  if (card?.has_card === false) return `No species card is kept for ${speciesName(pack, species)} yet. Its care follows the cautious card of its leaf type.`;
  if (card) return null;
  return `No species card is kept for ${speciesName(pack, species)}. Its care follows the cautious card that fits any kind.`;
}

/** What the tree is. @param {object} facts of readTree */
export function factList(facts) {
  const { fields } = facts.tree;
  const card = cardWords(facts.pack, fields.species ?? null);
  const standing = facts.gardens.filter(({ id }) => id === facts.standing && !fields.ended_as);
  const rows = [
    ['Kind', html`${fields.species ? html`<a href="#/card/${fields.species}">${speciesName(facts.pack, fields.species)}</a>` : speciesName(facts.pack, fields.species)}${card && html`<br><span class="muted" data-card>${card}</span>`}`],
    ['Site', fields.site ? html`<a href="#/site/${fields.site}">${facts.sites.get(fields.site) ?? 'not kept here'}</a>` : 'none'],
    ...standing.map((garden) => ['Stands in', html`<a href="#/garden/${garden.id}">${garden.fields.name ?? 'an unnamed garden'}</a>`]),
    ['Girth', showCm(fields.girth_mm)],
    ['Height', showCm(fields.height_mm)],
    ['Condition', fields.condition ?? 'not noted'],
    [fields.origin === 'client' ? 'Taken in' : 'Marked', showDate(fields.marked_on)],
  ];
  if (fields.ended_as) rows.push(['End', `${stageWord(fields.ended_as)}, ${showDate(fields.ended_on)}`]);
  return html`<dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
    ${fields.note && html`<p class="note">${fields.note}</p>`}`;
}

/**
 * Where it stands or stood, with the way to the page that tells more.
 * @param {{lat: number, lon: number, accuracy_m: number|null}|null} position @param {number} many fixes it is from
 * @param {boolean} stands whether it is still in the ground
 */
export function placeSheet(id, position, many, stands) {
  const title = stands ? 'Where it stands' : 'Where it stood';
  return html`<section class="sheet"><h2>${title}</h2>
    ${position
      ? html`<p>${position.lat.toFixed(5)}, ${position.lon.toFixed(5)}<br><span class="muted">${sureWords(position.accuracy_m)}, ${many === 1 ? 'from one fix' : `from ${many} fixes`}</span></p>`
      : html`<p class="muted">No position yet. Stand beside the tree and take it.</p>`}
    <a class="button hill" href="#/place/${id}">${icon('fix')}${position ? 'All fixes, and the way back' : 'Take its position'}</a></section>`;
}

/** The terms that stood for a lift, and those of them that nobody ticked. @param {object[]} leaves its leave among them */
export function termsHeld({ fields }, leaves) {
  const id = fields.leave ?? null;
  const leave = leaves.find((one) => one.id === id)?.fields ?? null;
  return { all: termsOfLift(fields, id, leave), open: termsNotTicked(fields, id, leave) };
}

/** The lift put right afterwards: the terms, and the hole. @param {object} v what the form says @param {string[]} terms */
export function liftForm(v, terms) {
  return html`<form novalidate class="stack" id="tree-lift" data-form="lift"><h3>What was kept and done</h3>
    <p class="hint">Tick only what is so. What May I? said that day stays as it is.</p>
    ${termsToTick(terms, v.kept_conditions ?? null)}
    ${toggle({ name: 'hole_filled', label: 'The hole is filled and trodden in', value: v.hole_filled === true })}
    <div class="actions"><button type="button" class="button hill" data-entry-off="lift">Not now</button><button type="submit" class="button primary hill">Save</button></div></form>`;
}

/** What a visit left open, and the way to put it right. */
function liftOpen(fields, open) {
  const lines = [...open.map((term) => `Not ticked: ${term}`), isHoleOpen(fields) && 'The hole is not noted as filled.'].filter(Boolean);
  return html`${lines.map((line) => html`<p class="state ask" data-lift-open>${icon('warn')}${line}</p>`)}
    ${lines.length > 0 && html`<button type="button" class="button hill" data-entry-on="lift">${icon('edit')}Put it right</button>`}`;
}

/**
 * The lift with its answer.
 * @param {object|null} lift the one that counts @param {string} stage of the tree
 * @param {{code: string, text: string}[]} flags what home says of it beside its leave
 * @param {{leaves: object[], form: object|null, mayChange?: boolean}} more leaves: as `readTree` gives them; form: what the open
 *   form says; mayChange: false where others wrote it and this phone may only record
 */
export function liftSheet(lift, stage, flags, { leaves, form, mayChange = true }) {
  if (!lift) return stage === 'marked' && html`<section class="sheet"><h2>Lift</h2><p class="muted">Not lifted.</p></section>`;
  const f = lift.fields;
  const verdict = f.answer?.verdict ?? null;
  const terms = termsHeld(lift, leaves);
  const rows = [
    ['Lifted', showDate(f.lifted_on)],
    ['Root ball', known(f.ball_diameter_mm) || known(f.ball_depth_mm) ? `${showCm(f.ball_diameter_mm)} across, ${showCm(f.ball_depth_mm)} deep` : 'not noted'],
    ['Roots kept', ROOT_WORDS[f.roots_kept] ?? f.roots_kept ?? 'not noted'],
    ['By', f.machine === true ? 'machine' : f.machine === false ? 'hand' : 'not noted'],
    ['Hole', f.hole_filled === true ? 'filled' : f.hole_filled === false ? 'not filled' : 'not noted'],
  ];
  const isSettled = terms.open.length === 0 && !isHoleOpen(f);
  return html`<section class="sheet" data-lift><div class="sheet-head"><h2>Lift</h2>${!form && isSettled && mayChange && html`<button type="button" class="button" data-entry-on="lift">${icon('edit')}Change</button>`}</div>
    ${verdict
      ? html`<p class="state ${{ yes: 'good', ask: 'ask', no: 'bad' }[verdict.answer]}" data-lift-answer="${verdict.answer}">${icon(verdict.answer)}May I? said: ${ANSWER_WORDS[verdict.answer]}</p>
        <details class="fold"><summary>The answer as it stood</summary><p class="muted">${showInstant(f.answer.asked_at)}</p><div class="stack">${keptAnswer(f.answer, f.kept_conditions ?? null)}</div></details>`
      : html`<p class="state quiet">${icon('ask')}No answer was had before this lift.</p>`}
    ${flagLines(flags)}
    ${form ? liftForm(form, terms.all) : mayChange && liftOpen(f, terms.open)}
    <dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
    ${!form && !verdict?.keep?.length && f.kept_conditions?.length > 0 && html`<p>Terms kept:</p><ul class="plain-list">${f.kept_conditions.map((term) => html`<li>${term}</li>`)}</ul>`}
    ${f.note && html`<p class="note">${f.note}</p>`}</section>`;
}

/** Tasks with the same words as one row: the nearest of them, and how often it comes again. */
function byWords(tasks) {
  const rows = new Map();
  for (const task of tasks) {
    const row = rows.get(task.text);
    if (row) row.again.push(task);
    else rows.set(task.text, { task, again: [] });
  }
  return [...rows.values()];
}

function againWords(again) {
  const last = again.at(-1)?.by ?? again.at(-1)?.from ?? null;
  return again.length > 0 && `, then ${again.length === 1 ? 'once' : `${again.length} times`} more${last ? ` up to ${showDate(last)}` : ''}`;
}

/**
 * What is due.
 * @param {object} facts of readTree @param {object[]} open its open tasks, the nearest first
 * @param {boolean} whole whether all of them are shown
 */
export function taskSheet(facts, open, today, whole) {
  if (open.length === 0 && (facts.lifts.length === 0 || facts.tree.fields.ended_as)) return null;
  const rows = byWords(open);
  const shown = whole ? rows : rows.slice(0, TASKS_AT_ONCE);
  return html`<section class="sheet" data-due><div class="sheet-head"><h2>Due</h2>${open.length > 0 && html`<a class="button" href="#/due?tree=${facts.tree.id}">See and tick</a>`}</div>
    ${open.length === 0 ? html`<p class="muted">${facts.tasks.length === 0 ? 'Its care plan comes when home has its lift.' : 'Nothing open.'}</p>` : html`<ul class="entries" data-list="tasks">${shown.map(({ task, again }) => html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${task.text}</span>
      <span class="entry-under">${dueWords(task, today)}${againWords(again)}</span>${task.why && html`<details class="fold" data-fold="why-${task.rec}"><summary>Why</summary><p class="muted">${plainSources(task.why)}</p></details>`}</span></div></li>`)}</ul>`}
    ${rows.length > shown.length && html`<button type="button" class="button wide" data-whole="tasks">Show ${rows.length - shown.length} more</button>`}</section>`;
}

/** When a task is due, in a few words. */
export function dueWords(task, today) {
  if (task.by && task.by < today) return `overdue since ${showDate(task.by)}`;
  if (task.from && task.from > today) return `${showDate(task.from)}${task.by && task.by !== task.from ? ` to ${showDate(task.by)}` : ''}`;
  return task.by === today ? 'today' : task.by ? `by ${showDate(task.by)}` : 'open';
}

/** A date of the coming months without its year, which then needs no saying. */
function nearDate(on, today) {
  return daysBetween(today, on) < NEAR_DAYS ? showDate(on).replace(/ \d+$/, '') : showDate(on);
}

/** A task in one line, its date first, of its text the first sentence: 'by 3 Mar: look at the wire.' */
export function dueShort(task, today) {
  const { from, by } = task;
  if (String(task.id).includes(':lift-window:') && from && from > today) return `safe to lift from ${nearDate(from, today)}${by ? ` to ${nearDate(by, today)}` : ''}`;
  const when = by && by < today ? 'overdue' : from && from > today ? `from ${nearDate(from, today)}` : by === today ? 'today' : by ? `by ${nearDate(by, today)}` : 'open';
  return `${when}: ${String(task.text ?? '').split(/(?<=[.!?])\s+(?=\p{Lu})/u)[0].replace(/^\p{Lu}(?=\p{Ll})/u, (first) => first.toLowerCase())}`;
}

/** What was seen and done, the newest first. @param {object} facts of readTree @param {boolean} whole */
export function historyList(facts, whole) {
  const entries = [
    ...facts.events.map((one) => ({ one, on: one.fields.happened_on, what: eventWord(one.fields.kind), note: one.fields.note, icon: 'leafbud' })),
    ...facts.works.map((one) => ({ one, on: one.fields.done_on, what: workEntryWords(one.fields), note: one.fields.note, icon: 'wire' })),
    ...facts.boxes.map((one) => ({ one, on: one.fields.boxed_on, what: `into a box${known(one.fields.volume_l) ? ` of ${one.fields.volume_l} L` : ''}`, note: one.fields.note, icon: 'box' })),
  ].sort((a, b) => String(b.on ?? '').localeCompare(String(a.on ?? '')));
  if (entries.length === 0) return html`<p class="muted">Nothing noted yet. Bud break and hardening set the dates of much else.</p>`;
  const shown = whole ? entries : entries.slice(0, HISTORY_AT_ONCE);
  return html`<ul class="entries" data-list="history">${shown.map(({ one, on, what, note, icon: mark }) => html`<li><div class="entry"><span class="entry-icon">${icon(mark)}</span><span class="entry-main"><span class="entry-title">${what}</span><span class="entry-under">${showDate(on)}${note && html`<br>${note}`}</span></span>
    ${!facts.others.has(one.id) && html`<button type="button" class="button quiet" data-take-out="${one.id}" data-type="${one.type}" data-words="${what}" aria-label="Take out: ${what}, ${showDate(on)}">${icon('bin')}</button>`}</div></li>`)}</ul>
    ${entries.length > shown.length && html`<button type="button" class="button wide" data-whole="history">Show ${entries.length - shown.length} more</button>`}`;
}
