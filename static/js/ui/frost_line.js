/** The frost round at the head of what is due: how many boxes to shelter, and by which night. */

import { degreesWords } from '../core/cold.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { count } from './words.js';

/** @param {{trees: string[], tmin_c: number, is_expected: boolean}|null} round of `readFrostRound`; null: nothing is said */
export const frostLine = (round) => round && html`<p data-frost-round><a class="button rust hill wide" href="#/cold">${icon('frost')}<span>Frost round: shelter ${count(round.trees.length, 'tree', 'trees')}. ${degreesWords(round.tmin_c)} ${round.is_expected ? 'is expected tonight' : 'was noted last night'}</span></a></p>`;
