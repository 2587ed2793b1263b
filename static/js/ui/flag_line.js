/** What home says of a lift beside its leave: one over the number, after the withdrawal. It refuses nothing; it is told. */

import { html } from './html.js';
import { icon } from './icons.js';

/**
 * The flags of a lift, as home worked them out from the lifts of all phones.
 * @param {object|null} pack @param {string} liftId
 * @returns {{code: string, text: string}[]} empty where there is nothing to say, or home has not heard of the lift
 */
export function flagsOf(pack, liftId) {
  return pack?.flags?.[liftId] ?? [];
}

/** Flags as lines, each with the sign of what wants looking at. @param {{code: string, text: string}[]} flags */
export function flagLines(flags) {
  return flags.map(({ code, text }) => html`<p class="state bad" data-flag="${code}">${icon('warn')}${text}</p>`);
}
