/** The short forms on a tree's page: what it does, what was done, and how it ended. They stand in the page and are kept as drafts. */

import { chips, dateField, noteField, numberField } from './form.js';
import { html } from './html.js';
import { EVENTS, eventWord, showDate, stageWord, workWord } from './words.js';

const BOX = 'box'; // a box of its own record, not a work
const WORKS = ['water', BOX, 'prepare', 'repot', 'trim', 'hard-prune', 'wire', 'unwire', 'defoliate', 'feed', 'shelter', 'suckers'];
const ENDINGS = [
  { value: 'lost', label: 'lost: it died', icon: 'stage_lost' },
  { value: 'parted', label: 'parted with', icon: 'stage_parted' },
  { value: 'left_standing', label: 'left standing', icon: 'stage_left_standing' },
];

const ENTRIES = {
  event: {
    title: () => 'What does it do?',
    fields: (v, { today }) => html`
      ${chips({ name: 'kind', label: 'Seen', required: true, value: v.kind ?? null, options: Object.entries(EVENTS).map(([value, label]) => ({ value, label })) })}
      ${dateField({ name: 'happened_on', label: 'On', value: 'happened_on' in v ? v.happened_on : today, required: true, past: true, today: true })}${noteField({ name: 'note', label: 'Note', value: v.note ?? null, rows: 2 })}`,
    words: (read) => `${eventWord(read.kind)}, ${showDate(read.happened_on)}.`,
  },
  work: {
    title: () => 'What was done?',
    fields: (v, { today, id }) => html`
      ${chips({ name: 'kind', label: 'Done', required: true, value: v.kind ?? null, options: WORKS.map((work) => ({ value: work, label: workWord(work) })) })}
      ${dateField({ name: 'done_on', label: 'On', value: 'done_on' in v ? v.done_on : today, required: true, past: true, today: true })}
      ${id && html`<p class="on-wire"><a class="button hill" href="#/wire/${id}">Work out the wire, and note it there</a></p>`}
      <div class="not-boxing">${numberField({ name: 'hours', label: 'Hours', value: v.hours ?? null, step: 0.5, start: 0.5, min: 0, max: 1000, whole: false })}</div>
      <div class="boxing">${numberField({ name: 'volume_l', label: 'The box holds', unit: 'L', value: v.volume_l ?? null, step: 5, start: 20, min: 0.1, max: 10000, whole: false })}</div>
      ${noteField({ name: 'note', label: 'Note', value: v.note ?? null, rows: 2 })}`,
    words: (read) => `${workWord(read.kind)}, ${showDate(read.done_on)}.`,
  },
  end: {
    title: ({ tag }) => `How did ${tag ?? 'the tree'} end here?`,
    // What was dug out was not left standing.
    fields: (v, { today, lifted }) => html`
      ${chips({ name: 'ended_as', label: 'End', required: true, value: v.ended_as ?? null, options: ENDINGS.filter((one) => !lifted || one.value !== 'left_standing') })}
      ${dateField({ name: 'ended_on', label: 'On', value: 'ended_on' in v ? v.ended_on : today, required: true, past: true, today: true })}`,
    words: (read) => `${stageWord(read.ended_as)}, ${showDate(read.ended_on)}.`,
  },
};

/** The names of the short forms. */
export const ENTRY_NAMES = Object.keys(ENTRIES);

/**
 * The record that an entry becomes. What was put into a box is told by a box, which the planning goes by as well.
 * @param {'event'|'work'} what @param {object} read what readForm gave @param {{id: string, site: string|null}} tree
 * @returns {{type: string, set: object}}
 */
export function changeOfEntry(what, read, { id, site }) {
  const { kind, note } = read;
  if (what === 'event') return { type: 'event', set: { tree: id, site, kind, happened_on: read.happened_on, note } };
  if (kind === BOX) return { type: 'box', set: { tree: id, boxed_on: read.done_on, volume_l: read.volume_l, note } };
  return { type: 'work', set: { tree: id, kind, done_on: read.done_on, hours: read.hours, note } };
}

/**
 * What an entry lacks beyond what each field says for itself: "other" alone tells nothing.
 * @returns {{field: string, sentence: string}|null}
 */
export function faultOfEntry(what, { kind, note }) {
  return what === 'event' && kind === 'other' && !note ? { field: 'note', sentence: 'Note: say what was seen.' } : null;
}

/** What was entered, in words for a notice. */
export const entryWords = (what, read) => ENTRIES[what].words(read);

/**
 * One short form.
 * @param {'event'|'work'|'end'} what
 * @param {object} values a draft, {} for a fresh one
 * @param {{today: string, tag: string|null, lifted: boolean}} tree
 */
export function entryForm(what, values, tree) {
  const { title, fields } = ENTRIES[what];
  return html`<form novalidate class="stack tree-entry" id="tree-${what}" data-entry="${what}" aria-labelledby="tree-${what}-title"><h3 id="tree-${what}-title">${title(tree)}</h3>
    ${fields(values, tree)}
    <div class="actions"><button type="button" class="button hill" data-entry-off="${what}">Not now</button><button type="submit" class="button primary hill">Save</button></div></form>`;
}

/**
 * Whether a tree can have ended on that day.
 * @param {string} endedOn
 * @param {{marked_on: string|null, lifted_on: string|null}} tree
 * @returns {{field: string, sentence: string}|null}
 */
export function faultOfEnd(endedOn, { marked_on: marked, lifted_on: lifted }) {
  const before = (what, on) => ({ field: 'ended_on', sentence: `${showDate(endedOn)} lies before it was ${what}, on ${showDate(on)}. Set the day again.` });
  if (marked && endedOn < marked) return before('marked', marked);
  if (lifted && endedOn < lifted) return before('lifted', lifted);
  return null;
}
