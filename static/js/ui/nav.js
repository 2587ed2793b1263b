/** The places: five in the bottom bar of a phone; on a desk a rail at the side, with what only the desk has below. */

import { html, render } from './html.js';
import { icon } from './icons.js';

/** The five places and the desk's own; `screens` are the file names of the screens that belong to a place. */
export const PLACES = [
  { place: 'ground', word: 'Ground', icon: 'ground', screens: ['ground', 'site', 'leave', 'landholder', 'consent', 'checks', 'sign', 'signed'] },
  { place: 'mark', word: 'Mark', icon: 'mark', screens: ['mark'] },
  { place: 'may-i', word: 'May I?', icon: 'may_i', screens: ['may_dig'] },
  { place: 'trees', word: 'Trees', icon: 'trees', screens: ['trees', 'tree', 'place', 'lift', 'weather', 'weather_file', 'wire', 'cold', 'mix', 'water', 'garden', 'before_cut', 'seen', 'card', 'card_change', 'card_copy'] },
  { place: 'due', word: 'Due', icon: 'due', screens: ['due', 'bench'] },
  { place: 'intake', word: 'Intake', icon: 'intake', screens: ['intake'], desk: true },
  { place: 'papers', word: 'Papers', icon: 'papers', screens: ['papers'], desk: true },
  { place: 'house', word: 'House', icon: 'house', screens: ['house', 'sync_state', 'pair', 'copy'], desk: true },
];

/** The places that a phone which may only record is refused at home. */
export const FULL_ONLY = new Set(['intake', 'papers', 'forget', 'sign', 'signed', 'weather-file', 'card-change', 'card-copy']);

/**
 * Draw the places into the nav element.
 * @param {Element} nav
 * @param {string} screen file name of the open screen ('may_dig'), whose place is then shown as the open one
 * @param {{mayAll?: boolean, toSettle?: number}} [phone] mayAll: false for one that may only record, which has no use for some
 *   places; toSettle: records of which two people wrote differently: House bears a mark then
 */
export function drawNav(nav, screen, { mayAll = true, toSettle = 0 } = {}) {
  let desk = 0;
  render(
    nav,
    html`<div class="places">${PLACES.filter((it) => mayAll || !FULL_ONLY.has(it.place)).map((it) => {
      const kind = it.desk ? (desk++ === 0 ? 'desk first' : 'desk') : '';
      return html`<a href="#/${it.place}" class="${kind}" ${it.screens.includes(screen) ? html`aria-current="page"` : ''}>${icon(it.icon)}<span>${it.word}</span>${it.place === 'house' && toSettle > 0 && html`<span class="to-settle">${toSettle}<span class="unseen"> to settle</span></span>`}</a>`;
    })}</div>`,
  );
}
