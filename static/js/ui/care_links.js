/** The doors from a tree in its box to what its care is planned with. */

import { html } from './html.js';
import { icon } from './icons.js';

/** @param {string} id of the tree */
export const careLinks = (id) => html`<nav class="pick-row" aria-label="Its care"><a class="button hill" href="#/wire/${id}">${icon('wire')}Wire</a><a class="button hill" href="#/water/${id}">${icon('water')}Water</a><a class="button hill" href="#/mix/${id}">${icon('box')}Box and mix</a></nav>`;
