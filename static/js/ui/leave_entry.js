/** One leave in a list: whose, how it stands, its days, how many trees. */

import { html } from './html.js';
import { icon } from './icons.js';
import { stateMark } from './state.js';
import { showRange, speciesName } from './words.js';

/**
 * Who gave a leave, in a word; a removed one is still named.
 * @param {object} fields of the leave @param {{landholders: Map<string, object>, gone: Map<string, object>}} ground as `readGround` gives it
 * @param {string} [unknown] where nobody is told
 */
export function giverName({ landholder }, { landholders, gone }, unknown = 'Landholder not told') {
  const removed = gone.get(landholder);
  if (removed) return `${removed.fields.name ?? 'a landholder without a name'}, removed`;
  return landholders.get(landholder)?.fields.name ?? unknown;
}

/** A giver who was removed, and the way back, by [data-put-back]. @param {object} holder the removed record */
export function goneLine({ id, fields }) {
  const name = fields.name ?? 'The landholder';
  return html`<div class="caution">${icon('warn')}<div class="stack"><p>${name} gave leave here, and was removed from this log since.</p>
    <button type="button" class="button" data-put-back="${id}" aria-label="Put back: ${name}">${icon('undo')}Put back</button></div></div>`;
}

/**
 * @param {{record: object, lifted: number, state: object}} leave
 * @param {string} title whose it is, or of which ground
 * @param {object|null} pack for the names of kinds
 */
export function leaveEntry({ record, lifted, state }, title, pack) {
  const { fields } = record;
  const number = Number.isInteger(fields.allowance) ? `${lifted} of ${fields.allowance} lifted` : `${lifted} lifted`;
  const kinds = fields.species?.length ? fields.species.map((kind) => speciesName(pack, kind)).join(', ') : 'any kind';
  const dates = showRange(fields.starts_on, fields.ends_on, { noEnd: 'no end agreed' });
  return html`<li><a class="entry" href="#/leave/${record.id}"><span class="entry-main">
    <span class="entry-title">${title}</span>
    ${stateMark(state)}<span class="entry-under">${dates}<br>${[fields.area && 'part of the site', number, kinds].filter(Boolean).join(' · ')}</span></span>${icon('forward')}</a></li>`;
}
