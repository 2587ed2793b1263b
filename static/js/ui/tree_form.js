/** The form of a tree, the same where it is marked and where it is changed. Lengths are typed in cm and kept in mm. */

import { cmToMm, mmToCm } from '../core/lengths.js';
import { chips, dateField, NAME_LENGTH, noteField, numberField, showFault, TAG_LENGTH, textField } from './form.js';
import { html } from './html.js';
import { showDate } from './words.js';

const PAUSE_MS = 500; // of typing; own rule
const CONDITIONS = ['strong', 'fair', 'weak', 'damaged', 'browsed'];
const KINDS_AT_ONCE = 6; // more chips than this hide the rest of the form
const CAUTIOUS = 'default'; // the card that fits any kind; it is no kind itself

/** Fields of a tree record -> what the form shows. */
export function formOfTree(fields) {
  return { ...fields, girth_cm: mmToCm(fields.girth_mm), height_cm: mmToCm(fields.height_mm) };
}

/**
 * What readForm gave -> fields of the tree, but for its site: which one "by position" means only the screen knows.
 * @param {object} read @param {{kind: string, name: string, latin: string}[]} cards the kinds of the pack
 */
export function treeOfForm(read, cards) {
  return {
    tag: read.tag, species: read.species_typed ? shortKind(read.species_typed, cards) : read.species,
    girth_mm: cmToMm(read.girth_cm), height_mm: cmToMm(read.height_cm), condition: read.condition, note: read.note,
  };
}

/**
 * The short name of a kind that was typed: that of its card where the pack knows it by any of its names, else the words
 * themselves, small and joined by hyphens.
 */
export function shortKind(text, cards) {
  const plain = text.normalize('NFC').trim().toLowerCase().replace(/\s+/g, ' ');
  const joined = plain.replaceAll(' ', '-');
  const card = cards.find(({ kind, name, latin }) => kind !== CAUTIOUS && (kind === joined || [name, latin].some((word) => word?.toLowerCase() === plain)));
  return card?.kind ?? joined;
}

/**
 * What cannot be in a tree's form, beyond what each field says for itself.
 * @param {object} read what readForm gave
 * @param {{tag: string|null, words: string}[]} others every other tree: its tag, and which one it is
 * @param {string|null} [was] the tag as it was: one that two trees share already may stay, it is said at the head of the page
 * @returns {{field: string, sentence: string}|null}
 */
export function faultOfTree(read, others, was = null) {
  const typed = read.species_typed;
  if (typed && !/\p{L}/u.test(typed)) return { field: 'species_typed', sentence: 'Another kind: write its name in letters.' };
  if (typed && shortKind(typed, []) === CAUTIOUS) return { field: 'species_typed', sentence: `Another kind: “${typed}” is no kind. Write its name.` };
  const same = (tag) => String(tag ?? '').trim().toLowerCase();
  const taken = read.tag && same(read.tag) !== same(was) && others.find((one) => same(one.tag) === same(read.tag));
  return taken ? { field: 'tag', sentence: `Tag: ${taken.tag} is taken by ${taken.words}. Give this tree another.` } : null;
}

let pause = null;

/**
 * Say that a tag is another tree's as soon as the typing pauses; saving would say it too. Not when the field is left: the
 * sentence would push the button away from under the finger that leaves it.
 * @param {Event} ev of typing in a tag's field
 * @param {() => {tag: string|null, words: string}[]} others @param {() => string|null} [was] as for `faultOfTree`
 */
export function sayTakenTag({ target }, others, was = () => null) {
  clearTimeout(pause);
  pause = setTimeout(() => {
    if (!target.isConnected || !target.form) return;
    const fault = faultOfTree({ tag: target.value }, others(), was());
    if (fault) showFault(target.form, 'tag', fault.sentence, { moveFocus: false });
  }, PAUSE_MS);
}

/**
 * The kind: the first few as chips, the others folded, and a line for one that is not among them.
 * @param {{value: string|null, typed: string|null, kinds: string[], nameOf: (kind: string) => string}} field kinds: in the
 *   order of the offer
 */
