/** The doors from a tree in its box to what its care is planned with, and the wire that is on it. */

import { html } from './html.js';
import { icon } from './icons.js';
import { wiringLines } from './wire_words.js';

/**
 * @param {string} id of the tree
 * @param {object[]} wirings what `wireOn` gives for it
 */
export const careLinks = (id, wirings) => html`${wirings.length > 0 && html`<section class="sheet" data-wire><div class="sheet-head"><h2>Wire</h2><a class="button" href="#/wire/${id}">Look and note</a></div><ul class="entries">${wirings.map(wiringLines)}</ul></section>`}
  <nav class="pick-row" aria-label="Its care"><a class="button hill" href="#/wire/${id}">${icon('wire')}Wire</a><a class="button hill" href="#/water/${id}">${icon('water')}Water</a><a class="button hill" href="#/mix/${id}">${icon('box')}Box and mix</a></nav>`;
