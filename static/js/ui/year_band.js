/** The year as a band: when a work is open, its hard and soft edges told apart by their form, today marked. */

import { html } from './html.js';
import { showDate } from './words.js';

const DAY_MS = 86_400_000;
const HIGH = 26;
const MONTHS = ['J', 'F', 'M', 'A', 'M', 'J', 'J', 'A', 'S', 'O', 'N', 'D'];

const dayOf = (on, year) => (Date.parse(`${on}T00:00:00Z`) - Date.UTC(year, 0, 1)) / DAY_MS;
const lengthOf = (year) => (Date.UTC(year + 1, 0, 1) - Date.UTC(year, 0, 1)) / DAY_MS;

/** An edge that is hard ends square; a soft one slants off. */
function outline(from, to, { hardOpen, hardClose }) {
  const slant = Math.min(7, (to - from) / 3);
  const left = hardOpen ? `M${from} 3V${HIGH - 3}` : `M${from + slant} 3L${from} ${HIGH - 3}`;
  const right = hardClose ? `H${to}V3` : `H${to}L${to - slant} 3`;
  return `${left}${right}Z`;
}

/**
 * @param {{opens: string, closes: string, hard_open?: boolean, hard_close: boolean}[]} windows
 * @param {number} year @param {string} today 'YYYY-MM-DD' @param {string} label for those who do not see it
 */
export function yearBand(windows, year, today, label) {
  const days = lengthOf(year);
  const starts = MONTHS.slice(1).map((_, month) => (Date.UTC(year, month + 1, 1) - Date.UTC(year, 0, 1)) / DAY_MS);
  const shapes = windows.map((one) => {
    const from = dayOf(one.opens, year);
    const to = dayOf(one.closes, year) + 1;
    return outline(Math.max(0, from), Math.min(days, to), { hardOpen: from < 0 || Boolean(one.hard_open), hardClose: to > days || one.hard_close });
  });
  const now = dayOf(today, year);
  return html`<div class="band-names" aria-hidden="true">${MONTHS.map((name) => html`<span>${name}</span>`)}</div>
    <svg class="year-band" viewBox="0 0 ${days} ${HIGH}" role="img" aria-label="${label}" preserveAspectRatio="none">
    ${starts.map((at) => html`<path class="band-month" d="M${at} 0V${HIGH}"/>`)}
    ${shapes.map((d) => html`<path class="band-open" d="${d}"/>`)}
    ${now >= 0 && now < days && html`<path class="band-today" d="M${now + 0.5} -1V${HIGH}"/>`}</svg>`;
}

/** The band's windows in words. */
export function bandWords(windows) {
  return windows.length === 0 ? 'at no time' : windows.map((one) => `${showDate(one.opens)} to ${showDate(one.closes)}`).join('; ');
}
