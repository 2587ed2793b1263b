/** The questions of a piece of ground as they stand on the page: markup only. What an answer means stands in the lists. */

import { askWords } from '../core/reasons.js';
import { NAME_LENGTH, chips, dateField, noteField, textField } from './form.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { consentName, consentStateWord, count, showDate } from './words.js';

export const GROUPS = [
  { before: 'asking', title: 'Before asking the landholder' },
  { before: 'digging', title: 'Before the spade goes in' },
  { before: 'moving', title: 'Before the tree is moved' },
];

const NOTED_AS = ['needed', 'held', 'not_needed'];

/** What stands behind an answer, as a tail: ', 3 Mar 2027, told by the tree officer, T/17'; empty where nothing does. */
function behind({ settled_on: on, told_by: by, reference }) {
  return [on && showDate(on), by && `told by ${by}`, reference].filter(Boolean).map((part) => `, ${part}`).join('');
}

/** 'yes', or 'yes, 3 Mar 2027, told by the tree officer': one answer with what stands behind it. */
export function answerWords(fields) {
  return `${fields.answer ?? 'taken back'}${behind(fields)}`;
}

/** Where something more has to be done, or where nothing has; a consent that is noted tells the rest by itself. */
function answerState(question, standing, { consent, more, checked }) {
  if (standing.differ) return html`<p class="state ask">${icon('ask')}<span>two answers: ${standing.said.map((one) => answerWords(one)).join('; ')}. Tap the one that is right.</span></p>`;
  if (standing.answer === null) return null;
  if (standing.answer === question.heed && consent) return null;
  if (standing.answer === question.heed && !more) return html`<p class="state good">${icon('done')}<span>settled by the check noted with the site, ${showDate(checked)}</span></p>`;
  return more
    ? html`<p class="state ask">${icon('ask')}<span>more to do${behind(standing.fields)}${checked && `. The check noted with the site was before that, ${showDate(checked)}`}</span></p>`
    : html`<p class="state good">${icon('done')}<span>settled${behind(standing.fields)}</span></p>`;
}

function consentPart(question, { consent, services }) {
  if (consent) {
    const { state } = consent.fields;
    const kind = state === 'held' || state === 'not_needed' ? 'good' : 'ask';
    return html`<p><a class="button hill" href="#/consent/${consent.id}"><span class="state ${kind}">${icon(kind === 'good' ? 'done' : 'ask')}<span>${consentName(consent.fields)}: ${consentStateWord(state)}</span></span>${icon('forward')}</a></p>`;
  }
  if (services) return html`<p><button type="button" class="button hill" data-services="${question.id}">${icon('done')}Note it on the site: services checked</button></p>`;
  return null;
}

function noteConsent(question) {
  const kind = consentName({ kind: question.consent, name: question.consent_name });
  return html`<div class="note-consent"><p>Note the consent “${kind}” as</p><div class="pick-row">${NOTED_AS.map((state) => html`<button type="button" class="button hill" data-note-consent="${question.id}" data-state="${state}">${consentStateWord(state)}</button>`)}</div></div>`;
}

function whyFold(question) {
  return html`<details class="fold" data-fold="why-${question.id}"><summary aria-label="Why: ${question.question}">Why</summary>
    <div class="stack"><p>${question.why}</p>
      <dl class="facts"><dt>Law</dt><dd>${question.law}</dd>
        <dt>Published</dt><dd>${question.source}</dd><dt>Looked up</dt><dd>${question.mark === 'seen' ? showDate(question.as_of) : `from memory, ${showDate(question.as_of)}: check it before relying on it`}</dd></dl></div></details>`;
}

