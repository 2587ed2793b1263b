/** What is said of wire: its figures, what a look found, and the lines of a wiring. */

import { plainNumber } from '../core/rounded.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { showDate, workWord } from './words.js';

export const LOOKS = [
  { value: 'none', label: 'No mark' },
  { value: 'begins', label: 'Begins to mark' },
  { value: 'bitten', label: 'Bitten in' },
];
const FACES = { bitten: 'no', begins: 'no', over: 'no', look: 'ask', wait: 'info' };
const KINDS = { bitten: 'bad', begins: 'bad', over: 'bad', look: 'ask', wait: 'quiet' };

const known = (value) => typeof value === 'number' && Number.isFinite(value);

/** "2 mm copper on a branch of 6 mm", as far as it was noted. @param {object|null} detail of a work */
export function wireWords(detail) {
  const gauge = known(detail?.gauge_mm) ? `${plainNumber(detail.gauge_mm)} mm ` : '';
  const material = typeof detail?.material === 'string' ? detail.material : 'wire';
  return `${gauge}${material}${known(detail?.branch_mm) ? ` on a branch of ${plainNumber(detail.branch_mm)} mm` : ''}`;
}

/** What a look found, in words; null where it says nothing. */
export const biteWords = (detail) => LOOKS.find(({ value }) => value === detail?.bites)?.label.toLowerCase() ?? null;

/** A length of wire as it is cut: in metres, up to the next tenth. */
export const lengthWords = (mm) => `${(Math.ceil(mm / 100 - 1e-9) / 10).toFixed(1)} m`;

/** A range of grams: whole ones, and one figure where both ends are alike. */
export function gramWords([low, high]) {
  const [from, to] = [Math.max(1, Math.round(low)), Math.max(1, Math.round(high))];
  return from === to ? `about ${from} g` : `${from} to ${to} g`;
}

/** Gauges that fit: "2 mm", "2, 2.5 or 3 mm". */
export function gaugeWords(sizes) {
  const told = sizes.map(plainNumber);
  return `${told.length > 1 ? `${told.slice(0, -1).join(', ')} or ` : ''}${told.at(-1)} mm`;
}

/**
 * One wiring that is on a tree, with what it wants and the buttons to say what was found.
 * @param {object} wiring of `wireOn`
 */
export function wiringRow({ id, on, detail, note, dates, state, looks }) {
  const last = looks.reduce((best, one) => (best === null || one[0] >= best[0] ? one : best), null);
  return html`<li class="wiring" data-wiring="${id}"><p><span class="strong">${wireWords(detail)}</span>${note && html`, ${note}`}</p>
    ${state && html`<p class="state ${KINDS[state.answer]}" data-state="${state.answer}">${icon(FACES[state.answer])}<span>${state.text}</span></p>`}
    <p class="muted">On since ${showDate(on)}.${last && ` Last look ${showDate(last[0])}: ${biteWords({ bites: last[1] })}.`}${state?.answer === 'wait' && ` Next look ${showDate(state.look_on)}.`}${dates && ['wait', 'look'].includes(state.answer) && ` Off between ${showDate(dates.off_from)} and ${showDate(dates.off_by)}, sooner where it touches.`}</p>
    <div class="pick-row">${LOOKS.map(({ value, label }) => html`<button type="button" class="button hill" data-found="${value}" aria-label="${label}: ${wireWords(detail)}, on since ${showDate(on)}">${label}</button>`)}
      <button type="button" class="button hill" data-off aria-label="It is off: ${wireWords(detail)}, on since ${showDate(on)}">${icon('cut')}It is off</button></div></li>`;
}

/** One wiring in short, for the tree's page. @param {object} wiring of `wireOn` */
export const wiringLines = ({ on, detail, note, state }) => html`<li class="wiring"><p><span class="strong">${wireWords(detail)}</span>${note && html`, ${note}`}</p>
  ${state && html`<p class="state ${KINDS[state.answer]}" data-state="${state.answer}">${icon(FACES[state.answer])}<span>${state.answer === 'wait' ? `On since ${showDate(on)}. Look along it by ${showDate(state.look_on)}.` : state.text}</span></p>`}</li>`;

/** A work as a line of the tree's history. @param {object} fields of a work record */
export function workEntryWords({ kind, detail }) {
  const words = workWord(kind);
  if (kind === 'look') return biteWords(detail) ? `look along the wire: ${biteWords(detail)}` : words;
  return kind === 'wire' && detail ? `${words}: ${wireWords(detail)}` : words;
}
