/** The form of a tree, the same where it is marked and where it is changed. Lengths are typed in cm and kept in mm. */

import { cmToMm, mmToCm } from '../core/lengths.js';
import { chips, noteField, numberField, textField } from './form.js';
import { html } from './html.js';

const CONDITIONS = ['strong', 'fair', 'weak', 'damaged', 'browsed'];
const KINDS_AT_ONCE = 6; // more chips than this hide the rest of the form

/** Fields of a tree record -> what the form shows. */
export function formOfTree(fields) {
  return { ...fields, girth_cm: mmToCm(fields.girth_mm), height_cm: mmToCm(fields.height_mm) };
}

/** What readForm gave -> fields of the tree, but for its site: which one "by position" means only the screen knows. */
export function treeOfForm(read) {
  return {
    tag: read.tag, species: read.species, girth_mm: cmToMm(read.girth_cm), height_mm: cmToMm(read.height_cm), condition: read.condition, note: read.note,
  };
}

/**
 * The kind, as chips: the first few at once, the others folded.
 * @param {{value: string|null, kinds: string[], nameOf: (kind: string) => string}} field kinds: in the order of the offer
 */
export function kindField({ value, kinds, nameOf }) {
  const all = value && !kinds.includes(value) ? [value, ...kinds] : kinds;
  const chip = (kind) => ({ value: kind, label: nameOf(kind) });
  const rest = all.slice(KINDS_AT_ONCE);
  return html`${chips({ name: 'species', label: 'Kind', value, options: [...all.slice(0, KINDS_AT_ONCE).map(chip), { value: null, label: 'not known' }] })}
    ${rest.length > 0 && html`<details class="fold" data-more-kinds><summary>More kinds</summary>${chips({ name: 'species', label: 'All other kinds', value, options: rest.map(chip) })}</details>`}`;
}

/** Girth, height, condition, note and tag. @param {object} v what formOfTree gave, or a draft */
export function measureFields(v) {
  return html`
    ${numberField({ name: 'girth_cm', label: 'Girth', unit: 'cm', value: v.girth_cm ?? null, step: 1, start: 20, min: 0.1, max: 1000, whole: false, hint: 'Around the trunk, just above the roots' })}
    ${numberField({ name: 'height_cm', label: 'Height', unit: 'cm', value: v.height_cm ?? null, step: 10, start: 100, min: 1, max: 10000, whole: false })}
    ${conditionField(v.condition ?? null)}
    ${noteField({ name: 'note', label: 'Note', value: v.note ?? null, hint: 'How it stands, how hard it will be to lift and carry out' })}
    ${textField({ name: 'tag', label: 'Tag', value: v.tag ?? null, hint: 'Short, and no other tree’s' })}`;
}

/** The condition as chips; a word that is not among them, written elsewhere, stays one of them. */
function conditionField(value) {
  const words = value && !CONDITIONS.includes(value) ? [value, ...CONDITIONS] : CONDITIONS;
  return chips({ name: 'condition', label: 'Condition', value, options: [...words.map((word) => ({ value: word, label: word })), { value: null, label: 'not noted' }] });
}

/**
 * The site as a list to choose from.
 * @param {{value: string|null, sites: [string, string][], first: string, last?: [string, string]|null}} field sites: id and
 *   name; first: what choosing none means; last: one more that is no site
 */
export function siteField({ value, sites, first, last = null }) {
  return html`<div class="field"><label for="tree-site">Site</label><select id="tree-site" name="site"><option value="">${first}</option>
    ${[...sites, ...(last ? [last] : [])].map(([id, name]) => html`<option value="${id}" ${value === id ? html`selected` : ''}>${name}</option>`)}</select></div>`;
}
