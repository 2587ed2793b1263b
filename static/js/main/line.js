/** The quiet line: what is saved on this phone, and what of it home has. */

import { count, sayHere, showAgo } from '../ui/words.js';

const LONG_MS = 24 * 60 * 60 * 1000;

function waiting(state) {
  const parts = [];
  if (state.unsent_changes > 0) parts.push(count(state.unsent_changes, 'change', 'changes'));
  if (state.unsent_photos > 0) parts.push(count(state.unsent_photos, 'photo', 'photos'));
  return parts.join(' and ');
}

function clockWords(offset) {
  const minutes = Math.round(Math.abs(offset) / 60);
  return `This phone’s clock is ${count(minutes, 'minute', 'minutes')} ${offset > 0 ? 'ahead of' : 'behind'} home’s.`;
}

/** How long home was out of reach, once it is worth saying: a line that counts minutes would be read out for ever. */
function longAgo(at) {
  return Date.now() - Date.parse(at) > LONG_MS ? `, as of ${showAgo(at)}` : '';
}

/**
 * The words of the line.
 * @param {object} state of `onSyncState`
 * @returns {string}
 */
export function lineWords(state) {
  const left = waiting(state);
  // First, for only a person can do it, and on a narrow phone the end of a long line is easily missed.
  const parts = state.conflicts > 0 ? [`${count(state.conflicts, 'record', 'records')} to settle`] : [];
  if (state.phase === 'sending') parts.push(`Sending ${left || 'to home'}`);
  else if (state.phase === 'photos' && state.unsent_photos > 0) {
    parts.push(`Bringing ${count(state.unsent_photos, 'photo', 'photos')} home`);
  } else if (state.trouble?.code === 'shut-out') parts.push(left ? `Kept on this phone: ${left}. Shut out at home` : 'Shut out at home');
  else if (state.phase === 'unpaired') parts.push(left ? `Kept on this phone: ${left}. Not paired with home` : 'Not paired with home');
  else if (left) parts.push(`Saved on this phone; home does not have ${left} yet`);
  else if (state.last_ok_at) parts.push(`Saved on this phone, and home has it${longAgo(state.last_ok_at)}`);
  else parts.push('Saved on this phone');
  if (state.trouble && state.phase !== 'sending' && state.trouble.code !== 'shut-out') parts.push(state.trouble.text);
  if (state.held > 0) parts.push(`${count(state.held, 'change', 'changes')} held back`);
  if (state.clock_offset_s !== null) parts.push(clockWords(state.clock_offset_s));
  return sayHere(`${parts.map((part) => part.replace(/\.$/, '')).join('. ')}.`);
}

/**
 * Keep the line true.
 * @param {Element} place
 * @param {(listener: (state: object) => any) => () => void} follow `onSyncState`
 * @returns {() => void} stops it
 */
export function keepLine(place, follow) {
  let said = null;
  return follow((state) => {
    const words = lineWords(state);
    if (words === said) return; // a screen reader is told only what is new
    said = words;
    place.textContent = words;
    place.dataset.phase = state.phase;
    place.dataset.trouble = state.trouble?.code ?? '';
    place.dataset.toSettle = state.conflicts > 0 ? 'yes' : '';
  });
}
