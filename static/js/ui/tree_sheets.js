/** What stands on the page of a tree, sheet by sheet: markup only, from records that were read before. */

import { showCm } from '../core/lengths.js';
import { ANSWER_WORDS, answerReasons } from './answer.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { showDate, showInstant, speciesName, stageWord, workWord } from './words.js';

export const EVENTS = {
  bud_swell: 'bud swell',
  bud_break: 'bud break',
  flush_hardened: 'first flush hardened',
  leaf_colour: 'leaf colour',
  leaf_fall: 'leaf fall',
  frost: 'frost',
};
const ROOT_WORDS = { most: 'most', half: 'about half', few: 'few' };
const known = (value) => value !== null && value !== undefined;

/** The word for an event. */
export const eventWord = (kind) => EVENTS[kind] ?? String(kind ?? 'event').replaceAll(/[-_]/g, ' ');

/** '± 6 m', or that it is not known. */
export const sureWords = (accuracyM) => (known(accuracyM) ? `± ${Math.max(1, Math.round(accuracyM))} m` : 'accuracy not known');

/**
 * What the tree is.
 * @param {object} facts of readTree
 * @param {object|null} position fields of the fix to go by
 * @param {string|null} away how far that is from here, in words
 */
export function factList(facts, position, away) {
  const { fields } = facts.tree;
  const rows = [
    ['Kind', speciesName(facts.pack, fields.species)],
    ['Site', fields.site ? html`<a href="#/site/${fields.site}">${facts.sites.get(fields.site) ?? 'not kept here'}</a>` : 'none'],
    ['Girth', showCm(fields.girth_mm)],
    ['Height', showCm(fields.height_mm)],
    ['Condition', fields.condition ?? 'not noted'],
    [fields.origin === 'client' ? 'Taken in' : 'Marked', showDate(fields.marked_on)],
    ['Position', position ? html`${position.lat.toFixed(5)}, ${position.lon.toFixed(5)}<br>${sureWords(position.accuracy_m)}${away ? `, ${away} from here` : ''}` : 'not known'],
  ];
  if (fields.ended_as) rows.push(['End', `${stageWord(fields.ended_as)}, ${showDate(fields.ended_on)}`]);
  return html`<dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
    ${fields.note && html`<p class="note">${fields.note}</p>`}`;
}

/** The lift with its answer. @param {object|null} lift the one that counts @param {string} stage of the tree */
export function liftSheet(lift, stage) {
  if (!lift) return stage === 'marked' && html`<section class="sheet"><h2>Lift</h2><p class="muted">Not lifted.</p></section>`;
  const f = lift.fields;
  const verdict = f.answer?.verdict ?? null;
  const rows = [
    ['Lifted', showDate(f.lifted_on)],
    ['Root ball', known(f.ball_diameter_mm) || known(f.ball_depth_mm) ? `${showCm(f.ball_diameter_mm)} across, ${showCm(f.ball_depth_mm)} deep` : 'not noted'],
    ['Roots kept', ROOT_WORDS[f.roots_kept] ?? f.roots_kept ?? 'not noted'],
    ['By', f.machine === true ? 'machine' : f.machine === false ? 'hand' : 'not noted'],
    ['Hole', f.hole_filled === true ? 'filled' : f.hole_filled === false ? 'not filled' : 'not noted'],
  ];
  return html`<section class="sheet"><h2>Lift</h2>
    ${verdict
      ? html`<p class="state ${{ yes: 'good', ask: 'ask', no: 'bad' }[verdict.answer]}" data-lift-answer="${verdict.answer}">${icon(verdict.answer)}May I? said: ${ANSWER_WORDS[verdict.answer]}</p>
        <details class="fold"><summary>The answer as it stood</summary><p class="muted">${showInstant(f.answer.asked_at)}</p>${answerReasons(verdict) ?? html`<p>Nothing stood against it.</p>`}</details>`
      : html`<p class="state quiet">${icon('ask')}No answer was had before this lift.</p>`}
    <dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
    ${f.kept_conditions?.length > 0 && html`<p>Terms kept:</p><ul class="plain-list">${f.kept_conditions.map((term) => html`<li>${term}</li>`)}</ul>`}
    ${f.note && html`<p class="note">${f.note}</p>`}</section>`;
}

/** What is due. @param {object} facts of readTree @param {object[]} open its open tasks, the nearest first */
export function taskSheet(facts, open, today) {
  if (open.length === 0 && (facts.lifts.length === 0 || facts.tree.fields.ended_as)) return null;
  return html`<section class="sheet"><div class="sheet-head"><h2>Due</h2>${open.length > 0 && html`<a class="button" href="#/due?tree=${facts.tree.id}">See and tick</a>`}</div>
    ${open.length === 0 ? html`<p class="muted">${facts.tasks.length === 0 ? 'Its care plan comes when home has its lift.' : 'Nothing open.'}</p>` : html`<ul class="entries">${open.slice(0, 5).map((task) => html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${task.text}</span>
      <span class="entry-under">${task.by && task.by < today ? `overdue since ${showDate(task.by)}` : `${showDate(task.from)} to ${showDate(task.by)}`}</span></span></div></li>`)}</ul>`}
    ${open.length > 5 && html`<p class="muted">and ${open.length - 5} more</p>`}</section>`;
}

/** What was seen and done, the newest first. */
export function historyList(facts) {
  const entries = [
    ...facts.events.map((one) => ({ on: one.fields.happened_on, what: eventWord(one.fields.kind), note: one.fields.note, icon: 'leafbud' })),
    ...facts.works.map((one) => ({ on: one.fields.done_on, what: workWord(one.fields.kind), note: one.fields.note, icon: 'wire' })),
    ...facts.boxes.map((one) => ({ on: one.fields.boxed_on, what: `into a box${known(one.fields.volume_l) ? ` of ${one.fields.volume_l} L` : ''}`, note: one.fields.note, icon: 'box' })),
  ].sort((a, b) => String(b.on ?? '').localeCompare(String(a.on ?? '')));
  if (entries.length === 0) return html`<p class="muted">Nothing noted yet. Bud break and hardening set the dates of much else.</p>`;
  return html`<ul class="entries">${entries.map((one) => html`<li><div class="entry"><span class="entry-icon">${icon(one.icon)}</span><span class="entry-main"><span class="entry-title">${one.what}</span>${one.note && html`<span class="entry-under">${one.note}</span>`}</span><span class="entry-side nowrap">${showDate(one.on)}</span></div></li>`)}</ul>`;
}

/** Every position that was taken, the newest first. @param {object[]} fixes merged records */
export function fixList(fixes) {
  if (fixes.length === 0) return html`<p class="muted">None yet. Stand beside the tree and take it.</p>`;
  return html`<ul class="entries">${fixes.map(({ fields }) => html`<li><div class="entry"><span class="entry-main"><span>${fields.lat?.toFixed(5)}, ${fields.lon?.toFixed(5)}</span><span class="entry-under">${showInstant(fields.fixed_at)}</span></span><span class="entry-side">${sureWords(fields.accuracy_m)}</span></div></li>`)}</ul>`;
}
