/** The answer of May I dig here? on the page: the word and its shape, every reason with its cure, the terms, the caution. */

import { html } from './html.js';
import { icon } from './icons.js';
import { showAgo } from './words.js';

export const ANSWER_WORDS = { yes: 'Yes', ask: 'Ask first', no: 'No' };

const ANSWER_LINES = {
  yes: 'On what is recorded here, you may dig.',
  ask: 'Something is open. Settle it before the spade goes in.',
  no: 'Do not dig.',
};

/**
 * The answer, large.
 * @param {{answer: 'yes'|'ask'|'no'}} verdict what may_dig gives
 * @param {string|null} [line] a sentence in place of the usual one
 */
export function answerHead(verdict, line = null) {
  return html`<div class="verdict ${verdict.answer}" data-answer="${verdict.answer}">
    ${icon(verdict.answer)}
    <p class="verdict-word">${ANSWER_WORDS[verdict.answer]}</p>
    <p>${line ?? ANSWER_LINES[verdict.answer]}</p>
  </div>`;
}

/** Every reason that applies, what decides first, each with what would cure it. */
export function answerReasons(verdict) {
  if (verdict.reasons.length === 0) return null;
  const sorted = [...verdict.reasons].sort((a, b) => (a.weight === b.weight ? 0 : a.weight === 'no' ? -1 : 1));
  return html`<ul class="reasons" aria-label="Reasons">
    ${sorted.map(
      (reason) => html`<li class="${reason.weight}" data-code="${reason.code}">${icon(reason.weight)}
        <div><p>${reason.text}</p>${reason.cure && html`<p class="cure">${reason.cure}</p>`}</div></li>`,
    )}
  </ul>`;
}

/**
 * The conditions of the leave as a list to tick.
 * @param {string[]} terms sentences
 * @param {string[]|null} kept those ticked
 */
export function termsToTick(terms, kept = null) {
  if (terms.length === 0) return null;
  const chosen = kept ?? [];
  return html`<fieldset class="field"><legend class="strong">Terms to keep</legend>
    <ul class="terms">
      ${terms.map(
        (term) => html`<li><label><input type="checkbox" name="kept_conditions" value="${JSON.stringify(term)}" data-kind="json" data-many
          data-label="Terms to keep" ${chosen.includes(term) ? html`checked` : ''}><span>${term}</span></label></li>`,
      )}
    </ul>
  </fieldset>`;
}

/** The caution that stands under every answer. */
export function cautionLine(text) {
  return html`<p class="caution">${icon('warn')}<span>${text}</span></p>`;
}

/**
 * How old the knowledge behind an answer is, in a line.
 * @param {{synced_at: string|null, from: 'home'|'phone'}} found
 */
export function knowledgeLine(found) {
  const sync = found.synced_at ? `This phone last had word from home ${showAgo(found.synced_at)}` : 'This phone has never had word from home';
  return found.from === 'home' ? `${sync}; the slips are home’s.` : `${sync}; the slips are put together from what is kept here.`;
}