/** Who said so, and where it stands: saved as each field is left. */
function detailsFold(question, values) {
  const name = (field) => `${field}.${question.id}`;
  const told = values.told_by || values.reference || values.note;
  return html`<details class="fold" data-fold="told-${question.id}"><summary>${told ? 'Who said so' : 'Note who said so'}</summary>
    <form novalidate class="stack" data-details="${question.id}">
      ${textField({ name: name('told_by'), label: 'Told by', value: values.told_by, maxLength: NAME_LENGTH, hint: 'The person, authority or map' })}
      ${textField({ name: name('reference'), label: 'Reference', value: values.reference, maxLength: NAME_LENGTH })}
      ${dateField({ name: name('settled_on'), label: 'On', value: values.settled_on, today: true, past: true })}
      ${noteField({ name: name('note'), label: 'Note', value: values.note, rows: 2 })}
    </form></details>`;
}

/**
 * One question with its answer.
 * @param {object} question of a list in the pack
 * @param {object} standing of hill/ground_checks.js
 * @param {{more: boolean, checked: string|null, consent: object|null, services: boolean, offer: boolean, draft: object|null}} beside
 *   more: something is still to be done; checked: the day on which buried services were checked, where it is about them; consent:
 *   the record that is noted for it; services: whether the site can be told that services were checked; offer: whether a consent can be noted;
 *   draft: what was typed and not saved yet
 */
export function checkRow(question, standing, beside) {
  const { answer, differ } = standing;
  // While it is open nothing is chosen: a mark on "open" would be the loudest thing on the page.
  const again = standing.said.length > 0 ? [{ value: null, label: 'open again' }] : [];
  return html`<form novalidate data-answer-form>${chips({ name: `answer.${question.id}`, label: question.question, value: answer ?? undefined, hint: `Ask ${askWords(question.ask)}`,
      options: [{ value: 'yes', label: 'yes' }, { value: 'no', label: 'no' }, ...again] })}</form>
    ${answerState(question, standing, beside)}${consentPart(question, beside)}${beside.offer && noteConsent(question)}
    <div class="check-folds">${whyFold(question)}${(answer !== null || differ || beside.draft) && detailsFold(question, { ...standing.fields, ...beside.draft })}</div>`;
}

/** '9 open, 4 need more': how many questions are open, and how many answered so that more is to be done; null where none is. */
export function openWords(open, more) {
  const told = [open > 0 && `${open} open`, more > 0 && (more === 1 ? '1 needs more' : `${more} need more`)].filter(Boolean);
  return told.length > 0 ? told.join(', ') : null;
}

/** The line that says how far one is. */
export function progressLine(open, more, all) {
  if (open === 0 && more === 0) return html`<p class="state good">${icon('done')}<span>all ${count(all, 'question', 'questions')} settled</span></p>`;
  const told = openWords(open, more).replace(' open', ` of ${all} open`);
  return html`<p class="state ask">${icon('ask')}<span>${open === 0 ? html`all ${count(all, 'question', 'questions')} answered, ` : ''}${told}</span></p>`;
}

/** The choice of the country; folded once it is made. */
export function countryPart(lists, country, { unknown }) {
  const field = html`<form novalidate data-country>${chips({ name: 'country', label: 'Country, or whose land', value: country, options: lists.map((one) => ({ value: one.code, label: one.name })), hint: 'Changing it loses no answer.' })}</form>`;
  const chosen = lists.find((one) => one.code === country);
  if (chosen) return html`<details class="fold" data-fold="country"><summary><span>${chosen.name}: change the country</span></summary>${field}</details>`;
  return html`${unknown ? html`<p>There is no list called “${unknown}” here, so the questions for anywhere else are shown. Choose the country again.</p>` : html`<p>Choose the country, so that the right questions are asked.</p>`}${field}`;
}

/** Answers to questions that the list of now does not ask: kept, and said to be. */
export function keptPart(kept) {
  if (kept.length === 0) return null;
  return html`<details class="fold sheet" data-fold="kept"><summary>Kept from other lists: ${count(kept.length, 'answer', 'answers')}</summary>
    <ul class="entries">${kept.map(({ words, fields }) => html`<li><div class="entry"><span class="entry-main"><span>${words}</span><span class="entry-under">${answerWords(fields)}${fields.note && html`<br>${fields.note}`}</span></span></div></li>`)}</ul></details>`;
}
