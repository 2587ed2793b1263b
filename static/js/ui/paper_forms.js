/** The forms of Papers: which paper, and who writes it. Markup only. */

import { NAME_LENGTH, chips, dateField, noteField, textField } from './form.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { here } from './words.js';

/** The kinds of paper: short name, words, when it is of use. */
export const PAPERS = [
  { kind: 'leave', word: 'letter to sign', icon: 'leave' },
  { kind: 'signed', word: 'signed letter', icon: 'sign' },
  { kind: 'report', word: 'report after a visit', icon: 'trees' },
  { kind: 'renewal', word: 'renewal letter', icon: 'sync' },
];
const OWN_WORDS_LENGTH = 4000; // as home takes them
const SIZES = [{ value: 'a4', label: 'A4' }, { value: 'letter', label: 'US letter' }];

/**
 * Which paper, on which sheet, and for a report of which days.
 * @param {{kind: string, size: string, from: string|null, to: string|null}} wish
 * @param {string[]} kinds those that can be made of this leave
 */
export function paperFields(wish, kinds) {
  return html`
    ${chips({ name: 'kind', label: 'What it is', value: wish.kind, options: PAPERS.filter(({ kind }) => kinds.includes(kind)).map((one) => ({ value: one.kind, label: one.word, icon: one.icon })) })}
    <div class="two" data-days ${wish.kind === 'report' ? '' : html`hidden`}>
      ${dateField({ name: 'from', label: 'First day of the visit', value: wish.from, past: true })}
      ${dateField({ name: 'to', label: 'Last day of the visit', value: wish.to, past: true })}</div>
    <div data-more></div>
    ${chips({ name: 'size', label: 'Sheet', value: wish.size, options: SIZES })}`;
}

/** Which of the letters that were signed. @param {{id: string, label: string}[]} versions @param {string} chosen id */
export function versionField(versions, chosen) {
  return chips({ name: 'signing', label: 'Which version', value: chosen, options: versions.map(({ id, label }) => ({ value: id, label })) });
}

/** What the person says themselves, beside what the log knows. @param {string|null} words */
export function ownWordsField(words) {
  return noteField({ name: 'words', label: 'In your own words', value: words, rows: 4, maxLength: OWN_WORDS_LENGTH, hint: `It stands in the letter after the first sentences, and is kept on this ${here()}` });
}

/** Who writes the letters. @param {object} values fields of the collector, or a draft */
export function collectorFields(values) {
  return html`
    ${textField({ name: 'name', label: 'Your name', value: values.name, maxLength: NAME_LENGTH, autocomplete: 'name', required: true })}
    ${noteField({ name: 'address', label: 'Your address', value: values.address, rows: 3, maxLength: 500, hint: 'As it shall stand at the head of a letter' })}
    <div class="two">${textField({ name: 'phone', label: 'Telephone', value: values.phone, maxLength: NAME_LENGTH, type: 'tel', inputmode: 'tel', autocomplete: 'tel' })}
      ${textField({ name: 'email', label: 'E-mail', value: values.email, maxLength: NAME_LENGTH, type: 'email', inputmode: 'email', autocomplete: 'email' })}</div>`;
}

/** What can be done with a paper that is made. */
export function paperActions() {
  return html`<div class="actions" data-paper-actions><button type="button" class="button primary" data-download="pdf">${icon('papers')}Save as PDF</button>
    <button type="button" class="button" data-print>Print</button><button type="button" class="button" data-download="html">Save as a page</button></div>`;
}
