/** The form of a box with its mix, and what is said of a mix. */

import { fixed, plainNumber } from '../core/rounded.js';
import { chips, numberField } from './form.js';
import { html } from './html.js';
import { plainSources } from './words.js';

const SHAPES = [{ value: 'box', label: 'Box' }, { value: 'round', label: 'Round' }, { value: 'litres', label: 'Litres known' }];
const CELLS = [['water_pct', 'water', '%'], ['air_pct', 'air', '%'], ['dry_kg_l', 'dry', 'kg a litre'], ['wet_kg_l', 'wet', 'kg a litre']];
const PART = 'part-';
const SIZE = { step: 5, min: 1, max: 500, whole: false, unit: 'cm' };

/** The fields of a box's inside. @param {object} v draft values */
export function shapeFields(v) {
  const size = (name, label, start, hint = null) => numberField({ ...SIZE, name, label, value: v[name] ?? null, start, hint });
  return html`${chips({ name: 'shape', label: 'Shape', options: SHAPES, value: v.shape })}
    ${v.shape === 'box' && html`${size('length_cm', 'Length inside', 50)}${size('width_cm', 'Width inside', 40)}`}
    ${v.shape === 'round' && size('length_cm', 'Across inside', 40)}
    ${v.shape === 'litres' && numberField({ name: 'volume_l', label: 'It holds', unit: 'L', value: v.volume_l ?? null, step: 5, start: 20, min: 0.1, max: 10_000, whole: false })}
    ${size('height_cm', 'Depth of the mix', 20, v.shape === 'litres' ? 'if you know it: a shallow box stays wetter' : null)}`;
}

/** The fields of a mix: what goes in, then how much of each. @param {string[]} chosen @param {object} v draft values @param {object} materials of the pack */
export function partFields(chosen, v, materials) {
  const names = [...new Set([...Object.keys(materials), ...chosen])];
  const words = (name) => materials[name]?.words ?? name;
  return html`${chips({ name: 'chosen', label: 'What goes in', multiple: true, value: chosen, options: names.map((name) => ({ value: name, label: words(name) })) })}
    ${chosen.map((name) => numberField({ name: `${PART}${name}`, label: `Parts of ${words(name)}`, value: v[`${PART}${name}`] ?? null, step: 1, start: 1, min: 0, max: 1000, whole: false }))}`;
}

/** The amounts typed: material -> parts. @param {object} v draft values */
export function amountsOf(chosen, v) {
  return Object.fromEntries(chosen.map((name) => [name, v[`${PART}${name}`]]).filter(([, amount]) => typeof amount === 'number' && amount > 0));
}

/** The draft values of a mix as a box record keeps it; of anything that is no mix, none. */
export function draftOfMix(mix) {
  const told = Object.entries(mix !== null && typeof mix === 'object' && !Array.isArray(mix) ? mix : {}).filter(([, amount]) => typeof amount === 'number' && amount > 0);
  return { chosen: told.map(([name]) => name), ...Object.fromEntries(told.map(([name, amount]) => [`${PART}${name}`, amount])) };
}

/** A range with its unit; of two ends that read alike one. */
export function rangeWords(range, unit, digits = 0) {
  const [low, high] = range.map((one) => fixed(one, digits));
  return low === high ? `about ${low} ${unit}` : `${low} to ${high} ${unit}`;
}

/** Litres as they are measured out. */
export const litreWords = (litres) => `${fixed(litres, litres < 10 ? 1 : 0)} L`;

const NUMBERS = (told) => (told.low === told.high ? plainNumber(told.low) : `${plainNumber(told.low)} to ${plainNumber(told.high)}`);

/** Where every figure of the materials is from. @param {object[]} materials those of the mix */
export function sourceRows(materials) {
  return materials.map((one) => html`<h3>${one.words}</h3><ul>${CELLS.map(([cell, word, unit]) => html`<li>${word}: ${one[cell] === null ? 'not found' : html`${NUMBERS(one[cell])} ${unit} <span class="muted">(${plainSources(one[cell].source)})</span>`}</li>`)}</ul>`);
}