export function kindField({ value, typed = null, kinds, nameOf }) {
  // The one that is chosen is always in sight.
  const all = value && !kinds.slice(0, KINDS_AT_ONCE).includes(value) ? [value, ...kinds.filter((kind) => kind !== value)] : kinds;
  const chip = (kind) => ({ value: kind, label: nameOf(kind) });
  const chosen = typed ? '' : value; // no chip at all, not even "not known"
  const rest = all.slice(KINDS_AT_ONCE);
  return html`${chips({ name: 'species', label: 'Kind', value: chosen, options: [...all.slice(0, KINDS_AT_ONCE).map(chip), { value: null, label: 'not known' }] })}
    <details class="fold" data-fold="kinds" data-more-kinds ${typed ? html`open` : ''}><summary>${rest.length > 0 ? 'More kinds, or type one' : 'Type another kind'}</summary><div class="stack">
      ${rest.length > 0 && chips({ name: 'species', label: 'All other kinds', value: chosen, options: rest.map(chip) })}
      ${textField({ name: 'species_typed', label: 'Another kind', value: typed, maxLength: NAME_LENGTH, hint: 'Its name, as: silver fir. Without a card of its own its care follows the cautious one.' })}
    </div></details>`;
}

/** Keep chips and typed kind from contradicting each other: the one touched last counts. To be called on input. */
export function followKind({ target }) {
  const { form } = target;
  if (target.name === 'species' && form.elements.species_typed) form.elements.species_typed.value = '';
  if (target.name !== 'species_typed') return;
  const isTyped = target.value.trim() !== '';
  if (isTyped) for (const chip of form.querySelectorAll('[name="species"]:checked')) chip.checked = false;
  else if (!form.querySelector('[name="species"]:checked')) form.querySelector('[name="species"][value="null"]').checked = true;
}

/** Girth, height, condition, note and tag. @param {object} v what formOfTree gave, or a draft */
export function measureFields(v) {
  return html`
    ${numberField({ name: 'girth_cm', label: 'Girth', unit: 'cm', value: v.girth_cm ?? null, step: 1, start: 20, min: 0.1, max: 1000, whole: false, hint: 'Around the trunk, just above the roots' })}
    ${numberField({ name: 'height_cm', label: 'Height', unit: 'cm', value: v.height_cm ?? null, step: 10, start: 100, min: 1, max: 10000, whole: false })}
    ${conditionField(v.condition ?? null)}
    ${noteField({ name: 'note', label: 'Note', value: v.note ?? null, hint: 'How it stands, how hard it will be to lift and carry out' })}
    ${textField({ name: 'tag', label: 'Tag', value: v.tag ?? null, maxLength: TAG_LENGTH, hint: `At most ${TAG_LENGTH} characters, and no other tree’s` })}`;
}

/** The condition as chips; a word that is not among them, written elsewhere, stays one of them. */
function conditionField(value) {
  const words = value && !CONDITIONS.includes(value) ? [value, ...CONDITIONS] : CONDITIONS;
  return chips({ name: 'condition', label: 'Condition', value, options: [...words.map((word) => ({ value: word, label: word })), { value: null, label: 'not noted' }] });
}

/**
 * The day it was marked, or taken in: it can be put right, but lies in the past.
 * @param {object} v fields of the tree, or a draft @param {boolean} isClient @param {boolean} required where it was known
 */
export function markedField(v, { isClient, required }) {
  return dateField({ name: 'marked_on', label: isClient ? 'Taken in on' : 'Marked on', value: v.marked_on ?? null, past: true, required });
}

/**
 * Whether a tree can have been marked on that day.
 * @param {string|null} markedOn @param {{lifted_on: string|null, ended_on: string|null}} tree
 * @returns {{field: string, sentence: string}|null}
 */
export function faultOfMarked(markedOn, { lifted_on: lifted, ended_on: ended }) {
  const after = (what, on) => ({ field: 'marked_on', sentence: `${showDate(markedOn)} lies after it ${what}, on ${showDate(on)}. Set the day again.` });
  if (markedOn && lifted && markedOn > lifted) return after('was lifted', lifted);
  if (markedOn && ended && markedOn > ended) return after('ended here', ended);
  return null;
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

/**
 * In which garden it stands; nothing where there is none to choose.
 * @param {string|null} value id @param {object[]} gardens merged records, the main one first @param {(garden: object) => string} nameOf
 */
export function gardenField(value, gardens, nameOf, label = 'Stands in') {
  if (gardens.length === 0) return null;
  return chips({ name: 'stands_at', label, value: gardens.some(({ id }) => id === value) ? value : null, options: [{ value: null, label: 'as usual' }, ...gardens.map((one) => ({ value: one.id, label: nameOf(one) }))], hint: 'As usual: once lifted in the main garden, before on its ground' });
}
