/** One leave in a list: whose, how it stands, its days, how many trees. */

import { html } from './html.js';
import { icon } from './icons.js';
import { stateMark } from './state.js';
import { showRange, speciesName } from './words.js';

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
