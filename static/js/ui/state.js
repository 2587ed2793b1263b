/** A state as the app always shows it: its shape, its word, and the date the word is about. */

import { STATE_ICONS } from '../core/leave_state.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { showDate } from './words.js';

const DATE_WORDS = { good: 'until', ended: 'on', withdrawn: 'on', 'not begun': 'before', 'to be withdrawn': 'on', 'ends soon': 'on', 'consent expired': 'on', 'consent not begun': 'before' };

/**
 * @param {{word: string, kind: string, on?: string|null, also?: object}} state what core/leave_state.js gives
 * @returns {import('./html.js').Safe}
 */
export function stateMark(state) {
  const before = DATE_WORDS[state.word];
  const dated = state.on && before ? ` ${before} ${showDate(state.on)}` : '';
  const mark = html`<span class="state ${state.kind}">${icon(STATE_ICONS[state.kind])}<span>${state.word}${dated}</span></span>`;
  return state.also ? html`<span class="states">${mark}${stateMark(state.also)}</span>` : mark;
}
