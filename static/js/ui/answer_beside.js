/** What stands beside an answer of May I?: whom to call about what is open, and what is still to be found out about the ground. */

import { html } from './html.js';
import { icon } from './icons.js';
import { consentName, count } from './words.js';

const CONSENT_CODES = ['consent-missing', 'consent-expired', 'consent-unknown', 'protected'];

/** What a phone dials for a number as it was typed; null where there is nothing to dial. */
function dialled(number) {
  const digits = number.replace(/[^\d+*#]/g, '');
  return /\d/.test(digits) ? digits : null;
}

/**
 * A number to call. What is no number at all is only shown.
 * @param {string} number @param {string|null} [who] left out where the heading says it
 */
export function callLink(number, who = null) {
  const to = dialled(number);
  if (to === null) return html`<p>Telephone${who && `, ${who}`}: ${number}</p>`;
  return html`<a class="button call hill" href="tel:${to}">${icon('phone')}<span>Call ${who && html`${who} `}<span class="number">${number}</span></span></a>`;
}

/** A letter to write. What is no address at all is only shown. */
function mailLink(address, who = null) {
  if (!/^[^\s@]+@[^\s@]+$/.test(address)) return html`<p>E-mail${who && `, ${who}`}: ${address}</p>`;
  return html`<a class="button call hill" href="mailto:${encodeURIComponent(address).replaceAll('%40', '@')}">${icon('edit')}<span>Write to ${who && html`${who} `}<span class="number">${address}</span></span></a>`;
}

const named = ({ name, role }) => [name ?? 'a landholder not named', role].filter(Boolean).join(', ');

/**
 * How to reach who gave a leave; without a number of theirs, the ground's other landholders as well.
 * @param {{phone: string|null, email: string|null, others: object[]}|null} contact
 */
export function askWhom(contact) {
  if (!contact) return null;
  const { phone = null, email = null } = contact;
  const others = phone ? [] : (contact.others ?? []).filter((one) => one.phone);
  if (!phone && !email && others.length === 0) return html`<p class="muted" data-nobody>No number is kept for anyone who could be asked.</p>`;
  return html`<div class="pick-row" data-ask-whom>${phone && callLink(phone)}${email && mailLink(email)}
    ${others.map((one) => callLink(one.phone, named(one)))}</div>`;
}

/** The authorities whose say is open, where their number is kept. @param {object[]} reasons @param {object|null} ground */
export function askAuthorities(reasons, ground) {
  if (!reasons.some((reason) => CONSENT_CODES.includes(reason.code))) return null;
  const asked = (ground?.consents ?? []).filter((one) => one.phone && one.state !== 'not_needed');
  return asked.length > 0 && html`<div class="pick-row" data-ask-authority>${asked.map((one) => callLink(one.phone, `${one.authority ?? 'the authority'} about ${consentName(one)}`))}</div>`;
}

/**
 * The questions about the ground that nobody has answered yet. They change no answer; they stand beside it.
 * @param {{site: string, site_name: string, questions: {id: string, text: string}[]}[]} open by site
 * @param {boolean} kept as they were when a tree was lifted: all of them, and no way to answer them now
 */
export function openChecks(open, kept = false) {
  const some = (open ?? []).filter((one) => one.questions.length > 0);
  const state = (many) => (kept ? (many === 1 ? 'was open' : 'were open') : (many === 1 ? 'is open' : 'are open'));
  return some.length > 0 && html`${some.map(({ site, site_name: name, questions }) => html`<section class="open-checks" data-open-checks="${questions.length}">
    <p class="state ask">${icon('ask')}<span>${count(questions.length, 'question', 'questions')} about ${name ?? 'this ground'} ${state(questions.length)}</span></p>
    <details class="fold" ${kept && html`open`}><summary>${questions.length === 1 ? 'Which it is' : 'Which they are'}</summary><ul class="plain-list">${questions.map((one) => html`<li>${one.text}</li>`)}</ul></details>
    ${!kept && html`<a class="button hill" href="#/checks/${site}">${icon('edit')}<span>What to check here</span></a>`}
  </section>`)}`;
}
